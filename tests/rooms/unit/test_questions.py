"""Questions: what was assumed, ranked by how far it moves the answer; what is given is never asked."""

from __future__ import annotations

from typing import Any

import pytest

from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import conditions_of, settle
from vaporwright.unit.fields import FIELDS_BY_KEY
from vaporwright.unit.job import build_job
from vaporwright.unit.questions import ASKED_ANYWAY, LEAST_MOVE_SHARE, Question, questions_for
from vaporwright.unit.sizing import size_unit

CATALOGUE = read_catalogue_file(None)


def asked(kind: str, **given: Any) -> tuple[UnitAnswer, dict[str, Any], dict[str, Question]]:
    values: dict[str, Any] = {"duty.volume": 3.5e-6, "choices.heat_source": kind}
    values.update({key.replace("__", "."): value for key, value in given.items()})
    answer = size_unit(build_job(values), CATALOGUE).answer
    return answer, values, {question.key: question for question in questions_for(answer, values)}


@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
def test_ranked_by_weight_and_only_what_moves_or_must_be_asked(kind: str) -> None:
    answer, values, questions = asked(kind)
    moves = [question.moves_kg_s for question in questions.values()]
    assert moves == sorted(moves, reverse=True)
    assert not set(questions) & set(values)
    assumed = {entry.key: entry for entry in answer.job.assumptions}
    for question in questions.values():
        entry = assumed[question.key]
        assert (question.assumed, question.text) == (entry.value, FIELDS_BY_KEY[question.key].question)
        if question.moves_kg_s > 0.0:
            assert question.moves_kg_s >= LEAST_MOVE_SHARE * answer.capacity_kg_s
        else:
            assert question.moves == ASKED_ANYWAY[question.key]
    of_this_heat = {key for key in ASKED_ANYWAY if FIELDS_BY_KEY[key].only_for in ("", kind)}
    assert of_this_heat <= set(questions) | set(values)
    assert not set(questions) & (set(ASKED_ANYWAY) - of_this_heat)


@pytest.mark.parametrize("kind", ["gas", "steam"])
def test_both_ends_are_what_settling_again_gives(kind: str) -> None:
    answer, values, questions = asked(kind)
    checked = 0
    for question in questions.values():
        if question.moves != "capacity":
            continue
        for end, rate in ((question.low, question.at_low_kg_s), (question.high, question.at_high_kg_s)):
            if rate is None:
                continue
            assert end is not None
            job = build_job({**values, question.key: end})
            again = settle(answer.unit, conditions_of(job, answer.governing)).evaporation_kg_s
            assert rate == pytest.approx(again, rel=1e-3), question.key
            checked += 1
    assert checked >= 10


def test_hours_move_the_required_rate() -> None:
    answer, _, questions = asked("gas")
    days = questions["duty.days_per_week"]
    assert days.moves == "required rate"
    assert days.at_low_kg_s == pytest.approx(answer.required_kg_s)  # assumed 5 of 5 to 7
    assert days.at_high_kg_s == pytest.approx(answer.required_kg_s * 5.0 / 7.0)
    assert days.moves_kg_s == pytest.approx(answer.required_kg_s * 2.0 / 7.0)


def test_only_the_governing_season_and_the_heat_source_at_hand_are_asked_about() -> None:
    answer, _, questions = asked("electric", site__air_supply="outdoors")
    other = "winter" if answer.governing == "summer" else "summer"
    assert not any(key.startswith((f"site.{other}.", "site.average.")) for key in questions)
    assert not {"utilities.steam_pressure", "choices.excess_air", "choices.scale_resistance"} & set(questions)
    assert "utilities.supply_voltage" in questions


def test_room_or_outdoor_air_is_asked_with_both_rates() -> None:
    answer, _, questions = asked("gas")
    question = questions["site.air_supply"]
    assert (question.low, question.high) == ("room", "outdoors")
    assert question.at_low_kg_s == pytest.approx(answer.capacity_kg_s, rel=1e-3)
    assert question.at_high_kg_s is not None
    assert question.at_high_kg_s < question.at_low_kg_s  # colder air takes more heat for each gallon


def test_an_end_that_cannot_be_is_left_out() -> None:
    # 40 g/L times 10 is below saturation, times 20 crystallises: the high end of the factor has no rate.
    _, _, questions = asked("gas", liquid__dissolved_solids=20.0)
    factor = questions["liquid.concentration_factor"]
    assert factor.at_high_kg_s is None
    assert factor.at_low_kg_s is not None
    assert factor.moves_kg_s > 0.0

"""The shared words: each sentence holds the answer's numbers, and says no when the answer is no."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from vaporwright.documents.wording import (
    cautions,
    difference,
    duration,
    headline,
    limit_sentences,
    limiter,
    notice_text,
    percent,
    range_sentence,
    warm_up_sentence,
)
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, LIMIT_TOWER, SeasonResult
from vaporwright.unit.job import build_job
from vaporwright.unit.sizing import size_unit

MONTHLY_GALLONS_m3_s = 3.785411784e-3 / (30.4 * 86400.0)
GALLON_PER_HOUR_kg_s = 3.785411784e-3 * 998.2 / 3600.0
KELVIN_AT_FREEZING = 273.15


@cache
def sized(heat_source: str) -> UnitAnswer:
    values: Mapping[str, Any] = {"duty.volume": 6000.0 * MONTHLY_GALLONS_m3_s, "choices.heat_source": heat_source}
    return size_unit(build_job(values), read_catalogue_file(None)).answer


def result(season: str, gallons_per_hour: float, **changes: Any) -> SeasonResult:
    base = sized("gas").seasons[season]
    operation = replace(base.operation, evaporation_kg_s=gallons_per_hour * GALLON_PER_HOUR_kg_s)
    return replace(base, operation=operation, **changes)


def answer(rates: tuple[float, float, float], duty: float, **changes: Any) -> UnitAnswer:
    names = ("summer", "winter", "average")
    seasons = {name: result(name, rate, limit=LIMIT_HEAT) for name, rate in zip(names, rates, strict=True)}
    seasons |= changes
    governing = min(seasons, key=lambda season: seasons[season].evaporation_kg_s)
    return replace(sized("gas"), seasons=seasons, governing=governing, required_kg_s=duty * GALLON_PER_HOUR_kg_s)


def test_headline_reads_as_a_customer_would_say_it() -> None:
    text = headline(answer((31.2, 33.8, 32.5), 26.1), "US")
    assert text == "The burner limits it: 31 gal/h in summer, 34 in winter; the duty needs 26"


def test_headline_in_si_converts_the_water() -> None:
    # 31.2 gal/h of 3.785411784 L at 0.9982 kg/L are 117.9 kg/h; 33.8 are 127.7; 26.1 are 98.6.
    text = headline(answer((31.2, 33.8, 32.5), 26.1), "SI")
    assert text == "The burner limits it: 118 kg/h in summer, 128 in winter; the duty needs 99"


def test_headline_shows_tenths_where_whole_numbers_would_hide_the_margin() -> None:
    text = headline(answer((25.4, 27.3, 26.0), 25.2), "US")
    assert text.endswith("25.4 gal/h in summer, 27.3 in winter; the duty needs 25.2")


def test_headline_names_the_average_where_it_is_the_least() -> None:
    text = headline(answer((28.1, 26.2, 25.1), 18.0), "US")
    assert text.endswith("28 gal/h in summer, 26 in winter, 25 on average; the duty needs 18")


def test_headline_says_no() -> None:
    text = headline(answer((20.0, 22.0, 21.0), 41.0), "US")
    assert text.endswith("; the duty needs 41: the unit is too small")


def test_headline_names_both_limits_where_the_seasons_differ() -> None:
    summer = result("summer", 24.0, limit=LIMIT_TOWER)
    text = headline(answer((24.0, 25.6, 25.2), 18.3, summer=summer), "US")
    assert text == "The tower limits it to 24 gal/h in summer, the burner to 26 in winter; the duty needs 18"


@pytest.mark.parametrize(
    ("heat_source", "words"), [("gas", "the burner"), ("electric", "the heater"), ("steam", "the steam coil")]
)
def test_limiter_of_each_heat_source(heat_source: str, words: str) -> None:
    season = sized(heat_source).seasons["summer"]
    assert limiter(replace(season, limit=LIMIT_HEAT)) == words
    assert limiter(replace(season, limit=LIMIT_TOWER)) == "the tower"


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ("electric power of the site", "the site's electric power"),
        ("steam supply of the site", "the site's steam supply"),
        ("burner input, derated for altitude", "the burner"),
    ],
)
def test_limiter_names_the_site(limit: str, words: str) -> None:
    season = sized("gas").seasons["summer"]
    assert limiter(replace(season, limit=LIMIT_HEAT, heat=replace(season.heat, limit=limit))) == words


def test_limit_sentence_says_by_how_much() -> None:
    season = sized("gas").seasons["summer"]
    carried = replace(season.operation, evaporation_kg_s=30.0 * GALLON_PER_HOUR_kg_s)
    changes = {"settling_temperature_K": 330.15, "clamp_K": 341.65, "clamp_part": "fill", "at_clamp": carried}
    text = limit_sentences(answer((24.0, 25.0, 26.0), 18.0, summer=result("summer", 24.0, **changes)), "SI")[0]
    assert text == (
        "In summer the burner limits it: the tank settles at 57.0 °C, 12 K below its clamp, 68.5 °C (fill). "
        "At the clamp the tower would carry 113 kg/h, 25 % more than it gets heat for."
    )


def test_limit_sentences_cover_seasons_with_another_limit() -> None:
    summer = result("summer", 24.0, limit=LIMIT_TOWER, load=0.875, clamp_K=329.85, clamp_part="set point")
    texts = limit_sentences(answer((24.0, 25.0, 26.0), 18.0, summer=summer), "SI")
    assert texts[0] == (
        "In summer the tower limits it: the tank sits at its clamp, 56.7 °C (set point), and the heat source need "
        "only give 88 % of its full heat."
    )
    assert [text.split(" the ")[0] for text in texts[1:]] == ["In winter", "On average"]


@pytest.mark.parametrize(
    ("duty", "ending"),
    [
        (5.0, "low in its range; a smaller unit may do."),
        (15.0, "inside its range, with room to spare."),
        (19.0, "the end of its range; common practice sizes for the middle."),
        (21.0, "The unit does not meet it."),
    ],
)
def test_range_sentence(duty: float, ending: str) -> None:
    text = range_sentence(answer((20.0, 22.0, 21.0), duty), "US")
    assert f"{duty / 20.0 * 100.0:.0f} % of what the unit evaporates at its weakest, in summer" in text
    assert text.endswith(ending)


def test_warm_up_sentence() -> None:
    base = sized("gas")
    warm = replace(
        base.warm_up, start_K=288.15, target_K=328.15, tower_off_s=5400.0, tower_on_s=15120.0, stalls_at_K=None
    )
    text = warm_up_sentence(replace(base, warm_up=warm), "SI")
    assert text == (
        "From 15.0 °C to 55.0 °C: 90 min with the tower off (spray shut), 4.2 h with the tower running, "
        "up to the clamp."
    )
    stalled = replace(warm, tower_on_s=None, stalls_at_K=base.seasons[base.governing].clamp_K - 13.0)
    text = warm_up_sentence(replace(base, warm_up=stalled), "SI")
    assert text.endswith("never with the tower running, where it stalls 13 K short of the clamp.")


def test_small_words() -> None:
    assert [duration(seconds) for seconds in (5.0, 3599.0, 7199.0, 7200.0)] == ["1 min", "60 min", "120 min", "2.0 h"]
    assert percent(0.716) == "72 %"
    assert [difference(value, "US") for value in (1.0, 12.0)] == ["1.8 °F", "22 °F"]
    notice = Notice("hot", "Hot: {0}.", ((373.15, "temperature"),), ("summer",))
    assert notice_text(notice, "US") == "Hot: 212 °F. (summer)"


@pytest.mark.parametrize(
    ("heat_source", "hazard", "words"),
    [
        ("gas", "Fuel gas and flame", ("carbon monoxide", "purge", "licensed gas fitter", "low-water cut-off")),
        ("electric", "Electric power and heat", ("lock out", "ground-fault", "licensed", "low-water cut-off")),
        ("steam", "Steam and pressure", ("relief", "lock out", "licensed", "low-water cut-off")),
    ],
)
def test_cautions_of_each_heat_source(heat_source: str, hazard: str, words: tuple[str, ...]) -> None:
    found = {caution.hazard: caution.text for caution in cautions(sized(heat_source), "US")}
    assert all(word in found[hazard] for word in words)
    assert "local code" in found[hazard]
    common = {"Hot liquid and surfaces", "Fumes and chemicals", "Confined space", "Sizing only"}
    assert common <= found.keys()
    assert "no safety approval" in found["Sizing only"]
    assert any("ock out" in text and ("pump" in text or "opening" in text) for text in found.values())


def test_gas_on_room_air_warns_of_make_up_air() -> None:
    inside = sized("gas")
    assert "Room air" in {caution.hazard for caution in cautions(inside, "US")}
    values = {**inside.job.values, "site.air_supply": "outdoors"}
    outside = replace(inside, job=replace(inside.job, values=values))
    assert "Room air" not in {caution.hazard for caution in cautions(outside, "US")}

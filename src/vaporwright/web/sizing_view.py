"""An answer as a page shows it: in the reader's units, each number with the name under which it is explained."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from vaporwright.actions.explain_number import explained_names
from vaporwright.actions.live_size import UnitInHand, hand_of
from vaporwright.actions.size_job import Outcome
from vaporwright.charts.pointed_chart import PointedChart
from vaporwright.charts.rate_picture import chart_title
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.documents.elevation_part import elevation_data
from vaporwright.documents.material_words import MaterialLine, material_lines
from vaporwright.documents.section_rows import figure_text
from vaporwright.documents.sheet_tables import (
    capacity_table,
    ranked_assumptions,
    ranked_questions,
    utilities_table,
    utility_notes,
)
from vaporwright.documents.side_by_side import LETTERS, side_by_side_rows, side_by_side_sentences
from vaporwright.documents.wording import (
    COMFORTABLE_SHARE,
    LOW_SHARE,
    SEASON_PHRASES,
    cautions,
    headline,
    limit_sentences,
    notice_text,
    percent,
    range_sentence,
    warm_up_sentence,
)
from vaporwright.equipment.materials import MATERIALS_CAUTION
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.job import SEASONS
from vaporwright.unit.rate_curve import RateCurve
from vaporwright.web.sized import Entry

# Which number stands in which column of the capacity table.
_EXPLAINED: Final = (
    None,
    "settling_temperature_K",
    "evaporation_kg_s",
    "tower_evaporation_kg_s",
    "surface_evaporation_kg_s",
    None,
    None,
    None,
)


class Cell(NamedTuple):
    """A number in print, and the name under which it is explained; empty where it is not."""

    text: str
    why: str = ""


@dataclass(frozen=True)
class LiveView:
    """What is known at once."""

    key: str
    unit: str
    hand: str
    is_named: bool
    is_best: bool  # the choice of a full sizing of the same values
    sentence: str
    abnormal: bool
    asks_for_choice: bool  # the unit in hand is too small, or much too large
    numbers: list[tuple[str, Cell, str]]
    sentences: list[str]
    columns: list[str]
    rows: list[list[Cell]]
    utilities: dict[str, list[str] | list[list[str]]]
    utility_notes: list[str]
    notices: list[str]
    cautions: list[tuple[str, str]]
    assumptions: list[dict[str, str]]
    chart_title: str


def live_view(entry: Entry, system: str, best: UnitInHand | None = None) -> LiveView:
    """The answer of an entry, without what takes longer; `best` is the choice of a full sizing where there was one."""
    answer = entry.known
    table = capacity_table(answer, system)
    rows = [_cells(row, season) for row, season in zip(table["rows"], (*SEASONS, ""), strict=True)]
    hand = entry.unit
    assert hand is not None
    return LiveView(
        key=entry.key,
        unit=answer.unit.label(),
        hand=hand.as_text(),
        is_named=entry.is_named,
        is_best=hand == best,
        sentence=f"{headline(answer, system)}.",
        abnormal=not answer.meets_duty,
        asks_for_choice=not LOW_SHARE <= answer.share_of_capacity <= 1.0,
        numbers=_numbers(answer, system),
        sentences=[
            *limit_sentences(answer, system),
            range_sentence(answer, system),
            warm_up_sentence(answer, system),
        ],
        columns=[str(one) for one in table["columns"]],
        rows=rows,
        utilities=utilities_table(answer, system),
        utility_notes=utility_notes(answer, system),
        notices=[notice_text(one, system) for one in answer.warnings],
        cautions=[(one.hazard, one.text) for one in cautions(answer, system)],
        assumptions=ranked_assumptions(answer, (), system),
        chart_title=chart_title(answer, system),
    )


def _cells(row: Sequence[str], season: str) -> list[Cell]:
    return [
        Cell(text, f"capacity.{season}.{name}" if name and season else "")
        for text, name in zip(row, _EXPLAINED, strict=True)
    ]


def _numbers(answer: UnitAnswer, system: str) -> list[tuple[str, Cell, str]]:
    least = answer.seasons[answer.governing]
    where = SEASON_PHRASES[answer.governing]
    stem = f"capacity.{answer.governing}"
    share = answer.share_of_capacity
    place = "too small" if share > 1.0 else "end of its range" if share > COMFORTABLE_SHARE else ""
    place = "low in its range" if share < LOW_SHARE else place
    return [
        (
            "tank settles at",
            Cell(show(least.settling_temperature_K, "temperature", system), f"{stem}.settling_temperature_K"),
            where,
        ),
        (
            "evaporates at its weakest",
            Cell(show(answer.capacity_kg_s, "evaporation", system), f"{stem}.evaporation_kg_s"),
            where,
        ),
        (
            "the duty needs",
            Cell(show(answer.required_kg_s, "evaporation", system), "duty.required_evaporation_kg_s"),
            "while running",
        ),
        ("the duty takes", Cell(percent(share), "duty.share_of_capacity"), place or "of what it can"),
    ]


@dataclass(frozen=True)
class Shown:
    """One candidate: its letter, what it is and why it is shown, and its parts."""

    letter: str
    sentence: str
    hand: str
    is_held: bool


@dataclass(frozen=True)
class SectionView:
    """A part of the body."""

    title: str
    problem: str
    rows: list[tuple[str, Cell]]
    notices: list[str]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class FullView:
    """What a full sizing adds."""

    key: str
    heads: list[str]
    rows: list[tuple[str, list[str]]]
    shown: list[Shown]
    tried: int
    catalogue: str
    invented: bool
    questions: list[dict[str, str]]
    elevation: dict[str, object]
    sections: list[SectionView]
    conflicts: list[str]
    materials: list[MaterialLine]
    materials_problem: str
    materials_cautions: str
    assumptions: list[dict[str, str]]
    names: tuple[str, ...]


def full_view(entry: Entry, system: str, held: str) -> FullView:
    """The outcome of an entry; `held` is the unit in hand."""
    outcome = entry.outcome
    assert outcome is not None
    sentences = side_by_side_sentences(outcome.shown, system)
    hands = [hand_of(candidate.unit).as_text() for candidate in outcome.shown]
    body = outcome.body
    return FullView(
        key=entry.key,
        heads=[LETTERS[number] for number in range(len(outcome.shown))],
        rows=side_by_side_rows(outcome.shown, system) if outcome.shown else [],
        shown=[
            Shown(LETTERS[number], sentence[3:], hand, hand == held)
            for number, (sentence, hand) in enumerate(zip(sentences, hands, strict=True))
        ],
        tried=len(outcome.candidates),
        catalogue=outcome.catalogue.name,
        invented=outcome.catalogue.invented,
        questions=ranked_questions(outcome.questions, len(outcome.questions), system),
        elevation=elevation_data(outcome.answer, body, system),
        sections=_sections(outcome, system),
        conflicts=[notice_text(one, system) for one in body.conflicts],
        materials=[] if body.materials is None else material_lines(body.materials),
        materials_problem=body.materials_problem,
        materials_cautions=MATERIALS_CAUTION,
        assumptions=ranked_assumptions(outcome.answer, outcome.questions, system),
        names=explained_names(outcome.answer, body),
    )


def _sections(outcome: Outcome, system: str) -> list[SectionView]:
    return [
        SectionView(
            section.title,
            section.problem,
            [(one.label, Cell(figure_text(one, system), f"{section.key}.{one.name}")) for one in section.figures],
            [notice_text(one, system) for one in section.notices],
            section.cautions,
        )
        for section in outcome.body.sections
    ]


def curves_table(curves: Sequence[RateCurve], system: str) -> dict[str, list[str] | list[list[str]]]:
    """Rate against tank temperature in numbers: for each season what the tower carries and what the heat drives."""
    temperature, rate = (shown_unit(quantity, system).text for quantity in ("temperature", "evaporation"))
    by_season = {curve.season: {f"{point.temperature_K:.3f}": point for point in curve.points} for curve in curves}
    temperatures = sorted({name for points in by_season.values() for name in points}, key=float)
    rows = []
    for name in temperatures:
        row = [f"{to_shown(float(name), 'temperature', system):.1f}"]
        for points in by_season.values():
            point = points.get(name)
            values = () if point is None else (point.tower_carries_kg_s, point.heat_drives_kg_s)
            row += [f"{to_shown(value, 'evaporation', system):.1f}" for value in values] or ["–", "–"]
        rows.append(row)
    columns = [f"tank, {temperature}"]
    for season in by_season:
        columns += [f"{season}: tower carries, {rate}", f"{season}: heat drives, {rate}"]
    return {"columns": columns, "rows": rows}


def steps_json(chart: PointedChart) -> str:
    """The steps along a chart's curves, as its page's script takes them."""
    curves = [
        {
            "season": curve.season,
            "operating": curve.operating,
            "steps": [
                {
                    "x": step.x_px,
                    "tower_y": step.tower_y_px,
                    "heat_y": step.heat_y_px,
                    "temperature": step.temperature,
                    "tower": step.tower,
                    "heat": step.heat,
                    "says": f"{step.says}.",
                    "words": f"{step.words}.",
                    "settles": step.settles,
                }
                for step in curve.steps
            ],
        }
        for curve in chart.curves
    ]
    return json.dumps(curves, ensure_ascii=False, separators=(",", ":"))

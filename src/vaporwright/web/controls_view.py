"""The control of a unit as pages show it: the matrix as cells, temperatures with reasons, guide, proof. Words only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from vaporwright.actions.control_job import ControlledJob
from vaporwright.actions.prove_job import ProvedJob
from vaporwright.controls.counterexample import Counterexample, replayed
from vaporwright.controls.delays import delays_section
from vaporwright.controls.design import CauseAndEffect, Row
from vaporwright.controls.properties import Always
from vaporwright.controls.set_points import set_points_section
from vaporwright.controls.single_faults import FaultOutcome
from vaporwright.controls.table import Table, Timer
from vaporwright.controls.troubleshooting import ALARM, troubleshooting_guide
from vaporwright.controls.unit_properties import properties_of
from vaporwright.documents.matrix import MARKS, notes_of
from vaporwright.documents.section_rows import figure_text

CELL_WORDS: Final = {"on": "asks for", "off": "ends", "need": "is needed for"}
LAST_SCANS: Final = 4  # of a counterexample


@dataclass(frozen=True)
class CellView:
    """One cell of the matrix."""

    mark: str  # empty: nothing
    kind: str
    words: str


@dataclass(frozen=True)
class RowView:
    """One cause; places are those of the table's names, -1 where there is none."""

    name: str
    title: str
    notes: str
    why: str
    alarm: str
    latched: bool
    item: int
    cause: int
    first: int
    cells: tuple[CellView, ...]


@dataclass(frozen=True)
class ColumnView:
    """One effect."""

    name: str
    title: str
    short: str
    item: int


def matrix_view(controlled: ControlledJob) -> tuple[tuple[ColumnView, ...], tuple[RowView, ...]]:
    """Columns and rows."""
    design, table = controlled.unit.design, controlled.table
    place = {name: index for index, name in enumerate(table.names)}
    columns = tuple(
        ColumnView(one.name, _plain(one.title), one.name.replace("_", " "), place[one.name]) for one in design.columns
    )
    rows = tuple(_row(design, row, place, controlled.unit.reasons) for row in design.rows)
    return columns, rows


def _row(design: CauseAndEffect, row: Row, place: dict[str, int], reasons: dict[str, str]) -> RowView:
    cells = []
    for column in design.columns:
        kind = row.effects.get(column.name)
        words = f"{CELL_WORDS[kind]} {_plain(column.title)}" if kind else ""
        cells.append(CellView(MARKS[kind] if kind else "", kind or "", words))
    return RowView(
        row.name,
        row.title,
        notes_of(row),
        reasons.get(row.name, ""),
        row.alarm or "",
        row.latched,
        place[row.name],
        place.get(f"{row.name}_cause", -1),
        place.get(f"{row.name}_first", -1),
        tuple(cells),
    )


def _plain(title: str) -> str:
    """What an effect is called, without what its title adds."""
    return title.partition(",")[0]


@dataclass(frozen=True)
class FigureView:
    """A temperature or a delay, with why it is so."""

    label: str
    value: str
    why: str


def figures_view(controlled: ControlledJob, system: str) -> list[tuple[str, list[FigureView], tuple[str, ...]]]:
    """Temperatures and delays: heading, figures, cautions."""
    unit = controlled.unit
    found = []
    for section in (set_points_section(unit.points), delays_section(unit.delays, unit.heat)):
        figures = [FigureView(one.label, figure_text(one, system), one.equation) for one in section.figures]
        found.append((section.title, figures, tuple(section.cautions)))
    return found


@dataclass(frozen=True)
class SymptomView:
    """What one sees, alarms that may stand behind it, and what to look at, the likeliest first."""

    name: str
    title: str
    is_alarm: bool
    alarms: tuple[str, ...]
    suspects: tuple[tuple[str, str, str, str], ...]  # what, state, look, caution


def guide_view(controlled: ControlledJob) -> list[SymptomView]:
    """The troubleshooting guide."""
    rows = {row.name for row in controlled.unit.design.rows}
    return [
        SymptomView(
            symptom.name,
            symptom.title[0].upper() + symptom.title[1:],
            symptom.name in rows,
            tuple(one.title for one in symptom.suspects if one.kind == ALARM),
            tuple((one.title, one.state, one.look, one.caution) for one in symptom.suspects if one.kind != ALARM),
        )
        for symptom in troubleshooting_guide(controlled.unit.design)
    ]


@dataclass(frozen=True)
class FallenView:
    """A property that is not proved, with a run that breaks it."""

    name: str
    sentence: str
    how: str
    accepted: str
    start: str
    scans: tuple[str, ...]


def fallen_view(proved: ProvedJob) -> list[FallenView]:
    """Each property that fell."""
    table = proved.controlled.table
    wanted = {entry.name: entry for entry in properties_of(proved.controlled.unit)}
    found = []
    for proof in proved.fallen:
        start, scans = "", tuple[str, ...]()
        if proof.counterexample is not None:
            entry = wanted[proof.name]
            watchers = entry.watchers if isinstance(entry, Always) else ()
            start, scans = _run(table, proof.counterexample, watchers)
        accepted = proved.accepted.get(proof.name, "")
        found.append(FallenView(proof.name, proof.sentence, proof.how, accepted, start, scans))
    return found


def _run(table: Table, example: Counterexample, watchers: Sequence[Timer]) -> tuple[str, tuple[str, ...]]:
    start = "From power-up" if example.from_power_up else "From a state of which nobody has shown how to get there"
    frames = replayed(table, example, watchers)
    lines = []
    for number in range(max(1, len(frames) - LAST_SCANS), len(frames)):
        before, now = frames[number - 1].state.values, frames[number].state.values
        changed = [f"{name} {'on' if now[name] else 'off'}" for name in now if now[name] != before.get(name)]
        lines.append(f"scan {number}: " + (", ".join(changed) or "nothing changes"))
    return start, tuple(lines)


@dataclass(frozen=True)
class FaultView:
    """One thing stuck, and the claims that fall, or stand by the hard wiring alone."""

    stuck: str
    falls: tuple[str, ...]
    wired: tuple[str, ...]


def faults_view(proved: ProvedJob) -> tuple[dict[str, int], list[FaultView]]:
    """How many pairs of fault and claim stand and fall, and each fault that asks something of a designer."""
    counts = {"by the table alone": 0, "by the hard-wired limits": 0, "falls": 0}
    claims: dict[str, dict[str, list[str]]] = {}
    for outcome in proved.faults:
        counts[outcome.survival] += 1
        if outcome.survival != "by the table alone":
            words = _stuck(proved.controlled.table, outcome)
            claims.setdefault(words, {}).setdefault(outcome.survival, []).append(outcome.claim)
    views = [
        FaultView(words, tuple(by.get("falls", ())), tuple(by.get("by the hard-wired limits", ())))
        for words, by in claims.items()
    ]
    return counts, sorted(views, key=lambda view: -len(view.falls))


def _stuck(table: Table, outcome: FaultOutcome) -> str:
    fault = outcome.fault
    label = table.labels.get(fault.name)
    title = label.title if label is not None else fault.name.replace("_", " ")
    if fault.name in table.outputs:
        return f"{title}: contact {'welded' if fault.stuck else 'stays open'}"
    return f"{title}: stuck {'on' if fault.stuck else 'off'}"


def headline(controlled: ControlledJob) -> str:
    """One sentence about the table."""
    design = controlled.unit.design
    rows = sum(bool(row.effects) for row in design.rows)
    whose = "the shop's own table" if controlled.is_edited else "made from the unit"
    return f"{rows} causes act on {len(design.columns)} effects, scanned every {design.scan_s:g} s; {whose}."


def proof_headline(proved: ProvedJob) -> str:
    """One sentence about the proof."""
    count, fallen = len(proved.proofs), len(proved.fallen)
    if not fallen:
        return f"All {count} properties are proved, over every input, timer and memory."
    excused = sum(proof.name in proved.accepted for proof in proved.fallen)
    return f"{fallen} of {count} properties are not proved; the job accepts {excused} of them in writing."

"""The steps of a procedure in which the control is tried: inputs and outputs, every row of the table, alarms.

They are the trials of `row_trials` in words: how the unit stands first, what is done, what must be seen then, how long
it may take, how it is put back. Each field is one look or one timing of the trial, under the same key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Final

from vaporwright.acceptance.steps.making import LOCAL_CODE, MOVING_CAUTION, POWER_CAUTION, PRACTICE, about, tick
from vaporwright.acceptance.steps.procedure import Performer, Point, ProcedureSection, ReadingField, Step
from vaporwright.acceptance.steps.walk import SET_UP, look
from vaporwright.acceptance.trials.found import ControlTrials, OtherTrial, RowTrial
from vaporwright.acceptance.trials.means import Means
from vaporwright.acceptance.trials.other_trials import series_checks
from vaporwright.acceptance.trials.trial import (
    ALARM,
    DEVICE,
    FIRST,
    INPUT,
    OUTPUT,
    UNSEEN,
    Context,
    Look,
    Timing,
    Trial,
)
from vaporwright.controls.expansion import expanded
from vaporwright.controls.unit_table import UnitTable

POWERED: Final = "electrical.power_on"
IN_SERIES: Final = "io.in_series"
FEW: Final = 3  # lamps that are named one by one
CONTINUITY: Final = "continuity tester"
_SETTING_UP_min: Final = {"power": 0.5, "rest": 0.5, "running": 1.5, "called": 2.0, "fired": 3.0}
_PER_ACT_min: Final = 0.2
LAMPS: Final = {OUTPUT: "output lamp", DEVICE: "device", INPUT: "input lamp"}
_WHEN: Final = {
    "before": "before",
    "then": "then",
    "worked": "then",
    "silenced": "horn silenced",
    "asked": "asked for meanwhile",
    "asked_again": "put back, and asked for before a reset",
    "acknowledged": "acknowledged",
    "start_refused": "start pushed meanwhile",
    "reset_with_cause": "reset pushed while the cause is still there",
    "restored": "put back",
    "reset": "reset pushed",
    "cleared": "after that",
    "reset_after": "reset pushed again",
    "again": "the same once more",
    "reset_unseen": "put back, reset pushed before anyone acknowledged",
    "reset_seen": "acknowledged, then reset",
    "first": "the first alone",
    "second": "the second as well",
    "under_held_buttons": "power back, both buttons still held",
    "start_alone": "start pushed without a reset",
    "reset_under_held_start": "reset pushed while start is held down",
    "reset_alone": "reset pushed, start let go",
}
_PURPOSE: Final = {
    "alarms": "A new alarm is heard although the last one was silenced, and what came first stays named.",
    "rows.power_returns": "After a power failure nothing moves by itself, and a button that hangs starts nothing.",
}
NOTE: Final = (
    "Rods hang in a bucket filled to the refill-on mark and the hand valve of the make-up is shut in all of these, so"
    " that level is in the technician's hand. Nothing is bridged to run. For heat called without fire the burner only"
    " purges, the heater's disconnect is locked open, the hand valve of the steam is shut."
)


def sections_of(table: UnitTable, found: ControlTrials) -> tuple[ProcedureSection, ...]:
    """Sections io, rows and alarms."""
    writer = _Writer(table, found)
    others = {
        head: [item for item in found.others if item.trial.key.startswith(f"{head}.")]
        for head in ("io", "rows", "alarms")
    }
    rows = [*map(writer.row, found.rows), *map(writer.other, others["rows"])]
    io = [_in_series(table), *map(writer.other, others["io"])]
    sections = (
        ProcedureSection("io", "Inputs and outputs", tuple(io), NOTE),
        ProcedureSection("rows", "Every row of the cause-and-effect table", tuple(rows), writer.covered_note()),
        ProcedureSection("alarms", "Alarms, silence, acknowledge, reset", tuple(map(writer.other, others["alarms"]))),
    )
    return tuple(section for section in sections if section.steps)


def device_titles(table: UnitTable) -> dict[str, str]:
    """What people call the inputs and outputs."""
    return {signal.name: signal.title for signal in table.design.signals} | {
        column.name: column.title for column in table.design.columns
    }


class _Writer:
    def __init__(self, table: UnitTable, found: ControlTrials) -> None:
        design = table.design
        self.table, self.found = table, found
        self.expanded = expanded(design)
        self.titles = {row.name: row.title for row in design.rows} | device_titles(table)
        if design.panel:
            self.titles |= {design.panel.horn: "horn", design.panel.beacon: "alarm beacon"}

    def covered_note(self) -> str:
        """Which rows have no step of their own."""
        shown = [f"{self.titles[row]} (in {key})" for row, key in self.found.covered.items()]
        return f"Shown by another row's step: {'; '.join(shown)}." if shown else ""

    def row(self, item: RowTrial) -> Step:
        """The step of a row's trial."""
        row = item.row
        witness: Point = "witness" if row.alarm == "high" and row.latched else ""
        return self._step(
            item.trial,
            item.context,
            (item.means,),
            title=row.title[:1].upper() + row.title[1:],
            purpose=self.table.reasons.get(row.name, "What the shop's table asks."),
            reason=self.table.reasons.get(row.name, "the table"),
            point=witness,
        )

    def other(self, item: OtherTrial) -> Step:
        """The step of an input, an output, alarms or power."""
        head, _, rest = item.trial.key.partition(".")
        title, purpose = self.titles.get(item.about, ""), _PURPOSE.get(item.trial.key, _PURPOSE.get(head, ""))
        if rest.startswith("input_"):
            purpose = "The device is on its own terminal, the right way round, and on no other."
        elif rest.startswith("output_"):
            purpose = "The output drives this device and no other."
        title = title or {"rows": "Power fails and returns"}.get(head, "Two alarms, one after the other")
        if rest == "two_the_other_way":
            title += ", the other way round"
        return self._step(
            item.trial, item.context, item.means, title=title[:1].upper() + title[1:], purpose=purpose,
            reason="the table as designed",
        )  # fmt: skip

    def _step(
        self,
        trial: Trial,
        context: Context,
        means: Sequence[Means],
        *,
        title: str,
        purpose: str,
        reason: str,
        point: Point = "",
    ) -> Step:
        before = self._standing(context)
        words: dict[str, str] = {}
        for _, looks in groupby(sorted(trial.looks, key=lambda look: look.scan), key=lambda look: look.scan):
            seen = list(looks)
            words |= {look.field: self._words(look.expected, before) for look in seen}
            before = {**before, **{item: on for look in seen for item, on in look.expected.items()}}
        fields = [self._tick(look, words[look.field]) for look in trial.looks]
        fields += [_time(timing, reason) for timing in trial.timings]
        cautions = [text for item in means for text in (item.caution,) if text]
        performers: list[Performer] = [item.by for item in means if item.by != "technician"]
        return Step(
            trial.key,
            title,
            purpose,
            (f"{SET_UP}{context.words}.", *_sentences(trial)),
            tuple(fields),
            round(_minutes(trial, context), 1),
            cautions=tuple(dict.fromkeys((*cautions, MOVING_CAUTION))),
            by=performers[0] if performers else "technician",
            point=point,
            restore=". ".join(item.restore[:1].upper() + item.restore[1:] for item in means if item.restore),
            after=(POWERED,),
            hot=trial.hot,
        )

    def _standing(self, context: Context) -> dict[str, bool]:
        """What is on before the trial begins."""
        inputs = zip(self.expanded.signals, context.read[-1].tolist(), strict=True)
        outputs = list(zip(self.expanded.outputs, context.outputs, strict=True))
        return (
            {f"{INPUT}:{name}": bool(on) for name, on in inputs}
            | {f"{OUTPUT}:{name}": on for name, on in outputs}
            | {f"{DEVICE}:{name}": on for name, on in outputs}
        )

    def _tick(self, look: Look, words: str) -> ReadingField:
        return tick(look.field, f"{_WHEN.get(look.field, 'then')}: {words}", "the table as designed, scanned")

    def _words(self, expected: Mapping[str, bool], before: Mapping[str, bool]) -> str:
        """What must be seen: alarms, lamps and devices that have changed since the look before, and no other."""
        changed = {item: on for item, on in expected.items() if before.get(item, False) != on}
        found = list(self._alarm_words(expected, changed))
        lamps = [item for item in expected if item.partition(":")[0] in LAMPS]
        told = lamps if len(lamps) <= FEW else [item for item in lamps if item in changed]
        found += [f"{self._title(item)} {'on' if expected[item] else 'off'}" for item in told]
        if len(told) < len(lamps):
            kinds = dict.fromkeys(LAMPS[item.partition(":")[0]] for item in lamps)
            found.append(f"{'every other' if told else 'every'} {' and '.join(kinds)} as before")
        return "; ".join(found) or "nothing has changed"

    def _title(self, item: str) -> str:
        name = item.partition(":")[2]
        return self.titles.get(name, name)

    def _alarm_words(self, expected: Mapping[str, bool], changed: Mapping[str, bool]) -> Iterator[str]:
        """What the panel lists and names, as far as it has changed."""
        for item, on in expected.items():
            kind, _, name = item.partition(":")
            title, unseen = self._title(item), f"{UNSEEN}:{name}"
            if kind == ALARM and (item in changed or unseen in changed):
                state = "" if unseen not in expected else ", not acknowledged" if expected[unseen] else ", acknowledged"
                yield f'alarm "{title}" listed{state}' if on else f'alarm "{title}" gone from the list'
            elif kind == FIRST and item in changed:
                yield f'"{title}" {"named" if on else "no longer named"} as the first'


def _sentences(trial: Trial) -> Iterator[str]:
    """Each act in words, each time something is looked at named."""
    said: list[tuple[int, str]] = [
        (act.scan, act.said[:1].upper() + act.said[1:] + ".") for act in trial.acts if act.said
    ]
    looks = {look.scan: _WHEN.get(look.field, "then") for look in trial.looks}
    said += [(scan, look(when)) for scan, when in looks.items()]
    for _, text in sorted(said, key=lambda entry: entry[0]):
        yield text


def _minutes(trial: Trial, context: Context) -> float:
    setting_up = _SETTING_UP_min[context.key.split(",")[0]] + 0.3 * ("," in context.key)
    if trial.key.startswith("io.input_"):
        setting_up = 0.2  # one after the other, the unit as it stands
    return setting_up + trial.scans / 600.0 + _PER_ACT_min * sum(bool(act.said) for act in trial.acts)


def _time(timing: Timing, reason: str) -> ReadingField:
    why = f"{reason} Tolerance: a tenth, at least a second ({PRACTICE})"
    return about(timing.field, "from cause to effect", "delay", timing.expected_s, timing.tolerance_s, why, "stopwatch")


def _in_series(table: UnitTable) -> Step:
    """Contacts that open a circuit by wire, whatever the control says."""
    titles = device_titles(table)
    fields = tuple(
        tick(
            check.field,
            f"circuit of {titles[check.output]} opens with: {titles[check.contact]}",
            "wiring diagram: in series ahead of what the control drives",
            instrument=CONTINUITY,
        )
        for check in series_checks(table)
    )
    return Step(
        IN_SERIES,
        "Limits, overloads and emergency stop wired in series",
        "They open the circuit by wire when the control fails.",
        (
            "Lock the power out and prove dead.",
            "Put the continuity tester across each output's circuit, every contact of it closed.",
            "Open each contact at its device, one at a time, and close it again.",
        ),
        fields,
        round(1.0 * len(fields), 1),
        cautions=(POWER_CAUTION, LOCAL_CODE),
        by="electrician",
        point="hold",
        restore="Every contact closed, tester off, nothing left bridged.",
    )

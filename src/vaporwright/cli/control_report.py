"""The control of a unit in the terminal: temperatures, delays, the matrix; and what is proved of it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from vaporwright.actions.control_job import ControlledJob
from vaporwright.actions.prove_job import ProvedJob
from vaporwright.controls.counterexample import Counterexample, replayed
from vaporwright.controls.delays import delays_section
from vaporwright.controls.proof import Proof
from vaporwright.controls.properties import Always, Property
from vaporwright.controls.set_points import set_points_section
from vaporwright.controls.single_faults import FaultOutcome
from vaporwright.controls.table import Table
from vaporwright.controls.troubleshooting import ALARM, Symptom, troubleshooting_guide
from vaporwright.controls.unit_properties import properties_of
from vaporwright.controls.unit_table import CONTROL_CAUTION
from vaporwright.documents.matrix import matrix_lines
from vaporwright.documents.section_rows import section_rows
from vaporwright.unit.figures import Section

WIDTH = 80
LAST_SCANS = 4  # of a counterexample that are told


def controls_text(controlled: ControlledJob, system: str) -> str:
    """Temperatures, delays and the matrix of a unit's table."""
    design, unit = controlled.unit.design, controlled.unit
    rows = sum(bool(row.effects) for row in design.rows)
    whose = f"from {controlled.job_file.control_table}" if controlled.is_edited else "made from the unit"
    sentence = (
        f"{rows} causes act on {len(design.columns)} effects, scanned every {design.scan_s:g} s ({whose}); what is"
        " proved of it: vaporwright prove."
    )
    blocks = [
        f"{controlled.answer.job.text('job.name')}: control of the {unit.heat} unit\n{'-' * WIDTH}",
        textwrap.fill(sentence, WIDTH),
        *(
            _section(section, system)
            for section in (set_points_section(unit.points), delays_section(unit.delays, unit.heat))
        ),
        "\n".join(matrix_lines(design)),
        textwrap.fill(CONTROL_CAUTION, WIDTH),
    ]
    return "\n\n".join(blocks)


def _section(section: Section, system: str) -> str:
    lines = [section.title]
    for label, value in section_rows(section, system):
        room = WIDTH - 3 - len(value)
        lines.append(f"  {label[:room]:<{room}} {value}")
    return "\n".join(lines)


def guide_text(controlled: ControlledJob) -> str:
    """Symptoms with their causes in order of likelihood, what to look at, and what can hurt."""
    blocks = [
        f"{controlled.answer.job.text('job.name')}: troubleshooting, from the table\n{'-' * WIDTH}",
        textwrap.fill(
            "Causes stand in order of likelihood (common practice, no source). Lock out before a guard, a pipe or a"
            " panel is opened; nothing is bridged to get a unit going.",
            WIDTH,
        ),
    ]
    for symptom in troubleshooting_guide(controlled.unit.design):
        lines = [textwrap.fill(symptom.title[0].upper() + symptom.title[1:], WIDTH, subsequent_indent="  ")]
        for number, text in enumerate(_causes(symptom), 1):
            lines.append(textwrap.fill(f"{number}. {text}", WIDTH, initial_indent="  ", subsequent_indent="     "))
        blocks.append("\n".join(lines))
    blocks.append(textwrap.fill(CONTROL_CAUTION, WIDTH))
    return "\n\n".join(blocks)


def _causes(symptom: Symptom) -> Iterator[str]:
    """A sentence for each suspect; alarms that may stand are named together."""
    alarms = [suspect for suspect in symptom.suspects if suspect.kind == ALARM]
    if alarms:
        yield f"An alarm stands ({'; '.join(alarm.title for alarm in alarms)}): {alarms[0].look}."
    for suspect in symptom.suspects:
        if suspect.kind != ALARM:
            caution = f" CAUTION: {suspect.caution}." if suspect.caution else ""
            yield f"{suspect.title}: {suspect.state}: {suspect.look}.{caution}"


def proof_text(proved: ProvedJob, *, full: bool = False) -> str:
    """What holds, what fell and how, and what single faults ask of a designer."""
    table = proved.controlled.table
    wanted = {entry.name: entry for entry in properties_of(proved.controlled.unit)}
    blocks = [
        f"{proved.controlled.answer.job.text('job.name')}: proof of the cause-and-effect table\n{'-' * WIDTH}",
        textwrap.fill(_headline(proved), WIDTH),
    ]
    blocks += [_fallen(table, wanted[proof.name], proof, proved.accepted.get(proof.name)) for proof in proved.fallen]
    if full:
        blocks.append(_listed("Proved", [f"{proof.name}: {proof.sentence}" for proof in proved.proofs]))
    if proved.never_act:
        blocks.append(_listed("Rows that nothing can make true", list(proved.never_act)))
    if proved.faults:
        blocks.append(_faults(table, proved.faults))
    blocks.append(textwrap.fill(CONTROL_CAUTION, WIDTH))
    return "\n\n".join(blocks)


def _headline(proved: ProvedJob) -> str:
    count, fallen = len(proved.proofs), len(proved.fallen)
    if not fallen:
        text = f"All {count} properties are proved, over every input, timer and memory."
    else:
        excused = sum(proof.name in proved.accepted for proof in proved.fallen)
        text = f"{fallen} of {count} properties are not proved; the job accepts {excused} of them in writing."
    if not proved.faults:
        return text + " What one stuck contact takes away: --faults (some minutes)."
    return text


def _fallen(table: Table, wanted: Property, proof: Proof, reason: str | None) -> str:
    lines = [
        textwrap.fill(f"FALLEN: {proof.name}: {proof.sentence} ({proof.how})", WIDTH, subsequent_indent="  "),
    ]
    if reason is not None:
        lines.append(
            textwrap.fill(f"accepted in writing: {reason}", WIDTH, initial_indent="  ", subsequent_indent="  ")
        )
    if proof.counterexample is not None:
        lines += _run(table, wanted, proof.counterexample)
    return "\n".join(lines)


def _run(table: Table, wanted: Property, example: Counterexample) -> Iterator[str]:
    """The last scans of a counterexample, replayed without the solver: what changes from scan to scan."""
    start = "from power-up" if example.from_power_up else "from a state of which nobody has shown how to get there"
    yield f"  {start}:"
    watchers = wanted.watchers if isinstance(wanted, Always) else ()
    frames = replayed(table, example, watchers)
    for number in range(max(1, len(frames) - LAST_SCANS), len(frames)):
        before, now = frames[number - 1].state.values, frames[number].state.values
        changed = [f"{name} {'on' if now[name] else 'off'}" for name in now if now[name] != before.get(name)]
        text = f"scan {number}: " + (", ".join(changed) or "nothing changes")
        yield textwrap.fill(text, WIDTH, initial_indent="    ", subsequent_indent="      ")


def _faults(table: Table, faults: Sequence[FaultOutcome]) -> str:
    """What a designer must see to: each single fault under which a claim falls, or stands by the hard wiring only."""
    by_fault: dict[str, dict[str, list[str]]] = {}
    for outcome in faults:
        if outcome.survival != "by the table alone":
            stuck = _stuck(table, outcome)
            by_fault.setdefault(stuck, {}).setdefault(outcome.survival, []).append(outcome.claim)
    kept = sum(outcome.survival == "by the table alone" for outcome in faults)
    wired = sum(outcome.survival == "by the hard-wired limits" for outcome in faults)
    lines = [
        textwrap.fill(
            f"Single faults: {kept} of {len(faults)} pairs of fault and claim stand by the table alone, {wired} by the"
            f" hard-wired limits, {len(faults) - kept - wired} fall. A designer adds a second device of another"
            " principle where one that falls can hurt.",
            WIDTH,
        )
    ]
    for stuck, survivals in by_fault.items():
        for survival, claims in survivals.items():
            mark = "FALLS" if survival == "falls" else "hard-wired"
            text = f"{stuck}: {mark}: {', '.join(claims)}"
            lines.append(textwrap.fill(text, WIDTH, initial_indent="- ", subsequent_indent="  "))
    return "\n".join(lines)


def _stuck(table: Table, outcome: FaultOutcome) -> str:
    fault = outcome.fault
    if fault.name in table.outputs:
        return f"{fault.name} contact {'welded' if fault.stuck else 'open'}"
    return f"{fault.name} stuck {'on' if fault.stuck else 'off'}"


def _listed(title: str, entries: list[str]) -> str:
    return "\n".join([title, *(textwrap.fill(f"- {entry}", WIDTH, subsequent_indent="  ") for entry in entries)])

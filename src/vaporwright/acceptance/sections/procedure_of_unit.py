"""The acceptance procedure of one unit on one day, section by section, in the order in which a shop goes.

    documents    papers, dry run, briefing, instruments, conditions of the day, nameplate
    mechanical   dimensions, connections, materials
    leak         tank, cold
    electrical   earth, insulation, panel, power, rotation, currents, emergency stop, return of power
    rows         inputs and outputs, then (after the rods) every row of the table, then alarms
    set_points   found and left
    heat         burner, heater or steam coil
    hydraulics   water and air
    run          performance
    finish       shut-down, drain, clean, punch list, signatures, release

The idea of the sections is IEC 62381's; what they ask is common practice of the trade, no source. Variants choose among
the same steps: `cold` leaves out what needs fire or heat, `hot on site` does that and looks again at what transport can
change, `site` starts the unit up on the customer's own liquor.

A procedure that is accepted says that this unit, on that day, did what was expected. It approves nothing: local codes,
the authority having jurisdiction and the licensed engineer, gas fitter and electrician decide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final

from vaporwright.acceptance.sections.electrical import electrical_section
from vaporwright.acceptance.sections.finish import finish_section
from vaporwright.acceptance.sections.heat import heat_section
from vaporwright.acceptance.sections.hydraulic import hydraulic_section
from vaporwright.acceptance.sections.level import rods_section
from vaporwright.acceptance.sections.opening import DRY_RUN, leak_section, mechanical_section, opening_section
from vaporwright.acceptance.sections.performance import LEAST_SHARE, LEAST_RUN_s, run_section
from vaporwright.acceptance.sections.set_points import set_points_section
from vaporwright.acceptance.sections.site import transport_section, utilities_section
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest, under_test
from vaporwright.acceptance.steps.checks import check_procedure
from vaporwright.acceptance.steps.day import DayConditions
from vaporwright.acceptance.steps.procedure import VARIANTS, Procedure, ProcedureSection, Step, Variant
from vaporwright.controls.unit_table import UnitTable
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import sourced
from vaporwright.foundation.telling import Report, unheard
from vaporwright.unit.answer import UnitAnswer

INPUTS, ROWS = "io", "rows"  # sections made from the table
# Sections that a hot test on site does whole, whatever in them needs no heat: papers, what transport changes, end.
_AGAIN_ON_SITE: Final = ("documents", "utilities", "transport", "finish")
RULES: Final = (
    "A step is accepted when every reading in it is; a hold point stops the test until shop and witness accept it.",
    "The witness may have any step repeated, with his own thermometer, and leaves with the raw data.",
    "Void: an instrument found wrong or overdue voids every reading taken with it; a performance run is void when its"
    " conditions change, its balances stay open, or anything but the metered make-up enters or leaves.",
    "Interrupted: after a pause the conditions of the day are read again; a performance run starts anew, other steps go"
    " on where they stopped, unless something was opened, moved or reset meanwhile.",
    "Rerun: what was not accepted is put right, written on the punch list, and done again with every step that waits"
    " for it; both results stay in the record. Nothing is averaged over a failed and a passed run.",
    "Whoever is not qualified for a step does not do it: electrical steps by the electrician, burner steps by the"
    " burner technician. Anybody may stop the test for danger, and need not give a reason.",
    "This procedure shows what the unit did on one day. It is no approval; local codes, the authority having"
    " jurisdiction and the licensed engineer, gas fitter and electrician decide.",
)
_VARIANT_RULES: Final[dict[Variant, str]] = {
    "full": "The whole test is done here, with heat; expectations are those of the day's air, water and supply.",
    "cold": "No fire and no heat here: the binding hot test follows on site, and the certificate says so. This test"
    " binds only together with it.",
    "hot on site": "The binding hot test, on clean water, after the cold one in the shop; what transport can change is"
    " looked at again.",
    "site": "Start-up on the customer's own liquor: its safety data sheet is read first, and expectations are those of"
    " that liquor in the site's air. Approvals of local authorities are given by others.",
}


@sourced("acceptance-practice", "order, steps and tolerances")
@sourced("fat-contents", "what a factory acceptance test contains")
def procedure_for(
    design: UnitAnswer,
    table: UnitTable,
    day: DayConditions,
    variant: Variant = "full",
    rows: tuple[ProcedureSection, ...] | None = None,
    report: Report = unheard,
) -> Procedure:
    """The procedure of a unit under the conditions of a day.

    Args: rows: the sections made from the table's rows, where they are at hand: they do not change with the day.
    Raises: InputError for an unknown variant, for a unit whose papers are not solved or in conflict, and for a step
        that no usual instrument could decide; OutOfRange and NotConverged from the unit's parts under that day.
    """
    if variant not in VARIANTS:
        raise InputError("procedure", "variant", f"{variant!r} is none", ", ".join(VARIANTS))
    under = under_test(design, table, day, variant)
    if rows is None:
        # these bring numpy, which no other section needs
        from vaporwright.acceptance.trials.row_steps import sections_of
        from vaporwright.acceptance.trials.row_trials import control_trials

        rows = sections_of(table, control_trials(table, report))
    report("Writing the steps")
    sections = _pruned(_chosen(under, rows))
    procedure = Procedure(
        job=design.job.text("job.name"),
        customer=design.job.text("job.customer"),
        unit=design.unit.label(),
        heat=table.heat,
        variant=variant,
        conditions=day.as_dict(),
        sections=sections,
        guarantee=_guarantee(under),
        rules=(_VARIANT_RULES[variant], *RULES),
    )
    check_procedure(procedure)
    return procedure


def as_dry_run(procedure: Procedure) -> Procedure:
    """The procedure as the shop goes through it alone: nobody asks there for a signed dry run."""
    sections = tuple(
        replace(section, steps=tuple(step for step in section.steps if step.key != DRY_RUN))
        for section in procedure.sections
    )
    return replace(procedure, sections=tuple(_pruned(sections)))


def _chosen(under: UnitUnderTest, rows: tuple[ProcedureSection, ...]) -> Iterable[ProcedureSection]:
    """The sections of a variant, in order."""
    variant = under.variant
    sections = _all_sections(under, rows)
    if variant == "full":
        return sections
    if variant == "cold":
        note = "Binding only together with the hot test on site."
        return [_only(section, lambda step: not step.hot, note) for section in sections]
    if variant == "hot on site":
        return [
            section if section.key in _AGAIN_ON_SITE else _only(section, lambda step: step.hot, "")
            for section in sections
        ]
    note = "The shop's test showed every row; those that a witness is called to are tried again."
    return [_only(section, lambda step: bool(step.point), note) if section.key == ROWS else section
            for section in sections]  # fmt: skip


def _all_sections(under: UnitUnderTest, rows: tuple[ProcedureSection, ...]) -> list[ProcedureSection]:
    here = {section.key: section for section in rows}
    on_site = under.variant in ("hot on site", "site")
    first = [opening_section(under)]
    if on_site:
        first += [utilities_section(under), transport_section(under)]
    if under.variant != "site":
        first += [mechanical_section(under), leak_section(under)]
    return [
        *first,
        electrical_section(under),
        *(section for key, section in here.items() if key == INPUTS),
        rods_section(under),
        *(section for key, section in here.items() if key != INPUTS),
        set_points_section(under),
        heat_section(under),
        hydraulic_section(under),
        run_section(under),
        finish_section(under),
    ]


def _only(section: ProcedureSection, kept: Callable[[Step], bool], note: str) -> ProcedureSection:
    steps = tuple(step for step in section.steps if kept(step))
    return replace(section, steps=steps, note=f"{section.note} {note}".strip())


def _pruned(sections: Iterable[ProcedureSection]) -> tuple[ProcedureSection, ...]:
    """Sections that have steps; a step waits only for what this variant has."""
    left = [section for section in sections if section.steps]
    there = {step.key for section in left for step in section.steps}

    def waiting(step: Step) -> Step:
        return replace(step, after=tuple(key for key in step.after if key in there))

    return tuple(replace(section, steps=tuple(waiting(step) for step in section.steps)) for section in left)


def _guarantee(under: UnitUnderTest) -> dict[str, float]:
    """What the performance run must show, and what it stands for at the site [SI]."""
    result, design = under.result, under.design
    return {
        "evaporation_kg_s": result.evaporation_kg_s,
        "settling_temperature_K": result.settling_temperature_K,
        "heat_W": result.heat_W,
        "fuel_or_power_W": result.fuel_or_power_W,
        "guaranteed_site_kg_s": design.capacity_kg_s,
        "required_site_kg_s": design.required_kg_s,
        "least_share": LEAST_SHARE,
        "least_run_s": LEAST_RUN_s,
    }

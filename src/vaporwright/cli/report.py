"""The report of an answer in the terminal: the sentence, the numbers, a small plot, then what to know and to ask.

80 columns, no colour; bold only where the terminal allows.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable

from vaporwright.actions.size_job import Outcome
from vaporwright.cli.plot import rate_plot
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.documents.wording import (
    cautions,
    headline,
    limit_sentences,
    range_sentence,
    warm_up_sentence,
)
from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.level_rods import LevelStack
from vaporwright.equipment.materials import MATERIALS_CAUTION, MaterialVerdict
from vaporwright.foundation.errors import VaporwrightError
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.heat import steam_for_heat_kg_s
from vaporwright.unit.hydraulics import hydraulics_of
from vaporwright.unit.job import SEASONS, Assumption
from vaporwright.unit.levels import levels_of, refill_of
from vaporwright.unit.materials_at_a_glance import materials_at_a_glance
from vaporwright.unit.questions import Question
from vaporwright.unit.rate_curve import rate_curves
from vaporwright.unit.running_cost import running_cost

WIDTH = 80
LABEL = 30
COLUMN = 16
FEW_QUESTIONS = 6
ASSUMED = "°"  # marks an assumed value
Cell = Callable[[SeasonResult], str]


def report_text(outcome: Outcome, system: str, *, full: bool = False, bold: bool = False) -> str:
    """The whole report. `full` unfolds assumptions, questions and candidates; `bold` marks the headline."""
    answer = outcome.answer
    head = textwrap.fill(headline(answer, system) + ".", WIDTH)
    blocks = [
        _title(answer),
        f"\033[1m{head}\033[0m" if bold else head,
        _unit(answer, system),
        _table(answer, system),
        _plot(answer, system),
        _paragraphs(_sentences(answer, system)),
        _warnings(answer, system),
        _or_problem("Levels", lambda: _levels(answer, system)),
        _or_problem("Hydraulics", lambda: _hydraulics(answer, system)),
        _or_problem("Materials", lambda: _materials(answer)),
        _questions(outcome, system, full),
    ]
    if full:
        blocks += [_candidates(outcome, system), _assumptions(answer, system)]
    else:
        blocks.append(
            textwrap.fill(
                f"{len(answer.job.assumptions)} values were assumed; --full lists each with its basis. "
                "--why list names every number that can be followed to its equation and source.",
                WIDTH,
            )
        )
    if outcome.catalogue.invented:
        blocks.append(textwrap.fill(f"Catalogue: {outcome.catalogue.name} (invented parts, for demonstration).", WIDTH))
    blocks.append(_cautions(answer, system))
    return "\n\n".join(block for block in blocks if block)


def _title(answer: UnitAnswer) -> str:
    customer = answer.job.text("job.customer")
    name = answer.job.text("job.name") + (f" - {customer}" if customer else "")
    return f"{textwrap.shorten(name, WIDTH)}\n{'-' * WIDTH}"


def _unit(answer: UnitAnswer, system: str) -> str:
    spray = show(answer.unit.spray_flow_m3_s, "liquid flow", system)
    return textwrap.fill(f"Unit: {answer.unit.label()}; spray {spray}.", WIDTH, subsequent_indent="      ")


def _table(answer: UnitAnswer, system: str) -> str:
    def row(label: str, cell: Cell) -> str:
        return f"{label:<{LABEL}}" + "".join(f"{cell(answer.seasons[season]):>{COLUMN}}" for season in SEASONS)

    def number(quantity: str, value: Callable[[SeasonResult], float], digits: int = 3) -> Cell:
        return lambda result: show(value(result), quantity, system, digits)

    rows = [
        " " * LABEL + "".join(f"{season:>{COLUMN}}" for season in SEASONS),
        row("Tank settles at", number("temperature", lambda r: r.settling_temperature_K)),
        row("Evaporates", number("evaporation", lambda r: r.evaporation_kg_s)),
        row("  from the tower", number("evaporation", lambda r: r.operation.tower_evaporation_kg_s)),
        row("  from the tank surface", number("evaporation", lambda r: r.operation.surface_evaporation_kg_s, 2)),
        row("Limited by", lambda r: r.limit),
        row("Tower would carry at the clamp", lambda r: _at_clamp(r, system)),
        row("Heat into the tank", number("heat", lambda r: r.heat_W)),
        row("Heat per volume evaporated", number("heat per volume", _heat_per_volume_J_m3)),
        *_draw_rows(answer, system, row, number),
        row("Blower and pump", number("power", lambda r: r.blower_power_W + r.pump_power_W, 2)),
        *_cost_rows(answer, system, row),
        row("Air through the blower", number("air flow", lambda r: _air_flow_m3_s(answer, r))),
        row("Blower air in", number("temperature", lambda r: r.conditions.air.temperature_K)),
        row("  wet bulb", number("temperature", lambda r: r.conditions.air.wet_bulb_temperature_K)),
    ]
    return "\n".join(rows)


def _at_clamp(result: SeasonResult, system: str) -> str:
    return "-" if result.at_clamp is None else show(result.at_clamp.evaporation_kg_s, "evaporation", system)


def _air_flow_m3_s(answer: UnitAnswer, result: SeasonResult) -> float:
    return answer.unit.towers * result.operation.tower.blower_flow_m3_s


def _heat_per_volume_J_m3(result: SeasonResult) -> float:
    return result.heat_W / result.evaporation_kg_s * WATER_DENSITY_kg_m3


def _draw_rows(
    answer: UnitAnswer,
    system: str,
    row: Callable[[str, Cell], str],
    number: Callable[..., Cell],
) -> list[str]:
    detail = answer.seasons[answer.governing].heat.detail
    if isinstance(detail, GasBurnerRating):

        def of_gas(value: Callable[[GasBurnerRating], float]) -> Callable[[SeasonResult], float]:
            def read(result: SeasonResult) -> float:
                assert isinstance(result.heat.detail, GasBurnerRating)
                return value(result.heat.detail)

            return read

        return [
            row("Gas, gross", number("heat", lambda r: r.fuel_or_power_W)),
            row("  volume, standard", lambda r: _gas_flow(r, system)),
            row("  gross efficiency", number("fraction", of_gas(lambda d: d.gross_efficiency))),
            row("  stack", number("temperature", of_gas(lambda d: d.stack_temperature_K))),
        ]
    if isinstance(detail, ElectricHeaterRating):
        return [
            row("Electric heat", number("power", lambda r: r.fuel_or_power_W)),
            row("  line current, full output", lambda _: f"{detail.line_current_A:.0f} A"),
            row("  circuits", lambda _: f"{detail.circuits} x {detail.overcurrent_device_A:.0f} A"),
        ]
    return [row("Steam", lambda r: _steam_flow(r, system))]


def _cost_rows(answer: UnitAnswer, system: str, row: Callable[[str, Cell], str]) -> list[str]:
    costs = {season: running_cost(answer, result) for season, result in answer.seasons.items()}
    if None in costs.values():
        return []

    def cell(result: SeasonResult) -> str:
        cost = costs[result.season]
        assert cost is not None
        return show(cost.per_volume_USD_m3, "volume price", system, 2)

    return [row("Energy cost of evaporation", cell)]


def _gas_flow(result: SeasonResult, system: str) -> str:
    detail = result.heat.detail
    assert isinstance(detail, GasBurnerRating)
    return show(detail.fuel_flow_standard_m3_s * result.load, "gas flow", system)


def _steam_flow(result: SeasonResult, system: str) -> str:
    site = result.conditions.heat_site
    flow = steam_for_heat_kg_s(result.heat_W, site.steam_gauge_pressure_Pa, site.pressure_Pa)
    return show(flow, "mass flow", system)


def _plot(answer: UnitAnswer, system: str) -> str:
    (curve,) = rate_curves(answer, points=9, seasons=(answer.governing,))
    result = answer.seasons[answer.governing]
    evaporation, temperature = shown_unit("evaporation", system), shown_unit("temperature", system)

    def shown(kg_s: float) -> float:
        return to_shown(kg_s, "evaporation", system)

    def degrees(temperature_K: float) -> float:
        return to_shown(temperature_K, "temperature", system)

    points = [
        (degrees(point.temperature_K), shown(point.tower_carries_kg_s), shown(point.heat_drives_kg_s))
        for point in curve.points
    ]
    here = (degrees(result.settling_temperature_K), shown(result.evaporation_kg_s))
    title = f"{evaporation.text} against tank temperature in {temperature.text}, {answer.governing}"
    return rate_plot(title, points, here, shown(answer.required_kg_s))


def _sentences(answer: UnitAnswer, system: str) -> list[str]:
    end = answer.end_of_batch
    rate = show(end.evaporation_kg_s, "evaporation", system)
    activity = f"{end.operation.water_activity:.3f}"
    factor = show(answer.job.number("liquid.concentration_factor"), "ratio", system)
    return [
        *limit_sentences(answer, system),
        range_sentence(answer, system),
        f"At the end of a batch, {factor} times as strong as the feed (water activity {activity}), "
        f"it evaporates {rate}.",
        warm_up_sentence(answer, system),
        *_dry_tube(answer, system),
    ]


def _dry_tube(answer: UnitAnswer, system: str) -> list[str]:
    detail = answer.seasons[answer.governing].heat.detail
    if not isinstance(detail, GasBurnerRating):
        return []
    dew = show(detail.flue_dew_point_K, "temperature", system)
    dry = show(detail.bath_temperature_for_dry_tube_K, "temperature", system)
    return [
        f"On a cold start flue gas (dew point {dew}) condenses in the tube until the tank is at {dry}: "
        "pitch and drain it."
    ]


def _paragraphs(sentences: list[str]) -> str:
    return "\n".join(textwrap.fill(sentence, WIDTH, subsequent_indent="  ") for sentence in sentences)


def _listed(title: str, entries: list[str]) -> str:
    if not entries:
        return ""
    lines = [textwrap.fill(f"- {entry}", WIDTH, subsequent_indent="  ") for entry in entries]
    return title + "\n" + "\n".join(lines)


def _warnings(answer: UnitAnswer, system: str) -> str:
    return _listed("Watch", [notice.words(lambda v, q: show(v, q, system)) for notice in answer.warnings])


def _or_problem(what: str, text: Callable[[], str]) -> str:
    """A block of the report, or why its figures fit none: the rest of the report stands without it."""
    try:
        return text()
    except VaporwrightError as error:
        return textwrap.fill(f"{what}: NOT SOLVED: {error}", WIDTH, subsequent_indent="  ")


def _levels(answer: UnitAnswer, system: str) -> str:
    """The stack from the top down, as it stands in the tank, with rods as cut and conflicts."""
    stack = levels_of(answer)
    cut = {rod.name: rod.cut_length_m for rod in stack.rods}
    lines = [f"{'Levels above the low corner, top down':<{LABEL + 10}}{'height':>{COLUMN}}{'rod cut to':>{COLUMN}}"]
    for mark in sorted((*stack.stack, stack.reference), key=lambda mark: -mark.height_m):
        length_m = cut.get(mark.name)
        rod = show(length_m, "short length", system) if length_m is not None else ""
        lines.append(
            f"  {mark.name:<{LABEL + 8}}{show(mark.height_m, 'short length', system):>{COLUMN}}{rod:>{COLUMN}}"
        )
    texts = _level_conflicts(stack, system) if stack.conflicts else [_refill(answer, stack, system)]
    lines += [textwrap.fill(f"- {text}", WIDTH, subsequent_indent="  ") for text in texts]
    return "\n".join(lines)


def _hydraulics(answer: UnitAnswer, system: str) -> str:
    found = hydraulics_of(answer)
    flows, pump = found.flows, answer.unit.pump

    def shown(value: float, quantity: str) -> str:
        return show(value, quantity, system)

    spray, agitation = (shown(flow, "liquid flow") for flow in (flows.spray_flow_m3_s, flows.agitation_flow_m3_s))
    entries = [
        f"Set the spray valve by the header: {shown(flows.header_gauge_Pa, 'gauge pressure')}, handle about "
        f"{flows.handle_angle_deg:.0f} of 90 degrees open; {spray} sprays, {agitation} agitates.",
        f"Wide open it sprays {shown(found.valve_open.spray_flow_m3_s, 'liquid flow')}.",
        f"Suction at the low rod: NPSH margin {shown(flows.npsh_margin_m, 'length')}, submergence margin "
        f"{shown(found.submergence.margin_m, 'short length')} against a vortex; suction pipe "
        f"{found.suction_pipe.nominal_in:g} in, discharge {found.discharge_pipe.nominal_in:g} in.",
        *flows.warnings,
    ]
    if not found.reaches_spray:
        entries.insert(
            0, f"SHORT: the open valve passes less than the wanted {shown(answer.unit.spray_flow_m3_s, 'liquid flow')}."
        )
    if found.motor_size_W > 1.001 * pump.motor_rating_W:
        need, has = (shown(power, "power") for power in (found.motor_size_W, pump.motor_rating_W))
        entries.append(
            f"OVERLOAD: end-of-batch liquor asks for a motor of {need} somewhere on the curve, the pump has {has}."
        )
    return _listed("Hydraulics at the low rod, hottest liquor", entries)


def _refill(answer: UnitAnswer, stack: LevelStack, system: str) -> str:
    cycle = refill_of(answer, stack)
    if cycle.period_s is None or cycle.fill_time_s is None or cycle.run_timer_s is None:
        return "Nothing to refill."
    return (
        f"A refill takes {cycle.fill_time_s / 60.0:.1f} min every {cycle.period_s / 60.0:.0f} min and cools the tank "
        f"by {show(cycle.sag_difference_K, 'temperature difference', system)} for a while; a trickle as large as the "
        f"evaporation would not. Refill run timer: {cycle.run_timer_s / 60.0:.0f} min, then alarm."
    )


def _level_conflicts(stack: LevelStack, system: str) -> list[str]:
    quantities = {"m": "short length", "m3/s": "liquid flow"}
    return [
        f"CONFLICT: {conflict.mark} is {show(conflict.size, quantities[conflict.unit], system)} short of "
        f"{conflict.against}. What would resolve it: "
        + (", ".join(remedy.change for remedy in conflict.remedies if remedy.enough) or "only several changes together")
        for conflict in stack.conflicts
    ]


def _materials(answer: UnitAnswer) -> str:
    glance = materials_at_a_glance(answer)
    assumed = [key.split(".")[1].replace("_", " ") for key in glance.assumed_keys]
    entries = [
        f"{verdict.part}, {verdict.material}: {verdict.suitability.upper()}: {_reasons(verdict)}"
        for verdict in glance.parts
    ]
    title = "Materials, first look, at the end of a batch"
    listed = _listed(f"{title} ({', '.join(assumed)} assumed)" if assumed else title, entries)
    return listed + "\n" + textwrap.fill(MATERIALS_CAUTION, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _reasons(verdict: MaterialVerdict) -> str:
    """The reasons of the findings that decide, each once, with the argument they rest on."""
    worst = [finding for finding in verdict.findings if finding.suitability == verdict.suitability]
    reasons: dict[str, list[str]] = {}
    for finding in worst:
        reasons.setdefault(finding.reason, []).append(finding.quantity.removesuffix("_kg_kg").removesuffix("_K"))
    return "; ".join(f"{', '.join(names).replace('_', ' ')} {reason}" for reason, names in reasons.items())


def _questions(outcome: Outcome, system: str, full: bool) -> str:
    moving = [question for question in outcome.questions if question.moves_kg_s > 0.0]
    others = [question for question in outcome.questions if question.moves_kg_s == 0.0]
    shown_questions = outcome.questions if full else (*moving[:FEW_QUESTIONS], *others)
    left = len(outcome.questions) - len(shown_questions)
    title = "Ask next, most weight first" + (f" ({left} more with --full)" if left else "")
    return _listed(title, [_question(question, system) for question in shown_questions])


def _question(question: Question, system: str) -> str:
    if question.moves_kg_s == 0.0:
        return f"{question.text} ({question.moves})"
    moves = show(question.moves_kg_s, "evaporation", system, 2)
    what = "the required rate" if question.moves == "required rate" else "the rate"
    ends = _span(question, system)
    assumed = _value(question.assumed, question.quantity, system)
    return f"{question.text} Moves {what} by {moves} over {ends}; assumed {assumed}{ASSUMED}."


def _span(question: Question, system: str) -> str:
    """Low to high, with the unit said once."""
    low, high = (_value(value, question.quantity, system) for value in (question.low, question.high))
    if isinstance(question.low, float):
        low = low.removesuffix(shown_unit(question.quantity, system).text).rstrip()
    return f"{low} to {high}"


def _value(value: object, quantity: str, system: str) -> str:
    if isinstance(value, float):
        return show(value, quantity, system)
    if isinstance(value, tuple):
        return ", ".join(value) or "none stated"
    return "-" if value is None else str(value)


def _candidates(outcome: Outcome, system: str) -> str:
    entries = []
    for candidate in outcome.candidates:
        rate = (
            "" if candidate.evaporation_kg_s is None else show(candidate.evaporation_kg_s, "evaporation", system) + ": "
        )
        entries.append(f"{candidate.unit.label()}: {rate}{candidate.verdict}")
    return _listed("Tried, in this order", entries)


def _assumptions(answer: UnitAnswer, system: str) -> str:
    return _listed(f"Assumed ({ASSUMED})", [_assumption(entry, system) for entry in answer.job.assumptions])


def _assumption(entry: Assumption, system: str) -> str:
    value = _value(entry.value, entry.quantity, system)
    return f"{entry.key} = {value}{ASSUMED}: {entry.meaning} ({entry.basis})"


def _cautions(answer: UnitAnswer, system: str) -> str:
    return _listed("Cautions", [f"{caution.hazard}: {caution.text}" for caution in cautions(answer, system)])

"""The report of an answer in the terminal: the sentence, the numbers, a small plot, then what to know and to ask.

80 columns, no colour; bold only where the terminal allows.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable

from vaporwright.actions.size_job import Outcome
from vaporwright.cli.plot import rate_plot
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.documents.material_words import material_lines
from vaporwright.documents.section_rows import figure_text, refill_sentence, section_rows
from vaporwright.documents.side_by_side import LETTERS, side_by_side_rows, side_by_side_sentences
from vaporwright.documents.wording import (
    cautions,
    headline,
    limit_sentences,
    range_sentence,
    warm_up_sentence,
)
from vaporwright.equipment.electric_heater import ElectricHeaterRating
from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.materials import MATERIALS_CAUTION
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.figures import Section
from vaporwright.unit.heat import steam_for_heat_kg_s
from vaporwright.unit.job import SEASONS, Assumption
from vaporwright.unit.materials_at_a_glance import MaterialsAtAGlance
from vaporwright.unit.questions import Question
from vaporwright.unit.rate_curve import rate_curves
from vaporwright.unit.running_cost import running_cost

WIDTH = 80
LABEL = 30
COLUMN = 16
FEW_QUESTIONS = 6
FEW_WARNINGS = 6
DANGERS = ("safety", "carbon monoxide")  # questions for their sake come before the others that move no rate
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
        _side_by_side(outcome, system),
        _table(answer, system),
        _plot(answer, system),
        _paragraphs(_sentences(answer, system)),
        _warnings(answer, system),
        _levels(outcome, system),
        _connections(outcome, system),
        _body_warnings(outcome, system, full),
        _materials(outcome),
        _questions(outcome, system, full),
    ]
    if full:
        blocks += [_section(section, system) for section in outcome.body.sections if section.key != "levels"]
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


def _side_by_side(outcome: Outcome, system: str) -> str:
    """The best few units and why; nothing where there was no choice."""
    if len(outcome.shown) < 2:
        return ""
    width = min((WIDTH - LABEL + 2) // len(outcome.shown), COLUMN)
    heads = [f"{letter}, chosen" if letter == "A" else letter for letter in LETTERS[: len(outcome.shown)]]
    lines = [f"{'Side by side':<{LABEL - 2}}" + "".join(f"{head:>{width}}" for head in heads)]
    for label, cells in side_by_side_rows(outcome.shown, system):
        lines.append(f"  {label:<{LABEL - 4}}" + "".join(f"{cell:>{width}}" for cell in cells))
    return "\n".join(lines) + "\n" + _paragraphs(side_by_side_sentences(outcome.shown, system))


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


def _levels(outcome: Outcome, system: str) -> str:
    """The stack from the top down, as it stands in the tank, with rods as cut; the refill; conflicts."""
    section, stack = outcome.body.section("levels"), outcome.body.levels
    if stack is None or section.problem:
        return _not_solved(section)
    cut = {rod.name: rod.cut_length_m for rod in stack.rods}
    lines = [f"{'Levels above the low corner, top down':<{LABEL + 10}}{'height':>{COLUMN}}{'rod cut to':>{COLUMN}}"]
    for mark in sorted((*stack.stack, stack.reference), key=lambda mark: -mark.height_m):
        length_m = cut.get(mark.name)
        rod = show(length_m, "short length", system) if length_m is not None else ""
        lines.append(
            f"  {mark.name:<{LABEL + 8}}{show(mark.height_m, 'short length', system):>{COLUMN}}{rod:>{COLUMN}}"
        )
    texts = _notice_texts(section, system) or [refill_sentence(section, system)]
    lines += [textwrap.fill(f"- {text}", WIDTH, subsequent_indent="  ") for text in texts]
    return "\n".join(lines)


def _not_solved(section: Section) -> str:
    return textwrap.fill(f"{section.title}: NOT SOLVED: {section.problem}", WIDTH, subsequent_indent="  ")


def _notice_texts(section: Section, system: str) -> list[str]:
    return [notice.words(lambda value, quantity: show(value, quantity, system)) for notice in section.notices]


def _connections(outcome: Outcome, system: str) -> str:
    """The connection sheet's rows, each under its section's name, then what could not be solved."""
    lines = ["Connections"]
    last = ""
    for section, figure in outcome.body.connections():
        if section.title != last:
            lines.append(f"  {section.title}")
            last = section.title
        lines.append(_figure_line(figure.label, figure_text(figure, system)))
    lines += [_not_solved(section) for section in outcome.body.sections if section.problem]
    return "\n".join(lines)


def _figure_line(label: str, text: str) -> str:
    room = WIDTH - 5 - len(text)
    if len(label) <= room and "\n" not in text:
        return f"    {label:<{room}} {text}"
    return textwrap.fill(f"{label}: {text}", WIDTH, initial_indent="    ", subsequent_indent="      ")


def _body_warnings(outcome: Outcome, system: str, full: bool) -> str:
    """What to watch in the body, what must be resolved first; the levels' are under the levels."""
    sections = [section for section in outcome.body.sections if section.key != "levels"]
    texts = [text for section in sections for text in _notice_texts(section, system)]
    texts.sort(key=lambda text: not _must_be_resolved(text))
    shown = texts if full else texts[: max(FEW_WARNINGS, sum(map(_must_be_resolved, texts)))]
    left = len(texts) - len(shown)
    return _listed("Watch in the body" + (f" ({left} more with --full)" if left else ""), shown)


def _must_be_resolved(text: str) -> bool:
    """Such notices begin with a word in capitals: CONFLICT, SHORT, ..."""
    return text.split(":", 1)[0].isupper()


def _section(section: Section, system: str) -> str:
    """All figures of one section."""
    return "\n".join([section.title, *(_figure_line(label, text) for label, text in section_rows(section, system))])


def _materials(outcome: Outcome) -> str:
    glance = outcome.body.materials
    if glance is None:
        return textwrap.fill(f"Materials: NOT SOLVED: {outcome.body.materials_problem}", WIDTH, subsequent_indent="  ")
    title = textwrap.fill(f"Materials, first look, at the end of a batch{_assumed_of(glance)}", WIDTH)
    entries = [
        f"{', '.join(line.parts)}: {line.material}: {line.verdict.upper()}: {line.reason}"
        for line in material_lines(glance)
    ]
    caution = textwrap.fill(MATERIALS_CAUTION, WIDTH, initial_indent="  ", subsequent_indent="  ")
    return f"{_listed(title, entries)}\n{caution}"


def _assumed_of(glance: MaterialsAtAGlance) -> str:
    assumed = [key.split(".")[1].replace("_", " ") for key in glance.assumed_keys]
    return f" ({', '.join(assumed)} not stated)" if assumed else ""


def _questions(outcome: Outcome, system: str, full: bool) -> str:
    moving = [question for question in outcome.questions if question.moves_kg_s > 0.0]
    others = sorted(
        (question for question in outcome.questions if question.moves_kg_s == 0.0),
        key=lambda question: not question.moves.startswith(DANGERS),
    )
    shown_questions = outcome.questions if full else (*moving[:FEW_QUESTIONS], *others[:FEW_QUESTIONS])
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

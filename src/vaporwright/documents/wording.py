"""The words that report and paper share: headline, what limits, where the duty sits, warm-up, cautions.

Plain trade English, numbers in the reader's units. Each function takes a finished answer and computes nothing but
differences and ratios of its numbers. The cautions name the hazard and the usual precaution and defer to local
codes and licensed practice: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult
from vaporwright.unit.heat import kind_of

COMFORTABLE_SHARE = 0.90  # of the capacity: above this the duty sits at the end of the range
LOW_SHARE = 0.40  # below this a smaller unit may do
SEASON_PHRASES = {"summer": "in summer", "winter": "in winter", "average": "on average"}
_HEAT_WORDS = {
    "burner input": "The burner",
    "burner input, derated for altitude": "The burner, derated for altitude,",
    "heater power": "The heater",
    "electric power of the site": "The site's electric power",
    "coil surface": "The steam coil",
    "steam supply of the site": "The site's steam supply",
}


@dataclass(frozen=True)
class Caution:
    """One hazard and the usual precaution."""

    hazard: str
    text: str


def limiter(result: SeasonResult) -> str:
    """What limits the unit in one season, as the subject of a sentence."""
    if result.limit != LIMIT_HEAT:
        return "The tower"
    return _HEAT_WORDS.get(result.heat.limit, "The heat source")


def headline(answer: UnitAnswer, system: str) -> str:
    """The one sentence a customer can read out, without a full stop."""
    return f"{_who_limits(answer)}: {_rates(answer, system)}"


def _who_limits(answer: UnitAnswer) -> str:
    summer, winter = (limiter(answer.seasons[season]) for season in ("summer", "winter"))
    if summer == winter:
        return f"{summer} limits it"
    return f"{summer.rstrip(',')} limits it in summer, {_lowered(winter).rstrip(',')} in winter"


def _lowered(text: str) -> str:
    return text[0].lower() + text[1:]


def _rates(answer: UnitAnswer, system: str) -> str:
    """Rates in whole units where they have two digits or more; in tenths where that would hide the margin."""
    unit = shown_unit("evaporation", system).text
    needed = to_shown(answer.required_kg_s, "evaporation", system)
    values = {
        season: to_shown(result.evaporation_kg_s, "evaporation", system) for season, result in answer.seasons.items()
    }
    least = min(values.values())
    decimals = 0 if min(least, needed) >= 10.0 and round(least) != round(needed) else 1
    if min(least, needed) < 1.0:
        decimals = 2
    said = {season: f"{value:,.{decimals}f}" for season, value in values.items()}
    text = f"{said['summer']} {unit} in summer, {said['winter']} in winter"
    if values["average"] == least and said["average"] not in (said["summer"], said["winter"]):
        text += f", {said['average']} on average"
    text += f"; the duty needs {needed:,.{decimals}f}"
    return text if answer.meets_duty else f"{text}: too small"


def limit_sentences(answer: UnitAnswer, system: str) -> tuple[str, ...]:
    """What limits in the governing season and by how much, and where another season differs."""
    result = answer.seasons[answer.governing]
    found = [_limit_sentence(result, system)]
    for season, other in answer.seasons.items():
        if season != answer.governing and limiter(other) != limiter(result):
            found.append(_limit_sentence(other, system))
    return tuple(found)


def _limit_sentence(result: SeasonResult, system: str) -> str:
    where = SEASON_PHRASES[result.season]
    clamp = f"{show(result.clamp_K, 'temperature', system)} ({result.clamp_part})"
    settles = show(result.settling_temperature_K, "temperature", system)
    if result.limit != LIMIT_HEAT:
        return (
            f"The tower limits it {where}: the tank sits at its clamp, {clamp}, and the heat source gives "
            f"{show(result.load, 'fraction', system)} of its full heat on average."
        )
    below = show(result.clamp_K - result.settling_temperature_K, "temperature difference", system, digits=2)
    text = f"{limiter(result)} limits it {where}: the tank settles at {settles}, {below} below its clamp, {clamp}."
    if result.at_clamp is not None:
        carries = show(result.at_clamp.evaporation_kg_s, "evaporation", system)
        more = result.at_clamp.evaporation_kg_s / result.evaporation_kg_s - 1.0
        text += f" At the clamp the tower would carry {carries}, {more:.0%} more than the heat drives."
    return text


def range_sentence(answer: UnitAnswer, system: str) -> str:
    """Where the duty sits in the unit's range."""
    share = answer.share_of_capacity
    needed = show(answer.required_kg_s, "evaporation", system)
    where = SEASON_PHRASES[answer.governing]
    text = f"The duty, {needed} while running, is {share:.0%} of what the unit evaporates {where}, its weakest case"
    if share > 1.0:
        return f"{text}: the unit does not meet it."
    if share > COMFORTABLE_SHARE:
        return f"{text}: at the end of its range; common practice sizes for the middle."
    if share < LOW_SHARE:
        return f"{text}: low in its range; a smaller unit may do."
    return f"{text}: inside its range with room to spare, as common practice wants."


def warm_up_sentence(answer: UnitAnswer, system: str) -> str:
    """How long warm-up takes with the tower off and on, and where it stalls."""
    warm = answer.warm_up
    start, target = (show(value, "temperature", system) for value in (warm.start_K, warm.target_K))
    off = "never gets there" if warm.tower_off_s is None else f"takes {duration(warm.tower_off_s)}"
    text = f"From {start} to {target} {off} with the tower off"
    if warm.tower_on_s is None:
        text += ", and never gets there with the tower running"
    else:
        text += f", {duration(warm.tower_on_s)} with the tower running"
    if warm.stalls_at_K is None:
        return f"{text}, up to the clamp."
    return f"{text}, which stalls there short of the clamp. Warm up with the spray shut."


def duration(seconds: float) -> str:
    """A duration as people say it: minutes below two hours, else hours and tenths."""
    if seconds < 7200.0:
        return f"{max(seconds / 60.0, 1.0):.0f} min"
    return f"{seconds / 3600.0:.1f} h"


def cautions(answer: UnitAnswer, system: str) -> tuple[Caution, ...]:
    """The cautions that apply to this unit, the heat source's first."""
    kind = kind_of(answer.unit.heat_source)
    hottest = max(result.clamp_K for result in answer.seasons.values())
    liquid_K = show(hottest, "temperature", system)
    factor = show(answer.job.number("liquid.concentration_factor"), "ratio", system)
    found = [_HEAT_CAUTIONS[kind]]
    if kind == "gas" and answer.job.text("site.air_supply") == "room":
        found.append(_make_up_air(answer, system))
    if kind != "electric":
        found.append(_POWER)
    found += [
        Caution(
            "Hot liquid and surfaces",
            f"Liquor up to {liquid_K} scalds: guard or insulate hot surfaces; eye and skin protection, eye wash in reach.",
        ),
        Caution(
            "Fumes and chemicals",
            "Exhaust goes outdoors, away from intakes and people, as the air permit allows; ventilate the room. "
            f"The concentrate is {factor} times as strong as the feed: handle it by its safety data.",
        ),
        Caution(
            "Confined space",
            "Enter tank or tower only under an entry permit: isolated, locked out, cooled, ventilated, air tested, "
            "attended.",
        ),
        Caution(
            "Sizing only",
            "This sizes a unit; it is no safety approval. Local codes, the authority having jurisdiction and the "
            "licensed engineer, gas fitter and electrician decide.",
        ),
    ]
    return tuple(found)


_POWER = Caution(
    "Power and moving parts",
    "Lock out pump, blower and panel before opening; guards on; wiring by a licensed electrician to the local code.",
)
_HEAT_CAUTIONS = {
    "gas": Caution(
        "Fuel gas and flame",
        "Fire, explosion, carbon monoxide: gas train, burner and flue by a licensed gas fitter to the local code; "
        "purge, leak test, listed flame safeguard. An independent hard-wired low-water cut-off with hand reset and a "
        "tube over-temperature device are required.",
    ),
    "electric": Caution(
        "Electric power and heat",
        "Shock, arc flash, dry firing: lock out before opening; wiring and ground-fault protection by a licensed "
        "electrician to the local code. An independent hard-wired low-water cut-off with hand reset and a sheath "
        "over-temperature device are required.",
    ),
    "steam": Caution(
        "Steam and pressure",
        "Burns and bursting: isolation, relief and condensate piping by a licensed fitter to the local code; lock out, "
        "vent and cool before opening. An independent low-water cut-off that closes the steam valve is required.",
    ),
}


def _make_up_air(answer: UnitAnswer, system: str) -> Caution:
    most = max(answer.unit.towers * result.operation.tower.blower_flow_m3_s for result in answer.seasons.values())
    flow = show(most, "air flow", system)
    return Caution(
        "Room air",
        f"The blower takes {flow} from the room: bring in make-up air, or the flue spills carbon monoxide into it.",
    )

"""The words that report and paper share: headline, what limits, where the duty sits, warm-up, cautions.

Plain trade English, numbers in the reader's units. Each function takes a finished answer and computes nothing but
differences and ratios of its numbers. The cautions name the hazard and the usual precaution and defer to local
codes and licensed practice: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from vaporwright.display_units import rounded, show, shown_unit, to_shown
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult
from vaporwright.unit.heat import kind_of

COMFORTABLE_SHARE = 0.90  # of the capacity: above this the duty sits at the end of the range
LOW_SHARE = 0.40  # below this a smaller unit may do
SEASON_PHRASES = {"summer": "in summer", "winter": "in winter", "average": "on average"}
_HEAT_WORDS = {
    "burner input": "the burner",
    "burner input, derated for altitude": "the burner",
    "heater power": "the heater",
    "electric power of the site": "the site's electric power",
    "coil surface": "the steam coil",
    "steam supply of the site": "the site's steam supply",
}


@dataclass(frozen=True)
class Caution:
    """One hazard and the usual precaution."""

    hazard: str
    text: str


def limiter(result: SeasonResult) -> str:
    """What limits the unit in one season, with its article."""
    if result.limit != LIMIT_HEAT:
        return "the tower"
    return _HEAT_WORDS.get(result.heat.limit, "the heat source")


def headline(answer: UnitAnswer, system: str) -> str:
    """The one sentence a customer can read out, without a full stop."""
    unit = shown_unit("evaporation", system).text
    said, needed = _said_rates(answer, system)
    summer, winter = (limiter(answer.seasons[season]) for season in ("summer", "winter"))
    if summer == winter:
        text = f"{_capital(summer)} limits it: {said['summer']} {unit} in summer, {said['winter']} in winter"
    else:
        text = (
            f"{_capital(summer)} limits it to {said['summer']} {unit} in summer, {winter} to {said['winter']} in winter"
        )
    if answer.governing == "average" and said["average"] not in (said["summer"], said["winter"]):
        text += f", {said['average']} on average"
    text += f"; the duty needs {needed}"
    return text if answer.meets_duty else f"{text}: the unit is too small"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _said_rates(answer: UnitAnswer, system: str) -> tuple[dict[str, str], str]:
    """Rates of the seasons and of the duty: whole from two digits on, in tenths where that would hide the margin."""
    needed = to_shown(answer.required_kg_s, "evaporation", system)
    values = {
        season: to_shown(result.evaporation_kg_s, "evaporation", system) for season, result in answer.seasons.items()
    }
    least = min(values.values())
    decimals = 0 if min(least, needed) >= 10.0 and round(least) != round(needed) else 1
    if min(least, needed) < 1.0:
        decimals = 2

    def said(value: float) -> str:
        return rounded(value, 3) if value >= 1000.0 else f"{value:.{decimals}f}"

    return {season: said(value) for season, value in values.items()}, said(needed)


def limit_sentences(answer: UnitAnswer, system: str) -> tuple[str, ...]:
    """What limits in the governing season and by how much, and where another season differs."""
    result = answer.seasons[answer.governing]
    found = [_limit_sentence(result, system)]
    for season, other in answer.seasons.items():
        if season != answer.governing and limiter(other) != limiter(result):
            found.append(_limit_sentence(other, system))
    return tuple(found)


def _limit_sentence(result: SeasonResult, system: str) -> str:
    clamp = f"{show(result.clamp_K, 'temperature', system)} ({result.clamp_part})"
    limits = f"{_capital(SEASON_PHRASES[result.season])} {limiter(result)} limits it"
    if result.limit != LIMIT_HEAT:
        return (
            f"{limits}: the tank sits at its clamp, {clamp}, and the heat source need only give "
            f"{percent(result.load)} of its full heat."
        )
    settles = show(result.settling_temperature_K, "temperature", system)
    below = difference(result.clamp_K - result.settling_temperature_K, system)
    text = f"{limits}: the tank settles at {settles}, {below} below its clamp, {clamp}."
    if result.at_clamp is None:
        return text
    carries = show(result.at_clamp.evaporation_kg_s, "evaporation", system)
    more = percent(result.at_clamp.evaporation_kg_s / result.evaporation_kg_s - 1.0)
    return f"{text} At the clamp the tower would carry {carries}, {more} more than it gets heat for."


def percent(fraction: float) -> str:
    """A fraction in whole per cent."""
    return f"{100.0 * fraction:.0f} %"


def difference(difference_K: float, system: str) -> str:
    """A temperature difference: whole above ten, else tenths."""
    unit = shown_unit("temperature difference", system)
    value = to_shown(difference_K, "temperature difference", system)
    return f"{value:.{0 if abs(value) >= 10.0 else 1}f} {unit.text}"


def range_sentence(answer: UnitAnswer, system: str) -> str:
    """Where the duty sits in the unit's range."""
    share = answer.share_of_capacity
    needed = show(answer.required_kg_s, "evaporation", system)
    where = SEASON_PHRASES[answer.governing]
    text = (
        f"The duty needs {needed} while running: {percent(share)} of what the unit evaporates at its weakest, {where}"
    )
    if share > 1.0:
        return f"{text}. The unit does not meet it."
    if share > COMFORTABLE_SHARE:
        return f"{text}. That is the end of its range; common practice sizes for the middle."
    if share < LOW_SHARE:
        return f"{text}. That is low in its range; a smaller unit may do."
    return f"{text}. That is inside its range, with room to spare."


def warm_up_sentence(answer: UnitAnswer, system: str) -> str:
    """How long warm-up takes with the tower off and on, and where it stalls."""
    warm = answer.warm_up
    start, target = (show(value, "temperature", system) for value in (warm.start_K, warm.target_K))
    off = "never" if warm.tower_off_s is None else duration(warm.tower_off_s)
    on = "never" if warm.tower_on_s is None else duration(warm.tower_on_s)
    text = f"From {start} to {target}: {off} with the tower off (spray shut), {on} with the tower running"
    if warm.stalls_at_K is None:
        return f"{text}, up to the clamp."
    short = difference(answer.seasons[answer.governing].clamp_K - warm.stalls_at_K, system)
    return f"{text}, where it stalls {short} short of the clamp."


def notice_text(notice: Notice, system: str) -> str:
    """A warning with its figures in the reader's units."""
    return notice.words(lambda value, quantity: show(value, quantity, system))


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
    factor = f"{answer.job.number('liquid.concentration_factor'):.3g}"
    found = [_HEAT_CAUTIONS[kind]]
    if kind == "gas" and answer.job.text("site.air_supply") == "room":
        found.append(_make_up_air(answer, system))
    if kind != "electric":
        found.append(_POWER)
    found += [
        Caution(
            "Hot liquid and surfaces",
            f"Liquor up to {liquid_K} scalds: guard or insulate hot surfaces; eye and skin protection, eye "
            "wash in reach.",
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

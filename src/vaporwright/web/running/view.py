"""A running unit as pages and programs are told of it: all that is shown, in words and units; the mimic's geometry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from vaporwright.actions.at_hand import (
    BACK,
    Amount,
    Offer,
    amounts_of,
    offers_of,
    resets_of,
    selectors_of,
    title_of,
)
from vaporwright.actions.training import Attempt, looks_for, tasks_for, works_for
from vaporwright.controls.devices import BUTTONS, EMERGENCY_STOP
from vaporwright.controls.rig import Rig
from vaporwright.controls.script import RODS
from vaporwright.display_units import show, shown_unit, to_shown
from vaporwright.equipment.level_rods import MarkName
from vaporwright.web.running.lit import lit
from vaporwright.web.running.shapes import View
from vaporwright.web.running.unit import SPEEDS, RunningUnit

GAUGE_TOP: Final = 16.0  # of the gauge glass, in its drawing's units
GAUGE_BOTTOM: Final = 384.0
TANK_TOP: Final = 236.0
TANK_BOTTOM: Final = 380.0
LABEL_APART: Final = 23.0  # lines of text that do not touch
MARKS: Final[tuple[MarkName, ...]] = (
    "heater top",
    "low",
    "refill-on",
    "refill-off",
    "high",
    "high-high",
    "overflow",
)
SHARES: Final = ("blower", "pump", "spray", "heat", "refill", "drain", "agitation")
TRENDS: Final = (
    ("temperature", "Tank temperature", "temperature"),
    ("level", "Level", "short length"),
    ("heat", "Heat into the liquor", "heat"),
    ("evaporation", "Evaporation", "evaporation"),
)


@dataclass(frozen=True)
class GaugeMark:
    """One level on the gauge glass: where its line and its label stand."""

    name: str
    value: str
    y: float
    label_y: float


@dataclass(frozen=True)
class Gauge:
    """The gauge glass: its marks, and from which height to which it shows."""

    marks: tuple[GaugeMark, ...]
    low_m: float
    high_m: float
    rim_m: float
    heater_y: float


def gauge_of(rig: Rig, system: str) -> Gauge:
    """The levels of a unit, on a scale from under the heater's top to over the overflow."""
    heights = {name: rig.stack.mark(name).height_m for name in MARKS}
    room_m = 0.08 * (heights["overflow"] - heights["heater top"])
    low_m, high_m = heights["heater top"] - room_m, heights["overflow"] + room_m
    rim_m = rig.stack.mark("rim").height_m

    def at(height_m: float) -> float:
        return GAUGE_BOTTOM - (GAUGE_BOTTOM - GAUGE_TOP) * (height_m - low_m) / (high_m - low_m)

    marks: list[GaugeMark] = []
    for name in MARKS:  # from below; a label that would touch the one under it moves up
        y = at(heights[name])
        label_y = min(y, marks[-1].label_y - LABEL_APART) if marks else y
        marks.append(GaugeMark(name, show(heights[name], "short length", system), round(y, 1), round(label_y, 1)))
    heater_y = TANK_BOTTOM - (TANK_BOTTOM - TANK_TOP) * heights["heater top"] / rim_m
    return Gauge(tuple(marks), low_m, high_m, rim_m, round(heater_y, 1))


@dataclass(frozen=True)
class Hands:
    """Everything that one can do at a unit, for the page's forms."""

    selectors: dict[str, tuple[str, ...]]
    buttons: tuple[str, ...]
    emergency_stop: str
    supplies: tuple[Offer, ...]
    devices: tuple[Offer, ...]
    contacts: tuple[Offer, ...]
    wires: tuple[Offer, ...]
    outputs: tuple[Offer, ...]
    resets: tuple[str, ...]
    rods: tuple[str, ...]
    amounts: tuple[tuple[Amount, str], ...]  # and the unit in which it is typed
    speeds: tuple[int, ...]


def hands_of(rig: Rig, system: str) -> Hands:
    """What this unit has."""
    by_verb: dict[str, list[Offer]] = {}
    for offer in offers_of(rig):
        by_verb.setdefault(offer.verb, []).append(offer)
    return Hands(
        selectors=selectors_of(rig),
        buttons=tuple(one for one in BUTTONS if one != EMERGENCY_STOP),
        emergency_stop=EMERGENCY_STOP,
        supplies=tuple(by_verb["supply"]),
        devices=tuple(by_verb["fail"]),
        contacts=tuple(by_verb["stick"]),
        wires=tuple(by_verb["short"]),
        outputs=tuple(by_verb["weld"]),
        resets=resets_of(rig),
        rods=tuple(RODS),
        amounts=tuple((one, shown_unit(one.quantity, system).text) for one in amounts_of(rig)),
        speeds=SPEEDS,
    )


def state_of(
    unit: RunningUnit, system: str, *, events_after: int, generation: int, points_after_s: float
) -> dict[str, Any]:
    """Everything that a page shows of a unit, in the reader's units; events and points only as far as they are new."""
    view = unit.view()
    found: dict[str, Any] = {"id": unit.id, "state": unit.state, "why": unit.why_ended, "speed": unit.speed}
    found["standing"] = _standing(unit, view)
    if view is None:
        return found
    new_generation, points = unit.points_since(generation, points_after_s)
    quantities = [quantity for _, _, quantity in TRENDS]
    found |= {
        "t": round(view.time_s, 1),
        "clock": clock_text(view.time_s),
        "bits": view.bits,
        "lit": lit(unit.matrix, view.bits),
        "devices": _devices(view, system),
        "shown": _shown(view, system),
        "gauge_m": round(view.figures["level_m"], 5),
        "shares": {name: round(view.figures[name], 3) for name in SHARES},
        "phase": view.phase,
        "power": view.power,
        "selectors": dict(view.selectors),
        "supplies": dict(view.supplies),
        "pushed": list(view.pushed),
        "altered": [[key, words, _put_right(key)] for key, words in view.altered],
        "alarms": _alarms(unit, view),
        "events": [
            [one.number, clock_text(one.time_s), one.kind, one.text, one.on] for one in unit.events_since(events_after)
        ],
        "points": {
            "generation": new_generation,
            "rows": [
                [
                    round(one.time_s, 1),
                    *(round(to_shown(v, q, system), 4) for v, q in zip(one[1:], quantities, strict=True)),
                ]
                for one in points
            ],
        },
    }
    if unit.attempt is not None:
        found |= {"task": unit.coached(attempt_state), "task_clock": unit.coached(attempt_clock)}
    return found


def attempt_clock(attempt: Attempt, time_s: float) -> str:
    """How long it is at work, by the unit's time."""
    return clock_text(max(time_s - attempt.handed_over_s, 0.0))


def attempt_state(attempt: Attempt, time_s: float) -> dict[str, Any]:
    """How an attempt stands. Goals that are not reached are told only when it is over: they would give it away."""
    del time_s
    over = attempt.verdict != "at work"
    goals = attempt.task.goals
    told = [goal for goal in goals if goal.key in attempt.reached or over]
    return {
        "key": attempt.task.key,
        "verdict": "given up" if attempt.given_up else attempt.verdict,
        "reached": len(attempt.reached),
        "goals": len(goals),
        "told": [
            [goal.words, clock_text(attempt.reached[goal.key]) if goal.key in attempt.reached else ""] for goal in told
        ],
        "wrong": [[clock_text(one.time_s), one.words, one.dangerous] for one in attempt.wrong],
        "dangerous": attempt.dangerous,
        "harm": attempt.harm,
        "guesses": attempt.guesses,
        "cause_named": attempt.cause_named,
        "hints": list(attempt.task.hints[: attempt.hints]),
        "hints_left": len(attempt.task.hints) - attempt.hints,
        "cause": dict(attempt.task.causes).get(attempt.task.cause, "") if over else "",
        "debrief": attempt.task.debrief if over else "",
    }


def clock_text(time_s: float) -> str:
    """Time of the unit: hours, minutes, seconds."""
    whole = int(time_s + 1e-6)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _standing(unit: RunningUnit, view: View | None) -> str:
    if unit.state == "ended":
        return f"ended: {unit.why_ended}"
    if view is None:
        return "being prepared"
    return "held still" if unit.speed == 0 else "alarm stands" if view.alarms else "no alarm"


def _devices(view: View, system: str) -> dict[str, str]:
    """What each device does, by a shape and a word."""
    share = {name: view.figures[name] for name in SHARES}

    def turns(name: str) -> str:
        return "● runs" if share[name] > 0.98 else "◐ runs up or down" if share[name] > 0.02 else "○ stands"

    return {
        "blower": turns("blower"),
        "pump": turns("pump"),
        "spray": f"● {share['spray']:.0%} falls".replace("%", " %") if share["spray"] > 0.02 else "○ none",
        "phase": f"{'●' if share['heat'] > 0.0 else '○'} {view.phase}",
        "refill": "● water comes" if share["refill"] > 0.5 else "○ none",
        "drain": "● open" if share["drain"] > 0.02 else "○ shut",
        "thermometer": show(view.figures["thermometer_K"], "temperature", system, 4),
        "power": "● on" if view.power else "■ off",
    }


def _put_right(key: str) -> str:
    """The deed that puts something right, as the page's buttons have it; empty where none does."""
    verb, _, target = key.partition(" ")
    if verb == "thermometer":
        return "thermometer_back||yes"
    if verb == "set_point":
        return ""
    value = {"supply": "on", "dip": BACK, "lift": "0", "foam": "0", "wave": "0", "trickle": "0"}.get(verb, "sound")
    return f"{verb}|{target}|{'100 %' if verb in ('nozzles', 'heat_transfer') else value}"


def _shown(view: View, system: str) -> dict[str, str]:
    figures = view.figures
    return {
        "temperature": show(figures["temperature_K"], "temperature", system, 4),
        "thermometer": show(figures["thermometer_K"], "temperature", system, 4),
        "level": show(figures["level_m"], "short length", system),
        "heat": show(figures["heat_W"], "heat", system),
        "evaporation": show(figures["evaporation_kg_s"], "evaporation", system),
    }


def _alarms(unit: RunningUnit, view: View) -> list[list[Any]]:
    """Row, title, priority, state, since when, and whether it came first."""
    table = unit.rig.table
    priorities = {alarm.row: alarm.priority for alarm in table.alarms}
    first = {row.name for row in unit.matrix.rows if row.first >= 0 and view.bits[row.first] == "1"}
    return [
        [
            line.row,
            title_of(unit.rig, line.row),
            priorities[line.row],
            line.state,
            clock_text(line.since_s),
            line.row in first,
        ]
        for line in view.alarms
    ]


def trainer_of(rig: Rig) -> dict[str, Any]:
    """What the trainer has for a unit: tasks, places to look at, works by hand."""
    return {"tasks": tasks_for(rig), "looks": looks_for(rig), "works": works_for(rig)}

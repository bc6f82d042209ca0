"""The tasks of the trainer: what is told, what is planted, what is asked for, what is wrong, and the debrief.

Nothing here computes. Names are those of the unit's own table; a unit whose table lacks one of them does not offer the
task. What counts as dangerous, and the order of a start, a stop and a repair, is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.controls.script import HEATS
from vaporwright.equipment.level_rods import MarkName

Deeds = tuple[tuple[str, str, str | float], ...]
HOUR_s: Final = 3600.0


@dataclass(frozen=True)
class Stage:
    """A part of what happens before the unit is handed over: deeds, then until something is so, or for so long."""

    deeds: Deeds = ()
    most_s: float = 1.0
    until: tuple[str, bool] | None = None


@dataclass(frozen=True)
class Goal:
    """What has to come about: one of some deeds, a state of the unit, or the cause named."""

    key: str
    words: str
    did: tuple[str, ...] = ()
    on: tuple[str, ...] = ()
    off: tuple[str, ...] = ()
    for_s: float = 0.0
    after: tuple[str, ...] = ()  # goals that come first
    names_cause: bool = False


@dataclass(frozen=True)
class Wrong:
    """Deeds that count against the trainee.

    before: only as long as none of these goals is reached; on, off: only while these names are so; again: only the
    second time and later.
    """

    deeds: tuple[str, ...]
    words: str
    before: tuple[str, ...] = ()
    on: tuple[str, ...] = ()
    off: tuple[str, ...] = ()
    again: bool = False
    dangerous: bool = True


@dataclass(frozen=True)
class Task:
    """One task."""

    key: str
    title: str
    story: str  # what the trainee is told
    stages: tuple[Stage, ...]
    goals: tuple[Goal, ...]
    hints: tuple[str, ...]
    debrief: str
    wrong: tuple[Wrong, ...] = ()
    causes: tuple[tuple[str, str], ...] = ()  # to choose from
    cause: str = ""
    level: MarkName = "refill-off"
    level_offset_m: float = 0.0
    colder_K: float = 0.0  # than the unit settles
    heats: tuple[str, ...] = HEATS

    @property
    def names(self) -> tuple[str, ...]:
        """Everything of the table that the task looks at."""
        return tuple(dict.fromkeys(self._names()))

    def _names(self) -> Iterator[str]:
        for goal in self.goals:
            yield from (*goal.on, *goal.off)
        for rule in self.wrong:
            yield from (*rule.on, *rule.off)
        yield from (stage.until[0] for stage in self.stages if stage.until is not None)


_AUTO: Final[Deeds] = tuple(("turn", name, "auto") for name in ("blower", "pump", "refill", "heat"))
_RUNS: Final = (
    Stage(_AUTO),
    Stage((("push", "", "reset"),)),
    Stage((("pull", "", "reset"), ("push", "", "start"))),
    Stage((("pull", "", "start"),), 300.0, ("heat", True)),
    Stage((), 600.0),
)
_CAUSE: Final = Goal("cause", "name what is behind it", names_cause=True)
_SEEN: Final = Goal("seen", "acknowledge the alarm", did=("push acknowledge",))
_CAUSES: Final = (
    ("belt", "the blower's belt has come off"),
    ("prime", "the pump has lost its prime"),
    ("water", "the refill's hand valve is shut"),
    ("low rod", "the low rod reads wet when it is dry"),
    ("jumper", "a jumper was left over the airflow switch"),
    ("stop", "an emergency stop is pushed"),
    ("power", "the power was away"),
    ("overload", "an overload has tripped"),
    ("hose", "something feeds the tank past the refill valves"),
    ("scale", "the heater is scaled"),
    ("nozzles", "nozzles are plugged"),
)
_GAS: Final = (*_CAUSES, ("electrode", "the flame electrode has failed"), ("gas", "the gas pressure is too low"))
_ELECTRIC: Final = (*_CAUSES, ("contact", "the contact that calls for heat has welded"),
                    ("ground", "the heater leaks current to ground"))  # fmt: skip
_STEAM: Final = (*_CAUSES, ("steam", "there is no steam in the line"), ("hangs", "the steam valve hangs shut"))


def _back(*after: str, on: tuple[str, ...] = ("heat",), off: tuple[str, ...] = ()) -> Goal:
    return Goal("back", "bring the unit back to heating, for a minute", on=on, off=off, for_s=60.0, after=after)


_BY_HAND: Final = Wrong(
    ("turn blower hand", "turn pump hand"),
    "Hand is for testing: it leaves out what a start makes sure of.",
    dangerous=False,
)
_TASKS: Final = (
    Task(
        "start",
        "Start it by the book",
        "The tank is full and cold, every selector is off. Bring the unit to heating, in order, without an alarm.",
        (Stage((), 5.0),),
        (
            Goal("auto", "blower, pump, refill and heat in auto",
                 on=("blower_auto", "pump_auto", "refill_auto", "heat_auto")),
            Goal("relay", "the control relay in, by reset", on=("control_on",)),
            Goal("run", "started", on=("run",), after=("auto", "relay")),
            Goal("air", "airflow proven", on=("airflow_proven",), after=("run",)),
            Goal("flow", "circulation proven", on=("circulation",), after=("air",)),
            Goal("heat", "heat called for a minute, no alarm",
                 on=("heat",), off=("beacon",), for_s=60.0, after=("flow",)),
        ),
        ("Selectors first: the unit does not start out of auto.",
         "Nothing moves before the control relay is in: reset, then start.",
         "Now wait: air, then flow, then heat. Each has a proving time."),
        "Level, then air, then flow, then heat. Reset brings the relay in after every loss of power; a start is always"
        " a person's act. The waits are proofs: air by a switch that was seen open, flow by a switch that closes.",
        (Wrong(("push start",), "Started before every selector stood in auto.", before=("auto",), dangerous=False),
         _BY_HAND),
        colder_K=20.0,
    ),
    Task(
        "stop",
        "Stop it by the book",
        "The shift ends and the unit runs. Stop it so that nothing is harmed, and stay until it stands still.",
        _RUNS,
        (
            Goal("stop", "stop pushed", did=("push stop",)),
            Goal("heat", "heat off", off=("heat",), after=("stop",)),
            Goal("pump", "pump off by itself, the heater cool", off=("spray_pump",), after=("heat",)),
            Goal("blower", "blower off by itself, the fill cool", off=("blower",), after=("pump",)),
        ),
        ("One button is enough.", "Leave the selectors where they are until everything stands still."),
        "Heat goes at once. The pump carries the heater's heat away, then the blower cools the wet fill; each runs on"
        " by itself. Whoever cuts that short boils liquor onto the heater or bakes the fill.",
        (
            Wrong(("push emergency stop", "work main off"), "An emergency stop is no way to end a shift: pump and"
                  " blower stop on a hot heater and a hot fill.", on=("blower",)),
            Wrong(("turn blower off", "turn pump off", "turn blower hand", "turn pump hand"),
                  "A selector was turned while the unit still cooled itself.", on=("blower",)),
        ),
    ),
    Task(
        "belt",
        "Find out why it stopped",
        "It ran all morning. Now the horn sounds and the unit stands. Find out why, put it right, and run it again.",
        (*_RUNS, Stage((("fail", "blower_belt", "broken"),), 120.0, ("airflow_lost", True)), Stage((), 30.0)),
        (
            _SEEN,
            _CAUSE,
            Goal("belt", "a new belt fitted", did=("work belt",)),
            _back("cause", "belt", off=("airflow_lost",)),
        ),
        ("Which row came first? It is marked in the matrix.",
         "No airflow: is it the switch, or does no air move? Look at the blower.",
         "Blower selector off before the guard is opened. Afterwards: auto, acknowledge, reset, start."),
        "First-out said airflow. The motor turned and no air moved: a belt. The unit stopped within seconds because hot"
        " liquor without air harms the fill. A guard is opened only when the blower cannot start.",
        (
            Wrong(("work belt",), "The belt guard was opened with the blower in auto.", on=("blower_auto",)),
            Wrong(("push start",), "Started again before the cause was put right.", before=("belt",), dangerous=False),
        ),
        _CAUSES,
        "belt",
    ),
    Task(
        "prime",
        "It stopped again",
        "The unit was back for ten minutes and stands again. Find out why, put it right, and run it.",
        (*_RUNS, Stage((("fail", "pump_prime", "lost"),), 120.0, ("pump_flow_lost", True)), Stage((), 30.0)),
        (
            _SEEN,
            _CAUSE,
            Goal("prime", "the pump primed", did=("work prime",)),
            _back("cause", "prime", off=("pump_flow_lost",)),
        ),
        ("Look for the row that came first.",
         "The pump's own sound and gauge say more than its contactor.",
         "Pump selector off before the priming plug is opened."),
        "Flow went while the pump turned: air in the pump. The table reads flow, not the contactor, and stopped the"
        " heat before liquor boiled on the heater. A pump is primed standing, cooled and locked out.",
        (
            Wrong(("work prime",), "The priming plug was opened with the pump in auto.", on=("pump_auto",)),
            Wrong(("push start",), "Started again before the cause was put right.", before=("prime",), dangerous=False),
        ),
        _CAUSES,
        "prime",
    ),
    Task(
        "low_level",
        "Low level at night",
        "The night shift has called: two alarms, no heat, nobody knows since when. Bring the unit back.",
        (*_RUNS, Stage((("supply", "refill", "off"),), 24.0 * HOUR_s, ("low_level", True)), Stage((), 600.0)),
        (
            _SEEN,
            _CAUSE,
            Goal("water", "water to the refill", did=("work water",)),
            Goal("filled", "the tank filled to refill-off", on=("refill_off_reached",), after=("water",)),
            _back("cause", "filled", off=("low_level",)),
        ),
        ("The refill's run timer tripped before the level did: the valve was open and no water came.",
         "Look at the refill's hand valve. Then acknowledge and reset, or the refill is not called again.",
         "Low level does not clear at its rod: wait for refill-off. Heat comes back by hand: reset."),
        "No water, so the refill ran too long and was shut off, and hours later the low rod took heat and pump away. It"
        " clears only at refill-off, as the stopped pump's drain-back wets the low rod again; and heat waits for a"
        " person who has looked why.",
        (Wrong(("turn refill hand",), "In hand the refill would have run unwatched past its band.", dangerous=False),),
        _CAUSES,
        "water",
        level="low",
        level_offset_m=0.03,
    ),
    Task(
        "false_wet",
        "The rods say it is full",
        "The unit has stopped on its low-water cut-off, although the low rod's lamp says wet. Somebody wants to reset"
        " the cut-off and go on. It is yours.",
        (
            Stage((("fail", "low_rod", "stuck wet"), ("supply", "refill", "off"), *_AUTO)),
            Stage((("push", "", "reset"),)),
            Stage((("pull", "", "reset"), ("push", "", "start"))),
            Stage((("pull", "", "start"),), 24.0 * HOUR_s, ("low_water", True)),
            Stage((), 4.0 * HOUR_s, ("refill_too_long", True)),  # or it trips while the trainee fills the tank
        ),
        (
            _SEEN,
            _CAUSE,
            Goal("rod", "the low rod cleaned", did=("work low rod",)),
            Goal("water", "water to the refill", did=("work water",)),
            Goal("filled", "the tank filled to refill-off", on=("refill_off_reached",), after=("water",)),
            Goal("device", "the cut-off reset at the device", on=("low_water_clear",), after=("rod", "filled")),
            _back("cause", "device", off=("low_water",)),
        ),
        ("Two devices disagree about the level. Look at the rods: which one is right?",
         "Clean the rod and give the tank its water. Acknowledge and reset, or the refill is not called.",
         "Reset the cut-off only at refill-off; then acknowledge, reset and start at the panel."),
        "The dangerous rod failure is wet when dry: scale kept the lamp on while the tank ran out. Only the cut-off, of"
        " another principle and wired ahead of the heat, stood between that and a bare heater and a fire. It is reset"
        " by hand so that somebody looks.",
        (
            Wrong(("reset low water",), "The cut-off was pushed before the tank was full: the heater may be bare.",
                  before=("filled",)),
            Wrong(("push start",), "Started again before the tank was full.", before=("filled",), dangerous=False),
        ),
        _CAUSES,
        "low rod",
        level="low",
        level_offset_m=-0.02,
    ),
    Task(
        "hose",
        "The level goes on rising",
        "High level. The refill is shut at both valves and still the liquor rises. Deal with it.",
        (*_RUNS, Stage((("trickle", "", 1.5e-4),), 12.0 * HOUR_s, ("high_level", True)), Stage((), 20.0)),
        (
            _SEEN,
            _CAUSE,
            Goal("hose", "the feed shut", did=("work hose",)),
            Goal("down", "the level back under the high rod, the unit running",
                 on=("run",), off=("high_level",), for_s=10.0, after=("cause", "hose")),
        ),
        ("The refill valves are shut, so it comes from elsewhere. Look at what feeds the tank.",
         "Let the unit evaporate: nothing else lowers the level without a drum."),
        "A hose had been left in the tank. At high level the refill shuts by two valves and the unit goes on, since"
        " only evaporating lowers the level. Past it an independent switch would have stopped everything.",
        (Wrong(("push stop", "turn heat off", "push emergency stop"),
               "Stopped: drain-back raises the level, and nothing lowers it.", on=("high_level", "run"),
               dangerous=False),
         Wrong(("turn drain on",), "The drain was selected on hot liquor.", on=("run",))),
        _CAUSES,
        "hose",
        level="high",
        level_offset_m=-0.012,
    ),
    Task(
        "power",
        "After the thunderstorm",
        "The lights were out for five minutes. They are on again; the unit stands. Say why, and start it.",
        (*_RUNS, Stage((("supply", "power", "off"),), 300.0), Stage((("supply", "power", "on"),), 30.0)),
        (_CAUSE, Goal("relay", "the control relay in, by reset", on=("control_on",)), _back("cause", "relay")),
        ("No alarm stands: nothing has failed.", "Reset, then start."),
        "After a loss of power nothing comes back by itself: someone may have his hands in the machine. Reset brings"
        " the relay in, and a start is a second, separate act.",
        (_BY_HAND,),
        _CAUSES,
        "power",
    ),
    Task(
        "jumper",
        "It will not start this morning",
        "A note from the night shift says: had trouble, got it going. This morning the blower does not start.",
        (Stage((("short", "airflow", "on"),), 120.0, ("airflow_stuck", True)), Stage((), 20.0)),
        (
            _SEEN,
            _CAUSE,
            Goal("out", "the jumper taken out", did=("work jumper off",)),
            _back("cause", "out", off=("airflow_stuck",)),
        ),
        ("The airflow switch says air, and the blower stands.", "Look into the panel."),
        "Somebody had put a jumper over the airflow switch to get through the night. The table noticed: a switch that"
        " was never seen open proves nothing, so the blower stays off. Find who needed that, and what was wrong then.",
        (Wrong(("turn blower hand",), "In hand the blower would have run with its proof bridged."),),
        _CAUSES,
        "jumper",
    ),
    Task(
        "stop_pushed",
        "Nothing answers",
        "The unit stands, start does nothing. Say why before you touch anything, then bring it back.",
        (*_RUNS, Stage((("push", "", "emergency stop"),), 120.0)),
        (
            _CAUSE,
            Goal("pulled", "the emergency stop pulled", did=("pull emergency stop",)),
            _back("cause", "pulled", off=("emergency_stop",)),
        ),
        ("One alarm stands, and it came first.", "Look at the emergency stops, and ask who pushed one and why.",
         "Pull, acknowledge, reset, start."),
        "Someone had pushed an emergency stop at the far side. It is released only by who knows why it was pushed,"
        " after looking at the place; then reset, then start.",
        (Wrong(("pull emergency stop",), "Released before anyone knew why it was pushed.", before=("cause",)),),
        _CAUSES,
        "stop",
    ),
    Task(
        "scale",
        "It does not evaporate like it used to",
        "No alarm, full heat, and the tank stands colder than it used to. Find what has changed and put it right.",
        (*_RUNS, Stage((("heat_transfer", "", 0.55),), 4.0 * HOUR_s)),
        (
            _CAUSE,
            Goal("stop", "stopped, until pump and blower stand", off=("spray_pump", "blower"), after=("cause",)),
            Goal("clean", "the scale taken off", did=("work descale",), after=("stop",)),
            _back("clean"),
        ),
        ("Colder than it should be: heat is short. Hotter: the tower is short.",
         "Look through the hatch at the heater.", "Stop it by the book before the hatch is opened."),
        "Tank colder than predicted means that heat is short; hotter means that the tower is short. Scale on the heater"
        " keeps its heat in, so that the metal gets hot and the liquor does not.",
        (Wrong(("work descale",), "The heater was opened while the unit was hot and turning.", before=("stop",)),),
        _CAUSES,
        "scale",
    ),
    Task(
        "nozzles",
        "Hotter than it should be",
        "No alarm, and the tank stands hotter than it used to while it evaporates less. Find it and put it right.",
        (*_RUNS, Stage((("nozzles", "", 0.45),), 4.0 * HOUR_s)),
        (
            _CAUSE,
            Goal("stop", "stopped, until pump and blower stand", off=("spray_pump", "blower"), after=("cause",)),
            Goal("clean", "the nozzles cleaned", did=("work nozzles",), after=("stop",)),
            _back("clean"),
        ),
        ("Hotter than it should be: the tower is short.", "Look at the nozzles, and at the pump's gauge."),
        "Plugged nozzles leave fill dry, and the header's pressure stands high. The flow switch still closed: the"
        " branch around the nozzles carries enough. Strainer first, then nozzles.",
        (Wrong(("work nozzles",), "The tower was opened while the unit was hot and turning.", before=("stop",)),),
        _CAUSES,
        "nozzles",
    ),
    Task(
        "flame",
        "The burner has locked out",
        "The burner's safeguard has locked out. Bring the unit back.",
        (*_RUNS, Stage((("fail", "flame", "out"),), 120.0, ("burner_locked_out", True)), Stage((), 60.0)),
        (
            _SEEN,
            _CAUSE,
            Goal("electrode", "the electrode changed", did=("work electrode",)),
            Goal("device", "the safeguard reset at the device, once", did=("reset burner",), after=("electrode",)),
            _back("cause", "device", on=("heat", "flame"), off=("burner_locked_out",)),
        ),
        ("Look at the burner's safeguard: it says why.",
         "A lock-out is reset at the safeguard, by hand, after its cause is gone. Then the panel.",
         "It purges before it lights: allow a minute."),
        "The flame went, the safeguard shut the gas within its response time and locked out. Each reset without a cause"
        " found lets gas into the tube once more. Gas and flame are for the licensed burner technician.",
        (Wrong(("reset burner",), "The safeguard was reset before its cause was put right: gas into the tube again.",
               before=("electrode",)),),
        _GAS,
        "electrode",
        heats=("gas",),
    ),
    Task(
        "contact",
        "Stopped, and still getting hotter",
        "Stop was pushed two minutes ago. The tank does not cool. Act, then find out why.",
        (*_RUNS, Stage((("weld", "heat", "welded"), ("push", "", "stop"))),
         Stage((("pull", "", "stop"),), 120.0, ("contactor_welded", True)), Stage((), 90.0)),
        (
            Goal("cut", "the heat cut off by another way", did=("push emergency stop", "work main off")),
            _CAUSE,
            Goal("contact", "the contact changed", did=("work contact",), after=("cut",)),
            _back("cause", "contact", off=("contactor_welded",)),
        ),
        ("What can take the heat away without the contact that should?",
         "The emergency stop opens the limit string, and with it a second contactor. The main disconnect takes all.",
         "The electrician changes the contact dead and locked out. Then: pull or close, acknowledge, reset, start."),
        "A contact had welded: the table no longer asked and the heater heated. The limit string feeds a second"
        " contactor, so the emergency stop takes the heat away. Work on power is for the electrician, locked out.",
        (Wrong(("work contact",), "The contact was worked on alive.", before=("cut",)),
         Wrong(("push start",), "Started with a contact that cannot let go.", before=("contact",))),
        _ELECTRIC,
        "contact",
        heats=("electric",),
    ),
    Task(
        "steam",
        "Steam is lost",
        "It runs, no alarm stands, the steam valve is open, and the tank gets colder. Find it and bring the heat back.",
        (*_RUNS, Stage((("supply", "steam", "off"),), 1800.0)),
        (
            _CAUSE,
            Goal("shut", "heat selected off, the coil's valve shut", on=("steam_valve_shut",), after=("cause",)),
            Goal("steam", "steam in the line", did=("work steam",), after=("shut",)),
            _back("steam"),
        ),
        ("The valve's position says nothing about steam. Look at the line ahead of it.",
         "Heat selector off until the valve is shut; then open the line, slowly; then auto."),
        "The table sees the valve's position and not the steam. A cold line opened onto an open coil fills with water"
        " and hammers: shut the coil's valve, drain the line, open slowly, then heat.",
        (Wrong(("work steam",), "Steam was let into a cold line with the coil's valve open: water hammer.",
               off=("steam_valve_shut",)),),
        _STEAM,
        "steam",
        heats=("steam",),
    ),
)  # fmt: skip
TASKS: Final[tuple[Task, ...]] = _TASKS
TASK_OF: Final[Mapping[str, Task]] = {task.key: task for task in TASKS}

"""An invented unit's control, close to a real one, for the tests of the room `controls`. No shop's table.

Gas-fired, five level rods, spray tower, warm-up through an agitation branch. Delays are common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache

from vaporwright.controls.alarms import AlarmPanel
from vaporwright.controls.design import CauseAndEffect, Column, Row, Signal
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import TRUE, All, Any, Expr, Is, Not, Was, both, either, implies, pressed
from vaporwright.controls.properties import Always, Recovers, Step, UnaffectedBy, never, never_for, within
from vaporwright.controls.table import Comparator, Table

SCAN_s = 0.1
_TRIPS = (
    "emergency_stop high_high_level blower_overload airflow_lost airflow_stuck pump_overload pump_flow_lost "
    "over_temperature plastic_too_hot limit_string_open burner_locked_out refill_too_long low_level_heat"
)
TRIPS = tuple(_TRIPS.split())

SIGNALS = tuple(
    Signal(name, title, kind, on_means)
    for name, title, kind, on_means in (
        ("emergency_stop_clear", "emergency stop string", "contact", "no button is pushed"),
        ("blower_auto", "blower selector, auto", "selector", "auto"),
        ("blower_hand", "blower selector, hand", "selector", "hand"),
        ("pump_auto", "spray pump selector, auto", "selector", "auto"),
        ("pump_hand", "spray pump selector, hand", "selector", "hand"),
        ("refill_auto", "refill selector, auto", "selector", "auto"),
        ("refill_hand", "refill selector, hand", "selector", "hand"),
        ("heat_auto", "heat selector, auto (it has no hand)", "selector", "auto"),
        ("warm_up", "warm-up selector", "selector", "warm-up: agitate, spray shut"),
        ("drain_selected", "drain selector", "selector", "drain"),
        ("start", "start button", "button", "pushed"),
        ("stop_clear", "stop button, opens", "button", "not pushed"),
        ("reset", "reset button", "button", "pushed"),
        ("silence", "silence button", "button", "pushed"),
        ("acknowledge", "acknowledge button", "button", "pushed"),
        ("airflow", "airflow switch across the fill", "switch", "air moves"),
        ("pump_flow", "spray flow switch", "switch", "liquor flows"),
        ("blower_overload_clear", "blower overload", "contact", "not tripped"),
        ("pump_overload_clear", "spray pump overload", "contact", "not tripped"),
        ("low_rod", "low rod", "rod", "wet"),
        ("refill_on_rod", "refill-on rod", "rod", "wet"),
        ("refill_off_rod", "refill-off rod", "rod", "wet"),
        ("high_rod", "high rod", "rod", "wet"),
        ("high_high_clear", "independent high-high switch", "switch", "level is below"),
        ("low_water_clear", "low-water cut-off, another principle", "contact", "liquor covers the tube"),
        ("limit_string_closed", "hard-wired limit string", "contact", "every limit is closed"),
        ("flame", "burner safeguard, flame proven", "contact", "flame"),
        ("lockout", "burner safeguard, lock-out", "contact", "locked out"),
        ("press_feed_asked", "filter press asks for feed", "contact", "asks"),
    )
)
COMPARATORS = (
    Comparator("at_set_point", "tank_temperature_K", "above", 341.5, 1.0),
    Comparator("over_set_point", "tank_temperature_K", "above", 344.0, 0.5),
    Comparator("at_plastic_limit", "tank_temperature_K", "above", 350.0, 2.0),
)
COLUMNS = (
    Column("control_on", "control relay", "relay", holds=True, wins="off"),
    Column("run", "running lamp and memory of the start", "lamp", holds=True, wins="off"),
    Column("blower", "blower", "motor", wins="off"),
    Column("spray_pump", "spray pump", "motor", wins="off"),
    Column("spray_valve", "spray branch", "valve", wins="off"),
    Column("agitation_valve", "agitation branch", "valve", wins="off"),
    Column("heat", "call for heat, to the burner safeguard", "contact", wins="off"),
    Column("refill_valve", "refill valve", "valve", holds=True, wins="off"),
    Column("refill_shutoff", "second refill valve", "valve", wins="off"),
    Column("drain_valve", "drain valve", "valve", wins="off"),
    Column("press_feed", "filter-press feed permissive", "contact", wins="off"),
)


def _operating_rows() -> tuple[Row, ...]:
    return (
        Row("emergency_stop", "emergency stop", Not(Is("emergency_stop_clear")),
            {"control_on": "off", "run": "off"}, latched=True, alarm="high", first_out="trips"),
        Row("reset_released", "reset button is up", Not(Is("reset"))),
        Row("control_reset", "control relay is asked for", both(Is("reset"), Was("reset_released")),
            {"control_on": "on"}),
        Row("start_released", "start button is up", Not(Is("start"))),
        Row("start_pushed", "start", both(Is("start"), Was("start_released"), Was("control_on")), {"run": "on"}),
        Row("stop_pushed", "stop", Not(Is("stop_clear")), {"run": "off"}),
        Row("control_lost", "control relay has dropped out", Not(Was("control_on")), {"run": "off"}),
        Row("control_there", "control relay is in", Is("control_on"),
            dict.fromkeys(("blower", "spray_pump", "spray_valve", "heat", "refill_valve", "refill_shutoff",
                           "drain_valve", "press_feed"), "need")),
    )  # fmt: skip


def _level_rows() -> tuple[Row, ...]:
    return (
        Row("low_level", "low level", Not(Is("low_rod")), {"heat": "off", "spray_pump": "off"}, delay_s=2.0,
            latched=True, reset=Is("refill_off_rod"), alarm="high", first_out="trips"),
        Row("low_level_heat", "heat locked out by low level", Is("low_level"), {"heat": "off"}, latched=True),
        Row("low_water", "low-water cut-off", Not(Is("low_water_clear")), {"heat": "off", "spray_pump": "off"}),
        Row("high_level", "high level", Is("high_rod"), {"refill_valve": "off", "refill_shutoff": "off"}, delay_s=1.0,
            alarm="medium"),
        Row("high_high_level", "high-high level", Not(Is("high_high_clear")),
            {"refill_valve": "off", "refill_shutoff": "off", "run": "off"}, delay_s=1.0, latched=True, alarm="high",
            first_out="trips"),
        Row("refill_called", "refill is called for",
            both(Is("refill_auto"), either(Not(Is("refill_on_rod")), Was("low_level"))), {"refill_valve": "on"},
            delay_s=3.0),
        Row("refill_satisfied", "refill-off is reached", both(Is("refill_auto"), Is("refill_off_rod")),
            {"refill_valve": "off"}),
        Row("refill_by_hand", "refill in hand", Is("refill_hand"), {"refill_valve": "on"}),
        Row("refill_off", "refill selector is off", Not(Any((Is("refill_auto"), Is("refill_hand")))),
            {"refill_valve": "off"}),
        Row("refill_too_long", "refill runs too long", Was("refill_valve"),
            {"refill_valve": "off", "refill_shutoff": "off"}, delay_s=1800.0, latched=True, alarm="medium"),
        Row("always", "with the control relay", TRUE, {"refill_shutoff": "on"}),
        Row("draining", "drain", Is("drain_selected"), {"drain_valve": "on", "refill_valve": "off", "run": "off"}),
        Row("stopped", "unit stands", Not(Any((Was("run"), Was("heat"), Was("spray_pump")))), {"drain_valve": "need"}),
    )  # fmt: skip


def _air_and_spray_rows() -> tuple[Row, ...]:
    return (
        Row("blower_overload", "blower overload", Not(Is("blower_overload_clear")), {"blower": "off", "run": "off"},
            latched=True, alarm="high", first_out="trips"),
        Row("airflow_proven", "airflow is proven", both(Is("airflow"), Was("blower")), {"spray_valve": "need"},
            delay_s=3.0),
        Row("airflow_lost", "airflow is lost", both(Was("blower"), Not(Is("airflow"))), {"run": "off", "blower": "off"},
            delay_s=10.0, latched=True, alarm="high", first_out="trips"),
        Row("airflow_stuck", "airflow switch is on without blower", both(Is("airflow"), Not(Was("blower"))),
            {"run": "off", "blower": "off"}, delay_s=60.0, latched=True, alarm="medium"),
        Row("run_on_over", "blower has run on", Not(Was("run")), delay_s=120.0),
        Row("blower_in_auto", "blower in auto", both(Is("blower_auto"), Is("run")), {"blower": "on"}),
        Row("blower_runs_on", "blower runs on after a stop",
            both(Is("blower_auto"), Was("blower"), Not(Is("run_on_over"))), {"blower": "on"}),
        Row("blower_by_hand", "blower in hand", Is("blower_hand"), {"blower": "on"}),
        Row("pump_overload", "spray pump overload", Not(Is("pump_overload_clear")), {"spray_pump": "off", "run": "off"},
            latched=True, alarm="high", first_out="trips"),
        Row("pump_may_run", "air moves, or the spray is shut for warm-up", either(Is("airflow_proven"), Is("warm_up")),
            {"spray_pump": "need", "heat": "need"}),
        Row("pump_in_auto", "spray pump in auto", both(Is("pump_auto"), Is("run")), {"spray_pump": "on"}),
        Row("pump_by_hand", "spray pump in hand", Is("pump_hand"), {"spray_pump": "on"}),
        Row("spraying", "spray branch is wanted", Not(Is("warm_up")), {"spray_valve": "on"}),
        Row("agitating", "agitation branch is wanted", Is("warm_up"), {"agitation_valve": "on"}),
        Row("pump_flow_lost", "spray flow is lost", both(Was("spray_pump"), Not(Is("pump_flow"))),
            {"spray_pump": "off", "run": "off"}, delay_s=5.0, latched=True, alarm="high", first_out="trips"),
        Row("circulation", "circulation is proven", both(Is("pump_flow"), Was("spray_pump")), {"heat": "need"},
            delay_s=2.0),
    )  # fmt: skip


def _heat_rows() -> tuple[Row, ...]:
    return (
        Row("over_temperature", "tank is over its set point", Is("over_set_point"), {"heat": "off"}, delay_s=5.0,
            latched=True, alarm="high", first_out="trips"),
        Row("plastic_too_hot", "tank is at the plastic's limit", Is("at_plastic_limit"),
            {"heat": "off", "run": "off", "spray_pump": "off"}, delay_s=1.0, latched=True, alarm="high",
            first_out="trips"),
        Row("limits_closed", "hard-wired limits are closed", Is("limit_string_closed"), {"heat": "need"}),
        Row("limit_string_open", "a hard-wired limit has opened", both(Was("heat"), Not(Is("limit_string_closed"))),
            {"heat": "off"}, latched=True, alarm="high", first_out="trips"),
        Row("burner_locked_out", "burner safeguard is locked out", Is("lockout"), {"heat": "off"}, latched=True,
            alarm="high", first_out="trips"),
        Row("no_flame", "no flame though heat is called for", both(Was("heat"), Not(Is("flame"))), delay_s=45.0,
            alarm="medium"),
        Row("flame_unasked", "flame though no heat is called for", both(Is("flame"), Not(Was("heat"))), delay_s=5.0,
            alarm="high"),
        Row("heat_called", "heat is called for",
            both(Is("heat_auto"), Is("run"), Is("spray_pump"), Not(Is("at_set_point"))), {"heat": "on"}),
        Row("press_asks", "filter press asks for feed", both(Is("press_feed_asked"), Is("low_rod")),
            {"press_feed": "on"}),
        Row("not_drawn_down", "level is up", Not(Is("low_level")), {"press_feed": "need"}),
    )  # fmt: skip


@lru_cache(maxsize=1)
def invented_design() -> CauseAndEffect:
    """The matrix."""
    return CauseAndEffect(
        name="invented unit",
        scan_s=SCAN_s,
        signals=SIGNALS,
        columns=COLUMNS,
        rows=_operating_rows() + _level_rows() + _air_and_spray_rows() + _heat_rows(),
        comparators=COMPARATORS,
        panel=AlarmPanel("silence", "acknowledge", "reset"),
    )


@lru_cache(maxsize=1)
def invented_table() -> Table:
    """The table that it expands to."""
    return expanded(invented_design())


MOTORS = ("blower", "spray_pump", "heat", "refill_valve", "drain_valve", "press_feed")


def safety_claims() -> tuple[Always, ...]:
    """What the table must never do."""
    run_starts = both(Is("run"), Not(Was("run")))
    return (
        never("spray_needs_air", "The spray is never open without air moving.",
              both(Is("spray_valve"), Not(Is("airflow")))),
        never("pump_needs_air", "The pump never runs without air moving, but in warm-up with the spray shut.",
              both(Is("spray_pump"), Not(Is("airflow")), Not(both(Is("warm_up"), Not(Is("spray_valve")))))),
        never("heat_needs_flow", "Heat is never called for without flow.", both(Is("heat"), Not(Is("pump_flow")))),
        never("heat_needs_air", "Heat is never called for without air, but in warm-up.",
              both(Is("heat"), Not(Is("airflow")), Not(Is("warm_up")))),
        never("heat_needs_pump", "Heat is never called for without the pump.", both(Is("heat"), Not(Is("spray_pump")))),
        never_for("heat_needs_level", "Heat is never called for over a dry low rod for 2 s.",
                  both(Is("heat"), Not(Is("low_rod"))), 20),
        never("heat_needs_water", "Heat is never called for with the low-water cut-off open.",
              both(Is("heat"), Not(Is("low_water_clear")))),
        never("heat_needs_limits", "Heat is never called for with a hard-wired limit open.",
              both(Is("heat"), Not(Is("limit_string_closed")))),
        never("heat_below_set_point", "Heat is never called for at the set point.",
              both(Is("heat"), Is("at_set_point"))),
        within("over_temperature_stops_heat", "Heat is off at most 5 s after the deviation alarm's limit is passed.",
               Is("over_set_point"), 50, Not(Is("heat"))),
        never("hot_plastic_stops_spray", "No pump after the plastic's limit has tripped.",
              both(Is("plastic_too_hot"), Is("spray_pump"))),
        Always("over_temperature_stays", "Over-temperature clears only by reset, once it is gone and acknowledged.",
               implies(both(Was("over_temperature"), Not(Is("over_temperature"))),
                       both(pressed("reset"), Not(Is("over_set_point")), Not(Is("over_temperature_unacknowledged"))))),
        Always("emergency_stop_stops", "With an emergency stop pushed nothing moves and nothing heats.",
               implies(Not(Is("emergency_stop_clear")), Not(Any(tuple(Is(name) for name in MOTORS))))),
        Always("only_start_starts", "The unit starts only by a start button seen up the scan before.",
               implies(run_starts, both(Is("start"), Was("start_released"), Was("control_on")))),
        Always("held_start", "A start button that was down before never starts the unit.",
               Not(both(run_starts, Was("start")))),
        Always("only_reset_restores", "After power loss or emergency stop the control relay comes only by reset.",
               implies(both(Is("control_on"), Not(Was("control_on"))), both(Is("reset"), Was("reset_released")))),
        never_for("refill_ends_at_high", "Both refill valves are shut 1 s after the high rod is wet.",
                  both(Is("high_rod"), either(Is("refill_valve"), Is("refill_shutoff"))), 10),
        never_for("refill_run_time", "The refill valve is never open for more than 1800.1 s.",
                  Is("refill_valve"), 18_002),
        never_for("low_level_stops_pump", "The pump is off 2 s after the low rod is dry.",
                  both(Is("spray_pump"), Not(Is("low_rod"))), 20),
        never("one_first_out", "The record never names two trips as first.",
              Any(tuple(both(Is(f"{a}_first"), Is(f"{b}_first"))
                        for place, a in enumerate(first_out_rows()) for b in first_out_rows()[:place]))),
        Always("trips_stay", "A trip clears only by the reset button; low level only at refill-off.",
               All((*(implies(both(Was(trip), Not(Is(trip))), pressed("reset")) for trip in TRIPS),
                    implies(both(Was("low_level"), Not(Is("low_level"))), Is("refill_off_rod"))))),
        never("overloads_stop_motors", "A motor whose overload has tripped does not run.",
              either(both(Is("blower"), Not(Is("blower_overload_clear"))),
                     both(Is("spray_pump"), Not(Is("pump_overload_clear"))))),
        never("lockout_stops_heat", "Heat is not called for with the burner safeguard locked out.",
              both(Is("heat"), Is("lockout"))),
        never("trips_stop_heat", "No heat while a trip that must stop it stands.",
              both(Is("heat"), Any(tuple(Is(trip) for trip in TRIPS if trip != "refill_too_long")))),
        never_for("high_high_stops", "The unit stops 1 s after the high-high switch opens.",
                  both(Is("run"), Not(Is("high_high_clear"))), 10),
        never_for("lost_air_stops", "The unit stops 10.1 s after the airflow is lost.",
                  both(Is("run"), Is("blower"), Not(Is("airflow"))), 102),
        never_for("lost_flow_stops", "The unit stops 5.1 s after the spray flow is lost.",
                  both(Is("run"), Is("spray_pump"), Not(Is("pump_flow"))), 52),
        never("drain_shut_while_running", "The drain is shut while heat is called for.",
              both(Is("drain_valve"), Is("heat"))),
    )  # fmt: skip


def first_out_rows() -> tuple[str, ...]:
    return tuple(row.name for row in invented_design().rows if row.first_out)


SILENCE = UnaffectedBy(
    "silence_horn_only", "Silence changes nothing but the horn.", "silence", ("horn", "horn_sounding")
)
HEALTHY: dict[str, Expr] = {
    "emergency_stop_clear": TRUE,
    "airflow": Was("blower"),
    "pump_flow": Was("spray_pump"),
    "flame": Was("heat"),
    "blower_overload_clear": TRUE,
    "pump_overload_clear": TRUE,
    "low_rod": TRUE,
    "refill_on_rod": TRUE,
    "refill_off_rod": Was("refill_valve"),
    "high_rod": Not(TRUE),
    "high_high_clear": TRUE,
    "low_water_clear": TRUE,
    "limit_string_closed": TRUE,
    "lockout": Not(TRUE),
    "stop_clear": TRUE,
    "at_set_point": Not(TRUE),
    "over_set_point": Not(TRUE),
    "at_plastic_limit": Not(TRUE),
}
_LEFT_ALONE = (
    "start reset silence acknowledge blower_auto blower_hand pump_auto pump_hand refill_hand heat_auto warm_up "
    "drain_selected"
)
HEALTHY |= {name: Not(TRUE) for name in _LEFT_ALONE.split()}
AUTO = {"blower_auto": True, "pump_auto": True, "heat_auto": True, "refill_auto": True}
REFILL = {"refill_auto": True}
# What a unit in auto mostly reads: the random runs disturb it.
RUNNING: dict[str, bool] = dict.fromkeys((signal.name for signal in SIGNALS), False)
RUNNING |= dict.fromkeys((item.name for item in COMPARATORS), False)
RUNNING |= {
    name: True for name in RUNNING if name.endswith(("_clear", "_closed", "flow", "_auto")) or name in ("flame",)
}
RUNNING |= {"low_rod": True, "refill_on_rod": True}
BUTTONS = ("start", "reset", "silence", "acknowledge", "refill_off_rod")
RECOVERY = Recovers(
    "recovers",
    "From any state a healthy unit runs again by stop, acknowledge, reset, refill, reset, start.",
    (
        Step("all selectors off, refill on auto, buttons up", 5, REFILL),
        Step("acknowledge", 2, {**REFILL, "acknowledge": True}),
        Step("buttons up", 2, REFILL),
        Step("reset: trips and control relay", 2, {**REFILL, "reset": True}),
        Step("wait for the refill", 40, REFILL),
        Step("acknowledge", 2, {**REFILL, "acknowledge": True}),
        Step("buttons up", 2, REFILL),
        Step("reset what is latched", 2, {**REFILL, "reset": True}),
        Step("wait, selectors to auto", 5, AUTO),
        Step("start", 2, {**AUTO, "start": True}),
        Step("blower, pump, heat come up", 70, AUTO),
    ),
    HEALTHY,
    All(
        (
            *(Is(name) for name in ("run", "blower", "spray_pump", "spray_valve", "heat", "refill_shutoff")),
            *(Not(Is(name)) for name in (*TRIPS, "low_level", "beacon", "horn")),
        )
    ),
)

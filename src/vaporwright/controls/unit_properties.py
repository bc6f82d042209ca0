"""What a unit's table must never do, and what it must always let people do: sentences with an id, to be proved.

The claims speak of signals and effects wherever they can, so that a fault in a row can't hide behind the row's own
name. Times are the table's own delays; a claim is exact to one scan. The recoveries follow every state through a
script and take longest to prove; claims and silence take milliseconds each.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from vaporwright.controls.expressions import FALSE, TRUE, All, Any, Expr, Is, Not, Was, both, either, implies, pressed
from vaporwright.controls.properties import Always, Property, Recovers, Step, UnaffectedBy, never, never_for
from vaporwright.controls.table import require_delay
from vaporwright.controls.unit_rows import TRIPS
from vaporwright.controls.unit_signals import BY_RESET, STOP_THE_UNIT
from vaporwright.controls.unit_table import PANEL, UnitTable

SILENCE: Final = UnaffectedBy(
    "silence_horn_only", "Silence changes nothing but the horn.", PANEL.silence, (PANEL.horn, PANEL.horn_memory)
)
_REFILL: Final = {"refill_auto": True}
_AUTO: Final = {**_REFILL, "blower_auto": True, "pump_auto": True, "heat_auto": True}


def properties_of(unit: UnitTable) -> tuple[Property, ...]:
    """Every property of the unit, the quick ones first."""
    return (*claims_of(unit), SILENCE, *recoveries_of(unit))


def claims_of(unit: UnitTable) -> tuple[Always, ...]:
    """What holds in every scan."""
    parts = (_air_claims, _heat_claims, _level_claims, _temperature_claims, _operating_claims, _trip_claims)
    return tuple(claim for part in parts for claim in part(unit))


def trips_of(unit: UnitTable, effect: str = "") -> tuple[str, ...]:
    """The rows that compete for first-out; with an effect, those that turn it off."""
    trips = (row for row in unit.design.rows if row.first_out == TRIPS)
    return tuple(row.name for row in trips if not effect or row.effects.get(effect) == "off")


def _scans(unit: UnitTable, delay: str) -> int:
    return require_delay(unit.design.name, delay, unit.delays[delay], unit.design.scan_s)


def _any_of(*names: str) -> Expr:
    return Any(tuple(Is(name) for name in names))


def _outputs(unit: UnitTable) -> tuple[str, ...]:
    """What moves, heats or opens."""
    still = ("control_on", "run", "agitation_valve")
    return tuple(column.name for column in unit.design.columns if column.name not in still)


def _air_claims(unit: UnitTable) -> Iterator[Always]:
    filter_scans, still = _scans(unit, "airflow_loss_s"), Not(Is("airflow"))
    warming = both(Is("warm_up"), Is("spray_shut")) if unit.options.warm_up else FALSE
    words = ", but in warm-up with the spray proved shut" if unit.options.warm_up else ""
    pump, heat = both(Is("spray_pump"), Not(warming)), both(Is("heat"), Not(warming))
    yield never_for("pump_needs_air", f"The pump never runs longer than the filter without air moving{words}.",
                    both(pump, still), filter_scans)  # fmt: skip
    yield never("pump_needs_blower", f"The pump never runs without the blower, in hand neither{words}.",
                both(pump, Not(Is("blower"))))  # fmt: skip
    yield Always("pump_starts_in_air", f"The pump starts only with a blower that already ran{words}.",
                 implies(both(pump, Not(Was("spray_pump"))), Was("blower")))  # fmt: skip
    yield never_for("heat_needs_air", f"Heat never stays longer than the filter without air moving{words}.",
                    both(heat, still), filter_scans)  # fmt: skip
    yield never("air_switch_proved", "Airflow is proven only if its switch was seen open since the blower stood.",
                both(Is("airflow_proven"), Not(Is("air_switch_seen_open"))))  # fmt: skip
    yield Always("blower_needs_open_switch", "The blower starts only over an airflow switch that is open.",
                 implies(both(Is("blower"), Not(Was("blower"))), still))  # fmt: skip
    if unit.options.warm_up:
        yield never_for("spray_needs_air", "The spray is never open longer than the filter without air moving.",
                        both(Is("spray_valve"), still), filter_scans)  # fmt: skip
        yield never("warm_up_shuts_spray", "In warm-up the spray is shut.", both(Is("spray_valve"), Is("warm_up")))


def _heat_claims(unit: UnitTable) -> Iterator[Always]:
    heat = Is("heat")
    yield never_for("heat_needs_level", "Heat never stays longer than the rod's delay over a dry low rod.",
                    both(heat, Not(Is("low_rod"))), _scans(unit, "rod_dry_s"))  # fmt: skip
    yield never("heat_needs_water", "Heat is never called for with the low-water cut-off open.",
                both(heat, Not(Is("low_water_clear"))))  # fmt: skip
    yield never_for("heat_needs_flow", "Heat never stays longer than the filter without flow.",
                    both(heat, Not(Is("pump_flow"))), _scans(unit, "flow_loss_s"))  # fmt: skip
    yield never_for("pump_needs_flow", "The pump never runs on without flow past its time to prime, in hand neither.",
                    both(Is("spray_pump"), Not(Is("pump_flow"))), _scans(unit, "flow_missing_s") + 1)  # fmt: skip
    yield never("heat_needs_pump", "Heat is never called for without the pump.", both(heat, Not(Is("spray_pump"))))
    yield Always("heat_comes_last", "Heat starts only over a pump that already ran.",
                 implies(both(heat, Not(Was("heat"))), Was("spray_pump")))  # fmt: skip
    yield never("heat_needs_limits", "Heat is never called for with the hard-wired string or high limit open.",
                both(heat, Not(both(Is("limit_string_closed"), Is("high_limit_clear")))))  # fmt: skip
    yield never("heat_needs_run", "Heat is called for in a run only, never in hand.",
                both(heat, Not(All((Is("run"), Is("heat_auto"), Is("blower_auto"), Is("pump_auto"))))))  # fmt: skip
    signs: dict[str, tuple[Expr, str, int]] = {
        "gas": (Is("flame"), "flame_unasked",
                _scans(unit, "flame_failure_s") + _scans(unit, "safeguard_margin_s")),
        "electric": (Is("contactor_closed"), "contactor_welded", _scans(unit, "contactor_s")),
        "steam": (Not(Is("steam_valve_shut")), "steam_valve_stuck_open", _scans(unit, "steam_valve_s")),
    }  # fmt: skip
    sign, told, scans = signs[unit.heat]
    yield never_for("unasked_heat_is_told", "Heat that goes on unasked is an alarm once its device had time to answer.",
                    All((sign, Not(Was("heat")), Not(Is(told)))), scans)  # fmt: skip
    kinds = {
        "gas": ("lockout and the safeguard's limits", either(
            Is("lockout"), Not(All((Is("tube_temperature_clear"), Is("gas_pressure_low_clear"),
                                    Is("gas_pressure_high_clear")))))),
        "electric": ("sheath over-temperature and ground fault", Not(
            both(Is("sheath_temperature_clear"), Is("ground_fault_clear")))),
    }  # fmt: skip
    if unit.heat in kinds:
        what, fault = kinds[unit.heat]
        since = both(fault, Was("run")) if unit.heat == "gas" else fault  # gas pressures are read in a run
        yield never("heat_obeys_devices", f"Heat is never called for against {what}.", both(heat, since))
    if unit.heat == "gas":
        yield Always("flame_failure_ends_heat", "A flame that goes ends the call for heat in the same scan.",
                     implies(All((Was("heat"), Was("flame"), Not(Is("flame")))), Not(heat)))  # fmt: skip


def _level_claims(unit: UnitTable) -> Iterator[Always]:
    wet = _scans(unit, "rod_wet_s")
    valves = ("refill_valve", "refill_shutoff")
    yield never_for("low_level_stops_pump", "The pump is off once the low rod has been dry for its delay, in hand too.",
                    both(Is("spray_pump"), Not(Is("low_rod"))), _scans(unit, "rod_dry_s"))  # fmt: skip
    by_reset = unit.options.low_level_clears == BY_RESET
    way = both(Is("refill_off_rod"), Is("low_rod"), *((pressed("reset"),) if by_reset else ()))
    yield Always("low_level_holds", f"Low level clears at refill-off only{', by reset' if by_reset else ''}.",
                 implies(both(Was("low_level"), Not(Is("low_level"))), way))  # fmt: skip
    locked = "low_level" if by_reset else "low_level_heat"
    yield Always("low_level_heat_by_hand", "After low level heat comes back by reset only.",
                 implies(both(Was(locked), Not(Is(locked))), pressed("reset")))  # fmt: skip
    yield never("low_level_locks_heat", "No heat while low level or its lock stands.",
                both(Is("heat"), _any_of("low_level", locked)))  # fmt: skip
    for valve in valves:
        yield never_for(f"{valve}_shuts_at_high", f"The {valve.replace('_', ' ')} is shut once the high rod is wet.",
                        both(Is("high_rod"), Is(valve)), wet)  # fmt: skip
        yield never_for(f"{valve}_shuts_at_high_high", f"The {valve.replace('_', ' ')} is shut 1 s after high-high.",
                        both(Not(Is("high_high_clear")), Is(valve)), round(1.0 / unit.design.scan_s))  # fmt: skip
    yield never_for("refill_run_time", "The refill valve is never open past its run timer.",
                    Is("refill_valve"), _scans(unit, "refill_run_s") + 2)  # fmt: skip
    yield never("second_valve_follows", "The second refill valve is never open without the first.",
                both(Is("refill_shutoff"), Not(Is("refill_valve"))))  # fmt: skip
    yield never("no_refill_with_high_high", "Nothing refills until high-high has been reset.",
                both(Is("high_high_level"), _any_of(*valves)))  # fmt: skip
    if unit.options.drain:
        yield never("drain_at_rest", "The drain is never open in a run, over a running pump or with heat.",
                    both(Is("drain_valve"), _any_of("run", "spray_pump", "heat")))  # fmt: skip
        yield never("drain_by_selector", "The drain is never open unless it is selected.",
                    both(Is("drain_valve"), Not(Is("drain_selected"))))  # fmt: skip
        yield Always("drain_waits_for_heater", "The drain opens only once the heater has cooled.",
                     implies(Is("drain_valve"), both(Is("heater_cooled"), Not(Was("heat")))))  # fmt: skip
        yield never("no_drain_and_refill", "Drain and refill are never open together.",
                    both(Is("drain_valve"), Is("refill_valve")))  # fmt: skip
    if unit.options.filter_press:
        yield never("press_asks_first", "The press is never fed unless it asks.",
                    both(Is("press_feed"), Not(Is("press_feed_asked"))))  # fmt: skip
        yield never_for("press_needs_level", "The press is not fed once the low rod has been dry for its delay.",
                        both(Is("press_feed"), Not(Is("low_rod"))), _scans(unit, "rod_dry_s"))  # fmt: skip


def _temperature_claims(unit: UnitTable) -> Iterator[Always]:
    yield never("heat_under_set_point", "Heat is never called for at the set point.",
                both(Is("heat"), Is("at_set_point")))  # fmt: skip
    yield never("over_temperature_stops_heat", "Heat is off in the scan that sees the deviation alarm's limit.",
                both(Is("heat"), either(Is("over_set_point"), Is("at_plastic_limit"))))  # fmt: skip
    yield never_for("over_temperature_latches", "Past the deviation alarm's delay it is latched, and heat with it.",
                    both(Is("over_set_point"), Not(Is("over_temperature"))),
                    _scans(unit, "over_temperature_s"))  # fmt: skip
    yield never("over_temperature_holds_heat", "No heat while over-temperature stands.",
                both(Is("over_temperature"), Is("heat")))  # fmt: skip
    yield Always("over_temperature_stays", "Over-temperature clears only by reset, once it is gone and acknowledged.",
                 implies(both(Was("over_temperature"), Not(Is("over_temperature"))),
                         All((pressed("reset"), Not(Is("over_set_point")),
                              Not(Is("over_temperature_unacknowledged"))))))  # fmt: skip
    heat_only = tuple(name for name in trips_of(unit, "heat") if name not in trips_of(unit, "run"))
    reasons = (
        *trips_of(unit, "run"),
        "stop_pushed",
        "not_in_auto",
        "control_lost",
        *("draining",) * unit.options.drain,
    )
    yield Always("heat_trips_keep_running", f"These alone never end the run: {', '.join(heat_only)}.",
                 implies(both(Was("run"), Not(Is("run"))),
                         either(_any_of(*reasons), Not(Is("control_on")))))  # fmt: skip
    tower = Not(Is("warm_up")) if unit.options.warm_up else TRUE
    yield Always("hot_tank_keeps_cooling", "In a run too hot a tank keeps its blower, and with air proven its pump.",
                 implies(All((Is("run"), Is("over_set_point"), tower, Is("air_switch_seen_open"))),
                         both(Is("blower"), either(Is("spray_pump"), Not(Is("airflow_proven")),
                                                   Is("low_level")))))  # fmt: skip
    yield never_for("plastic_stops_pump", "At the plastic's limit the pump is off after the filter, in hand too.",
                    both(Is("at_plastic_limit"), Is("spray_pump")), _scans(unit, "thermometer_s"))  # fmt: skip
    yield never_for("cold_thermometer_stops_heat", "A thermometer that can't be right ends heat after the filter.",
                    both(Is("thermometer_low"), Is("heat")), _scans(unit, "thermometer_s"))  # fmt: skip


def _operating_claims(unit: UnitTable) -> Iterator[Always]:
    starts = both(Is("run"), Not(Was("run")))
    outputs = _outputs(unit)
    yield never("emergency_stop_stops", "With an emergency stop pushed nothing moves, heats or opens.",
                both(Not(Is("emergency_stop_clear")), _any_of("run", *outputs)))  # fmt: skip
    yield never("control_relay_holds_all", "With the control relay out nothing moves, heats or opens.",
                both(Not(Is("control_on")), _any_of(*outputs)))  # fmt: skip
    yield never("power_return", "After power returns the unit does not run until reset, then start.",
                both(Is("run"), Not(both(Was("control_on"), Is("control_on")))))  # fmt: skip
    yield Always("only_start_starts", "The unit starts only by a start button pushed in that scan and seen up before.",
                 implies(starts, both(pressed("start"), Was("start_released"))))  # fmt: skip
    yield Always("only_reset_restores", "The control relay comes only by a reset button pushed and seen up before.",
                 implies(both(Is("control_on"), Not(Was("control_on"))),
                         both(pressed("reset"), Was("reset_released"))))  # fmt: skip
    yield never("stop_stops", "With stop pushed the unit does not run and nothing heats.",
                both(Not(Is("stop_clear")), _any_of("run", "heat")))  # fmt: skip
    yield never("start_needs_level", "The unit never starts with low level standing.", both(starts, Was("low_level")))
    own = ("low_level", "low_water", *trips_of(unit, "spray_pump"))
    draining = ("draining",) if unit.options.drain else ()
    free = All((Is("pump_auto"), Is("control_on"), Is("pump_may_run"), Not(_any_of(*own, *draining))))
    yield Always("pump_cools_heater", "Where heat goes, the pump stays, unless its own trips or the air stop it.",
                 implies(All((Was("heat"), Was("spray_pump"), Not(Is("heat")), free)), Is("spray_pump")))  # fmt: skip
    yield never("overloads_stop", "A tripped overload stops its motor, in hand too, and the blower's the pump as well.",
                either(both(Not(Is("blower_overload_clear")), _any_of("blower", "spray_pump")),
                       both(Not(Is("pump_overload_clear")), Is("spray_pump"))))  # fmt: skip


def _trip_claims(unit: UnitTable) -> Iterator[Always]:
    trips, stops = trips_of(unit), trips_of(unit, "run")
    yield never("no_run_with_trip", f"The unit never runs while one of these stands: {', '.join(stops)}.",
                both(Is("run"), _any_of(*stops)))  # fmt: skip
    yield never("no_heat_with_trip", "Heat is never called for while a trip stands that turns it off or ends the run.",
                both(Is("heat"), _any_of(*stops, *trips_of(unit, "heat"))))  # fmt: skip
    own_way = () if unit.options.low_level_clears == BY_RESET else ("low_level",)
    yield Always("trips_stay", "No trip clears but by a reset button pushed in that scan, once it was acknowledged.",
                 All(tuple(implies(both(Was(name), Not(Is(name))),
                                   both(pressed("reset"), Not(Is(f"{name}_unacknowledged"))))
                           for name in trips if name not in own_way)))  # fmt: skip
    first = tuple(f"{name}_first" for name in trips)
    yield _wherever("first_out_kept", "Each trip leaves a first-out record as long as any trip stands.",
                        _any_of(*trips), _any_of(*first))  # fmt: skip
    yield never("one_first_out", "The record never names two trips as first.",
                Any(tuple(both(Is(one), Is(two)) for one, two in combinations(first, 2))))  # fmt: skip
    yield Always("first_out_stays", "A first-out record changes only after every trip has cleared.",
                 All(tuple(implies(Was(record), either(Is(record), Not(_any_of(*trips))))
                           for record in first)))  # fmt: skip
    yield _wherever("beacon_stays", "The beacon is on while any trip stands, silenced or not.",
                        _any_of(*trips), Is(PANEL.beacon))  # fmt: skip


def _wherever(name: str, sentence: str, condition: Expr, consequence: Expr) -> Always:
    """Wherever the condition holds, so does the consequence."""
    return Always(name, sentence, implies(condition, consequence))


def recoveries_of(unit: UnitTable) -> tuple[Recovers, ...]:
    """From any state at all a healthy unit runs again; every latch can be reset; high level has a way back."""
    healthy = healthy_plant(unit)
    clear = Not(
        _any_of(*(row.name for row in unit.design.rows if row.alarm or row.first_out), PANEL.horn, PANEL.beacon)
    )
    running = _all_of("run", "spray_pump", "heat", "blower", *("spray_valve",) * unit.options.warm_up)
    scripts = [
        Recovers("latches_reset", "From any state every latch of a healthy unit can be reset with the unit at rest.",
                 _to_rest(unit), healthy, both(clear, Is("control_on"), Not(Is("run")))),
        Recovers("recovers", "From any state a healthy unit runs again by acknowledge, reset, refill, start.",
                 (*_to_rest(unit), *_start(unit)), healthy, both(running, clear)),
    ]  # fmt: skip
    if unit.options.high_level == STOP_THE_UNIT:
        wet = {**healthy, "high_rod": TRUE, "refill_off_rod": TRUE}
        scripts.append(
            Recovers("recovers_from_high", "With the high rod still wet the unit runs again by the same script, so that"
                     " evaporation brings the level down.", (*_to_rest(unit), *_start(unit)), wet,
                     both(running, Not(Is("high_level_stop")), Not(Is("refill_valve"))))
        )  # fmt: skip
    return tuple(scripts)


def _all_of(*names: str) -> Expr:
    return All(tuple(Is(name) for name in names))


def _to_rest(unit: UnitTable) -> tuple[Step, ...]:
    """Selectors off but the refill's; then acknowledge, reset and wait for the refill until nothing is left.

    Twice, as the refill's timer may trip between the first acknowledge and reset; and once more for the heat's lock.
    """
    refill = _scans(unit, "rod_dry_s") + 2 * _scans(unit, "rod_wet_s") + round(1.0 / unit.design.scan_s)
    clear = (
        Step("acknowledge", 2, {**_REFILL, PANEL.acknowledge: True}),
        Step("buttons up", 2, _REFILL),
        Step("reset", 2, {**_REFILL, PANEL.reset: True}),
    )
    wait = Step("buttons up, the refill goes to refill-off", refill, _REFILL)
    up = Step("buttons up", 2, _REFILL)
    return (Step("selectors off, refill on auto, buttons up", 10, _REFILL), *clear, wait, *clear, wait, *clear, up)


def _start(unit: UnitTable) -> tuple[Step, ...]:
    """Selectors to auto, start, and the time that blower, pump and heat take to come up."""
    up = _scans(unit, "airflow_proving_s") + _scans(unit, "pump_proving_s") + round(1.0 / unit.design.scan_s)
    return (
        Step("selectors to auto", 5, _AUTO),
        Step("start", 2, {**_AUTO, "start": True}),
        Step("blower, pump and heat come up", up, _AUTO),
    )


def healthy_plant(unit: UnitTable) -> dict[str, Expr]:
    """What a healthy plant makes of the scan before, signal by signal, with no hand on it."""
    high = {name: TRUE for name in unit.design.inputs if name.endswith("_clear")}
    rods: dict[str, Expr] = {
        "low_rod": TRUE,
        "refill_on_rod": TRUE,
        "refill_off_rod": either(Was("refill_valve"), Was("refill_off_rod")),  # a refill gets there, and there it stays
        "high_rod": FALSE,
    }
    answers: dict[str, Expr] = {
        "airflow": Was("blower"),
        "pump_flow": Was("spray_pump"),
        "limit_string_closed": TRUE,
        "spray_shut": Not(Was("spray_valve")),
        "flame": Was("heat"),
        "combustion_air": TRUE,
        "contactor_closed": Was("heat"),
        "steam_valve_shut": Not(Was("heat")),
    }
    known = {name: expr for name, expr in answers.items() if name in unit.design.inputs}
    return {**dict.fromkeys(unit.design.inputs, FALSE), **high, **rods, **known}

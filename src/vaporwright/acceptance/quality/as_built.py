"""What a simulated unit truly is where it differs from its design, and what each measured field would then be.

A departure is planted in the unit, by a name of the trade ("rod_low", "thermometer", "refill"), never in a reading. The
tables here say which fields see it and how: an offset with its sign, a factor with its power, a thing that is plainly
wrong with the ticks that become "no". What evaporates, and all that follows from it, comes from the unit's own model
with the factors of `unit.as_found`. Fields that no entry names are read as the sound unit would have them.

The powers are those of the laws of similarity (pressure goes with the square of the flow), the rest is geometry.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.procedure import YES_OR_NO, Procedure, ReadingField, Step
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.balance import SeasonResult, settle
from vaporwright.unit.flue_of_unit import gas_rating

SOUND: Final = AsFound()
_RODS: Final = ("low", "refill_on", "refill_off", "high")
_LEVELS: Final = "rods.rising_level"
_ACTING: Final = ("heat_off_K", "alarm_K", "pump_stops_K", "heat_on_K")
Reaches = tuple[tuple[str, float], ...]  # fields "step.field", with sign and share, or power


@dataclass(frozen=True)
class AsBuilt:
    """How a unit differs from its design.

    offsets: [SI] by place or device; factors: over the design's; wrong: what anyone who looks sees to be wrong.
    """

    found: AsFound = SOUND
    offsets: Mapping[str, float] = field(default_factory=dict)
    factors: Mapping[str, float] = field(default_factory=dict)
    wrong: frozenset[str] = frozenset()


OFFSETS: Final[Mapping[str, Reaches]] = {
    **{f"tank_{side}": ((f"mechanical.tank.{side}_m", 1.0),) for side in ("length", "width", "height")},
    "heater_place": (("mechanical.heights.heater_bottom_m", 1.0), ("mechanical.heights.heater_top_m", 1.0)),
    "overflow_place": (("mechanical.heights.overflow_m", 1.0), ("hydraulics.overflow.stands_m", 1.0)),
    "rod_holder": (
        ("mechanical.heights.rod_holder_m", 1.0),
        *((f"{_LEVELS}.{rod}_m", 1.0) for rod in _RODS),
    ),
    "make_up_place": (("mechanical.heights.make_up_m", 1.0),),
    "suction_place": (("mechanical.heights.suction_m", 1.0),),
    "return_place": (("mechanical.heights.return_outlet_m", 1.0),),
    **{
        f"{name}_bore": ((f"mechanical.connections.{name}_bore_m", 1.0),) for name in ("drain", "overflow", "flue")
    },
    "strainer_hole": (("mechanical.connections.strainer_hole_m", 1.0),),
    **{f"rod_{rod}": ((f"rods.{rod}.insertion_m", -1.0), (f"{_LEVELS}.{rod}_m", 1.0)) for rod in _RODS},
    "rod_reference": (("rods.reference.insertion_m", -1.0),),
    "float": ((f"{_LEVELS}.high_high_m", 1.0),),
    "cut_off": (("rods.low_water_cut_off.opens_m", 1.0),),
    "thermometer": (
        ("set_points.thermometer.cold_difference_K", 1.0),
        ("set_points.thermometer.hot_difference_K", 1.0),
        *((f"set_points.acting.{key}", -1.0) for key in _ACTING),
        ("run.clamp.holds_K", -1.0),
    ),
    "high_limit": (("set_points.high_limit.opens_K", 1.0),),
    "leak_level": (("leak.cold.level_fall_m", 1.0),),
    "overflow_stands": (("hydraulics.overflow.stands_m", 1.0),),
    "sump": (("hydraulics.return.sump_head_m", 1.0),),
    "drain_back": (("hydraulics.drawdown.drawdown_m", 1.0), ("hydraulics.drawdown.drain_back_m", 1.0)),
    "oxygen": (("burner.combustion_high.oxygen", 1.0),),
    "oxygen_low": (("burner.combustion_low.oxygen", 1.0),),
    "stack": (("burner.combustion_high.stack_temperature_K", 1.0),),
    "blower_sound": (("hydraulics.air_flow.vibration_sound", 1.0), ("run.surfaces.sound", 0.8)),
    "touch": (("run.surfaces.touch_K", 1.0),),
    **{
        f"point_{name}": ((f"set_points.acting.{acting}", 1.0), (f"set_points.left.left_{shown}", 1.0))
        for name, acting, shown in (
            ("set_point", "heat_off_K", "set_point_K"),
            ("deviation", "alarm_K", "deviation_alarm_K"),
            ("plastic", "pump_stops_K", "plastic_limit_K"),
        )
    },
    "point_differential": (("set_points.acting.heat_on_K", -1.0), ("set_points.left.left_differential_K", 1.0)),
}  # fmt: skip
FACTORS: Final[Mapping[str, Reaches]] = {
    "nozzles_open": (("hydraulics.spray_flow.header_gauge_Pa", -2.0),),
    "spray": (
        ("hydraulics.spray_flow.spray_flow_m3_s", 1.0),
        ("hydraulics.spray_flow.header_gauge_Pa", 2.0),
        ("run.log.spray_flow_m3_s", 1.0),
    ),
    "agitation": (("hydraulics.agitation.agitation_flow_m3_s", 1.0),),
    "refill": (("hydraulics.refill.metered_m3", 1.0), ("hydraulics.refill.fill_s", -1.0)),
    "drain": (("finish.drain.drain_s", -1.0),),
    "weight": (("mechanical.lifting.empty_kg", 1.0),),
    "air": (("hydraulics.air_flow.air_flow_m3_s", 1.0), ("hydraulics.air_flow.static_Pa", 2.0)),
    "gas": (
        ("burner.clocked_high.gas_volume_standard_m3", 1.0),
        ("burner.first_fire.manifold_gauge_Pa", 2.0),
    ),
    "gas_low": (("burner.clocked_low.gas_volume_standard_m3", 1.0),),
    "inlet_pressure": (("burner.gas_at_rest.at_rest_gauge_Pa", 1.0), ("burner.first_fire.inlet_gauge_Pa", 1.0)),
    "low_gas_switch": (("burner.pressure_switches.low_gauge_Pa", 1.0),),
    "high_gas_switch": (("burner.pressure_switches.high_gauge_Pa", 1.0),),
    "pre_purge": (("burner.purge.pre_purge_s", 1.0),),
    "trial": (("burner.trial.trial_s", 1.0),),
    "flame_response": (("burner.flame_failure.response_s", 1.0),),
    "carbon_monoxide": (
        ("burner.combustion_high.carbon_monoxide", 1.0),
        ("burner.combustion_low.carbon_monoxide", 1.0),
    ),
    "draft": (("burner.combustion_high.draft_Pa", 1.0), ("burner.combustion_low.draft_Pa", 1.0)),
    "steam_pressure": (("steam.pressures.coil_gauge_Pa", 1.0),),
    "steam_stroke": (("steam.pressures.stroke_s", 1.0),),
    "condensate": (("steam.condensate.condensate_kg", 1.0), ("run.log.condensate_kg", 1.0)),
    "heater_power": (("heater.power.energy_J", 1.0),),
}
WRONG: Final[Mapping[str, tuple[str, ...]]] = {
    "nozzles": ("mechanical.connections.nozzles", "hydraulics.spray_flow.nozzles"),
    "joint_weeps": ("leak.cold.dry",),
    "seal_weeps": ("hydraulics.leaks.dry",),
    "hot_joint_weeps": ("run.leaks.dry",),
    "suction_draws_air": ("hydraulics.spray_flow.suction",),
    "check_valve_reversed": ("mechanical.connections.flow_arrows",),
    "return_gulps": ("hydraulics.return.steady",),
    "return_outlet_drowned": ("hydraulics.return.outlet",),
    "eliminator_loose": ("hydraulics.air_flow.eliminator", "run.surfaces.exhaust"),
    "guard_missing": ("mechanical.guards.guards",),
    "labels_missing": ("documents.nameplate.warnings",),
    "nameplate_other_unit": ("documents.nameplate.unit",),
    "nameplate_other_supply": ("documents.nameplate.supply",),
    "nameplate_other_heat": ("documents.nameplate.heat",),
    "slope_reversed": ("mechanical.tank.slope",),
    "weld_cracked": ("mechanical.tank.welds", "leak.cold.walls"),
    "pump_reversed": ("electrical.rotation.pump",),
    "blower_reversed": ("electrical.rotation.blower",),
    "burner_fan_reversed": ("electrical.rotation.burner_fan",),
    "overload_setting": ("electrical.panel.overloads",),
    "breaker_size": ("electrical.panel.breakers",),
    "loose_wire": ("electrical.panel.wires",),
    "disconnect": ("electrical.panel.disconnect",),
    "reference_not_earthed": ("rods.reference.earth",),
    "holder_wet_bridges": ("rods.relay.wiped",),
    "relay_setting": ("rods.relay.set",),
    "cut_off_resets_itself": ("rods.low_water_cut_off.reset",),
    "high_limit_resets_itself": ("set_points.high_limit.manual",),
    "high_limit_shares_bulb": ("set_points.high_limit.own_bulb",),
    "heater_guard_resets_itself": ("set_points.heater_guard.manual",),
    "second_valve_hangs": ("hydraulics.refill.second",),
    "air_gap_missing": ("hydraulics.refill.air_gap",),
    "overflow_blocked": ("hydraulics.overflow.carries",),
    "first_gas_valve_leaks": ("burner.train.first_valve",),
    "second_gas_valve_leaks": ("burner.train.second_valve",),
    "gas_joint_leaks": ("burner.train.joints",),
    "closure_switch_bridged": ("burner.closure.closure",),
    "air_switch_bridged": ("burner.closure.air_at_rest", "burner.closure.air_lost"),
    "damper_shut_in_purge": ("burner.purge.full_air",),
    "safeguard_resets_itself": ("burner.trial.by_hand",),
    "flue_spills": ("burner.flue.joints", "burner.flue.room"),
    "flame_on_tube": ("burner.first_fire.flame",),
    "ground_fault_dead": ("heater.ground_fault.trips",),
    "ground_fault_setting": ("heater.ground_fault.setting",),
    "trap_blows": ("steam.pressures.trap",),
    "steam_valve_passes": ("steam.cold.tight",),
    "vacuum_breaker_stuck": ("steam.cold.breaker", "steam.cooling.breaker"),
    "coil_leaks": ("steam.cooling.clean",),
    "safety_valve_unsealed": ("set_points.heater_guard.valve",),
}  # fmt: skip


def reach_of(kind: str, name: str) -> Reaches:
    """Fields that a departure reaches; circuits, parts and materials by their own names."""
    head, _, rest = name.partition(":")
    if kind == "factor":
        if head == "insulation":
            return ((f"electrical.insulation.{rest}_ohm", 1.0), (f"heater.dead.{rest}_insulation_ohm", 1.0))
        if head == "earth":
            return ((f"electrical.earth.{rest}_ohm", 1.0),)
        if head == "line":  # current of a line
            return ((f"electrical.currents.{rest}_A", 1.0),)
        if head == "voltage":
            return ((f"electrical.power_on.volts_{rest}_V", 1.0),)
        if head == "circuit":  # a leg of a heater: resistance
            return ((f"heater.dead.{rest}_ohm", 1.0),)
        if head == "heater_line":
            return ((f"heater.power.{rest}_A", 1.0),)
        return FACTORS[name]
    return OFFSETS[name]


def ticks_of(name: str) -> tuple[str, ...]:
    """Ticks that become "no" for what is plainly wrong."""
    head, _, rest = name.partition(":")
    if head == "material":
        return (f"mechanical.materials.{rest}",)
    if head == "pipe":
        return (f"mechanical.connections.{rest}",)
    if head == "rods_swapped":
        return tuple(f"rods.{rod}.{side}" for rod in rest.split("+") for side in ("wet", "dry"))
    return WRONG[name]


class Truth:
    """True values of one unit, as built, on the day of a test."""

    def __init__(self, under: UnitUnderTest, built: AsBuilt) -> None:
        self.under, self.built = under, built
        self.departs = dict(_collected(built))
        self.no = {tick for name in built.wrong for tick in ticks_of(name)}
        found = found_with_set_point(under, built)
        if found != SOUND:
            for key, offset, factor in _as_found(under, found):
                before = self.departs.get(key, (0.0, 1.0))
                self.departs[key] = (before[0] + offset, before[1] * factor)
        if any(name.startswith("rods_swapped") for name in built.wrong):
            self.no.add("rods.rising_level.order")

    def value(self, step: Step, field: ReadingField) -> float | bool | str:
        """What a field truly is."""
        key = f"{step.key}.{field.key}"
        healthy = healthy_value(field)
        if isinstance(healthy, bool):
            return healthy and key not in self.no
        if isinstance(healthy, str) or key not in self.departs:
            return healthy
        offset, factor = self.departs[key]
        return healthy * factor + offset

    def reached(self, procedure: Procedure) -> set[str]:
        """Fields of a procedure in which the departures show at all."""
        there = {f"{step.key}.{field.key}" for step in procedure.steps for field in step.fields}
        return there & {*self.departs, *self.no}


def healthy_value(field: ReadingField) -> float | bool | str:
    """What a sound unit shows: the expected value, or a place well within the limits."""
    if field.quantity == YES_OR_NO:
        return True if field.expected is None else bool(field.expected)
    if field.expected is not None:
        return field.expected
    if field.limits is None:
        return "as marked"
    low, high = field.limits.low, field.limits.high
    if low is not None and high is not None:
        return 0.5 * (low + high)
    return 0.6 * high if high is not None else 1.5 * (low or 0.0)


def modelled_fields() -> set[str]:
    """Every field that some departure of the tables reaches; named circuits and parts are beside these."""
    found = {key for reaches in (*OFFSETS.values(), *FACTORS.values()) for key, _ in reaches}
    return found | {key for ticks in WRONG.values() for key in ticks}


def _collected(built: AsBuilt) -> Iterator[tuple[str, tuple[float, float]]]:
    found: dict[str, tuple[float, float]] = {}
    for name, offset in built.offsets.items():
        for key, share in reach_of("offset", name):
            before = found.get(key, (0.0, 1.0))
            found[key] = (before[0] + share * offset, before[1])
    for name, factor in built.factors.items():
        for key, power in reach_of("factor", name):
            before = found.get(key, (0.0, 1.0))
            found[key] = (before[0], before[1] * factor**power)
    yield from found.items()


def found_with_set_point(under: UnitUnderTest, built: AsBuilt) -> AsFound:
    """The factors, with the set point at which the control really holds the tank, where that is another.

    A set point that was moved moves it, and so does a control's thermometer that reads high or low.
    """
    moved_K = built.offsets.get("point_set_point", 0.0) - built.offsets.get("thermometer", 0.0)
    held_K = under.result.conditions.set_point_K + moved_K
    if not moved_K or (built.found == SOUND and held_K > under.result.settling_temperature_K):
        return built.found
    return replace(built.found, set_point_K=held_K)


def _as_found(under: UnitUnderTest, found: AsFound) -> Iterator[tuple[str, float, float]]:
    """Offsets and factors on fields of the performance run and of the cold air and water."""
    sound = under.result
    changed, conditions = as_found(under.unit, sound.conditions, found)
    real = settle(changed, conditions, near=sound)
    yield "run.settle.tank_temperature_K", real.settling_temperature_K - sound.settling_temperature_K, 1.0
    tower, before = real.operation.tower, sound.operation.tower
    yield "run.log.evaporated_kg", 0.0, real.evaporation_kg_s / sound.evaporation_kg_s
    yield "run.log.range_difference_K", 0.0, _range_K(real) / _range_K(sound)
    yield "run.log.air_flow_m3_s", 0.0, tower.blower_flow_m3_s / before.blower_flow_m3_s
    exhaust_K = tower.rating.air_out_temperature_K - before.rating.air_out_temperature_K
    yield "run.log.exhaust_temperature_K", exhaust_K, 1.0
    yield "run.log.spray_flow_m3_s", 0.0, found.spray_factor
    yield "hydraulics.spray_flow.spray_flow_m3_s", 0.0, found.spray_factor
    yield "hydraulics.spray_flow.header_gauge_Pa", 0.0, found.spray_factor**2
    yield "hydraulics.air_flow.air_flow_m3_s", 0.0, found.air_factor
    yield "hydraulics.air_flow.static_Pa", 0.0, found.air_factor**2
    drawn = real.fuel_or_power_W / sound.fuel_or_power_W if sound.fuel_or_power_W > 0.0 else 1.0
    heat = real.heat_W / sound.heat_W
    yield "run.log.gas_volume_standard_m3", 0.0, drawn
    yield "run.log.electric_energy_J", 0.0, drawn
    yield "run.log.condensate_kg", 0.0, heat
    yield "steam.condensate.condensate_kg", 0.0, found.heat_factor  # in a tank of one temperature
    yield "run.warm_up.warm_up_s", 0.0, 1.0 / (found.heat_factor * found.input_factor)
    yield "burner.clocked_high.gas_volume_standard_m3", 0.0, found.input_factor
    yield "burner.first_fire.manifold_gauge_Pa", 0.0, found.input_factor**2
    yield "heater.power.energy_J", 0.0, found.input_factor
    if under.heat == "gas":
        stack_K = gas_rating(real).stack_temperature_K - gas_rating(sound).stack_temperature_K
        yield "burner.combustion_high.stack_temperature_K", stack_K, 1.0


def _range_K(result: SeasonResult) -> float:
    return result.operation.temperature_K - result.operation.tower.rating.water_out_temperature_K

"""How a number came about: for each result its equation, the inputs with their values, and the functions behind it.

The functions lead to their sources through the register, so that a printed number can be followed to a publication.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.balance import LIMIT_HEAT, SeasonResult
from vaporwright.unit.body import Body
from vaporwright.unit.catalogue import COUNTERFLOW, CROSSFLOW
from vaporwright.unit.figures import Figure, Input

_TOWERS = {COUNTERFLOW: "equipment.tower.rate_counterflow", CROSSFLOW: "equipment.crossflow.rate_crossflow"}
_TANK = "equipment.tank.tank_losses"
_HEAT_FUNCTIONS = {
    "gas": "equipment.gas_burner.rate_gas_burner",
    "electric": "equipment.electric_heater.rate_electric_heater",
    "steam": "equipment.steam_coil.rate_steam_coil",
}


def explanations(answer: UnitAnswer, body: Body) -> dict[str, Figure]:
    """Every explained number of an answer by name: those of the JSON output, and what leads to them."""
    found = [*_duty(answer)]
    for result in answer.seasons.values():
        found.extend(_season(answer, result))
    of_body = (
        replace(figure, name=f"{section.key}.{figure.name}") for section in body.sections for figure in section.figures
    )
    return {entry.name: entry for entry in (*found, *of_body)}


def _tower_function(answer: UnitAnswer) -> str:
    return _TOWERS[answer.unit.tower.arrangement]


def _duty(answer: UnitAnswer) -> Iterator[Figure]:
    job, duty = answer.job, answer.job.duty
    yield Figure(
        "duty.required_evaporation_kg_s",
        answer.required_kg_s,
        "evaporation",
        "volume on the calendar x evaporated share / running share; evaporated share = 1 - 1 / concentration factor",
        (
            Input("duty.volume", duty.calendar_volume_m3_s, "volume flow"),
            Input("liquid.concentration_factor", job.number("liquid.concentration_factor"), "ratio"),
            Input("duty.hours_per_day", job.number("duty.hours_per_day"), "hours per day"),
            Input("duty.days_per_week", job.number("duty.days_per_week"), "days per week"),
            Input("duty.availability", job.number("duty.availability"), "fraction"),
        ),
        (),
    )
    yield Figure(
        "duty.share_of_capacity",
        answer.share_of_capacity,
        "fraction",
        f"required evaporation / evaporation in {answer.governing}, the season with the least capacity",
        (
            Input("duty.required_evaporation_kg_s", answer.required_kg_s, "evaporation"),
            Input(f"capacity.{answer.governing}.evaporation_kg_s", answer.capacity_kg_s, "evaporation"),
        ),
        (),
    )


def _season(answer: UnitAnswer, result: SeasonResult) -> Iterator[Figure]:
    stem = f"capacity.{result.season}"
    yield _settling(stem, answer, result)
    yield from _rates(stem, answer, result)
    yield from _heat(stem, answer, result)


def _settling(stem: str, answer: UnitAnswer, result: SeasonResult) -> Figure:
    energy = result.operation.energy
    if result.limit == LIMIT_HEAT:
        equation = (
            "where heat source + pump + feed enthalpy = heat taken by tower air, surface, walls, piping and drift, the "
            "heat source full on"
        )
    else:
        equation = f"clamped by the {result.clamp_part}: the tower would take less than the heat source gives below it"
    return Figure(
        f"{stem}.settling_temperature_K",
        result.settling_temperature_K,
        "temperature",
        equation,
        (
            Input(f"{stem}.heat_W", result.heat_W, "heat"),
            Input("pump heat", energy.pump_W, "heat"),
            Input("feed enthalpy above 0 degC", energy.feed_enthalpy_W, "heat"),
            Input(f"{stem}.tower_air_W", energy.tower_air_W, "heat"),
            Input("vapour of the tank surface", energy.surface_vapour_W, "heat"),
            Input("convection and radiation of the surface", energy.surface_dry_W, "heat"),
            Input("lid, walls and floor", energy.walls_W, "heat"),
            Input("piping", energy.piping_W, "heat"),
            Input("drift", energy.drift_W, "heat"),
            Input("clamp", result.clamp_K, "temperature"),
        ),
        (_tower_function(answer), _TANK, "equipment.tank_walls.pipe_loss"),
    )


def _rates(stem: str, answer: UnitAnswer, result: SeasonResult) -> Iterator[Figure]:
    operation, tower, air = result.operation, result.operation.tower, result.conditions.air
    count = answer.unit.towers
    yield Figure(
        f"{stem}.evaporation_kg_s",
        operation.evaporation_kg_s,
        "evaporation",
        "tower + tank surface, at the settling temperature",
        (
            Input(f"{stem}.tower_evaporation_kg_s", operation.tower_evaporation_kg_s, "evaporation"),
            Input(f"{stem}.surface_evaporation_kg_s", operation.surface_evaporation_kg_s, "evaporation"),
        ),
        (_tower_function(answer), _TANK),
    )
    yield Figure(
        f"{stem}.tower_evaporation_kg_s",
        operation.tower_evaporation_kg_s,
        "evaporation",
        "towers x dry air flow x (humidity ratio out - in), Poppe's equations through the fill",
        (
            Input("towers", float(count), "count"),
            Input("spray temperature (tank)", operation.temperature_K, "temperature"),
            Input("spray flow of one tower", tower.water_flow_kg_s, "mass flow"),
            Input(f"{stem}.dry_air_flow_kg_s", tower.dry_air_flow_kg_s, "mass flow"),
            Input("air into the fill", tower.air_in_temperature_K, "temperature"),
            Input("humidity ratio in", tower.air_in_humidity_ratio_kg_kg, "humidity ratio"),
            Input("humidity ratio out", tower.rating.air_out_humidity_ratio_kg_kg, "humidity ratio"),
            Input(f"{stem}.merkel_number", tower.merkel_number, "ratio"),
            Input("water activity of the liquor", operation.water_activity, "ratio"),
            Input("liquor's heat capacity over water's", operation.heat_capacity_share, "ratio"),
            Input("site pressure", result.conditions.pressure_Pa, "absolute pressure"),
        ),
        (_tower_function(answer), "properties.liquor.water_activity", "properties.liquor.heat_capacity_J_kgK"),
    )
    fill = answer.unit.tower.fill
    yield Figure(
        f"{stem}.merkel_number",
        tower.merkel_number,
        "ratio",
        "Me = c (L/G)^n, the fill's own test law by Poppe's model (shop catalogue)",
        (
            Input("c", fill.merkel_coefficient, "ratio"),
            Input("n", fill.merkel_exponent, "ratio"),
            Input("L/G, water over dry air", tower.water_to_air_ratio, "ratio"),
        ),
        ("equipment.fill_test.poppe_merkel_number",),
    )
    yield Figure(
        f"{stem}.dry_air_flow_kg_s",
        tower.dry_air_flow_kg_s,
        "mass flow",
        "where the blower's static pressure meets fill, eliminator and duct; dry air in the flow handled",
        (
            Input("blower flow", tower.blower_flow_m3_s, "air flow"),
            Input("static pressure there", tower.blower_static_pressure_Pa, "pressure"),
            Input("face velocity in the fill", tower.face_velocity_m_s, "velocity"),
            Input("water loading", tower.water_loading_kg_s_m2, "water loading"),
        ),
        ("equipment.blower.blower_operating_flow_m3_s", "properties.moist_air.specific_volume_m3_kg"),
    )
    yield Figure(
        f"{stem}.surface_evaporation_kg_s",
        operation.surface_evaporation_kg_s,
        "evaporation",
        "open share of the tank's surface x natural and forced transfer of vapour, skin cooler than the bulk",
        (
            Input("tank surface", answer.unit.tank.length_m * answer.unit.tank.width_m, "area"),
            Input("choices.lid_covered", result.conditions.lid_fraction, "fraction"),
            Input("tank temperature", operation.temperature_K, "temperature"),
            Input("air over the tank", air.temperature_K, "temperature"),
            Input("air speed", result.conditions.air_speed_m_s, "velocity"),
        ),
        (_TANK,),
    )


def _heat(stem: str, answer: UnitAnswer, result: SeasonResult) -> Iterator[Figure]:
    heat = result.heat
    functions = (_HEAT_FUNCTIONS[heat.kind],)
    yield Figure(
        f"{stem}.heat_W",
        result.heat_W,
        "heat",
        "heat source at full output in a bath of this temperature x load",
        (
            Input("full output", heat.heat_W, "heat"),
            Input("load", result.load, "fraction"),
            Input("limited by", heat.limit, "text"),
        ),
        functions,
    )
    yield Figure(
        f"{stem}.fuel_or_power_W",
        result.fuel_or_power_W,
        "heat",
        {
            "gas": "gross input of the burner; heat / gross efficiency, which follows from the stack temperature",
            "electric": "electric power of the heater; all of it enters the bath",
            "steam": "heat of the steam condensed",
        }[heat.kind],
        (Input(f"{stem}.heat_W", result.heat_W, "heat"), Input("efficiency", heat.efficiency, "fraction")),
        functions,
    )
    energy = result.operation.energy
    yield Figure(
        f"{stem}.tower_air_W",
        energy.tower_air_W,
        "heat",
        "towers x dry air flow x (enthalpy out - in)",
        (
            Input(f"{stem}.dry_air_flow_kg_s", result.operation.tower.dry_air_flow_kg_s, "mass flow"),
            Input("air out of the fill", result.operation.tower.rating.air_out_temperature_K, "temperature"),
            Input("humidity ratio out", result.operation.tower.rating.air_out_humidity_ratio_kg_kg, "humidity ratio"),
        ),
        (_tower_function(answer), "properties.moist_air.enthalpy_J_kg"),
    )

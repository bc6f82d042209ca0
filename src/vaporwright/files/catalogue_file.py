"""Reading of catalogue files: the shop's own towers, blowers, tanks, heat sources and pumps, checked at the door.

Every fault is one InputError that names the file, the part by its id, the key, the value and what is allowed.
Fill-test readings are kept as raw readings, only turned into SI and mass flows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import resources
from pathlib import Path
from typing import Any, Final, TypeVar

from vaporwright.equipment.pump import PumpCurve
from vaporwright.files import catalogue_keys as keys
from vaporwright.files.catalogue_practice import practice_of
from vaporwright.files.catalogue_values import Place, Values, one_value, table_of, values_of
from vaporwright.files.values import parse_toml, read_toml, typed_text, unknown_key
from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.properties.moist_air import (
    humidity_ratio_from_wet_bulb_kg_kg,
    humidity_ratio_kg_kg,
    specific_volume_m3_kg,
)
from vaporwright.properties.water_films import liquid_film
from vaporwright.unit.catalogue import (
    COUNTERFLOW,
    BlowerPart,
    Catalogue,
    ElectricHeaterPart,
    Fill,
    FillTestPoint,
    GasBurnerPart,
    HeatSourcePart,
    PumpPart,
    SteamCoilPart,
    TankPart,
    TowerPart,
)

DEMO_CATALOGUE: Final = "demo_catalogue.toml"
_KINDS: Final = ("tower", "blower", "tank", "gas_burner", "electric_heater", "steam_coil", "pump")
Part = TypeVar("Part")


def read_catalogue_file(path: Path | str | None = None) -> Catalogue:
    """Read and check a catalogue file; None reads the invented demo catalogue.

    Raises: InputError with file, part, key, the value as typed and what is allowed.
    """
    if path is None:
        where = "demo catalogue"
        text = resources.files("vaporwright.files").joinpath("data", DEMO_CATALOGUE).read_text(encoding="utf-8")
        return _catalogue(parse_toml(text, where), where)
    return _catalogue(read_toml(Path(path))[1], str(path))


def _catalogue(tables: Mapping[str, Any], where: str) -> Catalogue:
    for name in tables:
        if name not in ("catalogue", "practice", *_KINDS):
            raise unknown_key(where, name, ("catalogue", "practice", *_KINDS))
    head = values_of(table_of(tables, "catalogue", Place(where, "")), keys.CATALOGUE_KEYS, Place(where, "catalogue"))
    blowers = _parts(tables, "blower", where, _blower)
    heat_sources: dict[str, HeatSourcePart] = {}
    readers: dict[str, Callable[[Mapping[str, Any], Place], HeatSourcePart]] = {
        "gas_burner": _gas_burner,
        "electric_heater": _electric_heater,
        "steam_coil": _steam_coil,
    }
    for kind, reader in readers.items():
        for part_id, part in _parts(tables, kind, where, reader).items():
            if part_id in heat_sources:
                raise Place(where, f"{kind} {part_id}").error("id", "another heat source has it", "an id of its own")
            heat_sources[part_id] = part
    return Catalogue(
        name=head["name"],
        invented=bool(head.get("invented", 0.0)),
        towers=_parts(tables, "tower", where, lambda table, place: _tower(table, place, blowers)),
        blowers=blowers,
        tanks=_parts(tables, "tank", where, _tank),
        heat_sources=heat_sources,
        pumps=_parts(tables, "pump", where, _pump),
        practice=practice_of(tables.get("practice", {}), where),
    )


def _parts(
    tables: Mapping[str, Any], kind: str, where: str, reader: Callable[[Mapping[str, Any], Place], Part]
) -> dict[str, Part]:
    entries = tables.get(kind, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise InputError(where, kind, f"{typed_text(entries)} stands where parts belong", f"tables [[{kind}]]")
    parts: dict[str, Part] = {}
    for number, entry in enumerate(entries, 1):
        part_id = entry.get("id")
        if not isinstance(part_id, str) or not part_id.strip():
            shown = "missing" if part_id is None else f"{typed_text(part_id)} is not an id"
            raise Place(where, f"{kind} number {number}").error("id", shown, 'a short text such as "T6"')
        place = Place(where, f"{kind} {part_id}")
        if part_id in parts:
            raise place.error("id", f"another {kind} has it", "an id of its own")
        parts[part_id] = reader(entry, place)
    return parts


def _tower(table: Mapping[str, Any], place: Place, blowers: Mapping[str, BlowerPart]) -> TowerPart:
    values = values_of(table, keys.TOWER_KEYS, place, ("fill", "temperature_limits", "materials"))
    if values["blower"] not in blowers:
        allowed = "one of " + ", ".join(blowers) if blowers else "a blower of this file"
        raise place.error("blower", f'"{values["blower"]}" is not in this catalogue', allowed)
    limits = _temperature_limits(table_of(table, "temperature_limits", place), place)
    rated = values["rated_water_loading"]
    fill = _fill(table_of(table, "fill", place), Place(place.where, f"{place.label}: fill"), rated)
    if not fill.least_water_loading_kg_s_m2 <= rated <= fill.most_water_loading_kg_s_m2:
        raise place.error(
            "rated_water_loading",
            f"{typed_text(table['rated_water_loading'])} is outside the fill's water window",
            "between fill.least_water_loading and fill.most_water_loading",
        )
    return TowerPart(
        part_id=values["id"],
        name=values["name"],
        fill=fill,
        blower_id=values["blower"],
        blower_after_fill=values["blower_position"] == "after fill",
        rated_water_loading_kg_s_m2=rated,
        other_loss_velocity_heads=values["other_loss"],
        drift_fraction=values["drift"],
        temperature_limits_K=limits,
        materials=_materials(table.get("materials", {}), place),
        nozzles=round(values["nozzles"]),
        nozzle_gauge_pressure_Pa=values["nozzle_pressure"],
        nozzle_passage_m=values["nozzle_passage"],
        sump_bottom_m=values["sump_bottom"],
        sump_depth_m=values["sump_depth"],
        mass_kg=values["mass"],
        floor_area_m2=values["floor_area"],
        arrangement=values.get("arrangement") or COUNTERFLOW,
    )


def _temperature_limits(table: Mapping[str, Any], place: Place) -> tuple[tuple[str, float], ...]:
    place = Place(place.where, f"{place.label}: temperature_limits")
    for name in table:
        if name not in keys.LIMITED_PARTS:
            fault = unknown_key(place.where, name, keys.LIMITED_PARTS)
            raise place.error(name, fault.problem, fault.allowed)
    if "fill" not in table:
        raise place.error("fill", "missing: highest temperature of the fill")
    return tuple((name, one_value(raw, keys.TEMPERATURE_LIMIT, place, name)) for name, raw in table.items())


def _materials(table: object, place: Place) -> tuple[tuple[str, str], ...]:
    place = Place(place.where, f"{place.label}: materials")
    if not isinstance(table, dict):
        raise place.error("", f"{typed_text(table)} stands where a table belongs", "a table [tower.materials]")
    for name in table:
        if name not in keys.LIMITED_PARTS:
            fault = unknown_key(place.where, name, keys.LIMITED_PARTS)
            raise place.error(name, fault.problem, fault.allowed)
    return tuple((name, one_value(raw, keys.PART_MATERIAL, place, name)) for name, raw in table.items())


def _fill(table: Mapping[str, Any], place: Place, rated_loading_kg_s_m2: float) -> Fill:
    values = values_of(table, keys.FILL_KEYS, place, ("test_point",))
    raw_points = table.get("test_point", [])
    if not isinstance(raw_points, list) or not all(isinstance(entry, dict) for entry in raw_points):
        raise place.error("test_point", "is not a list of tables", "tables [[tower.fill.test_point]]")
    points = tuple(
        _test_point(entry, Place(place.where, f"{place.label}.test_point {number}"))
        for number, entry in enumerate(raw_points, 1)
    )
    ratios = [point.water_flow_kg_s / point.dry_air_flow_kg_s for point in points]
    waters = [point.water_in_temperature_K for point in points]
    for name in ("tested_ratio_low", "tested_ratio_high", "tested_water_high"):
        if not points and name not in values:
            raise place.error(name, "missing, and there are no test points that it could follow from")
    low = values.get("tested_ratio_low", min(ratios, default=0.0))
    high = values.get("tested_ratio_high", max(ratios, default=0.0))
    if low > high:
        raise place.error("tested_ratio_high", f"{high:g} is below tested_ratio_low {low:g}", "the range's upper end")
    if values["least_water_loading"] >= values["most_water_loading"]:
        raise place.error(
            "most_water_loading",
            f"{typed_text(table['most_water_loading'])} is not above least_water_loading "
            f"{typed_text(table['least_water_loading'])}",
            "the water window from least to most",
        )
    if values["loss_at_rated_loading"] < values["loss_dry"]:
        raise place.error(
            "loss_at_rated_loading",
            f"{typed_text(table['loss_at_rated_loading'])} is below loss_dry {typed_text(table['loss_dry'])}",
            "at least the loss of the dry fill: water only adds to it",
        )
    return Fill(
        area_m2=values["area"],
        depth_m=values["depth"],
        merkel_coefficient=values["merkel_coefficient"],
        merkel_exponent=values["merkel_exponent"],
        model=values["model"],
        tested_ratio_low=low,
        tested_ratio_high=high,
        tested_water_high_K=values.get("tested_water_high", max(waters, default=0.0)),
        loss_velocity_heads=values["loss_dry"],
        loss_velocity_heads_per_loading=(values["loss_at_rated_loading"] - values["loss_dry"]) / rated_loading_kg_s_m2,
        least_water_loading_kg_s_m2=values["least_water_loading"],
        most_water_loading_kg_s_m2=values["most_water_loading"],
        flooding_air_velocity_m_s=values["flooding_air_velocity"],
        test_points=points,
    )


def _test_point(table: Mapping[str, Any], place: Place) -> FillTestPoint:
    """A raw reading in SI: volume flows to mass flows at the state in which they were metered."""
    values = values_of(table, keys.TEST_POINT_KEYS, place)
    if values["water_out"] >= values["water_in"]:
        raise place.error(
            "water_out",
            f"{typed_text(table['water_out'])} is not below water_in {typed_text(table['water_in'])}",
            "a fill test cools the water",
        )
    if ("wet_bulb" in values) == ("relative_humidity" in values):
        raise place.error("wet_bulb", "one of wet_bulb and relative_humidity is needed, and only one")
    if values.get("wet_bulb", 0.0) > values["air_temperature"]:
        raise place.error(
            "wet_bulb",
            f"{typed_text(table['wet_bulb'])} is above air_temperature {typed_text(table['air_temperature'])}",
            "at most the air temperature",
        )
    air_K, pressure = values["air_temperature"], values["barometer"]
    try:
        if "wet_bulb" in values:
            humidity = humidity_ratio_from_wet_bulb_kg_kg(air_K, values["wet_bulb"], pressure)
        else:
            humidity = humidity_ratio_kg_kg(air_K, values["relative_humidity"], pressure)
        dry_air = values["air_flow"] / specific_volume_m3_kg(air_K, humidity, pressure)
    except VaporwrightError as error:
        raise place.error("air_temperature", f"no such air: {error}") from None
    return FillTestPoint(
        water_in_temperature_K=values["water_in"],
        water_out_temperature_K=values["water_out"],
        water_flow_kg_s=values["water_flow"] * liquid_film(values["water_in"]).density_kg_m3,
        air_temperature_K=air_K,
        air_humidity_ratio_kg_kg=humidity,
        dry_air_flow_kg_s=dry_air,
        pressure_Pa=pressure,
    )


def _blower(table: Mapping[str, Any], place: Place) -> BlowerPart:
    values = values_of(table, keys.BLOWER_KEYS, place)
    flows, pressures, powers = values["flow"], values["static_pressure"], values["shaft_power"]
    if len(flows) < 3:
        raise place.error("flow", f"the curve has {len(flows)} points", "at least 3")
    for name, column in (("static_pressure", pressures), ("shaft_power", powers)):
        if len(column) != len(flows):
            raise place.error(name, f"has {len(column)} points", f"as many as flow, {len(flows)}")
    for number in range(1, len(flows)):
        typed = typed_text(table["flow"][number])
        if flows[number] <= flows[number - 1]:
            raise place.error("flow", f"{typed} at point {number + 1} is not above the one before", "rising flows")
        if pressures[number] >= pressures[number - 1]:
            typed = typed_text(table["static_pressure"][number])
            raise place.error(
                "static_pressure",
                f"{typed} at point {number + 1} is not below the one before",
                "falling pressures; leave out the curve's stall side, left of its peak",
            )
    return BlowerPart(
        part_id=values["id"],
        name=values["name"],
        flow_m3_s=flows,
        static_pressure_Pa=pressures,
        shaft_power_W=powers,
        density_kg_m3=values["density"],
        motor_efficiency=values["motor_efficiency"],
        motor_rating_W=values["motor_rating"],
    )


def _tank(table: Mapping[str, Any], place: Place) -> TankPart:
    values = values_of(table, keys.TANK_KEYS, place)
    if values["working_depth"] >= values["height"]:
        raise place.error(
            "working_depth",
            f"{typed_text(table['working_depth'])} is not below height {typed_text(table['height'])}",
            "freeboard above the liquid",
        )
    return TankPart(
        part_id=values["id"],
        name=values["name"],
        material=values["material"],
        length_m=values["length"],
        width_m=values["width"],
        height_m=values["height"],
        working_depth_m=values["working_depth"],
        wall_thickness_m=values["wall_thickness"],
        wall_conductivity_W_mK=values["wall_conductivity"],
        insulation_thickness_m=values["insulation_thickness"],
        insulation_conductivity_W_mK=values["insulation_conductivity"],
        temperature_limit_K=values["temperature_limit"],
        standing_height_m=values["standing_height"],
        suction_mouth_m=values["suction_mouth"],
        drain_bore_m=values["drain_bore"],
        overflow_bore_m=values["overflow_bore"],
    )


def _require_tube(table: Mapping[str, Any], values: Values, place: Place) -> None:
    if 2.0 * values["tube_wall_thickness"] >= 0.9 * values["tube_outer_diameter"]:
        raise place.error(
            "tube_wall_thickness",
            f"{typed_text(table['tube_wall_thickness'])} leaves no bore in a tube of "
            f"{typed_text(table['tube_outer_diameter'])}",
            "well under half the outer diameter",
        )


def _gas_burner(table: Mapping[str, Any], place: Place) -> GasBurnerPart:
    values = values_of(table, keys.GAS_BURNER_KEYS, place)
    _require_tube(table, values, place)
    if not values["fuels"]:
        raise place.error("fuels", "is empty", "at least one fuel")
    if values["least_input"] > values["gross_input"]:
        raise place.error(
            "least_input",
            f"{typed_text(table['least_input'])} is above gross_input {typed_text(table['gross_input'])}",
            "at most the rated input",
        )
    if values["tube_length"] < 1.25 * values["flame_length"]:
        raise place.error(
            "flame_length",
            f"{typed_text(table['flame_length'])} does not end inside the tube of {typed_text(table['tube_length'])}",
            "at most 0.8 of tube_length",
        )
    low, high = values["train_lowest_pressure"], values["train_highest_pressure"]
    if not values["manifold_pressure"] <= low < high:
        raise place.error(
            "train_lowest_pressure",
            f"{typed_text(table['train_lowest_pressure'])} lies outside manifold_pressure "
            f"{typed_text(table['manifold_pressure'])} to train_highest_pressure "
            f"{typed_text(table['train_highest_pressure'])}",
            "between the two",
        )
    return GasBurnerPart(
        part_id=values["id"],
        name=values["name"],
        fuels=values["fuels"],
        gross_input_W=values["gross_input"],
        least_input_W=values["least_input"],
        fan_assisted=bool(values["fan_assisted"]),
        height_m=values["height"],
        tube_material=values["tube_material"],
        tube_outer_diameter_m=values["tube_outer_diameter"],
        tube_wall_thickness_m=values["tube_wall_thickness"],
        tube_length_m=values["tube_length"],
        tube_conductivity_W_mK=values["tube_conductivity"],
        tube_emissivity=values["tube_emissivity"],
        flame_length_m=values["flame_length"],
        blower_power_W=values["blower_power"],
        train_lowest_gauge_Pa=values["train_lowest_pressure"],
        train_highest_gauge_Pa=values["train_highest_pressure"],
        manifold_gauge_Pa=values["manifold_pressure"],
        flue_diameter_m=values["flue_diameter"],
        mass_kg=values["mass"],
    )


def _electric_heater(table: Mapping[str, Any], place: Place) -> ElectricHeaterPart:
    values = values_of(table, keys.ELECTRIC_HEATER_KEYS, place)
    if values["phases"] == 2.0:
        raise place.error("phases", "2 phases are no supply", "1 or 3")
    return ElectricHeaterPart(
        part_id=values["id"],
        name=values["name"],
        rated_power_W=values["rated_power"],
        rated_voltage_V=values["rated_voltage"],
        phases=round(values["phases"]),
        height_m=values["height"],
        sheath_material=values["sheath_material"],
        sheath_area_m2=values["sheath_area"],
        sheath_diameter_m=values["sheath_diameter"],
        circuits=round(values["circuits"]),
        mass_kg=values["mass"],
    )


def _steam_coil(table: Mapping[str, Any], place: Place) -> SteamCoilPart:
    values = values_of(table, keys.STEAM_COIL_KEYS, place)
    _require_tube(table, values, place)
    return SteamCoilPart(
        part_id=values["id"],
        name=values["name"],
        material=values["material"],
        height_m=values["height"],
        tube_outer_diameter_m=values["tube_outer_diameter"],
        tube_wall_thickness_m=values["tube_wall_thickness"],
        wall_conductivity_W_mK=values["wall_conductivity"],
        tube_length_m=values["tube_length"],
        parallel_tubes=round(values["parallel_tubes"]),
        highest_gauge_pressure_Pa=values["highest_pressure"],
        mass_kg=values["mass"],
    )


def _pump(table: Mapping[str, Any], place: Place) -> PumpPart:
    values = values_of(table, keys.PUMP_KEYS, place)
    try:
        curve = PumpCurve(
            values["curve_flow"], values["curve_head"], values["curve_shaft_power"], values["curve_npsh_required"]
        )
    except InputError as error:
        key = error.key.rsplit("_m3_s" if error.key.startswith("flow") else "_", 1)[0]
        raise place.error(f"curve_{key}", error.problem, error.allowed) from error
    if not curve.flow_m3_s[0] <= values["flow"] <= curve.flow_m3_s[-1]:
        raise place.error("flow", f"{typed_text(table['flow'])} lies outside the curve", "a flow within curve_flow")
    return PumpPart(
        part_id=values["id"],
        name=values["name"],
        flow_m3_s=values["flow"],
        curve=curve,
        motor_efficiency=values["motor_efficiency"],
        motor_rating_W=values["motor_rating"],
        centre_height_m=values["centre_height"],
        strainer_hole_m=values["strainer_hole"],
        strainer_loss_Pa=values["strainer_loss"],
        mass_kg=values["mass"],
    )

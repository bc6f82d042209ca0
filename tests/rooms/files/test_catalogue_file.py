"""Catalogue files: the demo one is whole and consistent; each fault has one clear message."""

import math
from importlib import resources
from pathlib import Path

import pytest

from vaporwright.equipment.fill_test import poppe_merkel_number
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError
from vaporwright.unit.catalogue import Catalogue, GasBurnerPart
from vaporwright.unit.practice import ShopPractice

SMALL = """
[catalogue]
name = "test shop"
invented = true

[[blower]]
id = "B"
name = "a blower"
flow = ["0 cfm", "1000 cfm", "2000 cfm"]
static_pressure = ["3 inH2O", "2 inH2O", "0 inH2O"]
shaft_power = ["0.5 hp", "1 hp", "1.2 hp"]
density = "0.075 lb/ft3"
motor_efficiency = "85 %"
motor_rating = "1.5 hp"

[[tower]]
id = "T"
name = "a tower"
blower = "B"
blower_position = "before fill"
rated_water_loading = "8 gal/min/ft2"
other_loss = 75
drift = "0.02 %"
nozzles = 4
nozzle_pressure = "5 psi"
nozzle_passage = "0.3 in"
sump_bottom = "4.5 ft"
sump_depth = "6 in"
mass = "340 lb"
floor_area = "6 ft2"
[tower.temperature_limits]
fill = "165 degF"
header = "180 degF"
[tower.fill]
area = "4 ft2"
depth = "2 ft"
model = "poppe"
merkel_coefficient = 0.35
merkel_exponent = -0.6
loss_dry = 80
loss_at_rated_loading = 135
least_water_loading = "4 gal/min/ft2"
most_water_loading = "12 gal/min/ft2"
flooding_air_velocity = "640 ft/min"
[[tower.fill.test_point]]
water_in = "110 degF"
water_out = "100 degF"
water_flow = "30 gal/min"
air_temperature = "75 degF"
wet_bulb = "62 degF"
air_flow = "1400 cfm"
barometer = "29.4 inHg"

[[tank]]
id = "K"
name = "a tank"
material = "316 stainless"
length = "5 ft"
width = "3 ft"
height = "3.5 ft"
working_depth = "2.4 ft"
wall_thickness = "0.109 in"
wall_conductivity = "16 W/m/K"
insulation_thickness = "2 in"
insulation_conductivity = "0.04 W/m/K"
temperature_limit = "208 degF"
standing_height = "4 in"
suction_mouth = "4.7 in"
drain_bore = "1.5 in"
overflow_bore = "3 in"

[[gas_burner]]
id = "G"
name = "a burner"
fuels = ["natural gas"]
gross_input = "250000 Btu/h"
least_input = "125000 Btu/h"
fan_assisted = true
height = "8 in"
tube_material = "316 stainless"
tube_outer_diameter = "4.5 in"
tube_wall_thickness = "0.12 in"
tube_length = "34 ft"
tube_conductivity = "16 W/m/K"
tube_emissivity = 0.85
flame_length = "4.3 ft"
blower_power = "0.2 kW"
train_lowest_pressure = "4.5 inH2O"
train_highest_pressure = "14 inH2O"
manifold_pressure = "3.5 inH2O"
flue_diameter = "4 in"
mass = "150 lb"

[[electric_heater]]
id = "E"
name = "a heater"
rated_power = "36 kW"
rated_voltage = "480 V"
phases = 3
height = "8 in"
sheath_material = "316 stainless"
sheath_area = "17.9 ft2"
sheath_diameter = "0.475 in"
circuits = 2
mass = "80 lb"

[[steam_coil]]
id = "S"
name = "a coil"
height = "12 in"
material = "titanium"
tube_outer_diameter = "1 in"
tube_wall_thickness = "0.049 in"
wall_conductivity = "17 W/m/K"
tube_length = "107 ft"
parallel_tubes = 6
highest_pressure = "100 psi"
mass = "55 lb"

[[pump]]
id = "P"
name = "a pump"
flow = "50 gal/min"
curve_flow = ["0 gal/min", "25 gal/min", "50 gal/min", "65 gal/min", "80 gal/min"]
curve_head = ["54 ft", "50 ft", "40 ft", "31.2 ft", "20 ft"]
curve_shaft_power = ["0.556 hp", "0.788 hp", "1.010 hp", "1.131 hp", "1.212 hp"]
curve_npsh_required = ["3 ft", "3.5 ft", "5 ft", "7 ft", "10 ft"]
motor_efficiency = "84 %"
motor_rating = "1.5 hp"
centre_height = "8 in"
strainer_hole = "0.125 in"
strainer_loss = "8 inH2O"
mass = "95 lb"
"""


@pytest.fixture(scope="module")
def demo() -> Catalogue:
    return read_catalogue_file()


def read(folder: Path, text: str) -> Catalogue:
    path = folder / "ours.toml"
    path.write_text(text, encoding="utf-8")
    return read_catalogue_file(path)


def test_a_small_catalogue_in_si(tmp_path: Path) -> None:
    catalogue = read(tmp_path, SMALL)
    tower = catalogue.towers["T"]
    assert catalogue.name == "test shop"
    assert catalogue.invented
    assert tower.fill.area_m2 == pytest.approx(4 * 0.3048**2)
    assert tower.rated_water_loading_kg_s_m2 == pytest.approx(8 * 3.785411784e-3 / 60 / 0.3048**2 * 998.2)
    heads = tower.fill.loss_velocity_heads + tower.fill.loss_velocity_heads_per_loading * (
        tower.rated_water_loading_kg_s_m2
    )
    assert heads == pytest.approx(135.0)
    assert dict(tower.temperature_limits_K)["fill"] == pytest.approx(347.0389, abs=1e-3)
    assert not tower.blower_after_fill
    assert catalogue.heat_sources.keys() == {"G", "E", "S"}
    assert catalogue.heat_sources["E"].phases == 3  # type: ignore[union-attr]
    assert catalogue.pumps["P"].flow_m3_s == pytest.approx(50 * 3.785411784e-3 / 60)
    assert catalogue.blowers["B"].static_pressure_Pa[1] == pytest.approx(2 * 249.08891)


def test_a_test_point_turns_into_mass_flows(tmp_path: Path) -> None:
    (point,) = read(tmp_path, SMALL).towers["T"].fill.test_points
    # water of 110 degF: 991.0 kg/m3 (steam tables); air of 75 / 62 degF at 29.4 inHg: humidity ratio 0.0092
    # and 13.9 ft3 per lb of dry air by the psychrometric chart, read to about half a per cent
    assert point.water_flow_kg_s == pytest.approx(30 * 3.785411784e-3 / 60 * 991.0, rel=2e-4)
    assert point.air_humidity_ratio_kg_kg == pytest.approx(0.0092, rel=0.02)
    assert point.dry_air_flow_kg_s == pytest.approx(1400 / 60 / 13.9 * 0.45359237, rel=0.005)
    assert point.pressure_Pa == pytest.approx(29.4 * 3386.389)
    fill = read(tmp_path, SMALL).towers["T"].fill
    assert fill.tested_ratio_low == fill.tested_ratio_high
    assert fill.tested_ratio_low == pytest.approx(point.water_flow_kg_s / point.dry_air_flow_kg_s)
    assert fill.tested_water_high_K == point.water_in_temperature_K


@pytest.mark.parametrize(
    ("old", "new", "key", "problem", "allowed"),
    [
        ("[[tower]]", "[[towers]]", "", "unknown key; nearest valid key: tower", ""),
        ('name = "test shop"', "", "catalogue: name", "missing: Name of the catalogue", ""),
        ('area = "4 ft2"', 'areas = "4 ft2"', "tower T: fill: areas", "unknown key; nearest valid key: area", ""),
        ('area = "4 ft2"', "", "tower T: fill: area", "missing: Face area of the fill", ""),
        ('area = "4 ft2"', 'area = "-4 ft2"', "tower T: fill: area", '"-4 ft2" is too low', "ft2"),
        ('area = "4 ft2"', 'area = "4 ft"', "tower T: fill: area", '"4 ft" is a length; an area is meant', '"6 ft2"'),
        ('area = "4 ft2"', "area = 4", "tower T: fill: area", "4 has no unit", '"6 ft2"'),
        ('"poppe"', '"poppé"', "tower T: fill: model", '"poppé" is not among the choices', '"poppe" or "merkel"'),
        ("= -0.6", "= 0.6", "tower T: fill: merkel_exponent", '"0.6" is too high', "-2 to -0.01"),
        ('id = "T"', "", "tower number 1: id", "missing", '"T6"'),
        ('id = "T"', "id = 6", "tower number 1: id", "6 is not an id", '"T6"'),
        ('blower = "B"', 'blower = "X"', "tower T: blower", '"X" is not in this catalogue', "one of B"),
        ('"before fill"', '"beside"', "tower T: blower_position", '"beside" is not among', '"before fill" or'),
        ('fill = "165 degF"', "", "tower T: temperature_limits: fill", "missing", ""),
        (
            'fill = "165 degF"',
            'fil = "165 degF"',
            "tower T: temperature_limits: fil",
            "unknown key; nearest valid key: fill",
            "",
        ),
        ('fill = "165 degF"', 'fill = "165 degC"', "tower T: temperature_limits: fill", "is too high", "150 degC"),
        (
            'least_water_loading = "4',
            'least_water_loading = "14',
            "tower T: fill: most_water_loading",
            '"12 gal/min/ft2" is not above least_water_loading "14 gal/min/ft2"',
            "the water window",
        ),
        (
            'rated_water_loading = "8',
            'rated_water_loading = "13',
            "tower T: rated_water_loading",
            "outside the fill's water window",
            "between",
        ),
        ("= 135", "= 70", "tower T: fill: loss_at_rated_loading", "70 is below loss_dry 80", "dry fill"),
        ('"100 degF"', '"110 degF"', "tower T: fill.test_point 1: water_out", "is not below water_in", "cools"),
        ('"62 degF"', '"76 degF"', "tower T: fill.test_point 1: wet_bulb", "is above air_temperature", "at most"),
        ('wet_bulb = "62 degF"', "", "tower T: fill.test_point 1: wet_bulb", "one of wet_bulb and", ""),
        ('"29.4 inHg"', '"29.4 psi"', "tower T: fill.test_point 1: barometer", "write psia", '"100 kPa"'),
        ('"2000 cfm"]', '"900 cfm"]', "blower B: flow", '"900 cfm" at point 3 is not above', "rising"),
        ('"2 inH2O", "0', '"3 inH2O", "0', "blower B: static_pressure", '"3 inH2O" at point 2 is not below', "falling"),
        ('"3 inH2O", ', "", "blower B: static_pressure", "has 2 points", "as many as flow, 3"),
        ('flow = ["0 cfm", "1000 cfm", "2000 cfm"]', "flow = []", "blower B: flow", "the curve has 0 points", "3"),
        ('flow = ["0 cfm", "1000 cfm", "2000 cfm"]', 'flow = "5 cfm"', "blower B: flow", "is not a list", "brackets"),
        ('"1000 cfm"', '"1000 ft"', "blower B: flow, point 2", '"1000 ft" is a length; an air flow', '"2200 cfm"'),
        ('working_depth = "2.4', 'working_depth = "3.5', "tank K: working_depth", "is not below height", "freeboard"),
        ('"316 stainless"', '"brass"', "tank K: material", '"brass" is not among the choices', '"carbon steel" or'),
        ('"0.12 in"', '"0.12 ft"', "gas_burner G: tube_wall_thickness", "is too high", "ft"),
        ('"0.049 in"', '"0.49 in"', "steam_coil S: tube_wall_thickness", "leaves no bore", "outer diameter"),
        ('"125000 Btu/h"', '"300000 Btu/h"', "gas_burner G: least_input", "is above gross_input", "at most"),
        ('"4.3 ft"', '"30 ft"', "gas_burner G: flame_length", "does not end inside the tube", "0.8 of"),
        ("fan_assisted = true", 'fan_assisted = "y"', "gas_burner G: fan_assisted", "is not a yes or no", "true or"),
        ('["54 ft", "50 ft"', '["54 ft", "56 ft"', "pump P: curve_head", "the curve rises", "heads that fall"),
        ('curve_flow = ["0 gal/min", "25', 'curve_flow = ["0 gal/min", "60', "pump P: curve_flow", "follows", "rise"),
        ('"20 ft"]', '"20 ft", "10 ft"]', "pump P: curve_head", "6 values", "5, one for each flow"),
        ('flow = "50 gal/min"', 'flow = "90 gal/min"', "pump P: flow", "lies outside the curve", "within curve_flow"),
        ('["natural gas"]', "[]", "gas_burner G: fuels", "is empty", "at least one fuel"),
        ('["natural gas"]', '["coal"]', "gas_burner G: fuels", '"coal" is not among', '"natural gas" or'),
        ("phases = 3", "phases = 2", "electric_heater E: phases", "2 phases are no supply", "1 or 3"),
        ("circuits = 2", "circuits = 2.5", "electric_heater E: circuits", "2.5 is not a whole number", ""),
        ('id = "S"', 'id = "E"', "steam_coil E: id", "another heat source has it", "an id of its own"),
        ('"100 psi"', '"100 psia"', "steam_coil S: highest_pressure", "is an absolute pressure", '"15 psi"'),
        ('suction_mouth = "4.7 in"', 'suction_mouth = "-1 in"', "tank K: suction_mouth", "is too low", "in"),
        ("nozzles = 4", "nozzles = 4.5", "tower T: nozzles", "4.5 is not a whole number", ""),
        (
            'train_lowest_pressure = "4.5',
            'train_lowest_pressure = "3',
            "gas_burner G: train_lowest_pressure",
            "lies",
            "",
        ),
        (
            "[catalogue]\n",
            "[practice]\nmost_share_of_capacity = 0.2\n[catalogue]\n",
            "practice: most_share_of_capacity",
            "is too low",
            "0.3 to 1",
        ),
        (
            "[catalogue]\n",
            '[practice.levels]\nrod_cover = "1 in"\n[catalogue]\n',
            "practice.levels: rod_cover",
            "unknown key",
            "",
        ),
        (
            "[tower.temperature_limits]",
            '[tower.materials]\nfill = "oak"\n[tower.temperature_limits]',
            "tower T: materials: fill",
            '"oak" is not among the choices',
            '"polypropylene"',
        ),
        ("[[pump]]", "[pump]", "pump", "stands where parts belong", "tables [[pump]]"),
        ("[catalogue]\n", "[[catalogue]]\n", "catalogue", "stands where a table belongs", "a table [catalogue]"),
    ],
)
def test_each_fault_has_one_clear_message(
    tmp_path: Path, old: str, new: str, key: str, problem: str, allowed: str
) -> None:
    assert SMALL.count(old) >= 1
    with pytest.raises(InputError) as caught:
        read(tmp_path, SMALL.replace(old, new, 1))
    error = caught.value
    assert error.where == str(tmp_path / "ours.toml")
    assert error.key == (key or "towers")
    assert problem in error.problem
    assert allowed in error.allowed
    assert "\n" not in str(error)


def test_two_parts_of_one_id_are_refused(tmp_path: Path) -> None:
    pump = SMALL[SMALL.index("[[pump]]") :]
    with pytest.raises(InputError, match="pump P: id: another pump has it"):
        read(tmp_path, SMALL + pump)


def test_without_test_points_the_tested_range_must_be_stated(tmp_path: Path) -> None:
    start, end = SMALL.index("[[tower.fill.test_point]]"), SMALL.index("[[tank]]")
    without = SMALL[:start] + SMALL[end:]
    with pytest.raises(InputError, match="tower T: fill: tested_ratio_low: missing"):
        read(tmp_path, without)
    stated = 'tested_ratio_low = 1.5\ntested_ratio_high = 4\ntested_water_high = "110 degF"\n\n'
    fill = read(tmp_path, SMALL[:start] + stated + SMALL[end:]).towers["T"].fill
    assert (fill.tested_ratio_low, fill.tested_ratio_high) == (1.5, 4.0)
    with pytest.raises(InputError, match="tested_ratio_high: 1 is below tested_ratio_low"):
        read(tmp_path, SMALL[:start] + stated.replace("high = 4", "high = 1") + SMALL[end:])


def test_an_absent_catalogue_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_catalogue_file(tmp_path / "absent.toml")


def test_the_demo_catalogue_says_that_it_is_invented(demo: Catalogue) -> None:
    text = resources.files("vaporwright.files").joinpath("data", "demo_catalogue.toml").read_text(encoding="utf-8")
    assert text.splitlines()[0].startswith("# Invented demo catalogue")
    assert demo.invented
    assert "invented" in demo.name
    assert len(demo.towers) >= 4
    assert len(demo.tanks) >= 4
    assert len(demo.heat_sources) >= 10
    assert len(demo.pumps) >= 3
    assert any(tower.blower_after_fill for tower in demo.towers.values())


def test_the_demo_fill_laws_are_those_of_their_raw_readings(demo: Catalogue) -> None:
    for tower in demo.towers.values():
        fill = tower.fill
        assert 6 <= len(fill.test_points) <= 9
        assert fill.tested_ratio_low < 1.7
        assert fill.tested_ratio_high > 4.5
        deviations = []
        for point in fill.test_points:
            ratio = point.water_flow_kg_s / point.dry_air_flow_kg_s
            measured = poppe_merkel_number(
                water_in_temperature_K=point.water_in_temperature_K,
                water_out_temperature_K=point.water_out_temperature_K,
                water_flow_kg_s=point.water_flow_kg_s,
                air_temperature_K=point.air_temperature_K,
                air_humidity_ratio_kg_kg=point.air_humidity_ratio_kg_kg,
                dry_air_flow_kg_s=point.dry_air_flow_kg_s,
                pressure_Pa=point.pressure_Pa,
            )
            deviations.append(math.log(measured / (fill.merkel_coefficient * ratio**fill.merkel_exponent)))
            loading = point.water_flow_kg_s / fill.area_m2
            assert fill.least_water_loading_kg_s_m2 < loading < fill.most_water_loading_kg_s_m2
        assert max(map(abs, deviations)) < 0.05
        assert abs(sum(deviations) / len(deviations)) < 1e-3  # the stated law is the fit, to its printed digits


def test_the_demo_parts_go_together(demo: Catalogue) -> None:
    largest_pump = max(pump.flow_m3_s for pump in demo.pumps.values())
    for tower in demo.towers.values():
        blower = demo.blowers[tower.blower_id]
        assert max(blower.shaft_power_W) <= blower.motor_rating_W
        assert min(limit for _, limit in tower.temperature_limits_K) >= 347.0  # 165 degF
        spray = tower.rated_water_loading_kg_s_m2 * tower.fill.area_m2 / 998.2
        assert 1.25 * spray <= largest_pump
    for source in demo.heat_sources.values():
        if isinstance(source, GasBurnerPart):
            assert source.least_input_W < source.gross_input_W
    for pump in demo.pumps.values():
        hydraulic_W = 998.2 * 9.80665 * pump.flow_m3_s * pump.head_m
        assert hydraulic_W / pump.efficiency < pump.motor_rating_W


def test_the_shops_settings_stand_where_it_states_them(tmp_path: Path) -> None:
    settings = """
[practice]
most_share_of_capacity = "75 %"
suction_velocity = "3 ft/s"
least_spray_time = "5 min"

[practice.levels]
heater_cover = "6 in"
floor_tilt = 0.02
"""
    practice = read(tmp_path, SMALL + settings).practice
    assert practice.most_share_of_capacity == pytest.approx(0.75)
    assert practice.suction_velocity_m_s == pytest.approx(3 * 0.3048)
    assert practice.least_spray_time_s == pytest.approx(300.0)
    assert practice.levels.heater_cover_m == pytest.approx(6 * 0.0254)
    assert practice.levels.floor_tilt == pytest.approx(0.02)
    usual = read(tmp_path, SMALL).practice
    assert usual == ShopPractice()
    assert practice.trap_factor == usual.trap_factor

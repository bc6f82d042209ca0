"""Tank, level rods and gravity return against published points, hand work and separate integration."""

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.integrate import quad

from support import verifies
from vaporwright.equipment import gravity_return, tank_volume
from vaporwright.equipment.gravity_return import ReturnPipe, return_in_air, vented_downcomer
from vaporwright.equipment.level_rods import LevelPlan, LevelPractice, level_stack
from vaporwright.equipment.tank_volume import ImmersedBody, SlopedTank
from vaporwright.properties.liquor import Liquor

INCH = 0.0254
GALLON = 231.0 * INCH**3
PAGE = Path(__file__).resolve().parents[2] / "docs" / "physics" / "levels.md"
NPS_3, NPS_4 = 0.077927, 0.102260  # ASME B36.10M, schedule 40: 3.068 in and 4.026 in

# The invented tank that docs/physics/levels.md works by hand.
WORKED = LevelPlan(
    tank=SlopedTank(72 * INCH, 48 * INCH, 40 * INCH, bottom_slope=1.0 / 72.0),
    heater_height_m=6 * INCH,
    heater_volume_m3=1296 * INCH**3,
    start_drawdown_m3=15 * GALLON,
    drain_back_m3=12 * GALLON,
    refill_flow_m3_s=8 * GALLON / 60,
    refill_run_on_s=5.0,
    overflow_capacity_m3_s=10 * GALLON / 60,
    overflow_head_m=1 * INCH,
    make_up_bore_m=1 * INCH,
    expansion_ratio=1.02,
    sludge_depth_m=2 * INCH,
    heater_run_m=48 * INCH,
    overflow_run_m=48 * INCH,
)


def rows_of_page():
    """The worked table: name, sum, height, margin in inches."""
    text = PAGE.read_text(encoding="utf-8").partition("### Worked by hand")[2]
    found = {}
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 7 and re.fullmatch(r"\d+\.\d{4}", cells[3]):
            found[cells[0]] = (cells[2], float(cells[3]), float(cells[5]), float(cells[6]))
    return found


@verifies("equipment.level_rods.level_stack", "equipment.tank_volume.level_after_change_m")
def test_stack_up_worked_by_hand():
    # Each figure typed on the page from its own arithmetic; four decimals of an inch.
    rows = rows_of_page()
    stack = level_stack(WORKED)
    assert stack.conflicts == ()
    assert [mark.name for mark in stack.stack] == list(rows)
    for mark in stack.stack:
        terms, total, height, margin = rows[mark.name]
        assert sum(float(term) for term in terms.split("+")) == pytest.approx(total, abs=1.5e-4)
        assert sum(part.rise_m for part in mark.allowances) / INCH == pytest.approx(total, abs=1e-4), mark.name
        assert mark.height_m / INCH == pytest.approx(height, abs=1e-4), mark.name
        assert mark.margin_m / INCH == pytest.approx(margin, abs=1e-4), mark.name
    assert stack.reference.height_m / INCH == pytest.approx(14.625)
    cuts = [rod.cut_length_m / INCH for rod in stack.rods]
    assert cuts == pytest.approx([25.375, 23.375, 20.875, 18.875, 15.875])


@verifies("equipment.level_rods.level_stack")
def test_stack_up_of_too_low_a_tank():
    # 24.125 in high + 8 in = 32.125 in of wall wanted: 30 in are 2.125 short; the band can shrink from 2 to 1.25 in.
    low = replace(WORKED, tank=replace(WORKED.tank, wall_height_m=30 * INCH))
    (conflict,) = level_stack(low).conflicts
    assert (conflict.mark, conflict.against) == ("rim", "overflow")
    assert conflict.size / INCH == pytest.approx(2.125, abs=1e-4)
    remedies = {remedy.change: remedy for remedy in conflict.remedies}
    assert remedies["a taller tank"].enough
    assert remedies["a smaller refill band"].frees / INCH == pytest.approx(0.75, rel=0.001)
    assert not remedies["a smaller refill band"].enough


@verifies("equipment.level_rods.level_stack")
def test_stack_up_drives_no_rod_into_false_trips():
    # Played through with the tank's plan area alone, worst wave and tips: start at refill-on, stop after a late refill.
    stack = level_stack(WORKED)
    area = WORKED.tank.surface_area_m2
    slop = 0.75 * INCH
    assert stack.mark("refill-on").height_m - 15 * GALLON / area - slop > stack.mark("low").height_m
    added = (12 + 8 / 60 * 5) * GALLON
    held = area * (stack.mark("refill-off").height_m - 0.875 * INCH)
    warm = 1.02 * (held + added) / area + 0.875 * INCH
    assert warm + slop < stack.mark("high").height_m
    spill = stack.mark("high-high").height_m + 12 * GALLON / area + (0.5 + 0.5 + 0.125) * INCH  # wave, tilt, one tip
    assert spill <= stack.mark("overflow").height_m + 1e-9


@verifies("equipment.level_rods.level_stack")
def test_air_gap_of_codes():
    # Twice the bore and at least 1 in, three times near one wall (state and city plumbing codes after ASME A112.1.2).
    def gap(bore_in, bores=2.0):
        plan = replace(WORKED, make_up_bore_m=bore_in * INCH, practice=LevelPractice(air_gap_bores=bores))
        stack = level_stack(plan)
        return (stack.mark("make-up outlet").height_m - stack.mark("rim").height_m) / INCH

    assert gap(1.0) == pytest.approx(2.0)
    assert gap(0.25) == pytest.approx(1.0)
    assert gap(1.0, 3.0) == pytest.approx(3.0)


HEATED = SlopedTank(2.0, 1.0, 0.9, bottom_slope=0.05, immersed=(ImmersedBody(0.2, 0.15, 0.06),))


def free_area(y):
    wedge = min(y / 0.1, 1.0) * 2.0
    return wedge - (0.4 if 0.2 <= y < 0.35 else 0.0)


@verifies("equipment.tank_volume.volume_at_level_m3", "equipment.tank_volume.level_at_volume_m")
@pytest.mark.parametrize("level", [0.0, 0.03, 0.1, 0.15, 0.2, 0.28, 0.35, 0.6, 0.9])
def test_volume_against_the_area_integrated(level):
    volume = quad(free_area, 0.0, level, points=[0.1, 0.2, 0.35], epsabs=1e-12)[0]
    assert tank_volume.volume_at_level_m3(HEATED, level) == pytest.approx(volume, abs=1e-9)
    assert tank_volume.level_at_volume_m(HEATED, volume) == pytest.approx(level, abs=1e-5)


@verifies("equipment.tank_volume.volume_at_level_m3", "equipment.tank_volume.level_after_change_m")
def test_volume_by_hand():
    # 2 m2, bottom rising 0.1 m: at 0.05 m 2 * 0.05^2 / 0.2 = 0.025 m3; at 0.6 m 2 * 0.55 - 0.06 = 1.04 m3.
    assert tank_volume.volume_at_level_m3(HEATED, 0.05) == pytest.approx(0.025, abs=1e-12)
    assert tank_volume.volume_at_level_m3(HEATED, 0.6) == pytest.approx(1.04, abs=1e-12)
    # (1.04 + 0.06) * 1.02 = 1.122 m3 stand at 0.641 m.
    level = tank_volume.level_after_change_m(HEATED, level_m=0.6, added_m3=0.06, expansion_ratio=1.02)
    assert level == pytest.approx(0.641, abs=1e-12)


@verifies("equipment.tank_volume.liquor_expansion_ratio")
def test_expansion_of_water():
    # Handbook densities of water: 999.10 kg/m3 at 15 degC, 980.55 at 65 degC (CRC Handbook, from memory).
    ratio = tank_volume.liquor_expansion_ratio(Liquor(0.0), cold_K=288.15, hot_K=338.15)
    assert ratio == pytest.approx(999.10 / 980.55, abs=5e-5)


@verifies("equipment.tank_volume.drain_time_s")
def test_drain_of_a_pool():
    # Y.A. Cengel, J.M. Cimbala, Fluid Mechanics, chapter 14 review problem: pool of 10 m diameter, 2 m deep, through a
    # pipe of 5 cm and 25 m with f = 0.022: 88,480 s (24.6 h); read in a stored copy. It leaves other losses out; its
    # g is 9.81. A square pool of the same area.
    side = math.sqrt(25.0 * math.pi)
    pool = SlopedTank(side, side, 2.0)
    seconds = tank_volume.drain_time_s(
        pool, from_level_m=2.0, to_level_m=0.0, drain_bore_m=0.05, loss_coefficient=0.022 * 25.0 / 0.05
    )
    assert seconds == pytest.approx(88480.0, rel=3e-4)


@verifies("equipment.tank_volume.drain_time_s")
@pytest.mark.parametrize("drop", [0.0, 0.4])
def test_drain_of_a_sloped_heated_tank_against_an_integral(drop):
    bore, loss = 0.04, 3.0

    def slowness(y):
        return free_area(y) / (math.pi / 4.0 * bore**2 * math.sqrt(2.0 * 9.80665 * (y + drop) / (1.0 + loss)))

    expected = quad(slowness, 0.01, 0.85, points=[0.1, 0.2, 0.35], epsabs=1e-9)[0]
    seconds = tank_volume.drain_time_s(
        HEATED, from_level_m=0.85, to_level_m=0.01, drain_bore_m=bore, loss_coefficient=loss, outlet_drop_m=drop
    )
    assert seconds == pytest.approx(expected, rel=1e-8)


@verifies("equipment.tank_volume.tank_shell_kg")
def test_shell_by_hand():
    # 3 m x 2 m x 1 m, flat: 2 * 3 + 2 * 2 + 6 = 16 m2 of 3 mm stainless, 8000 kg/m3: 384 kg; a tenth of ribs: 422.4.
    flat = SlopedTank(3.0, 2.0, 1.0)
    shell = {"thickness_m": 0.003, "shell_density_kg_m3": 8000.0}
    assert tank_volume.tank_shell_kg(flat, **shell) == pytest.approx(384.0)
    assert tank_volume.tank_shell_kg(flat, **shell, stiffener_share=0.1) == pytest.approx(422.4)
    # Bottom falling by 0.3 m: sides 2 * 3 * 0.85, ends 2 * (1 + 0.7), bottom 2 * sqrt(9.09): 14.5299 m2.
    assert tank_volume.tank_shell_kg(replace(flat, bottom_slope=0.1), **shell) == pytest.approx(348.72, abs=0.01)


@verifies("equipment.tank_volume.tank_weights")
def test_weights_by_hand():
    # 1.04 m3 at 0.6 m and 2 * 0.85 - 0.06 = 1.64 m3 at the rim, of 1000 kg/m3; 400 kg dry, 50 packing, 60 hold-up.
    weights = tank_volume.tank_weights(
        HEATED,
        empty_kg=400.0,
        packing_kg=50.0,
        operating_level_m=0.6,
        liquor_density_kg_m3=1000.0,
        hold_up_kg=60.0,
        bearing_area_m2=2.0,
    )
    assert (weights.empty_kg, weights.shipping_kg) == (400.0, 450.0)
    assert weights.operating_kg == pytest.approx(1500.0)
    assert weights.flooded_kg == pytest.approx(2100.0)
    assert weights.operating_floor_load_Pa == pytest.approx(7355.0, abs=0.1)
    assert weights.flooded_floor_load_Pa == pytest.approx(10297.0, abs=0.1)


def worked_refill(trickle=0.0, flow=8.0, evaporation=36.0):
    tank = replace(WORKED.tank, immersed=(ImmersedBody(5.5 * INCH, 6 * INCH, 1296 * INCH**3),))
    return tank_volume.refill_cycle(
        tank,
        refill_on_m=19.125 * INCH,
        refill_off_m=21.125 * INCH,
        refill_flow_m3_s=flow * GALLON / 60,
        evaporation_m3_s=evaporation * GALLON / 3600,
        liquor_temperature_K=333.15,
        feed_temperature_K=288.7056,
        liquor_heat_capacity_J_m3K=4.14e6,
        feed_heat_capacity_J_m3K=4.14e6,
        trickle_flow_m3_s=trickle * GALLON / 3600,
    )


@verifies("equipment.tank_volume.refill_cycle")
def test_refill_by_hand():
    # 2 in of 3456 in2 are 29.92 gal; 8 gal/min less 0.6 fill them in 4.043 min, 0.6 gal/min empty them in 49.87 min.
    # 80 degF * 2 / 20.25 = 7.90 degF; common practice says 6 to 8 degF.
    cycle = worked_refill()
    assert cycle.band_m3 / GALLON == pytest.approx(29.92, abs=0.005)
    assert cycle.fill_time_s / 60 == pytest.approx(4.043, abs=0.001)
    assert cycle.period_s / 60 == pytest.approx(53.91, abs=0.01)
    assert cycle.run_timer_s == pytest.approx(2.0 * cycle.fill_time_s)
    assert cycle.sag_difference_K * 1.8 == pytest.approx(7.90, abs=0.005)


@verifies("equipment.tank_volume.refill_cycle")
def test_refill_against_a_march():
    # Mass and heat of the tank stepped through the refill; the heater supplies what mean evaporation takes. The march
    # counts that a colder tank gives less heat to the vapour: E / (F - E) * sag / (2 dT) = 0.4 % here.
    cycle = worked_refill()
    on = 18.25 * INCH * WORKED.tank.surface_area_m2
    flow, evaporation, hot, feed = 8 * GALLON / 60, 36 * GALLON / 3600, 333.15, 288.7056
    volume, kelvin, steps = on, hot, 4000
    dt = cycle.fill_time_s / steps
    for _ in range(steps):
        heat = flow * feed - evaporation * kelvin + evaporation * (hot - feed)  # over the heat capacity
        total = volume * kelvin + heat * dt
        volume += (flow - evaporation) * dt
        kelvin = total / volume
    assert volume - on == pytest.approx(cycle.band_m3, rel=1e-6)
    assert hot - kelvin == pytest.approx(cycle.sag_difference_K, rel=0.01)


@verifies("equipment.tank_volume.refill_cycle")
def test_trickle_feed():
    # As large as the evaporation: no refill, no drop. Half of it: the band lasts twice as long, the sag stays.
    whole, half = worked_refill(trickle=36.0), worked_refill(trickle=18.0)
    assert (whole.period_s, whole.fill_time_s, whole.sag_difference_K) == (None, None, 0.0)
    assert (half.period_s - half.fill_time_s) / 60 == pytest.approx(99.74, abs=0.01)
    assert half.sag_difference_K * 1.8 == pytest.approx(7.90, abs=0.005)


@verifies("equipment.gravity_return.froude_number", "equipment.gravity_return.head_over_outlet_m")
def test_hills_self_venting():
    # P.D. Hills, Designing piping for gravity flow, Chem. Eng., 5 Sept 1983: 36 m3/h in 180 mm gives 0.393 m/s, J_L =
    # 0.296 and 110 mm over the outlet; read in a stored copy of a page that quotes it. 1 %.
    flow = 36.0 / 3600.0
    assert flow / (math.pi / 4.0 * 0.18**2) == pytest.approx(0.393, rel=0.01)
    assert gravity_return.froude_number(flow, 0.18) == pytest.approx(0.296, rel=0.01)
    assert gravity_return.head_over_outlet_m(flow, 0.18) == pytest.approx(0.110, rel=0.01)


@verifies("equipment.gravity_return.self_venting_capacity_m3_s", "equipment.gravity_return.self_venting_bore_m")
@pytest.mark.parametrize(("bore", "gpm", "m3_h"), [(NPS_3, 19.83, 4.503), (NPS_4, 39.11, 8.883)])
def test_self_vent_capacity(bore, gpm, m3_h):
    # v / sqrt(g D) = 0.3 (Simpson 1968; Hills 1983), NPS 3 and 4 schedule 40, computed with a library; 0.5 %.
    flow = gravity_return.self_venting_capacity_m3_s(bore)
    assert flow * 3600.0 == pytest.approx(m3_h, rel=0.005)
    assert flow / GALLON * 60.0 == pytest.approx(gpm, rel=0.005)
    assert gravity_return.self_venting_bore_m(m3_h / 3600.0) == pytest.approx(bore, rel=0.002)


def test_listed_pipes_have_their_printed_bores():
    # ASME B36.10M, schedule 40, inches (from memory).
    printed = [1.610, 2.067, 2.469, 3.068, 4.026, 6.065, 7.981, 10.020]
    assert [pipe.bore_m / INCH for pipe in gravity_return.SCHEDULE_40] == pytest.approx(printed, abs=0.0005)


ABOUT = {"sump_depth_m": 0.2, "distance_to_suction_m": 2.0, "distance_to_thermometer_m": 2.0}


@verifies("equipment.gravity_return.return_in_air", "equipment.gravity_return.least_return_distance_m")
def test_return_in_air_by_hand():
    # 50 gal/min is above the 39.1 of NPS 4: NPS 6 (trade practice says so too). High rod 0.6 m, outlet 0.65 m; 2.4 m of
    # level run fall 0.05 m, so a sump bottom at 0.68 m is 0.02 m too low. Ten bores of 154 mm are 1.54 m.
    flow = 50 * GALLON / 60
    arguments = {"flow_m3_s": flow, "high_rod_m": 0.6, "sump_bottom_m": 0.68, "level_run_m": 2.4}
    sized = return_in_air(**arguments, **ABOUT)
    assert sized.pipe.name == "NPS 6 schedule 40"
    assert sized.outlet_height_m == pytest.approx(0.65)
    assert sized.least_distance_m == pytest.approx(1.5405)
    assert gravity_return.least_return_distance_m(0.04) == pytest.approx(0.5)
    (conflict,) = sized.conflicts
    assert conflict.name == "outlet above the high rod"
    assert conflict.size_m == pytest.approx(0.02)
    assert (
        "a vented downcomer" in conflict.remedies
    )  # it needs no 0.05 m of air over the high rod; 0.1 m it cannot save
    (conflict,) = return_in_air(**{**arguments, "sump_bottom_m": 0.6}, **ABOUT).conflicts
    assert conflict.size_m == pytest.approx(0.1)
    assert "a vented downcomer" not in conflict.remedies
    near = return_in_air(**{**arguments, "sump_bottom_m": 0.8}, **{**ABOUT, "distance_to_suction_m": 1.0})
    (conflict,) = near.conflicts
    assert conflict.name == "distance to pump suction"
    assert conflict.size_m == pytest.approx(0.5405)
    small = return_in_air(**{**arguments, "flow_m3_s": 39 * GALLON / 60, "sump_bottom_m": 0.8}, **ABOUT)
    assert small.pipe.name == "NPS 4 schedule 40"


@verifies("equipment.gravity_return.vented_downcomer")
def test_vented_downcomer_by_hand():
    # 50 gal/min = 0.0031545 m3/s at 0.15 m/s needs 0.02103 m2, 163.6 mm: NPS 8 (202.7 mm); self-venting alone asks for
    # 112.8 mm. End 0.1 m below low at 0.42 m: 0.32 m, one bore above sludge at 0.07 m leaves 0.0473 m.
    flow = 50 * GALLON / 60
    heights = {"low_rod_m": 0.42, "high_rod_m": 0.6, "sump_bottom_m": 1.0, "level_run_m": 1.0}
    sized = vented_downcomer(flow_m3_s=flow, sludge_top_m=0.07, **heights, **ABOUT | {"distance_to_suction_m": 2.1})
    assert sized.pipe.name == "NPS 8 schedule 40"
    assert sized.vent_bore_m == pytest.approx(0.10136)
    assert sized.outlet_height_m == pytest.approx(0.32)
    assert [conflict.name for conflict in sized.conflicts] == ["distance to thermometer"]
    pipes = (ReturnPipe("just wide enough", 0.1637),)
    sized = vented_downcomer(flow_m3_s=flow, sludge_top_m=0.2, pipes=pipes, **heights, **ABOUT)
    (conflict,) = sized.conflicts
    assert conflict.name == "end above the sludge"
    assert conflict.size_m == pytest.approx(0.0437)
    # Liquor stands in the downcomer as high as in the tank: 0.6 m; 2.4 m of run fall 0.05 m; sump at 0.63.
    low_sump = heights | {"sump_bottom_m": 0.63, "level_run_m": 2.4}
    sized = vented_downcomer(flow_m3_s=flow, sludge_top_m=0.07, pipes=pipes, **low_sump, **ABOUT)
    (conflict,) = sized.conflicts
    assert conflict.name == "sump above the high rod"
    assert conflict.size_m == pytest.approx(0.02)

"""Slopes, mass balances and the law of propagation against printed examples and figures worked by hand."""

from __future__ import annotations

import math
import random

import pytest

from support import verifies
from vaporwright.acceptance.run.averages import DEFAULT_UNCERTAINTIES, combined
from vaporwright.acceptance.run.balances import quick_evaporation_m3_s
from vaporwright.acceptance.run.evaporation import drift_by_tracer, level_fall, water_loss
from vaporwright.acceptance.run.log import Measured, RunLog
from vaporwright.acceptance.run.regression import honest_slope
from vaporwright.equipment.tank_volume import SlopedTank
from vaporwright.properties.liquor import Liquor

# JCGM 100:2008 (GUM), H.3, table H.6: thermometer readings, degC, and corrections; from memory, and confirmed by the
# printed results that follow from them.
THERMOMETER = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTION = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
# NIST Statistical Reference Datasets, linear regression, "Norris"; certified values as printed there.
NORRIS_X = (
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5,
    11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1,
    448.9, 0.5,
)  # fmt: skip
NORRIS_Y = (
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9,
    10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4,
    449.2, 0.2,
)  # fmt: skip
WATER_50_C_kg_m3 = 988.04  # Kell 1975, table, 50 degC; from memory
WATER = Liquor(0.0)
BOX = SlopedTank(2.0, 1.0, 1.0)
HOT_K = 323.15


@verifies("acceptance.run.regression.honest_slope")
def test_independent_residuals_of_the_thermometer() -> None:
    slope = honest_slope(THERMOMETER, CORRECTION)
    assert slope.slope == pytest.approx(0.00218, abs=0.000005)
    assert slope.independent_standard_uncertainty == pytest.approx(0.00067, abs=0.000005)
    # Eleven points leave nine degrees of freedom: the factor for 95 % is 2.26 of table G.2, instead of 1.96.
    assert slope.standard_uncertainty >= slope.independent_standard_uncertainty * 2.26 / 1.96 * 0.999


@verifies("acceptance.run.regression.honest_slope")
def test_certified_slope() -> None:
    rising = sorted(zip(NORRIS_X, NORRIS_Y, strict=True))
    slope = honest_slope([x for x, _ in rising], [y for _, y in rising])
    assert slope.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert slope.independent_standard_uncertainty == pytest.approx(0.429796848199937e-3, rel=1e-10)


def series(kind: str, count: int, rng: random.Random) -> list[float]:
    level, values = 0.0, []
    keeps = {"independent": 0.0, "correlated": 0.5, "closely correlated": 0.9, "walk": 1.0}[kind]
    for _ in range(count):
        level = keeps * level + rng.gauss(0.0, 1.0)
        values.append(level)
    return values


@verifies("acceptance.run.regression.honest_slope")
@pytest.mark.parametrize(
    ("kind", "count", "least", "plain_at_most"),
    [
        ("independent", 15, 0.92, 1.0),
        ("independent", 120, 0.93, 1.0),
        ("correlated", 60, 0.92, 0.85),
        ("correlated", 120, 0.92, 0.85),
        ("closely correlated", 120, 0.90, 0.45),
        ("walk", 120, 0.74, 0.20),
    ],
)
def test_coverage_of_simulated_slopes(kind: str, count: int, least: float, plain_at_most: float) -> None:
    rng = random.Random(20260305)
    times = [float(place) for place in range(count)]
    runs, held, plainly = 300, 0, 0
    for _ in range(runs):
        slope = honest_slope(times, series(kind, count, rng))  # the true slope is zero
        held += abs(slope.slope) <= 2.0 * slope.standard_uncertainty
        plainly += abs(slope.slope) <= 2.0 * slope.independent_standard_uncertainty
    print(f"{kind}, {count} readings: {held / runs:.3f} held, {plainly / runs:.3f} by independent residuals")
    assert held / runs >= least
    assert plainly / runs <= plain_at_most


def box_log(
    minutes: int, make_up_kg_s: float, level_m_s: float, *, shut_after_s: float = math.inf, **more: list[float]
) -> RunLog:
    times = [60.0 * place for place in range(minutes + 1)]
    made_up = [make_up_kg_s * min(time, shut_after_s) for time in times]
    level = [0.6 + level_m_s * time for time in times]
    columns = {"make_up_mass_kg": made_up, "stilling_level_m": level, "tank_temperature_K": [HOT_K] * len(times)}
    return RunLog(tuple(times), {name: tuple(values) for name, values in (columns | more).items()})


@verifies("acceptance.run.evaporation.water_loss")
@pytest.mark.parametrize("level_mm_h", [0.0, -10.0, 10.0])
def test_a_box_of_water_loses_what_it_is_fed_and_what_it_falls(level_mm_h: float) -> None:
    # 2 m2 of water at 50 degC: 10 mm are 0.02 m3 or 19.761 kg.
    loss = water_loss(box_log(60, 0.04, level_mm_h / 3.6e6), "make_up_mass_kg", BOX, WATER, DEFAULT_UNCERTAINTIES)
    assert loss is not None
    assert loss.lost_kg_s.value * 3600.0 == pytest.approx(144.0 - 19.761 * level_mm_h / 10.0, abs=0.01)
    # Scale: 0.2 % of 144 kg and 0.1 kg at each end; gauge: 1/32 in at each end of 2 m2; area: 1 % of 19.8 kg; k = 2.
    gauge_kg = math.sqrt(2.0) * 0.79375e-3 * 2.0 * WATER_50_C_kg_m3
    area_kg = 0.01 * 19.761 * abs(level_mm_h) / 10.0
    expanded_kg = math.hypot(0.002 * 144.0, math.sqrt(2.0) * 0.1, gauge_kg, area_kg)
    assert 2.0 * loss.lost_kg_s.standard_uncertainty * 3600.0 == pytest.approx(expanded_kg, rel=1e-3)


@verifies("acceptance.run.evaporation.water_loss")
def test_metered_make_up_is_weighed_by_its_own_temperature() -> None:
    # Water of 15 degC has 999.10 kg/m3 (Kell 1975).
    count = 61
    log = box_log(
        60, 0.0, 0.0, feed_temperature_K=[288.15] * count, make_up_volume_m3=[0.001 * n for n in range(count)]
    )
    loss = water_loss(log, "make_up_volume_m3", BOX, WATER, DEFAULT_UNCERTAINTIES)
    assert loss is not None
    assert loss.lost_kg_s.value == pytest.approx(0.99910 / 60.0, rel=2e-5)


@verifies("acceptance.run.evaporation.level_fall")
def test_the_fall_with_the_refill_shut() -> None:
    # Falls 30 mm/h all along; the refill shuts after 30 of 90 minutes.
    log = box_log(90, 0.04, -30.0 / 3.6e6, shut_after_s=1800.0)
    fall = level_fall(log, "make_up_mass_kg", BOX, WATER, DEFAULT_UNCERTAINTIES)
    assert fall is not None
    assert (fall.begin_s, fall.end_s) == (1800.0, 5400.0)
    assert fall.lost_kg_s.value * 3600.0 == pytest.approx(2.0 * 0.030 * WATER_50_C_kg_m3, abs=0.01)
    assert 2.0 * fall.lost_kg_s.standard_uncertainty * 3600.0 == pytest.approx(2.29, abs=0.02)


@verifies("acceptance.run.evaporation.drift_by_tracer")
@pytest.mark.parametrize("feed_kg_m3", [0.0, 0.3])
def test_tracer_of_a_tank_that_is_fed_as_much_as_it_loses(feed_kg_m3: float) -> None:
    # Held 1.2 m3 at 50 degC; q leaves as liquid and m is fed: c = c_inf + (c_0 - c_inf) exp(-q t / M), with
    # c_inf = c_feed m / q. Concentrations count per volume at 25 degC, 997.05 kg/m3 (Kell 1975).
    held_kg, liquid_kg_s, feed_kg_s, start_kg_m3 = 1.2 * WATER_50_C_kg_m3, 0.003, 0.040, 4.0
    ends_kg_m3 = feed_kg_m3 * feed_kg_s / liquid_kg_s
    times = [60.0 * place for place in range(121)]
    tracer = [ends_kg_m3 + (start_kg_m3 - ends_kg_m3) * math.exp(-liquid_kg_s * time / held_kg) for time in times]
    log = box_log(120, feed_kg_s, 0.0, tracer_kg_m3=tracer)
    found = drift_by_tracer(
        log,
        "make_up_mass_kg",
        BOX,
        WATER,
        DEFAULT_UNCERTAINTIES,
        design_kg_s=0.0006,
        feed_tracer_kg_m3=Measured(feed_kg_m3, 0.0),
    )
    assert found is not None
    assert found.lost_kg_s.value == pytest.approx(liquid_kg_s, rel=1e-4)
    assert found.leak_suspected


@verifies("acceptance.run.balances.quick_evaporation_m3_s")
def test_quick_check_in_its_own_units() -> None:
    # 50 gal/min with a range of 14.7 degF: 50 x 14.7 / 21 = 35 gal/h.
    gallon = 3.785411784e-3
    assert quick_evaporation_m3_s(50.0 * gallon / 60.0, 14.7 / 1.8) * 3600.0 / gallon == pytest.approx(35.0, rel=1e-12)


@verifies("acceptance.run.averages.combined")
def test_propagation_of_a_product_and_a_sum() -> None:
    # GUM 5.1.2 and 5.1.6: relative variances of a quotient add; variances of a sum add. Worked by hand:
    # 12 (0.12) x 5 (0.15) / 4 (0.08): 1 %, 3 %, 2 % give sqrt(14) % of 15.
    inputs = {"a": Measured(12.0, 0.12), "b": Measured(5.0, 0.15), "c": Measured(4.0, 0.08), "d": Measured(1.0, 0.0)}
    product = combined(lambda values: values["a"] * values["b"] / values["c"] * values["d"], inputs)
    assert product.value == pytest.approx(15.0)
    assert product.standard_uncertainty == pytest.approx(0.15 * math.sqrt(14.0), rel=1e-3)
    total = combined(lambda values: values["a"] + 2.0 * values["b"], inputs)
    assert total.standard_uncertainty == pytest.approx(math.hypot(0.12, 0.30), rel=1e-9)

"""The gas burner: bad input is one clear error, conditions are named, odd corners converge."""

from __future__ import annotations

import itertools
import math

import pytest

from vaporwright.equipment import gas_burner
from vaporwright.equipment.burner_altitude import altitude_input_factor
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.fuels import NATURAL_GAS, PROPANE

BASE = {
    "bath_temperature_K": 338.7,
    "fuel": NATURAL_GAS,
    "gross_input_W": 161_188.0,
    "excess_air_fraction": 0.25,
    "air_temperature_K": 294.0,
    "air_humidity_ratio_kg_kg": 0.008,
    "pressure_Pa": 101325.0,
    "tube_inner_diameter_m": 0.1524,
    "tube_length_m": 15.0,
    "tube_wall_thickness_m": 0.0028,
    "wall_conductivity_W_mK": 16.0,
    "wall_emissivity": 0.85,
    "fouling_resistance_m2K_W": 1e-4,
}


def _rate(**change):
    return gas_burner.rate_gas_burner(**{**BASE, **change})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("bath_temperature_K", 270.0),
        ("bath_temperature_K", 374.0),
        ("gross_input_W", 0.0),
        ("gross_input_W", math.nan),
        ("excess_air_fraction", -0.1),
        ("air_temperature_K", 21.0),
        ("air_humidity_ratio_kg_kg", -0.001),
        ("pressure_Pa", 14.7),
        ("tube_inner_diameter_m", 6.0),
        ("tube_length_m", 1.9),
        ("tube_length_m", 50_000.0),
        ("tube_wall_thickness_m", 0.0),
        ("wall_conductivity_W_mK", 0.0),
        ("wall_emissivity", 0.3),
        ("fouling_resistance_m2K_W", -1e-4),
        ("flame_length_m", 0.0),
        ("bath_coefficient_W_m2K", 0.0),
    ],
)
def test_each_bad_value_is_named(name, value):
    with pytest.raises(OutOfRange, match=name):
        _rate(**{name: value})


def test_every_corner_of_the_promised_range():
    for bath, share, excess, pressure, length, air, fuel in itertools.product(
        (278.15, 361.0),
        (0.2, 1.0),
        (0.05, 1.5),
        (65_000.0, 106_000.0),
        (5.0, 25.0),
        (243.15, 318.0),
        (NATURAL_GAS, PROPANE),
    ):
        if pressure < 70_000.0:
            bath = min(bath, 355.0)  # boils at 361 K
        r = _rate(
            bath_temperature_K=bath,
            gross_input_W=share * 161_188.0,
            excess_air_fraction=excess,
            pressure_Pa=pressure,
            tube_length_m=length,
            air_temperature_K=air,
            fuel=fuel,
        )
        assert bath < r.stack_temperature_K < 1500.0
        assert 0.2 < r.gross_efficiency < 0.95
    hottest = _rate(bath_temperature_K=368.15)
    assert hottest.gross_efficiency < _rate().gross_efficiency


def test_conditions_are_named():
    def names(**change):
        return {warning.name for warning in _rate(**change).warnings}

    assert "condensation in tube" not in names()
    assert "condensation in tube" in names(bath_temperature_K=285.0)
    assert "cold stack" in names(gross_input_W=25_000.0)
    assert "high heat flux" in names(tube_length_m=6.0, gross_input_W=400_000.0)
    assert "firing density above packaged burners" in names(gross_input_W=180_000.0)
    assert "firing density beyond practice" in names(gross_input_W=450_000.0)
    assert "boiling on tube" in names(bath_temperature_K=360.0)
    assert names(bath_temperature_K=330.0, gross_input_W=120_000.0, tube_length_m=12.0) == set()


def test_conditions_carry_what_they_compare():
    def figures(name, **change):
        rating = _rate(**change)
        (notice,) = [notice for notice in rating.warnings if notice.name == name]
        assert "{" not in notice.words(lambda value, quantity: f"{value} {quantity}")
        return rating, notice.figures

    rating, pair = figures("condensation in tube", bath_temperature_K=285.0)
    assert pair == ((rating.coldest_wall_temperature_K, "temperature"), (rating.flue_dew_point_K, "temperature"))
    rating, pair = figures("cold stack", gross_input_W=25_000.0)
    assert pair == ((rating.stack_temperature_K, "temperature"), (394.0, "temperature"))
    rating, pair = figures("high heat flux", tube_length_m=6.0, gross_input_W=400_000.0)
    assert pair == ((rating.mean_net_heat_flux_W_m2, "heat flux"), (pytest.approx(37_850.0, rel=1e-3), "heat flux"))
    rating, pair = figures("boiling on tube", bath_temperature_K=360.0)
    assert pair[0] == (rating.hottest_surface_temperature_K, "temperature")
    assert pair[1] == (pytest.approx(373.12, abs=0.05), "temperature")  # steam tables at 101.325 kPa
    # A bore of 6 in has 28.274 in2; common practice: 20,000 and 50,000 Btu/h for each, of 0.29307 W.
    for name, input_W, per_square_inch in (
        ("firing density above packaged burners", 180_000.0, 20_000.0),
        ("firing density beyond practice", 450_000.0, 50_000.0),
    ):
        _, pair = figures(name, gross_input_W=input_W)
        most_W = 28.274 * per_square_inch * 0.29307
        assert pair == ((input_W, "heat"), (pytest.approx(most_W, rel=1e-3), "heat"))
        assert name not in {notice.name for notice in _rate(gross_input_W=0.999 * most_W).warnings}
        assert name in {notice.name for notice in _rate(gross_input_W=1.001 * most_W).warnings}


def test_dry_tube_temperature_is_close_to_the_estimate_and_never_below_the_range():
    change = {k: v for k, v in BASE.items() if k != "bath_temperature_K"}
    exact = gas_burner.dry_tube_bath_temperature_K(**change)
    assert exact == pytest.approx(_rate(bath_temperature_K=exact).bath_temperature_for_dry_tube_K, abs=0.01)
    assert exact == pytest.approx(_rate(bath_temperature_K=300.0).bath_temperature_for_dry_tube_K, abs=3.0)
    short = {**change, "tube_length_m": 4.0, "excess_air_fraction": 3.0, "fouling_resistance_m2K_W": 5e-3}
    assert gas_burner.dry_tube_bath_temperature_K(**short) == gas_burner.LOWEST_BATH_TEMPERATURE_K


def test_altitude_errors():
    with pytest.raises(OutOfRange, match="elevation_m"):
        altitude_input_factor("four percent per 1000 ft", elevation_m=9000.0)
    with pytest.raises(OutOfRange, match="pressure_Pa"):
        altitude_input_factor("air density", elevation_m=1500.0)
    with pytest.raises(OutOfRange, match="practice"):
        altitude_input_factor("none", elevation_m=1500.0)  # type: ignore[arg-type]
    assert altitude_input_factor("air density", elevation_m=-100.0, pressure_Pa=103_000.0) == 1.0

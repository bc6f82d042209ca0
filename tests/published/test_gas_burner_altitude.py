"""Altitude derate of a burner, and one burner against what practitioners find."""

from __future__ import annotations

import pytest

from support import verifies
from vaporwright.equipment.burner_altitude import altitude_input_factor
from vaporwright.equipment.gas_burner import rate_gas_burner
from vaporwright.properties.fuels import NATURAL_GAS

FOOT_m = 0.3048


@pytest.mark.parametrize(
    ("feet", "factor"),
    # National Fuel Gas Code: rated input up to 2000 ft, above it 4 % less per 1000 ft above sea level
    # (quoted by a trade article and by appliance manuals, read there)
    [(0.0, 1.0), (2000.0, 1.0), (2500.0, 0.90), (5000.0, 0.80), (10_000.0, 0.60)],
)
@verifies("equipment.burner_altitude.altitude_input_factor")
def test_four_percent_rule(feet, factor):
    assert altitude_input_factor("four percent per 1000 ft", elevation_m=feet * FOOT_m) == pytest.approx(
        factor, abs=1e-9
    )


@verifies("equipment.burner_altitude.altitude_input_factor")
def test_air_density():
    # Standard atmosphere at 5000 ft: pressure ratio 0.8320 (standard tables, from memory)
    assert altitude_input_factor("air density", elevation_m=1524.0, pressure_Pa=84_307.0) == pytest.approx(
        0.832, abs=5e-4
    )


@verifies("equipment.gas_burner.rate_gas_burner")
def test_common_practice_burner():
    # Common practice, no source: 550,000 Btu/h gross of natural gas in a 6 in tube at 25 % excess air
    # leaves at 300 to 550 degF with a gross efficiency of 72 to 85 %, and a longer tube does better.
    last = 0.0
    for feet in (48.0, 52.0, 56.0, 60.0):
        rating = rate_gas_burner(
            bath_temperature_K=338.7,
            fuel=NATURAL_GAS,
            gross_input_W=550_000.0 * 0.29307107,
            excess_air_fraction=0.25,
            air_temperature_K=294.0,
            air_humidity_ratio_kg_kg=0.008,
            pressure_Pa=101325.0,
            tube_inner_diameter_m=0.1524,
            tube_length_m=feet * FOOT_m,
            tube_wall_thickness_m=0.0028,
            wall_conductivity_W_mK=16.0,
            wall_emissivity=0.85,
            fouling_resistance_m2K_W=1e-4,
        )
        assert 300.0 < (rating.stack_temperature_K - 273.15) * 1.8 + 32.0 < 550.0
        assert 0.72 < rating.gross_efficiency < 0.85
        assert rating.gross_efficiency > last
        last = rating.gross_efficiency

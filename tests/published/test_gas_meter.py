"""Gas through a meter to standard conditions: Boyle's and Charles's laws as textbooks and gas suppliers work them."""

from __future__ import annotations

import pytest

from support import verifies
from vaporwright.foundation.errors import OutOfRange
from vaporwright.properties.fuels import standard_gas_volume_factor

ATMOSPHERE = 101_325.0
PSI = 6894.757


def celsius(degrees: float) -> float:
    return degrees + 273.15


def fahrenheit(degrees: float) -> float:
    return (degrees + 459.67) / 1.8


@verifies("properties.fuels.standard_gas_volume_factor")
def test_a_textbooks_combined_law() -> None:
    # OpenStax, Chemistry, section 9.2: 0.250 L at 27 degC and 0.850 atm is 0.193 L at 0 degC and 1.00 atm.
    factor = standard_gas_volume_factor(
        temperature_K=celsius(27.0),
        pressure_Pa=0.850 * ATMOSPHERE,
        base_temperature_K=celsius(0.0),
        base_pressure_Pa=ATMOSPHERE,
    )
    assert 0.250 * factor == pytest.approx(0.193, abs=0.0005)


@verifies("properties.fuels.standard_gas_volume_factor")
def test_a_textbooks_law_of_charles() -> None:
    # The same section: ethane, 405 mL at 298 K, is 635 mL at 467 K and the same pressure.
    factor = standard_gas_volume_factor(
        temperature_K=298.0, pressure_Pa=1.1 * ATMOSPHERE, base_temperature_K=467.0, base_pressure_Pa=1.1 * ATMOSPHERE
    )
    assert 405.0 * factor == pytest.approx(635.0, abs=0.5)


@verifies("properties.fuels.standard_gas_volume_factor")
def test_a_suppliers_fixed_factor() -> None:
    # Pressure factor = (atmosphere + line) / base: 2 psi where the air weighs 14.4 psi, base 14.73 psi: 16.4 / 14.73.
    factor = standard_gas_volume_factor(
        temperature_K=fahrenheit(60.0), pressure_Pa=(14.4 + 2.0) * PSI, base_pressure_Pa=14.73 * PSI
    )
    assert factor == pytest.approx(1.1134, abs=0.0001)


@verifies("properties.fuels.standard_gas_volume_factor")
@pytest.mark.parametrize(("degrees", "printed"), [(40.0, 1.0400), (60.0, 1.0000), (80.0, 0.9629)])
def test_the_trades_temperature_factor(degrees: float, printed: float) -> None:
    # 520 / (460 + degF), worked by hand; at the base's own pressure.
    found = standard_gas_volume_factor(temperature_K=fahrenheit(degrees), pressure_Pa=ATMOSPHERE)
    assert found == pytest.approx(printed, abs=0.0002)


def test_gas_at_a_gauge_pressure_is_refused() -> None:
    with pytest.raises(OutOfRange, match="absolute"):
        standard_gas_volume_factor(temperature_K=290.0, pressure_Pa=1742.0)

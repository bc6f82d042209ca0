"""Gas through a meter against real gases of CoolProp: what leaving supercompressibility out costs."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from support import verifies
from vaporwright.properties.fuels import standard_gas_volume_factor

BASE_K, BASE_Pa, PSI = 519.67 / 1.8, 101_325.0, 6894.757


@verifies("properties.fuels.standard_gas_volume_factor")
@pytest.mark.parametrize(("fluid", "within"), [("Methane", 0.0015), ("Propane", 0.014)])
@pytest.mark.parametrize("gauge_psi", [0.25, 2.0, 5.0])
@pytest.mark.parametrize("gas_K", [268.15, 288.15, 308.15])
def test_a_real_gas_departs_by_no_more_than_stated(fluid: str, within: float, gauge_psi: float, gas_K: float) -> None:
    pressure_Pa = 98_000.0 + gauge_psi * PSI
    real = PropsSI("D", "P", pressure_Pa, "T", gas_K, fluid) / PropsSI("D", "P", BASE_Pa, "T", BASE_K, fluid)
    assert standard_gas_volume_factor(temperature_K=gas_K, pressure_Pa=pressure_Pa) == pytest.approx(real, rel=within)

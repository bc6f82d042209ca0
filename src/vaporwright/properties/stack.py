"""The stack: draft of a vertical flue.

Flue gas that spills into a room brings carbon monoxide. Vents are sized and approved by the local fuel gas
code and a licensed fitter; the draft here is only what buoyancy offers.
"""

from __future__ import annotations

from vaporwright.foundation.constants import STANDARD_GRAVITY_m_s2
from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced
from vaporwright.properties.flue_gas import AIR_MOLAR_MASS_kg_mol, Combustion, gas_density_kg_m3


@sourced("stack-buoyancy", "hydrostatic difference of two columns")
def stack_draft_Pa(
    combustion: Combustion,
    *,
    height_m: float,
    mean_flue_temperature_K: float,
    outdoor_temperature_K: float,
    pressure_Pa: float,
) -> float:
    """Theoretical draft of a vertical flue: buoyancy alone, before friction and wind.

    Equation: g H (density of outdoor air - density of flue gas), both ideal, outdoor air taken dry.
    Args:
        combustion: the flue gas.
        height_m [m]: 0 to 100.
        mean_flue_temperature_K [K]: 250 to 1500, mean over the flue's height (it cools on the way up).
        outdoor_temperature_K [K]: 220 to 330.
        pressure_Pa [Pa]: 50,000 to 110,000.
    Returns: draft [Pa], positive upward.
    Raises: OutOfRange outside that range.
    Source: stack-buoyancy. A vent is sized and approved by the local fuel gas code, not by this number.
    """
    require_range("height_m", height_m, 0.0, 100.0, "vertical flue")
    require_range("mean_flue_temperature_K", mean_flue_temperature_K, 250.0, 1500.0, "flue")
    require_range("outdoor_temperature_K", outdoor_temperature_K, 220.0, 330.0, "weather")
    require_range("pressure_Pa", pressure_Pa, 50_000.0, 110_000.0, "site pressure")
    outdoor = gas_density_kg_m3(AIR_MOLAR_MASS_kg_mol, outdoor_temperature_K, pressure_Pa)
    flue = gas_density_kg_m3(combustion.flue_molar_mass_kg_mol, mean_flue_temperature_K, pressure_Pa)
    return STANDARD_GRAVITY_m_s2 * height_m * (outdoor - flue)

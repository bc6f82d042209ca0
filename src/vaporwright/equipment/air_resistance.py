"""Static pressure that air loses in fill, eliminator and ducts, in velocity heads."""

from __future__ import annotations

from vaporwright.foundation.errors import require_range
from vaporwright.foundation.register import sourced


@sourced("darcy-weisbach-heads", "loss = heads x density x velocity^2 / 2")
def velocity_heads_loss_Pa(heads: float, density_kg_m3: float, velocity_m_s: float) -> float:
    """Pressure loss of a part whose loss is stated in velocity heads.

    Args: heads [-]: 0 or more; density_kg_m3 [kg/m3]: of the moist air, above 0; velocity_m_s [m/s]: 0 or more.
    Returns: pressure loss [Pa].
    Raises: OutOfRange outside those ranges.
    """
    require_range("heads", heads, 0.0, None, "a loss")
    require_range("density_kg_m3", density_kg_m3, 1.0e-3, None, "moist air")
    require_range("velocity_m_s", velocity_m_s, 0.0, None, "a speed")
    return heads * 0.5 * density_kg_m3 * velocity_m_s * velocity_m_s

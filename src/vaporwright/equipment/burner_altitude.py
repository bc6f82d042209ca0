"""How much of its sea-level input a burner may fire in thinner air.

Too much gas for the air makes carbon monoxide, which kills. The maker's instructions and the local fuel gas
code decide; these two practices only size.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from vaporwright.foundation.constants import STANDARD_ATMOSPHERE_Pa
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced

_FOOT_m: Final = 0.3048
AltitudePractice = Literal["four percent per 1000 ft", "air density"]
ALTITUDE_FREE_OF_DERATE_m: Final = 2000.0 * _FOOT_m
HIGHEST_ELEVATION_m: Final = 4000.0


@sourced("nfpa-54-altitude", "4 % per 1000 ft above sea level, from 2000 ft up")
@sourced("burner-air-density-practice", "fan delivers the same volume of thinner air")
def altitude_input_factor(practice: AltitudePractice, *, elevation_m: float, pressure_Pa: float | None = None) -> float:
    """Share of the sea-level rated input that a burner may fire at a site.

    Equation: "four percent per 1000 ft", for burners that draw their air: 1 up to 2000 ft, above it 1 -
        0.04 times the full elevation in thousands of feet (at 2000 ft it steps from 1 to 0.92: the code
        counts from sea level). "air density", for fan-assisted burners: site pressure over 101325 Pa, the
        temperature taken alike.
    Args:
        practice: which of the two; the maker's instructions and the local code take precedence over both.
        elevation_m [m]: -300 to 4000.
        pressure_Pa [Pa]: site pressure, for "air density" only: 60,000 to 110,000.
    Returns: factor [-], at most 1.
    Raises: OutOfRange outside those ranges, and where the practice is unknown or lacks its pressure.
    Source: nfpa-54-altitude, burner-air-density-practice.
    Example: 5000 ft
        >>> round(altitude_input_factor("four percent per 1000 ft", elevation_m=1524.0), 3)
        0.8
    """
    require_range("elevation_m", elevation_m, -300.0, HIGHEST_ELEVATION_m, "altitude of the site")
    if practice == "four percent per 1000 ft":
        if elevation_m <= ALTITUDE_FREE_OF_DERATE_m:
            return 1.0
        return 1.0 - 0.04 * elevation_m / (1000.0 * _FOOT_m)
    if practice == "air density":
        if pressure_Pa is None:
            raise OutOfRange("pressure_Pa", math.nan, 60_000.0, 110_000.0, "the air density practice needs it")
        require_range("pressure_Pa", pressure_Pa, 60_000.0, 110_000.0, "site pressure")
        return min(pressure_Pa / STANDARD_ATMOSPHERE_Pa, 1.0)
    raise OutOfRange(f"practice {practice!r}", math.nan, None, None, "four percent per 1000 ft, or air density")

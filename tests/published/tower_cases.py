"""Typed-in tower cases: source, how the value was obtained, and tolerance beside each.

The POPPE rows hold no measurement and no printed table: they were computed once with a separate program and
CoolProp, from Poppe and Roegener's equations in the form of Kloppers and Kroeger (2005). Their Merkel numbers sum
K dA / (local water flow); see as_inlet_merkel_number.
"""

from __future__ import annotations

from typing import NamedTuple


class PoppeCase(NamedTuple):
    """Given: water in and out, water over dry air, air, pressure. Expected: the rest, per kg of dry air."""

    water_in_C: float
    water_out_C: float
    water_to_air: float
    air_C: float
    air_humidity_ratio: float
    pressure_Pa: float
    merkel_method: float
    poppe: float
    air_out_humidity_ratio: float
    air_out_enthalpy_kJ_kg: float
    air_out_C: float
    evaporation_kg_kg: float
    misty: bool


# Computed with a library (see the module's docstring). Tolerance: evaporation 1 %, Me 1.5 %, outlet air 0.3 K.
POPPE = {
    "poppe_40_30_LG1.2_0m_30C": PoppeCase(
        40, 30, 1.2, 30, 0.013373, 101325.0, 1.0248, 1.1123, 0.0322, 116.88, 34.11, 0.01882, False
    ),
    "poppe_55_45_LG2.0_0m_25C": PoppeCase(
        55, 45, 2.0, 25, 0.009926, 101325.0, 0.2263, 0.2479, 0.04069, 139.85, 36.49, 0.03077, True
    ),
    "poppe_60_40_LG1.5_0m_20C": PoppeCase(
        60, 40, 1.5, 20, 0.007294, 101325.0, 0.4766, 0.5211, 0.05277, 171.68, 40.53, 0.04548, True
    ),
    "poppe_60_45_LG2.0_0m_20C": PoppeCase(
        60, 45, 2.0, 20, 0.007294, 101325.0, 0.2928, 0.3219, 0.05341, 172.77, 40.65, 0.04612, True
    ),
    "poppe_60_45_LG2.0_1500m_20C": PoppeCase(
        60, 45, 2.0, 20, 0.008756, 84556.0, 0.2317, 0.2538, 0.05573, 176.65, 38.14, 0.04698, True
    ),
    "poppe_60_50_LG2.5_0m_20C": PoppeCase(
        60, 50, 2.5, 20, 0.007294, 101325.0, 0.1569, 0.1727, 0.04616, 151.33, 38.02, 0.03887, True
    ),
    "poppe_65_50_LG3.0_0m_20C": PoppeCase(
        65, 50, 3.0, 20, 0.007294, 101325.0, 0.2259, 0.2514, 0.07837, 241.77, 47.34, 0.07108, True
    ),
    "poppe_65_55_LG3.0_1500m_20C": PoppeCase(
        65, 55, 3.0, 20, 0.008756, 84556.0, 0.0907, 0.1001, 0.05723, 179.05, 38.39, 0.04848, True
    ),
    "poppe_70_55_LG4.0_0m_20C": PoppeCase(
        70, 55, 4.0, 20, 0.007294, 101325.0, 0.1687, 0.1895, 0.10426, 312.12, 52.39, 0.09697, True
    ),
    "poppe_70_60_LG4.0_0m_20C": PoppeCase(
        70, 60, 4.0, 20, 0.007294, 101325.0, 0.0862, 0.0962, 0.07237, 222.47, 45.67, 0.06508, True
    ),
    "poppe_70_60_LG4.0_1500m_20C": PoppeCase(
        70, 60, 4.0, 20, 0.008756, 84556.0, 0.0662, 0.0736, 0.07472, 226.4, 42.88, 0.06596, True
    ),
    "poppe_70_60_LG6.0_0m_20C": PoppeCase(
        70, 60, 6.0, 20, 0.007294, 101325.0, 0.0936, 0.1056, 0.10555, 314.55, 52.53, 0.09825, True
    ),
    "poppe_75_65_LG6.0_0m_20C": PoppeCase(
        75, 65, 6.0, 20, 0.007294, 101325.0, 0.0647, 0.0731, 0.10714, 317.22, 52.69, 0.09984, True
    ),
    "poppe_75_65_LG9.0_0m_20C": PoppeCase(
        75, 65, 9.0, 20, 0.007294, 101325.0, 0.0711, 0.0815, 0.15794, 456.76, 59.73, 0.15065, True
    ),
}

# D.R. Baker and H.A. Shryock, ASME J. Heat Transfer 83(3), 1961, 339-349, Table 1(b), read in a stored copy:
# water to 80 degF, wet bulb 70 degF, L/G 1.2, 29.92 inHg. Water in [degF]: KaV/L printed, the same integral taken
# finely with modern properties (computed), tolerance. The 1961 enthalpy table and stepwise sums are coarse.
BAKER_SHRYOCK = {
    82: (0.2108, 0.2101, 0.006),
    85: (0.5318, 0.5298, 0.006),
    95: (1.5513, 1.5287, 0.03),
    100: (1.9793, 1.9323, 0.03),
    105: (2.3078, 2.2574, 0.03),
}


def as_inlet_merkel_number(local_merkel_number: float, evaporated_share: float) -> float:
    """From the integral of K dA / (local water flow) to K A / (water flow in).

    The local flow runs from 1 - share at the bottom to 1 at the top, so that its mean lies half a share under one.
    How the area is spread over it moves that by at most a few tenths of the share (0.3 % at a share of 3 %).
    """
    return local_merkel_number * (1.0 - 0.5 * evaporated_share)

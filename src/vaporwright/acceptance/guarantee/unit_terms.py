"""What is uncertain about a unit on test, each as a term with its spread before anything is read.

A run is fitted, and the site predicted, in these terms. Three kinds of spread are told apart:

    before   how far a new unit is from its design before anything is read
    carried  how far the same unit at the site is from the unit on test: the model is not the unit, and what it says of
             the step from clean water and shop air to the site's liquor and air is itself uncertain
    model    how far a reading is from what a perfect model of the whole unit would say of the place where it is taken
             (a return that is not mixed, an exhaust that is not alike over its width)

All spreads are standard deviations, relative where the term is a factor. They are common practice without a source;
beside each stands the argument for it. benchmarks/bench_coverage.py tells whether intervals built on them hold against
units that follow another model.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.unit.heat import HeatKind


@dataclass(frozen=True)
class Term:
    """A factor of the unit, as a natural logarithm: 0 is the design."""

    name: str
    label: str
    before: Mapping[HeatKind, float]
    carried: Mapping[HeatKind, float]
    carried_label: str

    def applies(self, heat: HeatKind) -> bool:
        """Whether a unit of this heat has the term."""
        return heat in self.before


def _alike(spread: float) -> dict[HeatKind, float]:
    return {"gas": spread, "electric": spread, "steam": spread}


TERMS: Final = (
    # A fill differs by 10 to 15 % from piece to piece and was tested cooler than a heated tank; water that runs down
    # the walls takes more off. Carried: two tower models (below) part by 1.3 % from one season to another, and a liquor
    # wets plastic otherwise than water.
    Term("merkel", "transfer of the fill", _alike(0.25), _alike(0.03), "fill from the shop's water to the site's"),
    # Blower curve within 10 %, losses of louvre and eliminator. Carried: the site's duct is not the one calculated.
    Term("air", "air flow of the unit", _alike(0.10), _alike(0.03), "air flow, shop to site"),
    # Valve as set by a header gauge.
    Term("spray", "spray flow of the unit", _alike(0.08), _alike(0.02), "spray flow, shop to site"),
    # Gas is set to the nameplate within 5 %. Carried: heating value of the site's gas and how well it is set again
    # there, a per cent. Resistance heaters are made within 5 %, and stay.
    Term("input", "fuel or power of the unit", {"gas": 0.05, "electric": 0.03}, {"gas": 0.01, "electric": 0.003},
         "fuel or power, shop to site"),
    # Tube and excess air within 5 %; all power ends in the liquor, but for leads and terminal boxes; a coil's
    # coefficient is known within 20 %. Carried: ten points of excess air, as weather and draught move it, are worth
    # 0.7 %; a coil under the liquor's scale, at another pressure, is what a coil's model knows least.
    Term("heat", "heat into the liquor at that fuel, power or steam",
         {"gas": 0.05, "electric": 0.005, "steam": 0.20}, {"gas": 0.007, "electric": 0.002, "steam": 0.03},
         "heat into the liquor, shop to site"),
    # Draughts, wet or gapped insulation, fittings that nobody drew.
    Term("losses", "losses of tank and piping", _alike(0.30), _alike(0.15), "losses, shop to site"),
    # Tower models that give the same air the same heat part in what they evaporate: Poppe's from itself with a Lewis
    # factor of one by 0.5 %, from one with a water-side film, uneven columns and water past the fill by 0.2 +- 0.65 %.
    # Of that, 0.1 to 0.3 % changes with the season and the elevation.
    Term("vapour", "evaporation for the heat that the air takes up", _alike(0.007), _alike(0.003),
         "evaporation for the heat, shop to site"),
)  # fmt: skip

RETURN_MODEL_difference_K: Final = 0.2  # streams of a return that have not mixed where the thermometer is
EXHAUST_MODEL_difference_K: Final = 1.0  # air that leaves along the walls and the middle, and mist that wets the bulb
EXHAUST_WET_BULB_MODEL_difference_K: Final = 0.6
AIR_MODEL: Final = 0.01  # air that enters beside the blower, or leaves before the fill
FLUE_CASING: Final = 0.005  # of the input: what burner housing and bare tube lose, and the stack does not show
FLUE_MODEL: Final = 0.012  # efficiency by the stack: that casing, leakage into the flue, gas unlike the stated one
BALANCE_MODEL: Final = 0.005  # of the heat: a tank still drifting by 0.15 K/h stores that much
# Full heat clocked apart, of its value: a coil is weighed in a tank that warms meanwhile, and its own model says how
# much less it gives in a hotter one; a burner draws and a heater takes the same in any tank.
FULL_HEAT_MODEL: Final[Mapping[HeatKind, float]] = {"gas": 0.003, "electric": 0.002, "steam": 0.01}
DRIFT_SPREAD: Final = 0.65  # of the design's drift, where no tracer told it
UNTOLD: Final = 0.8  # a spread still above this share of what it was before says that nothing was learnt
CONFUSED: Final = 0.8  # two terms correlated beyond this cannot be told apart

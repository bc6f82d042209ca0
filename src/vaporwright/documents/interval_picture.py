"""The certificate's picture: what was measured, expected and predicted, each with its interval, against the guarantee.

Places only: where on an axis each mark stands, from 0 (left) to 1. The template draws them.
"""

from __future__ import annotations

import math
from typing import Any, Final

from vaporwright.acceptance.record.certificate import Estimate, Headline, PerformanceResult
from vaporwright.display_units import shown_unit, to_shown
from vaporwright.documents.measured_words import beside_text, estimate_text, fixed, places

QUANTITY: Final = "evaporation"
ROOM: Final = 0.12  # of the span, left free on either side
TICKS: Final = 5  # about as many


def interval_picture(performance: PerformanceResult, headline: Headline | None, system: str) -> dict[str, Any]:
    """Rows from top to bottom, ticks, and the guarantee's line; every number in the units of `system`."""
    named = [
        ("measured on the day", performance.measured_kg_s),
        ("expected on the day", Estimate(performance.expected_kg_s)),
        *((f"at the site, {entry.season}", entry.evaporation_kg_s) for entry in performance.seasons),
    ]
    values = [to_shown(value, QUANTITY, system) for _, one in named for value in _ends(one)]
    guarantee = None if headline is None else to_shown(headline.guarantee_kg_s, QUANTITY, system)
    if guarantee is not None:
        values.append(guarantee)
    span = max(max(values) - min(values), 0.02 * max(abs(value) for value in values), 1e-12)
    low, high = min(values) - ROOM * span, max(values) + ROOM * span

    def place(value: float) -> float:
        return round((value - low) / (high - low), 5)

    return {
        "unit": f"evaporation, {shown_unit(QUANTITY, system).text}",
        "rows": [
            {
                "label": label,
                "text": estimate_text(one, QUANTITY, system)
                if one.expanded_uncertainty
                else beside_text(one.value, performance.measured_kg_s, QUANTITY, system),
                "at": place(to_shown(one.value, QUANTITY, system)),
                "from": place(to_shown(_ends(one)[0], QUANTITY, system)),
                "to": place(to_shown(_ends(one)[1], QUANTITY, system)),
                "known": bool(one.expanded_uncertainty),
                "headline": headline is not None and label == f"at the site, {headline.season}",
            }
            for label, one in named
        ],
        "ticks": [{"at": place(value), "text": text} for value, text in _ticks(low, high)],
        "guarantee": None if guarantee is None else {"at": place(guarantee), "text": "guaranteed"},
    }


def _ends(one: Estimate) -> tuple[float, float]:
    half = one.expanded_uncertainty or 0.0
    return one.value - half, one.value + half


def _ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Round numbers on the axis."""
    rough = (high - low) / TICKS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough)
    first = math.ceil(low / step)
    decimals = max(places(step, 1), 0)
    return [(count * step, fixed(count * step, decimals)) for count in range(first, math.floor(high / step) + 1)]

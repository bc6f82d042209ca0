"""Refitting the transfer laws of a catalogue's towers from their raw fill-test points."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.unit.catalogue import COUNTERFLOW, Catalogue, TowerPart
from vaporwright.unit.fill_fit import FillFit, extrapolation_flags, fit_fill, fit_notices


@dataclass(frozen=True)
class TowerFit:
    """One tower's refit beside the law that its catalogue states."""

    tower: TowerPart
    fit: FillFit
    notices: tuple[Notice, ...]

    def stated_merkel_number(self, water_to_air_ratio: float) -> float:
        """Merkel number by the law in the catalogue."""
        fill = self.tower.fill
        return float(fill.merkel_coefficient * water_to_air_ratio**fill.merkel_exponent)


def fit_catalogue(path: Path | None, tower_id: str | None, model: Literal["poppe", "merkel"]) -> tuple[TowerFit, ...]:
    """Refit every tower that has raw points, or the one named.

    Raises InputError where the tower is unknown or has no points, or where its points hold no law.
    """
    catalogue = read_catalogue_file(path)
    where = str(path) if path else catalogue.name
    return tuple(_fit(tower, model, where) for tower in _towers(catalogue, tower_id, where))


def _towers(catalogue: Catalogue, tower_id: str | None, where: str) -> list[TowerPart]:
    with_points = {key: tower for key, tower in catalogue.towers.items() if tower.fill.test_points}
    if tower_id is None:
        if not with_points:
            raise InputError(
                where, "tower", "no tower has raw fill-test points", "points under [[tower.fill.test_point]]"
            )
        return list(with_points.values())
    if tower_id not in with_points:
        have = ", ".join(with_points) or "none"
        raise InputError(where, "--tower", f"{tower_id!r} is no tower with raw fill-test points", have)
    return [with_points[tower_id]]


def _fit(tower: TowerPart, model: Literal["poppe", "merkel"], where: str) -> TowerFit:
    fill = tower.fill
    if tower.arrangement != COUNTERFLOW:
        raise InputError(
            where,
            f"tower {tower.part_id}: arrangement",
            f"points of a {tower.arrangement} fill cannot be reduced by the counterflow model",
            COUNTERFLOW,
        )
    fit = fit_fill(fill.test_points, model, area_m2=fill.area_m2, where=f"{where}: tower {tower.part_id}")
    hottest_K = dict(tower.temperature_limits_K).get("fill", fit.tested.water_in_temperature_K.high)
    at_limit = extrapolation_flags(fit, fit.tested.water_to_air_ratio.low, hottest_K, tower.rated_water_loading_kg_s_m2)
    return TowerFit(tower, fit, (*fit_notices(fit), *at_limit))


def fits_as_json(fits: tuple[TowerFit, ...]) -> list[dict[str, Any]]:
    """Fits for machines: stable keys, SI."""
    return [_as_json(entry) for entry in fits]


def _as_json(entry: TowerFit) -> dict[str, Any]:
    fit, fill = entry.fit, entry.tower.fill
    difference = fit.model_difference
    return {
        "tower": entry.tower.part_id,
        "model": fit.model,
        "merkel_coefficient": fit.coefficient,
        "merkel_coefficient_95": list(fit.coefficient_interval),
        "merkel_exponent": fit.exponent,
        "merkel_exponent_95": list(fit.exponent_interval),
        "residual_standard_deviation": fit.residual_standard_deviation,
        "r_squared": fit.r_squared,
        "stated": {
            "model": fill.model,
            "merkel_coefficient": fill.merkel_coefficient,
            "merkel_exponent": fill.merkel_exponent,
        },
        "poppe_over_merkel": None if difference is None else difference.mean,
        "tested_water_to_air_ratio": list(fit.tested.water_to_air_ratio),
        "tested_water_in_temperature_K": list(fit.tested.water_in_temperature_K),
        "points": [
            {
                "number": point.number,
                "water_to_air_ratio": point.water_to_air_ratio,
                "merkel_number": point.merkel_number,
                "law_merkel_number": point.law_merkel_number,
                "studentised_residual": point.studentised_residual,
                "outlier": point.outlier,
            }
            for point in fit.points
        ],
        "notices": [notice.name for notice in entry.notices],
    }

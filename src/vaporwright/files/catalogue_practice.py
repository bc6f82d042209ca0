"""Reading of a catalogue's [practice] table: the shop's preferred margins and usual figures."""

from __future__ import annotations

from dataclasses import fields, replace

from vaporwright.equipment.level_rods import LevelPractice
from vaporwright.files import catalogue_keys as keys
from vaporwright.files.catalogue_keys import CatalogueKey
from vaporwright.files.catalogue_values import Place, Values, values_of
from vaporwright.files.values import typed_text
from vaporwright.unit.practice import ShopPractice


def practice_of(table: object, where: str) -> ShopPractice:
    """The shop's settings; what it does not state stays common practice."""
    place = Place(where, "practice")
    if not isinstance(table, dict):
        raise place.error("", f"{typed_text(table)} stands where a table belongs", "a table [practice]")
    gaps = table.get("levels", {})
    level_place = Place(where, "practice.levels")
    if not isinstance(gaps, dict):
        raise level_place.error("", f"{typed_text(gaps)} stands where a table belongs", "a table [practice.levels]")
    settings = _settings(values_of(table, _optional(keys.PRACTICE_KEYS), place, ("levels",)), ShopPractice)
    level_settings = _settings(values_of(gaps, _optional(keys.LEVEL_PRACTICE_KEYS), level_place), LevelPractice)
    return ShopPractice(**settings, levels=LevelPractice(**level_settings))


def _optional(declared: tuple[CatalogueKey, ...]) -> tuple[CatalogueKey, ...]:
    return tuple(replace(key, optional=True) for key in declared)


def _settings(values: Values, practice: type[ShopPractice] | type[LevelPractice]) -> Values:
    """Values by the practice's attributes, which carry their unit."""
    attributes = [field.name for field in fields(practice)]
    return {next(name for name in attributes if setting_name(name) == key): value for key, value in values.items()}


def setting_name(name: str) -> str:
    """Key of a setting: its attribute without the unit."""
    for suffix in ("_difference_K", "_kg", "_m_s", "_Pa", "_VA", "_m", "_s"):
        if name.endswith(suffix):
            return name.removesuffix(suffix)
    return name

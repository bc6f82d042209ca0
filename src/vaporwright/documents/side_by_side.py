"""The best few units side by side, with why each is shown: rows of a table and a sentence for each unit."""

from __future__ import annotations

from collections.abc import Sequence

from vaporwright.display_units import show
from vaporwright.unit.candidates import Candidate

LETTERS = "ABCDEFGHI"


def side_by_side_rows(shown: Sequence[Candidate], system: str) -> list[tuple[str, list[str]]]:
    """Label and one cell for each unit; all carry criteria."""
    all_criteria = [candidate.criteria for candidate in shown]
    assert None not in all_criteria
    criteria = [entry for entry in all_criteria if entry is not None]
    return [
        ("weakest season evaporates", [show(entry.capacity_kg_s, "evaporation", system) for entry in criteria]),
        ("the duty takes of it", [show(entry.share_of_capacity, "fraction", system) for entry in criteria]),
        (
            "tank below clamp, summer",
            [show(entry.below_clamp_difference_K, "temperature difference", system) for entry in criteria],
        ),
        (
            "heat drawn, room air's too",
            [show(entry.heat_per_volume_J_m3, "heat per volume", system) for entry in criteria],
        ),
        ("blower and pump", [show(entry.power_W, "power", system, 2) for entry in criteria]),
        ("floor of tank and tower", [show(entry.floor_area_m2, "area", system) for entry in criteria]),
    ]


def side_by_side_sentences(shown: Sequence[Candidate], system: str) -> list[str]:
    """Each unit by its letter: what it is made of, and why it is shown."""
    sentences = []
    for letter, candidate in zip(LETTERS, shown, strict=False):
        assert candidate.why is not None
        why = candidate.why.words(lambda value, quantity: show(value, quantity, system, 2))
        sentences.append(f"{letter}: {candidate.unit.label()}. {why}")
    return sentences

"""Which channel may be shown beside which field: of the same quantity, at a moment, and in a real procedure."""

from __future__ import annotations

import re

import pytest

from example_rigs import JOBS, example_answer, example_table
from example_subjects import day_of
from vaporwright.acceptance.run.log import CHANNEL_OF, CHANNELS
from vaporwright.acceptance.run.panel_fields import CHANNEL_FOR_FIELD, targets_for
from vaporwright.acceptance.sections.procedure_of_unit import procedure_for
from vaporwright.acceptance.steps.procedure import ReadingField

NO_MOMENT = re.compile(r"\bmean\b|over the|minutes|\bchange\b|\bless\b")  # of a label: no single reading


@pytest.fixture(scope="module")
def fields() -> dict[tuple[str, str], tuple[str, ReadingField]]:
    found: dict[tuple[str, str], tuple[str, ReadingField]] = {}
    for heat in JOBS:
        made = procedure_for(example_answer(heat), example_table(heat), day_of(heat), "full", ())
        found |= {(step.key, field.key): (heat, field) for step in made.steps for field in step.fields}
    return found


@pytest.mark.parametrize("place", sorted(CHANNEL_FOR_FIELD))
def test_a_channel_reads_what_the_field_asks_for(
    fields: dict[tuple[str, str], tuple[str, ReadingField]], place: tuple[str, str]
) -> None:
    heat, field = fields[place]
    channel = CHANNEL_OF[CHANNEL_FOR_FIELD[place]]
    assert channel.quantity == field.quantity
    assert channel.only_for in ("", heat)
    assert not channel.total  # a total is read twice, and the field asks for the difference
    assert not NO_MOMENT.search(field.label)


def test_fields_that_share_a_name_with_a_channel_are_there_or_are_no_moment(
    fields: dict[tuple[str, str], tuple[str, ReadingField]],
) -> None:
    names = {channel.name for channel in CHANNELS}
    left_out = {place for place in fields if place[1] in names and place not in CHANNEL_FOR_FIELD}
    assert left_out == {
        ("documents.conditions", "steam_gauge_Pa"),  # at the stop valve; the channel is at the coil
        ("run.log", "spray_flow_m3_s"),  # means and sums over hours
        ("run.log", "air_flow_m3_s"),
        ("run.log", "exhaust_temperature_K"),
        ("run.log", "gas_volume_standard_m3"),
        ("run.log", "electric_energy_J"),
        ("burner.clocked_high", "gas_volume_standard_m3"),  # of ten minutes
        ("burner.clocked_low", "gas_volume_standard_m3"),
    }


def test_the_field_s_own_point_comes_before_the_channel() -> None:
    assert targets_for("run.settle", "tank_temperature_K") == ("run.settle/tank_temperature_K", "tank_temperature_K")
    assert targets_for("rods.low", "insertion_m") == ("rods.low/insertion_m",)

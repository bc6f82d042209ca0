"""What it takes to read a panel into a run, checked before anything is connected: map, address, instruments."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from vaporwright.acceptance.record.events import AddAttachment, Refused
from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.log import CHANNEL_OF, Channel, channels_for
from vaporwright.acceptance.run.panel_fields import targets_for
from vaporwright.acceptance.steps.procedure import ReadingField, Step
from vaporwright.actions.accept_run import instruments_by_channel
from vaporwright.actions.desk import Desk
from vaporwright.actions.live_run import LONGEST_s
from vaporwright.files.quantities import parse_quantity
from vaporwright.files.register_address import address_of, require_private, with_address
from vaporwright.files.register_map import Meaning, RegisterMap
from vaporwright.files.register_map_file import read_register_map_text
from vaporwright.files.register_map_lines import with_line
from vaporwright.foundation.errors import InputError

LARGEST_MAP_bytes: Final = 500_000
SHORTEST_s: Final = 1.0  # from row to row: each is an event of the record, which everybody's pages read
WHERE: Final = "register map"
MAP_NAME: Final = "register_map.toml"
MAP_TYPE: Final = "application/toml"


@dataclass(frozen=True)
class PanelPlan:
    """A register map that fits a run, with where and how often it is read."""

    text: str  # the map as it came
    typed_address: str  # "" where the map's own hold
    registers: RegisterMap  # at the address
    every_s: float
    instruments: Mapping[str, str]  # by channel

    @property
    def sha256(self) -> str:
        """Of the map, as the store keeps it."""
        return hashlib.sha256(self.text.encode()).hexdigest()

    @property
    def places(self) -> tuple[str, ...]:
        """The addresses of its devices."""
        return tuple(address_of(device) for device in self.registers.devices)


def plan_of(
    state: RunState, content: bytes, address: str, every: str, picked: Mapping[str, str], today: str
) -> PanelPlan:
    """Check a map against itself and against a run.

    Args: every: from row to row as typed, empty for the map's own interval; picked: instruments by channel, where
        several could be meant; today: ISO.
    Raises: InputError that names the line, the key, the value and what is allowed; Refused where nothing may be logged.
    """
    require_takes_rows(state)
    text = _text(content)
    try:
        registers = read_register_map_text(text, WHERE)
        require_private(registers, WHERE)
    except InputError as error:
        raise with_line(error, text) from None
    registers = with_address(registers, address)
    every_s = _interval_s(every, registers)
    channels = [meaning.target for meaning in registers.meanings if meaning.target in CHANNEL_OF]
    instruments = instruments_by_channel(state, channels, {key: one for key, one in picked.items() if one})
    for channel, instrument in instruments.items():
        if not any(entry.day == today for entry in state.instruments.get(instrument, ())):
            problem = f"{instrument} is not registered today ({today})"
            raise InputError("instruments", CHANNEL_OF[channel].label, problem, "register it for today first")
    return PanelPlan(text, address.strip(), registers, every_s, instruments)


def require_takes_rows(state: RunState) -> None:
    """Raise Refused where the record takes no rows, now or ever again."""
    why = closed_to_rows(state)
    if why:
        raise Refused(why, "an open run with a procedure")


def closed_to_rows(state: RunState) -> str:
    """Why a record takes no rows; empty where it does."""
    if state.procedure is None:
        return "the run has no procedure yet"
    if state.closed:
        return "the run is closed"
    if state.void:
        return "the whole test is void"
    return "the record is signed" if state.covering else ""


def keep_map(desk: Desk, run: str, plan: PanelPlan) -> RunState:
    """Keep the map in the store and name it in the record, once: what rows mean is told by it."""
    attachment = desk.attach(plan.text.encode(), MAP_NAME, MAP_TYPE)
    state = desk.state(run)
    if any(one.attachment.sha256 == attachment.sha256 for one in state.attachments):
        return state
    return desk.enter(run, AddAttachment(desk.stamp(), attachment), state)


def missing_channels(registers: RegisterMap, heat: str) -> tuple[Channel, ...]:
    """Channels of a unit of this heat that a map does not read."""
    read = {meaning.target for meaning in registers.meanings}
    return tuple(channel for channel in channels_for(heat) if channel.name not in read)


@dataclass(frozen=True)
class Covered:
    """A point of a map that reads what a field asks for."""

    meaning: Meaning
    instrument: str = ""  # the one by which the channel is read; "" where the field's own is picked as usual
    may_be_taken: bool = True  # the channel is read with an instrument of the kind that the field asks for


def covered_by(plan: PanelPlan, step: Step, field: ReadingField) -> Covered | None:
    """The point of the map for a field, if it has one of the field's quantity."""
    by_target = {meaning.target: meaning for meaning in plan.registers.meanings}
    for target in targets_for(step.key, field.key):
        meaning = by_target.get(target)
        if meaning is None or meaning.quantity != field.quantity:
            continue
        if target not in CHANNEL_OF:
            return Covered(meaning)
        return Covered(meaning, plan.instruments[target], CHANNEL_OF[target].instrument == field.instrument)
    return None


def unknown_points(registers: RegisterMap, state: RunState) -> tuple[str, ...]:
    """Points of a map that are neither a channel nor a field of this test, or of another quantity than the field."""
    fields = {f"{step.key}/{field.key}": field.quantity for step in state.steps for field in step.fields}
    return tuple(
        meaning.target
        for meaning in registers.meanings
        if meaning.target not in CHANNEL_OF and fields.get(meaning.target) != meaning.quantity
    )


def _text(content: bytes) -> str:
    if not content:
        raise InputError(WHERE, "", "no file was chosen", "a register map (TOML)")
    if len(content) > LARGEST_MAP_bytes:
        raise InputError(WHERE, "", "is too large", f"at most {LARGEST_MAP_bytes / 1e3:.0f} kB")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(WHERE, "", "is no text in UTF-8", "a register map (TOML)") from None


def _interval_s(every: str, registers: RegisterMap) -> float:
    typed = every.strip()
    every_s = parse_quantity(typed, "delay", where="form", key="row every") if typed else registers.poll_s
    if not SHORTEST_s <= every_s <= LONGEST_s:
        where, key = ("form", "row every") if typed else (WHERE, "poll")
        allowed = f"{SHORTEST_s:g} s to {LONGEST_s / 3600.0:g} h"
        raise InputError(where, key, f'"{typed or f"{every_s:g} s"}" is out of range', allowed)
    return every_s

"""The panel that is read live, as pages show it: how the reading stands, and what it reads, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from fastapi import FastAPI, Request

from vaporwright.acceptance.record.state import RunState
from vaporwright.acceptance.run.log import CHANNEL_OF, channels_for
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.procedure import ReadingField, Step
from vaporwright.actions.desk import fresh_id
from vaporwright.actions.floor_work import may_perform
from vaporwright.actions.live_reading import LiveReading, Silent, Standing
from vaporwright.actions.live_readings import SERVER_STOPPED, KeptReading, LiveReadings
from vaporwright.actions.panel_plan import Covered, closed_to_rows, covered_by, missing_channels, unknown_points
from vaporwright.documents.measured_words import reading_text
from vaporwright.live.samples import LiveValue
from vaporwright.web.context import Shop, viewer, when
from vaporwright.web.floor import OpenedRun, today

FOLDER: Final = "panels"  # in the server's own folder
ENDED: Final = "panel reading ended"
READERS: Final = ("engineer", "technician")  # who may begin and stop


def panels_of(app: FastAPI) -> LiveReadings:
    """The panels that a server reads."""
    found: LiveReadings | None = getattr(app.state, "panels", None)
    if found is None:
        here: Shop = app.state.shop
        found = LiveReadings(here.settings.data_folder / FOLDER, here.clock, lambda kept: _note_end(here, kept))
        app.state.panels = found
    return found


def panels(request: Request) -> LiveReadings:
    """Those of this server."""
    return panels_of(request.app)


def reads_on(request: Request, run: str) -> bool:
    """Whether the panel of a run is being read now."""
    reading = panels(request).of(run)
    return reading is not None and reading.standing().phase != "ended"


def _note_end(here: Shop, kept: KeptReading) -> None:
    detail = f"begun by {kept.who}; {kept.rows_entered} rows in the record; {kept.why_ended}"
    here.people.note(ENDED, at=here.clock(), who="the server", account="", address="", subject=kept.run, detail=detail)


def reader_shown(request: Request, opened: OpenedRun, typed: Mapping[str, str] | None = None) -> dict[str, Any]:
    """What the part of the performance page about the panel needs; `typed` is what a form was sent with."""
    who, state = viewer(request), opened.state
    found = panel_shown(panels(request), opened.run, state, who.units)
    may = who.may(*READERS) and bool(who.name) and not closed_to_rows(state)
    day, heat = today(request), state.procedure.heat if state.procedure else ""
    several = [(one, registered_on(state, one.instrument, day)) for one in channels_for(heat)]
    return {
        "panel": found,
        "may_read": may,
        "span_text": span_text,
        "picks": [(channel, choices) for channel, choices in several if len(choices) > 1],
        "typed": typed or {},
        "panel_seq": "" if found.goes_on else f"{found.phase or 'none'} {found.since}",
    }


def registered_on(state: RunState, kind: str, day: str) -> tuple[Instrument, ...]:
    """The instruments of a kind that are registered on a day."""
    entries = (had[-1] for had in state.instruments.values() if any(one.day == day for one in had))
    return tuple(one.instrument for one in entries if one.instrument.kind == kind)


def step_panel_shown(request: Request, opened: OpenedRun, step: Step) -> dict[str, Any]:
    """What a step's page needs of the panel: what it reads for the fields, and with what it may be taken."""
    who, state = viewer(request), opened.state
    found = fields_from_panel(panels(request), opened.run, step, who.units)
    takes = bool(who.name) and may_perform(who.roles, step) and not closed_to_rows(state)
    open_fields = {one.key for one in step.fields if state.current(step.key, one.key) is None}
    kinds = {one.key: one.instrument for one in step.fields}
    picks = {key: registered_on(state, kinds[key], today(request)) for key in found}
    return {"panel": found, "fresh_id": fresh_id, "panel_takes": open_fields if takes else set(), "panel_picks": picks}


@dataclass(frozen=True)
class ValueShown:
    """A point of the map: what it is, what it reads now, why it does not."""

    label: str
    value: str  # with unit, in the reader's units; "" where there is none
    why: str = ""  # there is none


@dataclass(frozen=True)
class PanelShown:
    """How the reading of a run stands, in words; `phase` is "" where nothing was ever read."""

    phase: str  # "", reading, ending, ended, lost
    who: str = ""
    since: str = ""
    ended: str = ""
    why_ended: str = ""
    with_server: bool = False  # it ended because the server did
    every: str = ""
    places: tuple[str, ...] = ()
    rows_read: int = 0
    rows_entered: int = 0
    rows_waiting: int = 0
    waits: str = ""  # how long a row waits before it is entered
    age: str = ""
    silent: tuple[Silent, ...] = ()
    refused: str = ""
    values: tuple[ValueShown, ...] = ()
    missing: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()

    @property
    def goes_on(self) -> bool:
        """Whether it is read just now."""
        return self.phase in ("reading", "ending")


def panel_shown(here: LiveReadings, run: str, state: RunState, system: str) -> PanelShown:
    """How the reading of a run stands."""
    reading, kept = here.of(run), here.kept(run)
    if kept is None:
        return PanelShown("")
    who, since, every = f"{kept.who} ({kept.role})", when(kept.began_at), span_text(kept.every_s)
    if reading is None or reading.standing().phase == "ended":
        ended_at = kept.last_at if kept.ended_at is None else kept.ended_at
        lost = reading is None and kept.ended_at is None
        standing = None if reading is None else reading.standing()
        why = kept.why_ended if standing is None else standing.why_ended
        return PanelShown(
            "lost" if lost else "ended",
            who,
            since,
            when(ended_at),
            why,
            lost or why == SERVER_STOPPED,
            every,
            rows_entered=kept.rows_entered if standing is None else standing.rows_entered,
            rows_waiting=kept.rows_waiting if standing is None else standing.rows_waiting,
            refused="" if standing is None else standing.refused,
        )
    standing = reading.standing()
    heat = state.procedure.heat if state.procedure else ""
    return PanelShown(
        standing.phase,
        who,
        since,
        every=every,
        places=reading.plan.places,
        rows_read=standing.rows_read,
        rows_entered=standing.rows_entered,
        rows_waiting=standing.rows_waiting,
        waits=span_text(standing.lag_s) if standing.lag_s else "",
        age="" if standing.value_age_s is None else ago(standing.value_age_s),
        silent=standing.silent,
        refused=standing.refused,
        values=_values(reading, standing, state, system),
        missing=tuple(channel.label for channel in missing_channels(reading.plan.registers, heat)),
        unknown=unknown_points(reading.plan.registers, state),
    )


def _values(reading: LiveReading, standing: Standing, state: RunState, system: str) -> tuple[ValueShown, ...]:
    if standing.row is None:
        return ()
    fields = {f"{step.key}/{one.key}": (step, one) for step in state.steps for one in step.fields}
    return tuple(
        _value(standing.row.values[meaning.target], meaning.quantity, fields, system)
        for meaning in reading.plan.registers.meanings
    )


def _value(value: LiveValue, quantity: str, fields: Mapping[str, tuple[Step, ReadingField]], system: str) -> ValueShown:
    channel, known = CHANNEL_OF.get(value.target), fields.get(value.target)
    if channel is not None:
        label, field = channel.label, _field_of(channel.name)
    elif known is not None:
        label, field = f"{known[0].title}: {known[1].label}", known[1]
    else:
        label, field = value.target, ReadingField("", "", quantity)
    if value.value is None:
        return ValueShown(label, "", no_value(value))
    return ValueShown(label, reading_text(value.value, field, system))


def _field_of(name: str) -> ReadingField:
    channel = CHANNEL_OF[name]
    return ReadingField(channel.name, channel.label, channel.quantity, instrument=channel.instrument)


def no_value(value: LiveValue) -> str:
    """Why a point has no value now."""
    seen = f"; seen {value.seen}" if value.seen else ""
    return f"{value.quality}: {value.reason}{seen}"


@dataclass(frozen=True)
class FieldFromPanel:
    """What the panel says of a field of a step."""

    key: str
    words: str
    is_value: bool
    number: int  # of the row; 0 where there is none
    may_be_taken: bool
    asks_instrument: bool  # it is picked as for any reading


def fields_from_panel(here: LiveReadings, run: str, step: Step, system: str) -> dict[str, FieldFromPanel]:
    """The fields of a step that the map covers, while the panel is read."""
    reading = here.of(run)
    if reading is None or reading.standing().phase != "reading":
        return {}
    standing = reading.standing()
    found = {}
    for field in step.fields:
        covered = covered_by(reading.plan, step, field)
        if covered is not None:
            found[field.key] = _from_panel(standing, field, covered, system)
    return found


def _from_panel(standing: Standing, field: ReadingField, covered: Covered, system: str) -> FieldFromPanel:
    value = None if standing.row is None else standing.row.values[covered.meaning.target]
    asks = covered.may_be_taken and not covered.instrument and bool(field.instrument)
    if value is None:
        return FieldFromPanel(field.key, "Waiting for the panel.", False, 0, covered.may_be_taken, asks)
    if value.value is None:
        words = f"The panel gives no value: {no_value(value)}."
        return FieldFromPanel(field.key, words, False, 0, covered.may_be_taken, asks)
    words = f"Panel reads {reading_text(value.value, field, system)}, {ago(standing.age_s)}."
    if not covered.may_be_taken:
        words += f" For comparison only: this is read with a {field.instrument}."
    return FieldFromPanel(field.key, words, True, standing.number, covered.may_be_taken, asks)


def ago(seconds: float) -> str:
    """How long ago, as people say it."""
    return f"{span_text(seconds)} ago"


def span_text(seconds: float) -> str:
    """A span of time, as people say it."""
    if seconds < 90.0:
        return f"{seconds:.0f} s" if seconds >= 1.0 or seconds == 0.0 else f"{seconds:.1f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"

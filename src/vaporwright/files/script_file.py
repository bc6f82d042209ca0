"""Reading of rehearsal scripts: TOML of our own, with units as in job files, and one error that says what is wrong.

    name = "Normal stop"                 start.level = "refill-off"        heat = ["gas"]    which units it is for
    purpose = "..."                      start.temperature = "settling"    duration = "20 min"

    [[event]]                            what people do, and what fails
    at = "2 min"                         not before; `when = "low_level on"` waits for it (a list: in turn)
    push = "start"                       `wait = "10 s"` waits on; one verb or several: push, turn, stick, fail, ...
    for = "0.5 s"

    [[expect]]                           what must be so; `why` says why
    that = "heat"                        a signal, row or effect; or alarm, first_out, quantity, count
    is = "on"
    from = "2 min"                       or `at`; `when` anchors it; `within`, `for` or `to` say how long
    within = "pump_proving + 60 s"       times may name a delay of the table

Quantities may be stated against the unit: "set point - 4 degF", "refill-on + 0.5 in", "95 % of rate".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from vaporwright.controls.delays import DELAY_OF, REFILL_RUN
from vaporwright.controls.script import (
    BASES,
    FAILURES,
    HEATS,
    QUANTITIES,
    SUPPLIES,
    VERBS,
    Bounds,
    Count,
    Crossing,
    Deed,
    DeedValue,
    Event,
    Expectation,
    Happening,
    LONGEST_SCRIPT_s,
    Mode,
    Moment,
    Place,
    Script,
    Start,
    Subject,
    Trigger,
)
from vaporwright.files.values import read_toml, read_value, typed_text, unknown_key
from vaporwright.foundation.errors import InputError

LARGEST_LIST: Final = 2000  # events or expectations
_SCRIPT_KEYS: Final = ("name", "purpose", "heat", "duration", "start", "event", "expect")
_START_KEYS: Final = ("level", "temperature", "signals")
_EVENT_KEYS: Final = ("at", "when", "wait", "for", "only_for", "note", *VERBS)
_SUBJECTS: Final = ("that", "alarm", "first_out", "quantity", "count")
_EXPECT_KEYS: Final = (
    *_SUBJECTS, "is", "least", "most", "at", "from", "to", "for", "within", "when", "whilst", "only_for", "why",
)  # fmt: skip
ALARM_STATES: Final = (
    "normal",
    "unacknowledged active",
    "acknowledged active",
    "returned to normal unacknowledged",
    "latched unacknowledged",
    "latched acknowledged",
)
_DELAYS: Final = {name.removesuffix("_s"): name for name in (*DELAY_OF, REFILL_RUN)}
_OFFSETS: Final = {"temperature": "temperature difference"}  # of what is added to a figure of the unit
_TIME_TERM: Final = re.compile(r"\s+([+-])\s+")
_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")


@dataclass(frozen=True)
class _Value:
    """A value as values.read_value wants it declared."""

    quantity: str
    least: float | None = None
    most: float | None = None
    choices: tuple[str, ...] = ()


def read_script_file(path: Path | str) -> Script:
    """Read and check a script.

    Raises: InputError with file, entry, key, the value as typed and what is allowed. Names of signals, rows and
    effects can only be checked against a unit's table: `rehearsal` does that.
    """
    path = Path(path)
    _, tables = read_toml(path)
    return script_of(tables, str(path))


def script_of(tables: Mapping[str, Any], where: str) -> Script:
    """A script from its TOML tables; raises as read_script_file."""
    entry = _Entry(where, "", tables)
    entry.require_known(_SCRIPT_KEYS)
    start = _Entry(where, "start", entry.table("start"))
    start.require_known(_START_KEYS)
    duration = entry.needed("duration", entry.moment)
    if not 1.0 <= duration.seconds <= LONGEST_SCRIPT_s or duration.delays:
        raise InputError(where, "duration", f'"{duration.text}" is out of range', "1 s to 7 days, without delays")
    return Script(
        where=where,
        name=entry.needed("name", entry.text),
        purpose=entry.needed("purpose", entry.text),
        duration=duration,
        start=Start(
            level=start.place("level", "short length") if "level" in start.raw else Start().level,
            temperature=start.place("temperature", "temperature")
            if "temperature" in start.raw
            else Start().temperature,
            signals=start.signals(),
        ),
        events=tuple(_event(item) for item in entry.list_of("event")),
        expectations=tuple(_expectation(item) for item in entry.list_of("expect")),
        heats=entry.choices("heat", HEATS) if "heat" in tables else HEATS,
    )


class _Entry:
    """One table of the file with its label, so that every message says which entry it is about."""

    def __init__(self, where: str, label: str, raw: Mapping[str, Any]) -> None:
        self.where, self.label, self.raw = where, label, raw

    def key(self, name: str) -> str:
        return f"{self.label}.{name}" if self.label else name

    def fault(self, name: str, problem: str, allowed: str = "") -> InputError:
        return InputError(self.where, self.key(name), problem, allowed)

    def require_known(self, known: Iterable[str]) -> None:
        names = [self.key(name) for name in known]
        for name in self.raw:
            if self.key(name) not in names:
                raise unknown_key(self.where, self.key(name), names)

    def table(self, name: str) -> Mapping[str, Any]:
        raw = self.raw.get(name, {})
        if not isinstance(raw, dict):
            raise self.fault(name, f"{typed_text(raw)} stands where a table belongs", f"a table [{self.key(name)}]")
        return raw

    def list_of(self, name: str) -> list[_Entry]:
        raw = self.raw.get(name, [])
        if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
            raise self.fault(name, f"{typed_text(raw)} is no list of tables", f"tables [[{name}]]")
        if len(raw) > LARGEST_LIST:
            raise self.fault(name, f"has {len(raw)} entries", f"at most {LARGEST_LIST}")
        return [_Entry(self.where, f"{name} {place}", item) for place, item in enumerate(raw, start=1)]

    def needed(self, name: str, read: Callable[[str], Any]) -> Any:
        if name not in self.raw:
            raise self.fault(name, "is missing")
        return read(name)

    def value(self, name: str, declared: _Value, raw: object = None) -> Any:
        given = self.raw[name] if raw is None else raw
        return read_value(given, declared, where=self.where, key=self.key(name))[0]

    def text(self, name: str, default: str | None = None) -> str:
        if default is not None and name not in self.raw:
            return default
        found = str(self.value(name, _Value("text"))).strip()
        if not found:
            raise self.fault(name, "is empty", "a text")
        return found

    def choice(self, name: str, choices: tuple[str, ...], raw: object = None) -> str:
        return str(self.value(name, _Value("choice", choices=choices), raw))

    def choices(self, name: str, choices: tuple[str, ...]) -> tuple[str, ...]:
        found: tuple[str, ...] = self.value(name, _Value("list", choices=choices))
        if not found:
            raise self.fault(name, "is an empty list", " or ".join(choices))
        return found

    def signals(self) -> dict[str, bool]:
        found = self.table("signals")
        for name, raw in found.items():
            if not isinstance(raw, bool):
                raise self.fault(f"signals.{name}", f"{typed_text(raw)} is not a yes or no", "true or false")
        return dict(found)

    def moment(self, name: str) -> Moment:
        text = self.text(name)
        terms = _TIME_TERM.split(text)
        seconds, delays = 0.0, []
        for place in range(0, len(terms), 2):
            sign = -1.0 if place and terms[place - 1] == "-" else 1.0
            term = terms[place].strip()
            if term in _DELAYS:
                delays.append((_DELAYS[term], sign))
            elif _NAME.fullmatch(term):
                raise self.fault(name, f'"{term}" is no delay of the table', ", ".join(_DELAYS))
            else:
                seconds += sign * self.value(name, _Value("short duration", 0.0, LONGEST_SCRIPT_s), term)
        return Moment(seconds, tuple(delays), text)

    def moment_or(self, name: str, default: Moment | None) -> Moment | None:
        return self.moment(name) if name in self.raw else default

    def place(self, name: str, quantity: str, text: str | None = None) -> Place:
        if text is None:
            raw = self.raw[name]
            if not isinstance(raw, str):
                value = self.value(name, _Value(quantity), raw)
                return Place(float(value), text=str(raw))
            text = raw
        text = text.strip()
        share, _, rest = text.rpartition(" of ")
        base = next((base for base in sorted(BASES[quantity], key=len, reverse=True) if _begins(rest, base)), "")
        if not base:
            try:
                return Place(float(self.value(name, _Value(quantity), text)), text=text)
            except InputError as error:
                named = ", ".join(f'"{item}"' for item in BASES[quantity])
                allowed = f"{error.allowed}; or against {named}" if named else error.allowed
                raise InputError(error.where, error.key, error.problem, allowed) from None
        factor = float(self.value(name, _Value("fraction", 0.0, 10.0), share)) if share else 1.0
        return Place(self._offset(name, quantity, rest[len(base) :]), base, factor, text)

    def _offset(self, name: str, quantity: str, rest: str) -> float:
        if not rest.strip():
            return 0.0
        sign, number = rest.strip()[0], rest.strip()[1:].strip()
        if sign not in "+-" or not number:
            raise self.fault(
                name, f'"{rest.strip()}" follows a figure of the unit', 'for instance "+ 4 degF", "- 1 in"'
            )
        value = float(self.value(name, _Value(_OFFSETS.get(quantity, quantity)), number))
        return value if sign == "+" else -value

    def triggers(self, name: str) -> tuple[Trigger, ...]:
        raw = self.raw.get(name, [])
        texts = raw if isinstance(raw, list) else [raw]
        return tuple(self._trigger(name, str(self.value(name, _Value("text"), text))) for text in texts)

    def _trigger(self, name: str, text: str) -> Trigger:
        for side in (" above ", " below "):
            quantity, found, place = text.partition(side)
            if found:
                return Crossing(self._momentary(name, quantity), side == " above ", self._of(name, quantity, place))
        return self._happening(name, text)

    def _momentary(self, name: str, quantity: str) -> str:
        momentary = tuple(item for item, measured in QUANTITIES.items() if measured.reading == "moment")
        return self.choice(name, momentary, quantity)

    def _of(self, name: str, quantity: str, text: str) -> Place:
        return self.place(name, QUANTITIES[quantity].quantity, text)

    def happening(self, name: str) -> Happening:
        return self._happening(name, self.text(name))

    def _happening(self, name: str, text: str) -> Happening:
        words = text.split()
        if len(words) != 2 or not _NAME.fullmatch(words[0]) or words[1] not in ("on", "off"):
            raise self.fault(name, f'"{text}" is no condition', '"NAME on" or "NAME off"')
        return Happening(words[0], words[1] == "on")

    def only_for(self) -> str:
        return self.choice("only_for", HEATS) if "only_for" in self.raw else ""


def _begins(text: str, base: str) -> bool:
    """The figure's name stands first, and not as the beginning of a longer word: "high" is not "high-high"."""
    return text.startswith(base) and text[len(base) : len(base) + 1] in ("", " ")


def _event(entry: _Entry) -> Event:
    entry.require_known(_EVENT_KEYS)
    deeds = tuple(deed for verb in VERBS if verb in entry.raw for deed in _deeds(entry, verb))
    if not deeds:
        raise InputError(entry.where, entry.label, "does nothing", ", ".join(VERBS))
    if "for" in entry.raw and "push" not in entry.raw:
        raise entry.fault("for", "says how long to push, and nothing is pushed")
    if "at" not in entry.raw and "when" not in entry.raw:
        raise InputError(entry.where, entry.label, "says no time", "at, when or both")
    if "wait" in entry.raw and "when" not in entry.raw:
        raise entry.fault("wait", "follows `when`, which is not given", "at alone")
    return Event(
        label=entry.label,
        at=entry.moment_or("at", None) or Moment(),
        deeds=deeds,
        when=entry.triggers("when"),
        wait=entry.moment_or("wait", None) or Moment(),
        hold=entry.moment_or("for", None),
        only_for=entry.only_for(),
        note=entry.text("note", ""),
    )


def _deeds(entry: _Entry, verb: str) -> Iterable[Deed]:
    rule, raw = VERBS[verb], entry.raw[verb]
    if rule.targets == ():
        yield Deed(verb, "", _deed_value(entry, verb, rule.values, raw))
        return
    if not isinstance(raw, dict) or not raw:
        raise entry.fault(verb, f"{typed_text(raw)} is no table", f'{verb} = {{ NAME = "..." }}: {rule.meaning}')
    for target, value in raw.items():
        key = f"{verb}.{target}"
        if rule.targets is not None and target not in rule.targets:
            raise unknown_key(entry.where, entry.key(key), [entry.key(f"{verb}.{name}") for name in rule.targets])
        values = FAILURES[target] if verb == "fail" else SUPPLIES[target] if verb == "supply" else rule.values
        yield Deed(verb, target, _deed_value(entry, key, values, value))


def _deed_value(entry: _Entry, key: str, values: tuple[str, ...] | str, raw: object) -> DeedValue:
    if isinstance(values, tuple):
        return entry.choice(key, values, raw)
    if not isinstance(raw, str):
        return Place(float(entry.value(key, _Value(values), raw)), text=str(raw))
    return entry.place(key, values, raw)


def _expectation(entry: _Entry) -> Expectation:
    entry.require_known(_EXPECT_KEYS)
    subjects = [name for name in _SUBJECTS if name in entry.raw]
    if len(subjects) != 1:
        problem = f"names {' and '.join(subjects)}" if subjects else "names nothing to look at"
        raise InputError(entry.where, entry.label, problem, f"one of {', '.join(_SUBJECTS)}")
    subject, name, wanted = _wanted(entry, subjects[0])
    mode, span = _mode(entry, subject, wanted)
    if "why" not in entry.raw:
        raise entry.fault("why", "is missing: an expectation says why it is one", "a sentence")
    words = ("is", "least", "most", "at", "from", "when", "within", "for", "to", "whilst")
    said = [f"{word} {entry.raw[word]}" for word in words if word in entry.raw]
    return Expectation(
        label=entry.label,
        subject=subject,
        name=name,
        wanted=wanted,
        mode=mode,
        start=entry.moment_or("at", entry.moment_or("from", None)) or Moment(),
        when=entry.triggers("when"),
        span=span,
        end=entry.moment_or("to", None),
        whilst=entry.happening("whilst") if "whilst" in entry.raw else None,
        only_for=entry.only_for(),
        why=entry.text("why"),
        text=" ".join((subjects[0].replace("_", " ").replace("that", ""), name, *said)).strip(),
    )


def _wanted(entry: _Entry, subject: str) -> tuple[Subject, str, bool | str | Bounds | Count]:
    bounded = subject in ("quantity", "count")
    for name in ("least", "most") if not bounded else ("is",):
        if name in entry.raw:
            raise entry.fault(name, f"does not go with {subject}", "least and most" if bounded else "is")
    if bounded and "least" not in entry.raw and "most" not in entry.raw:
        raise InputError(entry.where, entry.label, "expects nothing of it", "least, most or both")
    if subject == "quantity":
        name = entry.choice("quantity", tuple(QUANTITIES))
        kind = QUANTITIES[name].quantity
        low, high = (entry.place(side, kind) if side in entry.raw else None for side in ("least", "most"))
        return "quantity", name, Bounds(low, high)
    name = entry.text(subject)
    if not _NAME.fullmatch(name):
        raise entry.fault(subject, f'"{name}" can\'t be a name', "a signal, row or effect of the table")
    if subject == "count":
        least = int(entry.value("least", _Value("count", 0.0))) if "least" in entry.raw else 0
        most = int(entry.value("most", _Value("count", float(least)))) if "most" in entry.raw else None
        return "count", name, Count(least, most)
    if subject == "first_out":
        if "is" in entry.raw:
            raise entry.fault("is", "does not go with first_out: the row that came first is its name")
        return "first out", name, True
    if subject == "alarm":
        return "alarm", name, entry.needed("is", lambda key: entry.choice(key, ALARM_STATES))
    return "name", name, entry.needed("is", lambda key: entry.choice(key, ("on", "off"))) == "on"


def _mode(entry: _Entry, subject: Subject, wanted: object) -> tuple[Mode, Moment | None]:
    given = [name for name in ("at", "within", "for", "to") if name in entry.raw]
    if len(given) > 1 or ("at" in entry.raw and "from" in entry.raw):
        names = given if len(given) > 1 else ["at", "from"]
        raise InputError(entry.where, entry.label, f"says {' and '.join(names)}", "one of at, within, for, to")
    mode: Mode = "at" if "at" in given else "within" if "within" in given else "throughout"
    if "whilst" in entry.raw and mode != "throughout":
        raise entry.fault("whilst", f"does not go with {mode}", "a span of time")
    spanned = subject == "count" or (
        isinstance(wanted, Bounds) and QUANTITIES[str(entry.raw["quantity"])].reading != "moment"
    )
    if spanned and (mode != "throughout" or "whilst" in entry.raw):
        raise InputError(entry.where, entry.label, "is counted or summed over a span of time", "from, to, for")
    return mode, entry.moment_or("within", entry.moment_or("for", None))

"""PINs of those who sign in a run at the machine itself, where nobody has an account.

A PIN belongs to one name and role in one run. Whoever acts first under that name chooses it; from then on it is asked
for. Only its argon2id hash is kept. It keeps one person from acting as another by mistake or in passing; who the person
is, the others in the room must know.
"""

from __future__ import annotations

import unicodedata
from typing import Final

from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError

from vaporwright.foundation.errors import InputError
from vaporwright.store.database import Database
from vaporwright.store.passwords import LONGEST, hashed, matches
from vaporwright.store.web_tables import RUN_PINS

SHORTEST_PIN: Final = 6
_FILLING: Final = "run pin "  # a PIN is shorter than a password may be


class RunPins:
    """PINs in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def is_set(self, run: str, name: str, role: str) -> bool:
        """Whether somebody of that name has chosen a PIN in this run."""
        return self._stored(run, name, role) is not None

    def matches(self, run: str, name: str, role: str, pin: str) -> bool:
        """Whether a PIN is the one that was chosen; the first one that is used is chosen thereby.

        Raises: InputError for a first PIN that is too short.
        """
        known = self._stored(run, name, role)
        if known is None:
            known = self._choose(run, name, role, pin)
        return matches(known, _FILLING + pin)

    def _choose(self, run: str, name: str, role: str, pin: str) -> str:
        if not SHORTEST_PIN <= len(pin) <= LONGEST - len(_FILLING):
            allowed = f"{SHORTEST_PIN} digits or more, yours alone in this run"
            raise InputError("PIN", "", f"has {len(pin)} characters", allowed)
        made = hashed(_FILLING + pin)
        values = {"run": run, "login": _login(name), "role": role, "name": name, "pin": made}
        try:
            with self._database.writing() as connection:
                connection.execute(insert(RUN_PINS).values(**values))
        except IntegrityError:  # two at the same moment: the first one's stands
            return self._stored(run, name, role) or ""
        return made

    def _stored(self, run: str, name: str, role: str) -> str | None:
        place = (RUN_PINS.c.run == run) & (RUN_PINS.c.login == _login(name)) & (RUN_PINS.c.role == role)
        found = self._database.rows(select(RUN_PINS.c.pin).where(place))
        return str(found[0].pin) if found else None


def _login(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).split()).casefold()[:120]

"""People: accounts with argon2 passwords, sessions, the audit, and links for those who only look.

Of a session or a link only the SHA-256 of its secret is stored: whoever reads the database cannot use it. The audit is
only ever added to: there is no function that alters it.
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias, get_args

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from vaporwright.foundation.errors import InputError
from vaporwright.store.database import Database
from vaporwright.store.passwords import hashed
from vaporwright.store.web_tables import ACCOUNTS, AUDIT, LINKS, SESSIONS

AccountRole: TypeAlias = Literal["engineer", "technician", "witness", "viewer"]
Qualification: TypeAlias = Literal["electrician", "burner technician"]
ACCOUNT_ROLES: Final[tuple[AccountRole, ...]] = get_args(AccountRole)
QUALIFICATIONS: Final[tuple[Qualification, ...]] = get_args(Qualification)
UNIT_SYSTEMS: Final = ("US", "SI")
THEMES: Final = ("auto", "light", "dark")
LONGEST_NAME: Final = 80
LINK_ID_LENGTH: Final = 16  # of the hash of its secret


@dataclass(frozen=True)
class Account:
    """A person with a password; the password itself is known to nobody."""

    id: str
    name: str
    password: str
    role: str
    qualifications: tuple[str, ...]
    units: str
    theme: str
    made_at: float
    made_by: str
    disabled_at: float | None


@dataclass(frozen=True)
class Session:
    """Somebody who looks: with an account, or at the machine itself under a name of their own."""

    token_sha256: str
    account: str | None
    name: str
    qualifications: tuple[str, ...]
    units: str
    theme: str
    made_at: float
    seen_at: float


@dataclass(frozen=True)
class AuditEntry:
    """Who did what, when, from where."""

    number: int
    at: float
    who: str
    account: str
    address: str
    what: str
    subject: str
    detail: str


@dataclass(frozen=True)
class Link:
    """A secret address that shows one thing, read-only."""

    id: str  # not the secret, and not enough to make it
    subject: str
    label: str  # for whom
    made_at: float
    made_by: str
    until: float
    withdrawn_at: float | None

    def is_open(self, at: float) -> bool:
        """Whether it shows anything at a time."""
        return self.withdrawn_at is None and at < self.until


def sha256_of(token: str) -> str:
    """What is stored of a secret."""
    return hashlib.sha256(token.encode()).hexdigest()


def fresh_token() -> str:
    """A secret of 256 random bits."""
    return secrets.token_urlsafe(32)


def checked_name(name: str, where: str = "name") -> str:
    """A person's name as it will be kept.

    Raises: InputError for an empty, overlong or unprintable one.
    """
    name = " ".join(unicodedata.normalize("NFC", name).split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        problem = "is missing" if not name else "cannot be used as a name"
        raise InputError(where, "", problem, f"a readable name of at most {LONGEST_NAME} letters")
    return name


def _one_of(value: str, known: tuple[str, ...], where: str) -> str:
    if value not in known:
        raise InputError(where, "", f"{value!r} is not among the choices", ", ".join(known))
    return value


class PeopleStore:
    """Accounts, sessions, audit and links in a database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    # accounts

    def add_account(
        self, name: str, password: str, role: str, qualifications: tuple[str, ...], units: str, *, at: float, by: str
    ) -> Account:
        """Make an account.

        Raises: InputError for a name that is taken, a role that there is not, or a password that is too short.
        """
        name = checked_name(name)
        account = Account(
            secrets.token_hex(16),
            name,
            hashed(password),
            _one_of(role, ACCOUNT_ROLES, "role"),
            tuple(_one_of(one, QUALIFICATIONS, "qualifications") for one in qualifications),
            _one_of(units, UNIT_SYSTEMS, "units"),
            "auto",
            at,
            by,
            None,
        )
        try:
            with self._database.writing() as connection:
                connection.execute(insert(ACCOUNTS).values(**_account_values(account), login=name.casefold()))
        except IntegrityError:
            raise InputError("name", "", f"{name!r} has an account already", "another name") from None
        return account

    def accounts(self) -> tuple[Account, ...]:
        """Everybody, by name."""
        found = self._database.rows(select(ACCOUNTS).order_by(ACCOUNTS.c.login))
        return tuple(_account(row) for row in found)

    def account(self, account_id: str) -> Account | None:
        """An account by its id."""
        found = self._database.rows(select(ACCOUNTS).where(ACCOUNTS.c.id == account_id))
        return _account(found[0]) if found else None

    def account_named(self, name: str) -> Account | None:
        """An account by the name typed at login."""
        login = " ".join(unicodedata.normalize("NFC", name).split()).casefold()
        found = self._database.rows(select(ACCOUNTS).where(ACCOUNTS.c.login == login))
        return _account(found[0]) if found else None

    def has_engineer(self) -> bool:
        """Whether anybody could let others in."""
        wanted = select(func.count()).where(ACCOUNTS.c.role == "engineer", ACCOUNTS.c.disabled_at.is_(None))
        return bool(self._database.rows(wanted)[0][0])

    def set_password(self, account_id: str, password: str) -> None:
        """Replace a password, and end every session of its owner."""
        made = hashed(password)
        with self._database.writing() as connection:
            connection.execute(update(ACCOUNTS).where(ACCOUNTS.c.id == account_id).values(password=made))
            connection.execute(delete(SESSIONS).where(SESSIONS.c.account == account_id))

    def keep_rehashed(self, account_id: str, was: str, password_hash: str) -> None:
        """The same password hashed anew, with the parameters of today."""
        with self._database.writing() as connection:
            place = (ACCOUNTS.c.id == account_id) & (ACCOUNTS.c.password == was)
            connection.execute(update(ACCOUNTS).where(place).values(password=password_hash))

    def set_account(
        self, account_id: str, *, role: str, qualifications: tuple[str, ...], units: str, disabled_at: float | None
    ) -> None:
        """Change what an account may do; a disabled one loses its sessions at once.

        Raises: InputError where it would leave nobody who could let others in.
        """
        values = {
            "role": _one_of(role, ACCOUNT_ROLES, "role"),
            "qualifications": ",".join(_one_of(one, QUALIFICATIONS, "qualifications") for one in qualifications),
            "units": _one_of(units, UNIT_SYSTEMS, "units"),
            "disabled_at": disabled_at,
        }
        with self._database.writing() as connection:
            connection.execute(update(ACCOUNTS).where(ACCOUNTS.c.id == account_id).values(**values))
            left = select(func.count()).where(ACCOUNTS.c.role == "engineer", ACCOUNTS.c.disabled_at.is_(None))
            if not connection.execute(left).scalar_one():
                allowed = "another engineer first"
                raise InputError("account", "", "is the last engineer: nobody could let others in", allowed)
            if disabled_at is not None:
                connection.execute(delete(SESSIONS).where(SESSIONS.c.account == account_id))

    # sessions

    def open_session(self, token: str, account: Account | None, name: str, *, at: float) -> Session:
        """Begin a session under a fresh secret; of the secret, only its hash is kept."""
        session = Session(
            sha256_of(token),
            account.id if account else None,
            account.name if account else name,
            account.qualifications if account else (),
            account.units if account else "US",
            account.theme if account else "auto",
            at,
            at,
        )
        with self._database.writing() as connection:
            connection.execute(insert(SESSIONS).values(**_session_values(session)))
        return session

    def session(self, token: str) -> Session | None:
        """The session of a secret, expired or not."""
        found = self._database.rows(select(SESSIONS).where(SESSIONS.c.token_sha256 == sha256_of(token)))
        return _session(found[0]) if found else None

    def touch_session(self, token_sha256: str, at: float) -> None:
        """Somebody has been here."""
        with self._database.writing() as connection:
            place = SESSIONS.c.token_sha256 == token_sha256
            connection.execute(update(SESSIONS).where(place).values(seen_at=at))

    def set_session(
        self, session: Session, *, name: str, qualifications: tuple[str, ...], units: str, theme: str
    ) -> None:
        """Keep name, units and look of a session; units and look also for the account's next one."""
        _one_of(units, UNIT_SYSTEMS, "units")
        _one_of(theme, THEMES, "theme")
        named = ",".join(_one_of(one, QUALIFICATIONS, "qualifications") for one in qualifications)
        values = {"name": name, "qualifications": named, "units": units, "theme": theme}
        with self._database.writing() as connection:
            place = SESSIONS.c.token_sha256 == session.token_sha256
            connection.execute(update(SESSIONS).where(place).values(**values))
            if session.account:
                kept = update(ACCOUNTS).where(ACCOUNTS.c.id == session.account).values(units=units, theme=theme)
                connection.execute(kept)

    def end_session(self, token_sha256: str) -> None:
        """Forget a session."""
        with self._database.writing() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.token_sha256 == token_sha256))

    def drop_expired(self, *, idle_since: float, made_before: float) -> None:
        """Forget sessions that nobody has used, or that have lasted too long."""
        old = (SESSIONS.c.seen_at < idle_since) | (SESSIONS.c.made_at < made_before)
        with self._database.writing() as connection:
            connection.execute(delete(SESSIONS).where(old))

    # audit

    def note(
        self, what: str, *, at: float, who: str, account: str, address: str, subject: str = "", detail: str = ""
    ) -> None:
        """Add to the audit."""
        entry = {"at": at, "who": who, "account": account, "address": address, "what": what}
        with self._database.writing() as connection:
            connection.execute(insert(AUDIT).values(**entry, subject=subject[:400], detail=detail[:2000]))

    def audit(self, *, limit: int = 200, before: int | None = None) -> tuple[AuditEntry, ...]:
        """The newest entries, newest first; those before a number, to turn pages."""
        wanted = select(AUDIT).order_by(AUDIT.c.number.desc()).limit(limit)
        if before is not None:
            wanted = wanted.where(AUDIT.c.number < before)
        return tuple(AuditEntry(*row) for row in self._database.rows(wanted))

    def count_noted(
        self,
        what: str,
        *,
        since: float,
        address: str | None = None,
        subject: str | None = None,
        account: str | None = None,
    ) -> int:
        """How often something was noted of late, from an address, about somebody or by an account."""
        wanted = select(func.count()).select_from(AUDIT).where(AUDIT.c.what == what, AUDIT.c.at >= since)
        if address is not None:
            wanted = wanted.where(AUDIT.c.address == address)
        if subject is not None:
            wanted = wanted.where(AUDIT.c.subject == subject)
        if account is not None:
            wanted = wanted.where(AUDIT.c.account == account)
        return int(self._database.rows(wanted)[0][0])

    # links

    def make_link(self, purpose: str, subject: str, label: str, *, by: str, at: float, until: float) -> str:
        """A secret that lets whoever has it look at one thing until a time; it is shown once and not kept.

        Raises: InputError for a label that is none.
        """
        token = fresh_token()
        values = {"purpose": purpose, "subject": subject, "made_at": at, "made_by": by, "until": until}
        values["label"] = checked_name(label, "for whom")
        with self._database.writing() as connection:
            connection.execute(insert(LINKS).values(token_sha256=sha256_of(token), **values))
        return token

    def link(self, token: str, purpose: str) -> Link | None:
        """The link of a secret, open or not."""
        place = (LINKS.c.token_sha256 == sha256_of(token)) & (LINKS.c.purpose == purpose)
        found = self._database.rows(select(LINKS).where(place))
        return _link(found[0]) if found else None

    def links(self, purpose: str, subject: str) -> tuple[Link, ...]:
        """The links to a thing, newest first."""
        place = (LINKS.c.purpose == purpose) & (LINKS.c.subject == subject)
        found = self._database.rows(select(LINKS).where(place).order_by(LINKS.c.made_at.desc()))
        return tuple(_link(row) for row in found)

    def withdraw_link(self, purpose: str, subject: str, link: str, *, at: float) -> None:
        """Let one link to a thing, by its id, not work any longer; withdrawn twice, the first time stands."""
        place = (LINKS.c.purpose == purpose) & (LINKS.c.subject == subject) & LINKS.c.withdrawn_at.is_(None)
        one = place & (func.substr(LINKS.c.token_sha256, 1, LINK_ID_LENGTH) == link)
        with self._database.writing() as connection:
            connection.execute(update(LINKS).where(one).values(withdrawn_at=at))


def _split(text: str) -> tuple[str, ...]:
    return tuple(part for part in text.split(",") if part)


def _account(row: Any) -> Account:
    return Account(
        row.id,
        row.name,
        row.password,
        row.role,
        _split(row.qualifications),
        row.units,
        row.theme,
        row.made_at,
        row.made_by,
        row.disabled_at,
    )


def _link(row: Any) -> Link:
    link = row.token_sha256[:LINK_ID_LENGTH]
    return Link(link, row.subject, row.label, row.made_at, row.made_by, row.until, row.withdrawn_at)


def _session(row: Any) -> Session:
    return Session(
        row.token_sha256,
        row.account,
        row.name,
        _split(row.qualifications),
        row.units,
        row.theme,
        row.made_at,
        row.seen_at,
    )


def _account_values(account: Account) -> dict[str, object]:
    return {**account.__dict__, "qualifications": ",".join(account.qualifications)}


def _session_values(session: Session) -> dict[str, object]:
    return {**session.__dict__, "qualifications": ",".join(session.qualifications)}

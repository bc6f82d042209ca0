"""Who may use the shop's pages: accounts, signing in and out, and the note of it in the audit."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from vaporwright.foundation.errors import InputError, VaporwrightError
from vaporwright.store.database import Database
from vaporwright.store.passwords import hashed, matches, wants_rehash
from vaporwright.store.people_store import Account, PeopleStore, fresh_token

WINDOW_s: Final = 900.0
MOST_PER_ADDRESS: Final = 20  # failures in the window
MOST_PER_NAME: Final = 8
REFUSED: Final = "sign-in refused"
SIGNED_IN: Final = "signed in"
NOT_AGAIN: Final = "password refused"  # of somebody who is signed in
KNOWN_s: Final = 30 * 86_400.0  # how long an address counts as one of an account's own
LONGEST_LOGIN: Final = 200


class TooMany(VaporwrightError):
    """Too many failures of late, from one address or for one name."""

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        super().__init__(f"too many attempts; wait {wait_s / 60:.0f} minutes, or ask an engineer for a new password")


class PasswordRefused(VaporwrightError):
    """Somebody who is signed in has typed a password that is not theirs."""


class SignInRefused(VaporwrightError):
    """Name and password do not belong together, or the account is disabled; which of them is not said."""


@dataclass(frozen=True)
class SignedIn:
    """A fresh session: the secret for the cookie, and whose it is."""

    token: str
    account: Account


def sign_in(
    people: PeopleStore, name: str, password: str, *, address: str, clock: Callable[[], float], old_sha256: str = ""
) -> SignedIn:
    """Begin a session for whoever knows the password; the session that was there before ends.

    Raises: TooMany, SignInRefused.
    """
    now = clock()
    shown = " ".join(unicodedata.normalize("NFC", name[:LONGEST_LOGIN]).split()).casefold()
    account = people.account_named(name[:LONGEST_LOGIN])
    _refuse_guessing(people, shown, account, address, now)
    right = matches(account.password if account else None, password)
    if account is None or not right or account.disabled_at is not None:
        people.note(REFUSED, at=now, who="", account="", address=address, subject=shown)
        raise SignInRefused("name and password do not belong together, or the account is disabled")
    if wants_rehash(account.password):
        people.keep_rehashed(account.id, account.password, hashed(password))
    if old_sha256:
        people.end_session(old_sha256)
    token = fresh_token()
    people.open_session(token, account, account.name, at=now)
    people.note(SIGNED_IN, at=now, who=account.name, account=account.id, address=address)
    return SignedIn(token, account)


def _refuse_guessing(people: PeopleStore, shown: str, account: Account | None, address: str, now: float) -> None:
    """Raise TooMany where too many attempts failed of late.

    Somebody elsewhere who keeps guessing must not lock out the owner: from an address at which an account has signed in
    lately, only failures from that address count.
    """
    since = now - WINDOW_s
    known = account is not None and people.count_noted(
        SIGNED_IN, since=now - KNOWN_s, address=address, account=account.id
    )
    by_name = people.count_noted(REFUSED, since=since, subject=shown, address=address if known else None)
    if by_name >= MOST_PER_NAME:
        raise TooMany(WINDOW_s)
    if not known and people.count_noted(REFUSED, since=since, address=address) >= MOST_PER_ADDRESS:
        raise TooMany(WINDOW_s)


def require_password(
    people: PeopleStore, account_id: str, password: str, *, address: str, clock: Callable[[], float]
) -> Account:
    """The account of somebody who is signed in and has typed their password again.

    Whoever fails here is in a session of the account: these failures count apart from those of signing in.

    Raises: TooMany, PasswordRefused.
    """
    now = clock()
    if people.count_noted(NOT_AGAIN, since=now - WINDOW_s, account=account_id) >= MOST_PER_NAME:
        raise TooMany(WINDOW_s)
    account = people.account(account_id)
    if account is None or not matches(account.password, password):
        name = account.name if account else ""
        people.note(NOT_AGAIN, at=now, who=name, account=account_id, address=address)
        raise PasswordRefused("this is not your password: the one with which you signed in")
    return account


def add_person(
    where: str,
    name: str,
    role: str,
    password: str,
    *,
    qualifications: tuple[str, ...] = (),
    units: str = "US",
    clock: Callable[[], float],
) -> Account:
    """Make an account from the machine itself: the first one cannot be made otherwise.

    Args: where: the store, a path or an address.
    Raises: InputError for a name that is taken, a role that there is not, a password that is too short.
    """
    database = Database(where)
    try:
        people = PeopleStore(database)
        account = people.add_account(name, password, role, qualifications, units, at=clock(), by="command line")
        people.note(
            "account made", at=clock(), who="command line", account="", address="", subject=account.name, detail=role
        )
        return account
    finally:
        database.close()


def read_password(ask: Callable[[str], str]) -> str:
    """A new password, asked for twice without echo (`getpass.getpass`).

    Raises: InputError where the two differ.
    """
    password = ask("Password: ")
    if ask("The same again: ") != password:
        raise InputError("password", "", "the two differ", "the same password twice")
    return password

"""Who may use the shop's pages: accounts, signing in and out, and the note of it in the audit."""

from __future__ import annotations

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
LONGEST_LOGIN: Final = 200


class TooMany(VaporwrightError):
    """Too many failures of late, from one address or for one name."""

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        super().__init__(f"too many attempts; wait {wait_s / 60:.0f} minutes, or ask an engineer for a new password")


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
    shown = " ".join(name[:LONGEST_LOGIN].split()).casefold()
    since = now - WINDOW_s
    if (
        people.count_noted(REFUSED, since=since, address=address) >= MOST_PER_ADDRESS
        or people.count_noted(REFUSED, since=since, subject=shown) >= MOST_PER_NAME
    ):
        raise TooMany(WINDOW_s)
    account = people.account_named(name[:LONGEST_LOGIN])
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
    people.note("signed in", at=now, who=account.name, account=account.id, address=address)
    return SignedIn(token, account)


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

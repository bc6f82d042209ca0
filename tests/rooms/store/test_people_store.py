"""Accounts, passwords, sessions and the audit, in both kinds of database."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from argon2 import PasswordHasher

from vaporwright.actions.people import SignInRefused, TooMany, add_person, read_password, sign_in
from vaporwright.foundation.errors import InputError
from vaporwright.store import passwords
from vaporwright.store.database import Database
from vaporwright.store.people_store import PeopleStore

PASSWORD = "seven dry pumps in a row"


@pytest.fixture
def people(where: str) -> Iterator[PeopleStore]:
    database = Database(where)
    yield PeopleStore(database)
    database.close()


@pytest.fixture
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    hasher = PasswordHasher(1, 8, 1)
    monkeypatch.setattr(passwords, "_HASHER", hasher)
    monkeypatch.setattr(passwords, "_NOBODY", hasher.hash("nobody's password"))


def _add(people: PeopleStore, name: str = "Ada", role: str = "engineer") -> str:
    return people.add_account(name, PASSWORD, role, ("electrician",), "SI", at=1.0, by="test").id


def test_a_password_is_hashed_with_what_costs_an_attacker_memory() -> None:
    """OWASP's and RFC 9106's second choice: argon2id with 64 MiB and three passes (from memory)."""
    made = passwords.hashed(PASSWORD)
    assert made.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert passwords.hashed(PASSWORD) != made  # a salt of its own
    assert passwords.matches(made, PASSWORD)
    assert not passwords.matches(made, PASSWORD + " ")
    assert not passwords.wants_rehash(made)


def test_where_there_is_no_account_nothing_matches_and_the_same_work_is_done() -> None:
    assert passwords._NOBODY.startswith("$argon2id$v=19$m=65536,t=3,p=4$")  # as dear as a real one
    assert not passwords.matches(None, PASSWORD)
    assert not passwords.matches("", PASSWORD)
    assert not passwords.matches("no hash at all", PASSWORD)
    assert not passwords.matches(passwords.hashed(PASSWORD), "x" * 1_000_000)


def test_the_work_for_nobody_is_really_done(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    class Counting:
        def verify(self, password_hash: str, password: str) -> bool:
            asked.append(f"{password_hash} {password}")
            return True  # whatever comes of it: there is no account

    monkeypatch.setattr(passwords, "_HASHER", Counting())
    assert not passwords.matches(None, "a guess")
    assert asked == [f"{passwords._NOBODY} a guess"]


@pytest.mark.parametrize("password", ["", "nine char", "x" * 201])
def test_a_password_too_short_or_too_long_is_refused(password: str) -> None:
    with pytest.raises(InputError, match="10 to 200 characters"):
        passwords.hashed(password)


@pytest.mark.usefixtures("cheap")
def test_an_account_and_its_names(people: PeopleStore) -> None:
    account = _add(people, "  Ada   Lund ")
    for typed in ("ada lund", "ADA  LUND ", "Ada Lund"):
        found = people.account_named(typed)
        assert found is not None
        assert (found.id, found.name, found.role, found.qualifications, found.units) == (
            account,
            "Ada Lund",
            "engineer",
            ("electrician",),
            "SI",
        )
    with pytest.raises(InputError, match="has an account already"):
        _add(people, "ADA LUND")
    assert people.account_named("Ada") is None
    assert people.account("' OR 1=1 --") is None
    assert people.has_engineer()


@pytest.mark.parametrize(("role", "qualification"), [("boss", "electrician"), ("engineer", "welder")])
@pytest.mark.usefixtures("cheap")
def test_roles_and_qualifications_are_those_there_are(people: PeopleStore, role: str, qualification: str) -> None:
    with pytest.raises(InputError, match="not among the choices"):
        people.add_account("Ada", PASSWORD, role, (qualification,), "US", at=1.0, by="test")
    assert people.accounts() == ()


@pytest.mark.usefixtures("cheap")
def test_the_last_engineer_cannot_go(people: PeopleStore) -> None:
    account = _add(people)
    for role, disabled_at in (("viewer", None), ("engineer", 5.0)):
        with pytest.raises(InputError, match="last engineer"):
            people.set_account(account, role=role, qualifications=(), units="US", disabled_at=disabled_at)
    found = people.account(account)
    assert found is not None
    assert (found.role, found.disabled_at) == ("engineer", None)  # nothing of it was kept
    _add(people, "Ben")
    people.set_account(account, role="viewer", qualifications=(), units="US", disabled_at=None)


@pytest.mark.usefixtures("cheap")
def test_sessions(people: PeopleStore) -> None:
    account = people.account(_add(people))
    assert account is not None
    people.open_session("secret", account, "", at=10.0)
    found = people.session("secret")
    assert found is not None
    assert (found.account, found.name, found.units, found.made_at, found.seen_at) == (
        account.id,
        "Ada",
        "SI",
        10.0,
        10.0,
    )
    assert found.token_sha256 != "secret"
    people.touch_session(found.token_sha256, 20.0)
    people.open_session("other", None, "Pat", at=11.0)
    people.drop_expired(idle_since=15.0, made_before=0.0)
    assert people.session("other") is None
    assert people.session("secret") is not None
    people.drop_expired(idle_since=0.0, made_before=10.5)
    assert people.session("secret") is None


def test_signing_in_hashes_anew_when_the_cost_was_raised(people: PeopleStore, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(passwords, "_HASHER", PasswordHasher(1, 8, 1))
    account = _add(people)
    monkeypatch.setattr(passwords, "_HASHER", PasswordHasher(2, 16, 1))
    made = sign_in(people, "Ada", PASSWORD, address="192.0.2.1", clock=lambda: 100.0)
    found = people.account(account)
    assert found is not None
    assert "m=16,t=2" in found.password
    assert people.session(made.token) is not None
    assert sign_in(people, "Ada", PASSWORD, address="192.0.2.1", clock=lambda: 101.0).token != made.token


@pytest.mark.usefixtures("cheap")
def test_attempts_are_counted_over_restarts(where: str, people: PeopleStore) -> None:
    _add(people)
    for place in range(8):
        with pytest.raises(SignInRefused):
            sign_in(people, "ADA", "wrong password", address=f"192.0.2.{place}", clock=lambda: 100.0)
    database = Database(where)  # as after a restart
    with pytest.raises(TooMany):
        sign_in(PeopleStore(database), "ada", PASSWORD, address="192.0.2.99", clock=lambda: 999.0)
    assert sign_in(PeopleStore(database), "ada", PASSWORD, address="192.0.2.99", clock=lambda: 1001.0)
    database.close()


@pytest.mark.usefixtures("cheap")
def test_the_first_account_is_made_at_the_machine(where: str) -> None:
    answers = iter([PASSWORD, PASSWORD])
    password = read_password(lambda _words: next(answers))
    made = add_person(where, "Ada", "engineer", password, clock=lambda: 7.0)
    database = Database(where)
    people = PeopleStore(database)
    assert people.has_engineer()
    assert [(entry.what, entry.subject, entry.who) for entry in people.audit()] == [
        ("account made", "Ada", "command line")
    ]
    assert people.account(made.id) == made
    database.close()
    answers = iter([PASSWORD, "another"])
    with pytest.raises(InputError, match="the two differ"):
        read_password(lambda _words: next(answers))


def test_the_audit_has_the_newest_first_by_pages(people: PeopleStore) -> None:
    for place in range(5):
        people.note(f"entry {place}", at=float(place), who="Ada", account="", address="x", subject="s" * 900)
    newest = people.audit(limit=2)
    assert [entry.what for entry in newest] == ["entry 4", "entry 3"]
    assert [entry.what for entry in people.audit(limit=9, before=newest[-1].number)] == [
        "entry 2",
        "entry 1",
        "entry 0",
    ]
    assert len(newest[0].subject) == 400
    assert people.count_noted("entry 4", since=4.0, address="x") == 1
    assert people.count_noted("entry 4", since=4.1) == 0

"""Who may do what, asked of every route there is: pages and the interface for programs, with accounts on.

A route that is added is asked too. What a request has changed is seen in the tables themselves.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import MetaData, select

from invented_record import JOB_FILE, Hand
from web_client import PASSWORD, Browser, Site
from web_routes import routes_of

SHOWN_TO_ALL = ("/health", "/sign-in", "/api/v1/session")
# What may be sent without the right to change anything: about oneself, or nothing that is kept.
OF_ONESELF = ("/sign-in", "/sign-out", "/preferences", "/password", "/who", "/verify", "/api/v1/session")
PASSING = ("web_sessions", "web_audit")  # tables of who was here
PROGRAM = {"X-Vaporwright": "1"}
EVENT = "3f2b8a52-5c1e-4d7a-9b0e-2d1c4b5a6f70"


@dataclass(frozen=True)
class TwoJobs:
    """A shop with a job that is opened to its witness, and one that is not, each with a test."""

    site: Site
    own: str
    other: str

    def filled(self, path: str, job: str) -> str:
        """A route's path with something that there is."""
        known = {
            "job": job,
            "run": f"run-{job}",
            "step": "tank.leak",
            "number": "1",
            "token": "A" * 43,
            "sha256": hashlib.sha256(JOB_FILE).hexdigest(),
            "account": self.site.people.accounts()[0].id,
            "key": "duty.volume",
            "kind": "io_list.csv",
        }
        return re.sub(r"{(\w+)(?::\w+)?}", lambda found: known.get(found[1], "1"), path)

    def kept(self) -> str:
        """A hash of everything in the store but who was here."""
        engine, tables = self.site.shop.database.engine, MetaData()
        tables.reflect(engine)
        found = hashlib.sha256()
        with engine.connect() as connection:
            for name, table in sorted(tables.tables.items()):
                if name not in PASSING:
                    found.update(f"{name} {sorted(map(repr, connection.execute(select(table))))}".encode())
        return found.hexdigest()


@pytest.fixture
def two(shared: Site) -> TwoJobs:
    site = shared
    own, other = (job.id for job in site.shop.book.add_demo(by="Ada")[:2])
    site.shop.database.records.put(JOB_FILE)
    for job in (own, other):
        hand = Hand(f"run-{job}")
        hand.begins()
        site.shop.database.records.append(hand.run, 0, hand.rows)
        site.shop.book.link_run(hand.run, job, 1)
    site.add("Wilma", "witness")
    wilma = site.people.account_named("Wilma")
    assert wilma is not None
    site.shop.jobs.open_to(own, (wilma.id,))
    return TwoJobs(site, own, other)


def _signed_in(two: TwoJobs, name: str, role: str) -> Browser:
    if role != "witness":
        return two.site.signed_in(name, role)
    browser = two.site.browser("192.0.2.7")
    assert browser.sign_in("Wilma").status_code == 200
    return browser


def test_a_witness_reaches_nothing_of_a_job_that_was_not_opened(two: TwoJobs) -> None:
    browser = _signed_in(two, "Wilma", "witness")
    csrf, before, asked = browser.csrf, two.kept(), 0
    name = two.site.shop.book.job(two.other).name
    for method, route in routes_of(two.site.app):
        if "{job}" not in route and "{run}" not in route:
            continue
        more = {} if method == "GET" else {"headers": {"X-CSRF-Token": csrf, **PROGRAM}, "json": {}}
        answer = browser.send(method, two.filled(route, two.other), **more)
        # What is asked for cannot be read before whose it is is known: 422 tells nothing either.
        assert answer.status_code in (403, 404, 422), f"{method} {route}: {answer.status_code}"
        assert name not in answer.text, route
        asked += 1
    assert asked > 50
    assert two.kept() == before
    for path in ("/jobs", "/api/v1/jobs", "/jobs?search=rinse", "/jobs?archived=true", "/verify"):
        assert two.other not in browser.get(path).text, path
    assert browser.get(f"/jobs/{two.own}").status_code == 200
    assert browser.get(f"/api/v1/runs/run-{two.own}").status_code == 200


@pytest.mark.parametrize(
    ("role", "sees", "revises", "enters", "counts_people"),
    [
        ("engineer", 3, True, True, True),
        ("technician", 3, False, True, False),
        ("viewer", 3, False, False, False),
        ("witness", 1, False, True, False),  # of the one that was opened: points of the punch list, no readings
    ],
)
def test_jobs_are_the_shops_and_a_guest_sees_their_own(
    two: TwoJobs, role: str, sees: int, revises: bool, enters: bool, counts_people: bool
) -> None:
    """By design everybody of the shop sees every job; what they may change goes by their role."""
    name = "Wilma" if role == "witness" else "Sam"
    browser = _signed_in(two, name, role)
    assert len(browser.get("/api/v1/jobs").json()) == sees
    for job in (two.own, two.other):
        assert (browser.send("GET", f"/jobs/{job}").status_code == 200) == (sees == 3 or job == two.own)
    assert (browser.send("GET", f"/jobs/{two.own}/revise").status_code == 200) == revises
    assert (browser.send("GET", "/people").status_code == 200) == counts_people
    entry = {"event_id": EVENT, "kind": "punch item", "typed_by": name, "category": "A", "text": "x", "by": "y"}
    answer = browser.send("POST", f"/api/v1/runs/run-{two.own}/entries", json=entry, headers=PROGRAM)
    assert (answer.status_code == 200) == enters
    assert answer.status_code in (200, 403)


def test_a_witness_enters_nothing_into_the_test_of_another_job(two: TwoJobs) -> None:
    browser, before = _signed_in(two, "Wilma", "witness"), two.kept()
    entry = {"event_id": EVENT, "kind": "punch item", "typed_by": "Wilma", "category": "A", "text": "x", "by": "y"}
    for path in (f"/api/v1/runs/run-{two.other}/entries", f"/api/v1/runs/run-{two.other}%2f../entries"):
        assert browser.send("POST", path, json=entry, headers=PROGRAM).status_code == 404
    form = {**entry, "csrf": browser.csrf}
    assert browser.send("POST", f"/jobs/{two.other}/acceptance/run-{two.other}/entries", data=form).status_code == 404
    # Nor through a job that is opened to her.
    assert browser.send("POST", f"/jobs/{two.own}/acceptance/run-{two.other}/entries", data=form).status_code == 404
    assert two.kept() == before
    assert browser.send("POST", f"/api/v1/runs/run-{two.own}/entries", json=entry, headers=PROGRAM).status_code == 200
    assert two.kept() != before


@pytest.mark.parametrize("role", ["viewer", "witness"])
def test_who_only_looks_changes_nothing(two: TwoJobs, role: str) -> None:
    browser = _signed_in(two, "Vic", role)
    csrf, before, asked = browser.csrf, two.kept(), 0
    for method, route in routes_of(two.site.app):
        if method == "GET" or route in OF_ONESELF or "simulated" in route or "/controls/" in route:
            continue  # a simulated unit is nobody's record
        for more in ({"json": {}}, {"data": {"csrf": csrf, "text": "x", "your_name": "Vic", "what": "sign"}}):
            path = two.filled(route, two.own)
            answer = browser.send(method, path, headers={"X-CSRF-Token": csrf, **PROGRAM}, **more)
            assert answer.status_code != 500, f"{method} {route}"
            asked += 1
        assert two.kept() == before, f"{method} {route} has changed something"
    assert asked > 50


def test_a_technician_lets_nobody_in_and_revises_no_job(two: TwoJobs) -> None:
    browser, before = _signed_in(two, "Tim", "technician"), two.kept()
    csrf = browser.csrf
    for route in ("/people", "/people/{account}", "/audit", "/jobs/{job}/revise"):
        assert browser.send("GET", two.filled(route, two.own)).status_code == 403, route
    for route in (
        "/people",
        "/people/{account}",
        "/people/{account}/password",
        "/jobs/demo",
        "/jobs/{job}/copy",
        "/jobs/{job}/archive",
        "/jobs/{job}/witnesses",
        "/jobs/{job}/controls/settle",
        "/jobs/{job}/service/in-service",
        "/jobs/{job}/acceptance/{run}/witness",
    ):
        form = {"csrf": csrf, "name": "Eve", "password": PASSWORD, "role": "engineer"}
        assert browser.send("POST", two.filled(route, two.own), data=form).status_code in (403, 422), route
    assert browser.send("POST", f"/api/v1/jobs/{two.own}/archive", headers=PROGRAM).status_code == 403
    assert two.kept() == before


def test_without_signing_in_no_route_shows_or_changes_anything(two: TwoJobs) -> None:
    browser, before = two.site.browser("192.0.2.9"), two.kept()
    for method, route in routes_of(two.site.app):
        if route in SHOWN_TO_ALL:
            continue
        more = {} if method == "GET" else {"json": {}, "headers": PROGRAM}
        answer = browser.send(method, two.filled(route, two.own), **more)
        wanted = (404,) if route.startswith("/witness/") else (303, 401)
        assert answer.status_code in wanted, f"{method} {route}: {answer.status_code}"
        assert answer.status_code != 303 or answer.headers["Location"].startswith("/sign-in")
        assert "rinse" not in answer.text
    assert two.kept() == before


@pytest.mark.parametrize("token", ["", "0" * 64, "another's"])
def test_no_route_takes_a_form_that_no_page_of_this_session_made(two: TwoJobs, token: str) -> None:
    browser, before, asked = _signed_in(two, "Ada", "engineer"), two.kept(), 0
    if token == "another's":
        token = two.site.browser("192.0.2.8").csrf
    sessions = len(two.site.people.audit())
    for method, route in routes_of(two.site.app):
        if method == "GET":
            continue
        answer = browser.send(method, two.filled(route, two.own), data={"csrf": token})
        assert answer.status_code == 403, f"{method} {route}: {answer.status_code}"
        asked += 1
    assert asked > 40
    assert two.kept() == before
    assert len(two.site.people.audit()) == sessions


def test_a_page_of_another_server_reaches_no_route(two: TwoJobs) -> None:
    browser, before = _signed_in(two, "Ada", "engineer"), two.kept()
    csrf = browser.csrf
    for method, route in routes_of(two.site.app):
        if method == "GET":
            continue
        for headers in ({"Origin": "https://evil.example"}, {"Sec-Fetch-Site": "cross-site"}):
            sent = {"X-CSRF-Token": csrf, **PROGRAM, **headers}
            answer = browser.send(method, two.filled(route, two.own), json={}, headers=sent)
            assert answer.status_code == 403, f"{method} {route}: {answer.status_code}"
    assert two.kept() == before


def test_a_bearers_secret_is_that_of_its_session_and_ends_with_it(two: TwoJobs) -> None:
    two.site.add("Vic", "viewer")
    program = two.site.browser("192.0.2.20")
    opened = program.send("POST", "/api/v1/session", json={"name": "Vic", "password": PASSWORD}, headers=PROGRAM)
    assert opened.status_code == 201
    assert "Set-Cookie" not in opened.headers
    bearer = {"Authorization": f"Bearer {opened.json()['token']}"}
    assert program.send("GET", "/api/v1/me", headers=bearer).json()["role"] == "viewer"
    assert program.send("POST", f"/api/v1/jobs/{two.own}/archive", headers=bearer).status_code == 403
    for name in ("X-Vaporwright-Name", "X-Forwarded-For", "X-Forwarded-Host", "X-Original-URL"):
        told = program.send("GET", "/api/v1/me", headers={**bearer, name: "Ada"})
        assert told.json()["name"] == "Vic", name  # who asks is never what a header says
    vic = two.site.people.account_named("Vic")
    assert vic is not None
    two.site.people.set_password(vic.id, PASSWORD + " anew")
    assert program.send("GET", "/api/v1/me", headers=bearer).status_code == 401
    for wrong in ("Bearer", "Bearer  ", "Bearer " + "A" * 5000, "Basic QWRhOng=", "bearer \x7f"):
        assert program.send("GET", "/api/v1/me", headers={"Authorization": wrong}).status_code == 401, wrong


def test_what_an_account_loses_is_lost_at_once(two: TwoJobs) -> None:
    browser = _signed_in(two, "Ada", "engineer")
    two.site.add("Eve", "engineer")
    ada = two.site.people.account_named("Ada")
    assert ada is not None
    assert browser.get("/people").status_code == 200
    change = {"qualifications": (), "units": "US"}
    two.site.people.set_account(ada.id, role="viewer", disabled_at=None, **change)  # type: ignore[arg-type]
    assert browser.send("GET", "/people").status_code == 403
    two.site.people.set_account(ada.id, role="viewer", disabled_at=two.site.clock(), **change)  # type: ignore[arg-type]
    assert browser.send("GET", "/jobs").status_code == 303


def test_a_witness_link_shows_one_test_until_it_ends(two: TwoJobs) -> None:
    people, now = two.site.people, two.site.clock()
    run = f"run-{two.own}"
    link = people.make_link("witness", run, "Wim", by="Ada", at=now, until=now + 100.0)
    phone = two.site.browser("198.51.100.9")
    page = phone.get(f"/witness/{link}")
    assert page.status_code == 200
    assert "Tank leak" in page.text or "Leak test" in page.text or "Demo job" in page.text
    assert f"run-{two.other}" not in page.text
    assert "noindex" in page.text or page.headers["Referrer-Policy"] in ("same-origin", "no-referrer")
    # The link opens nothing else, and nothing can be sent along it.
    for path in ("/jobs", f"/jobs/{two.own}", f"/jobs/{two.own}/acceptance/{run}", f"/api/v1/runs/{run}"):
        assert phone.send("GET", path).status_code in (303, 401), path
    before = two.kept()
    for method in ("POST", "PUT", "DELETE", "PATCH"):
        assert phone.send(method, f"/witness/{link}", data={"csrf": phone.csrf}).status_code in (403, 405)
    assert two.kept() == before
    assert phone.send("GET", f"/witness/{link[:-1]}").status_code == 404
    two.site.clock.at += 101.0
    assert phone.send("GET", f"/witness/{link}").status_code == 410
    again = people.make_link("witness", run, "Wim", by="Ada", at=two.site.clock(), until=two.site.clock() + 100.0)
    assert phone.send("GET", f"/witness/{again}/record.zip").status_code == 200
    people.withdraw_link("witness", run, people.links("witness", run)[0].id, at=two.site.clock())
    assert phone.send("GET", f"/witness/{again}/record.zip").status_code == 410


def test_a_server_that_others_can_reach_does_not_start_without_accounts(tmp_path: Path) -> None:
    called = [sys.executable, "-m", "vaporwright", "serve", "--host", "0.0.0.0", "--port", "0"]
    found = subprocess.run(
        [*called, "--store", str(tmp_path / "shop.db")], cwd=tmp_path, capture_output=True, text=True, timeout=60
    )
    assert found.returncode == 2
    assert "nobody has an account" in found.stderr
    assert "Traceback" not in found.stderr
    assert found.stdout == ""  # no address: it never listened

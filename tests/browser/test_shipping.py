"""From the last step to a unit in service, on the pages: the punch list keeps it in the shop, a retest lets it go.

The steps before are entered by the interface for programs; what decides about shipping is done by hand in a browser.
"""

from __future__ import annotations

import re
import time
import uuid
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, expect

from floor_shop import open_invented
from real_browser import Watched, watched
from vaporwright.actions.job_book import JobBook
from vaporwright.store.commit import load_state
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from web_server import STORE, web_server

pytestmark = pytest.mark.slow
FACTORY, SITE = "fat-1", "site-1"
ENGINEER, WITNESS = "Ada Invented", "Wilma Invented"
PINS: Final = {"engineer": "314159", "witness": "271828"}
SIGNERS: Final = {"engineer": ENGINEER, "witness": WITNESS}
ENTERED: Final = re.compile(r"/entries$")
ITEM, RETEST = "Guard of the fan is missing", "guard fitted, cannot be reached through"


class Shop:
    """One job with a factory test and a site test, both opened, and Ada at the machine."""

    def __init__(self, person: Watched, store: Path, job: str) -> None:
        self.page, self.store, self.job = person.page, str(store), job

    def run(self, name: str) -> str:
        return f"/jobs/{self.job}/acceptance/{name}"

    def enters(self, run: str, **entry: Any) -> None:
        sent = {"event_id": str(uuid.uuid4()), "typed_by": ENGINEER, **entry}
        answer = self.page.request.post(f"/api/v1/runs/{run}/entries", data=sent, headers={"X-Vaporwright": "1"})
        assert answer.status == 200, (entry, answer.text()[:500])

    def passes(self, run: str) -> None:
        """Every step of a run, its points accepted by the witness on the step's page."""
        for name in ("near", "middle", "far"):
            self.enters(run, kind="reading", step="sizes.pipe", field=f"{name}_m", text="1.0 ft", units="US")
        self.enters(run, kind="reading", step="documents.nameplate", field="serial", text="V-1")
        self.enters(run, kind="reading", step="tank.leak", field="drops", text="no")
        self.accepts(run, "tank.leak")
        self.enters(run, kind="step not run", step="electrical.insulation", reason="no electrician today")
        self.enters(run, kind="reading", step="set_points.clamp", field="clamp_K", text="150.0 degF", instrument="T1")
        self.accepts(run, "set_points.clamp")
        self.enters(run, kind="step done", step="end.drain")
        with closing(Database(self.store)) as database:
            assert load_state(database.records, run).outstanding == ()

    def accepts(self, run: str, step: str) -> None:
        self.page.goto(f"{self.run(run)}/steps/{step}")
        self.page.locator("[name=name]").last.fill(WITNESS)
        self.page.locator("[name=proof]").fill(PINS["witness"])
        self.page.get_by_role("button", name="Accept the point").click()
        expect(self.page.get_by_text(f"The point is accepted by {WITNESS}.")).to_be_visible()

    def signs(self, run: str, what: str, role: str, pin: str = "") -> None:
        """Fill in one of the forms of the page of signatures, and send it."""
        self.page.goto(f"{self.run(run)}/sign")
        form = self.page.locator("form", has=self.page.locator(f"[name=what][value={what}]"))
        form.get_by_label("Name").fill(SIGNERS[role])
        if form.get_by_label("Role").count():
            form.get_by_label("Role").select_option(role)
        form.locator("[name=proof]").fill(pin or PINS[role])
        if what == "reopen":
            form.get_by_label("Why").fill("a plate was of another unit")
        form.get_by_role("button").click()

    def is_listed_as(self, stage: str) -> None:
        self.page.goto("/jobs")
        expect(self.page.get_by_role("row", name=re.compile("Rinse water")).locator(".state")).to_have_text(stage)

    def history(self) -> list[str]:
        """The lines of the unit's history, newest first: what, and by whom."""
        self.page.goto(f"/jobs/{self.job}/service")
        return [" ".join(one.inner_text().split()) for one in self.page.locator("ol.history li").all()]


@pytest.fixture
def shop(browser: Browser, tmp_path: Path) -> Iterator[Shop]:
    with closing(Database(str(tmp_path / STORE))) as database:
        book = JobBook(JobStore(database), database.records, time.time)
        job = book.start("Rinse water", "Invented Plating", "26 gal/h", by=ENGINEER).id
        open_invented(database.records, book, job, run=FACTORY, kind="witnessed")
        open_invented(database.records, book, job, run=SITE, kind="site")
    with web_server(tmp_path) as server, watched(browser, server.address) as person:
        page = person.goes("/who")
        page.locator("main input[name=name]").fill(ENGINEER)
        page.get_by_role("button", name="That is me").click()
        yield Shop(person, tmp_path / STORE, job)
        assert server.said == ""


def test_a_unit_ships_when_its_punch_list_lets_it_and_goes_into_service(shop: Shop) -> None:
    page = shop.page
    shop.passes(FACTORY)
    _puts_on_the_list(shop)
    shop.is_listed_as("enquiry")
    for role in SIGNERS:
        shop.signs(FACTORY, "sign", role)
        expect(page.get_by_text(f"Signed by {SIGNERS[role]} as {role}.")).to_be_visible()
    shop.is_listed_as("accepted")

    shop.signs(FACTORY, "release", "engineer")  # the page has said so already; the record decides
    expect(page.get_by_role("alert").first).to_contain_text("punch items of category A are open: 1")
    expect(page.get_by_text(f"Item 1, A, is open: {ITEM}")).to_be_visible()
    shop.is_listed_as("accepted")

    _puts_it_right(shop)
    shop.signs(FACTORY, "release", "engineer", pin="000000")  # somebody else's hand
    expect(page.get_by_role("alert").first).to_contain_text("PIN")
    shop.is_listed_as("accepted")
    shop.signs(FACTORY, "release", "engineer")
    expect(page.get_by_text("The unit may ship.").first).to_be_visible()
    expect(page.get_by_text(f"Released to ship by {ENGINEER}")).to_be_visible()
    shop.is_listed_as("shipped")
    assert shop.history()[0].endswith(f" shipped: {FACTORY} {ENGINEER}")

    _starts_it_up(shop)


def test_a_reopened_record_takes_the_release_back(shop: Shop) -> None:
    shop.passes(FACTORY)
    for role in SIGNERS:
        shop.signs(FACTORY, "sign", role)
    shop.signs(FACTORY, "release", "engineer")
    shop.is_listed_as("shipped")
    shop.signs(FACTORY, "reopen", "engineer")
    expect(shop.page.get_by_text("The record is open again").first).to_be_visible()
    shop.is_listed_as("enquiry")
    assert not [one for one in shop.history() if "shipped" in one]


def _puts_on_the_list(shop: Shop) -> None:
    page = shop.page
    page.goto(f"{shop.run(FACTORY)}/punch")
    page.locator("summary", has_text="A new item").click()
    form = page.locator("form", has=page.locator("[name=category]"))
    form.get_by_label(re.compile("^A: ")).check()
    form.get_by_label("What is to be put right").fill(ITEM)
    form.get_by_label("Who puts it right").fill("the shop")
    with page.expect_response(ENTERED):  # it goes by the queue of the page
        form.get_by_role("button", name="Put it on the list").click()
    page.goto(f"{shop.run(FACTORY)}/punch")
    expect(page.get_by_role("heading", name=f"1, A: {ITEM}")).to_be_visible()
    expect(page.locator("summary", has_text="The witness lets it stand open")).to_have_count(0)  # never one of A


def _puts_it_right(shop: Shop) -> None:
    page = shop.page
    page.goto(f"{shop.run(FACTORY)}/punch")
    page.locator("summary", has_text="Put right and tested again").click()
    page.get_by_label("What the retest showed").fill(RETEST)
    with page.expect_response(ENTERED):
        page.get_by_role("button", name="Close the item").click()
    page.goto(f"{shop.run(FACTORY)}/punch")
    expect(page.get_by_text(f"closed: {RETEST}")).to_be_visible()
    page.goto(f"{shop.run(FACTORY)}/sign")
    expect(page.get_by_text("It cannot be released yet")).to_have_count(0)


def _starts_it_up(shop: Shop) -> None:
    """The site test, signed by the engineer, brings the unit into service; the history has the whole way."""
    page = shop.page
    page.goto(f"/jobs/{shop.job}/service")
    page.get_by_role("link", name="Open a site test").click()
    for name in ("kind", "variant"):  # as the link has it
        expect(page.locator(f"[name={name}][value=site]")).to_be_checked()
    shop.passes(SITE)
    shop.is_listed_as("shipped")
    shop.signs(SITE, "sign", "engineer")
    expect(page.get_by_text(f"Signed by {ENGINEER} as engineer.")).to_be_visible()
    shop.is_listed_as("in service")
    said = shop.history()
    told = [re.sub(r"^[\d-]+ [\d:]+ ", "", one) for one in said]
    assert told[0] == f"in service: {SITE} {ENGINEER}"
    assert told[1] == f"shipped: {FACTORY} {ENGINEER}"
    assert sorted(told[2:]) == [
        f"revision 1: started {ENGINEER}",
        "site run: signed Opener",
        "witnessed run: signed Opener",
    ]
    page.goto(f"/jobs/{shop.job}")
    expect(page.locator("header .state")).to_have_text("in service")

"""Script typed into every text field of every page: it is shown as text, and never runs. The pages come from the
application's routes, the fields from the forms that stand on them: what is added is tried too.

The browser is told to ignore the content-security policy, so that only the pages' own escaping stands in the way. What
was planted would call a function, or leave a mark in the document; neither may be found, at once or on any page later.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Final

import httpx
import pytest
from playwright.sync_api import Browser, Dialog, Page

from floor_shop import RUN, open_invented
from pages_of_shop import ASKED_WITH, routes_to_look_at
from real_browser import Watched, watched
from vaporwright.actions.job_book import JobBook
from vaporwright.store.database import Database
from vaporwright.store.job_store import JobStore
from vaporwright.store.people_store import PeopleStore
from vaporwright.store.service_store import ServiceStore
from web_server import STORE, WebServer, web_server

pytestmark = pytest.mark.slow
PLANTED: Final = "\"'><img src=x data-planted onerror=window.planted()><script>window.planted()</script>{{7*7}}${7*7}"
SHORT: Final = "<b data-planted onmouseover=planted()>x</b>"
SCRIPT_ADDRESS: Final = "javascript:window.planted()"
WATCH: Final = "window.plantedCalls = 0; window.planted = () => { window.plantedCalls += 1; };"
# Every text field of a form filled with what is planted, choices as they stand; the form is sent past its own checks.
FILL_AND_SEND: Final = """
([number, text]) => {
  const form = document.querySelectorAll("main form")[number];
  let filled = 0;
  for (const one of form.querySelectorAll("input, textarea")) {
    if (["hidden", "checkbox", "file", "submit", "button"].includes(one.type)) continue;
    if (one.type === "radio") { one.checked = true; continue; }
    one.removeAttribute("maxlength"); one.removeAttribute("required"); one.removeAttribute("pattern");
    if (one.type === "number" || one.type === "date") one.type = "text";
    one.value = text; filled += 1;
  }
  if (filled) { form.noValidate = true; HTMLFormElement.prototype.submit.call(form); }
  return filled;
}
"""


class Planter:
    """A browser that plants, and looks whether anything has grown."""

    def __init__(self, person: Watched, names: dict[str, str]) -> None:
        self.page: Page = person.page
        self.names = names
        self.dialogs: list[str] = []
        self.page.on("dialog", self._dialog)
        self.page.add_init_script(WATCH)

    def _dialog(self, dialog: Dialog) -> None:
        if dialog.type == "beforeunload":  # what was typed is not saved: that is the page's own
            dialog.accept()
            return
        self.dialogs.append(dialog.message)
        dialog.dismiss()

    def goes(self, path: str) -> None:
        self.page.goto(path.format(**self.names), wait_until="load")

    def assert_nothing_has_grown(self, where: str) -> None:
        calls, marks = self.page.evaluate("[window.plantedCalls, document.querySelectorAll('[data-planted]').length]")
        assert calls == 0, f"{where}: what was typed has run"
        assert marks == 0, f"{where}: what was typed has become part of the page"
        addresses = self.page.evaluate(
            "[...document.querySelectorAll('[href], [action], [src]')].map((one) =>"
            " one.getAttribute('href') || one.getAttribute('action') || one.getAttribute('src'))"
        )
        assert not [one for one in addresses if one.strip().lower().startswith("javascript:")], where
        assert self.dialogs == [], where


@pytest.fixture
def planted(browser: Browser, tmp_path: Path) -> Iterator[tuple[Planter, WebServer]]:
    """A shop in which everything that can be kept is called by what was planted."""
    with closing(Database(str(tmp_path / STORE))) as database:
        book = JobBook(JobStore(database), database.records, time.time)
        people, now = PeopleStore(database), time.time()
        job = book.start(PLANTED, PLANTED, "26 gal/h", by=SHORT).id
        open_invented(database.records, book, job)
        names = {
            "job": job,
            "run": RUN,
            "step": "sizes.pipe",
            "account": people.add_account(SHORT, "seven dry pumps in a row", "viewer", (), "US", at=now, by=SHORT).id,
            "token": people.make_link("witness", RUN, SHORT, by=SHORT, at=now, until=now + 1.0e5),
            "identifier": ServiceStore(database).keep(job, 1, {}, _planted_diagnosis(), at=now, who=PLANTED)[0],
        }
    with web_server(tmp_path) as server, watched(browser, server.address, bypass_csp=True) as person:
        yield Planter(person, names), server


def _planted_diagnosis() -> dict[str, Any]:
    suspect: dict[str, Any] = {"probability": 1.0, "severity": None, "severity_quantity": ""}
    suspect |= dict.fromkeys(("title", "severity_label", "look", "caution"), PLANTED)
    return {
        "split": {"text": "The tank is as predicted.", "figures": []},
        "explained": True,
        "suspects": [suspect],
        "next": None,
        "rows": [],
    }


def test_what_is_typed_is_shown_as_text_and_never_runs(planted: tuple[Planter, WebServer], tmp_path: Path) -> None:
    planter, server = planted
    page, sent = planter.page, 0
    (tmp_path / "routes").mkdir()
    pages = [f"{path}{ASKED_WITH.get(path, '')}" for path in routes_to_look_at(tmp_path / "routes")[0]]
    assert len(pages) > 35
    planter.goes("/who")
    page.locator("main input[name=name]").fill(SHORT)
    page.locator("main form button").last.click()
    page.wait_for_load_state()
    _keeps_what_it_can(server, planter)
    for path in pages:
        planter.goes(path)
        planter.assert_nothing_has_grown(path)
        for number in range(page.locator("main form").count()):
            planter.goes(path)
            if page.locator("main form").count() <= number:
                break
            with page.expect_navigation(wait_until="load"):
                filled = page.evaluate(FILL_AND_SEND, [number, PLANTED])
                if not filled:
                    page.reload()
            planter.assert_nothing_has_grown(f"{path}, form {number}")
            sent += filled
    assert sent > 90
    for path in pages:  # what has been kept meanwhile
        planter.goes(path)
        planter.assert_nothing_has_grown(f"{path}, afterwards")


def test_what_is_asked_for_in_an_address_is_shown_as_text(planted: tuple[Planter, WebServer]) -> None:
    planter, _ = planted
    text = "%22%3E%3Cimg%20src%3Dx%20data-planted%20onerror%3Dplanted()%3E%3Cscript%3Eplanted()%3C%2Fscript%3E"
    for path in (
        f"/jobs?search={text}&stage={text}",
        f"/sign-in?next={text}",
        "/sign-in?next=javascript:planted()",
        "/who?next=javascript:planted()",
        f"/jobs/{text}",
        f"/nowhere/{text}?{text}={text}",
        f"/jobs/{{job}}/sizing?revision={text}",
        f"/jobs/{{job}}/sizing/why?name={text}",
        f"/jobs/{{job}}/difference?old={text}&new={text}",
        f"/jobs/{{job}}/acceptance/new?kind={text}&variant={text}",
        f"/jobs/{{job}}/acceptance/{text}",
        f"/jobs/{{job}}/acceptance/{{run}}/steps/{text}",
        f"/jobs/{{job}}/acceptance/{{run}}/performance?task={text}",
        f"/jobs/{{job}}/service/diagnosis/{text}",
        f"/witness/{text}?units={text}",
        f"/people/{text}",
        f"/audit?before={text}",
    ):
        planter.goes(path)
        planter.assert_nothing_has_grown(path)


def test_a_name_from_the_machine_of_another_does_not_leave_its_header(planted: tuple[Planter, WebServer]) -> None:
    planter, server = planted
    job = planter.names["job"]
    for path in (f"/jobs/{job}/file", f"/jobs/{job}/sizing/questions.txt"):
        answer = httpx.get(server.address + path, timeout=60.0)
        told = answer.headers.get("Content-Disposition", "")
        assert '"' not in told.partition('filename="')[2][:-1], told
        assert "<" not in told
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "text/html" not in answer.headers["Content-Type"]


def _keeps_what_it_can(server: WebServer, planter: Planter) -> None:
    """By the interface for programs, which asks no form first: texts that are kept."""
    entries: list[dict[str, Any]] = [
        {"kind": "punch item", "category": "B", "text": PLANTED, "by": PLANTED},
        {"kind": "deviation", "step": "sizes.pipe", "text": PLANTED, "by": PLANTED},
        {"kind": "interruption", "reason": PLANTED, "minutes": 5},
        {"kind": "repeat", "step": "sizes.pipe", "reason": PLANTED, "by": PLANTED},
        {"kind": "step not run", "step": "sizes.pipe", "reason": PLANTED},
    ]
    with httpx.Client(base_url=server.address, timeout=60.0) as program:
        headers = {"X-Vaporwright-Name": SHORT}
        for number, entry in enumerate(entries):
            sent = {"event_id": f"00000000-0000-4000-8000-{number:012d}", "typed_by": SHORT, **entry}
            answer = program.post(f"/api/v1/runs/{RUN}/entries", json=sent, headers=headers)
            assert answer.status_code in (200, 422), answer.text
        job = planter.names["job"]
        text = program.get(f"/api/v1/jobs/{job}/revisions/1/file").text
        for place, note in ((1, PLANTED), (2, SCRIPT_ADDRESS)):
            sent = {"job": f"{text}\n# {place}\n", "after": place, "note": note}
            answer = program.post(f"/api/v1/jobs/{job}/revisions", json=sent, headers=headers)
            assert answer.status_code == 201, answer.text

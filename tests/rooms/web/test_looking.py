"""Looking changes nothing: every address that answers a GET, asked where it has something to show.

A GET may be made by a page of somebody else, by a browser that fetches ahead, by whoever follows a link in a letter. So
what a route writes, it writes on POST alone; a route that is added is asked too.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pytest
from sqlalchemy import MetaData, select

from invented_record import JOB_FILE, Hand
from vaporwright.foundation.errors import InputError
from vaporwright.store.service_store import ServiceStore
from vaporwright.store.signing import SigningKey
from vaporwright.web.working import TaskState
from web_client import Browser, Site
from web_routes import routes_of

FOUND: Final[dict[str, Any]] = {
    "split": {"text": "The tank is as predicted.", "figures": []},
    "explained": True,
    "suspects": [
        {
            "title": "nothing is wrong",
            "probability": 1.0,
            "severity": None,
            "severity_quantity": "",
            "severity_label": "",
            "look": "",
            "caution": "",
        }
    ],
    "next": None,
    "rows": [],
}
# What may be asked beside the address; "signed" was once a certificate that is signed by looking at it.
ASKED: Final = ("", "?signed=self", "?seq=0&task=t&old=1&new=1&revision=1&name=capacity.summer.evaporation_kg_s")


def everything(site: Site) -> dict[str, str]:
    """A hash of the contents of each table, and of each other file of the shop's folder."""
    engine, tables = site.shop.database.engine, MetaData()
    tables.reflect(engine)
    with engine.connect() as connection:
        found = {
            name: hashlib.sha256(repr(sorted(map(repr, connection.execute(select(table))))).encode()).hexdigest()
            for name, table in tables.tables.items()
        }
    store = Path(site.settings.store).name
    others = (one for one in site.settings.data_folder.rglob("*") if one.is_file() and not one.name.startswith(store))
    return found | {str(one): hashlib.sha256(one.read_bytes()).hexdigest() for one in others}


@pytest.fixture
def filled(local: Site, tmp_path_factory: pytest.TempPathFactory) -> tuple[Site, dict[str, str]]:
    """Jobs, a test that somebody signed and released elsewhere, a link, an account, a kept diagnosis."""
    job = local.shop.book.add_demo(by="Ada")[0].id
    records, hand = local.shop.database.records, Hand("wit-1")
    hand.runs_through("witnessed")
    key = SigningKey(tmp_path_factory.mktemp("key") / "key.pem")
    for role in ("technician", "engineer", "witness"):
        hand.enters(key.sign(hand.state, hand.stamp(role), "tested as written"))
    hand.enters(key.release(hand.state, hand.stamp("engineer"), "may ship"))
    records.put(JOB_FILE)
    records.append(hand.run, 0, hand.rows)
    local.shop.book.link_run(hand.run, job, 1)
    local.add("Ada", "engineer")
    people, now = local.people, local.clock()
    kept, _ = ServiceStore(local.shop.database).keep(job, 1, {}, FOUND, at=now, who="Ada")
    return local, {
        "job": job,
        "run": hand.run,
        "step": "tank.leak",
        "token": people.make_link("witness", hand.run, "Wilma", by="Ada", at=now, until=now + 1.0e5),
        "account": people.accounts()[0].id,
        "identifier": kept,
        "task": "done",
        "sha256": hashlib.sha256(JOB_FILE).hexdigest(),
        "number": "1",
        "kind": "io_list.csv",
        "key": "duty.volume",
        "unit": "none",
    }


class _Done:
    """Every task is done: with a diagnosis, or with the name of the run that was opened."""

    def __init__(self, result: object) -> None:
        self.state = TaskState("done", done=True, result=result)

    def __call__(self, _owner: str, _task: str) -> TaskState:
        return self.state


def _asks(site: Site, browser: Browser, names: dict[str, str]) -> int:
    before, asked = everything(site), 0
    assert len(before) >= 12
    for method, route in routes_of(site.app):
        if method != "GET":
            continue
        path = re.sub(r"{(\w+)(?::\w+)?}", lambda found: names[found[1]], route)
        works_it_out = "/sizing" in route or "/controls" in route or "/revisions/" in route  # once is long enough
        for question in ASKED[: 1 if works_it_out else None]:
            answer = browser.send("GET", path + question)
            assert answer.status_code < 500, f"{route}{question}: {answer.status_code}"
            now = everything(site)
            changed = sorted(name for name in before | now if before.get(name) != now.get(name))
            assert not changed, f"{route}{question} has changed {changed}"
            asked += 1
    return asked


@pytest.mark.slow
def test_no_get_changes_anything_that_is_kept(
    filled: tuple[Site, dict[str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    site, names = filled
    works = site.shop.working.run

    def all_but_proofs(function: Callable[..., Any], *arguments: Any) -> Any:
        if function.__name__ == "_proved":  # half a minute and more, and nothing of it is kept
            raise InputError("proof", "", "is left out here", "nothing")
        return works(function, *arguments)

    monkeypatch.setattr(site.shop.working, "run", all_but_proofs)
    browser = site.browser()
    browser.post("/who", {"name": "Pat"})
    assert _asks(site, browser, names) > 150
    assert "shipped" in browser.get(f"/jobs/{names['job']}").text  # it had something to show: what a GET once wrote
    assert "shipped" in browser.get("/jobs").text


@pytest.mark.slow
@pytest.mark.parametrize("result", [(1, {}, FOUND), "wit-1"], ids=["a diagnosis", "a run"])
def test_no_get_keeps_what_a_task_has_found(
    filled: tuple[Site, dict[str, str]], monkeypatch: pytest.MonkeyPatch, result: object
) -> None:
    site, names = filled
    browser = site.browser()
    browser.post("/who", {"name": "Pat"})
    monkeypatch.setattr(site.shop.working, "task", _Done(result))
    before = everything(site)
    shown = 0
    for method, route in routes_of(site.app):
        if method == "GET" and "{task}" in route:
            is_diagnosis = "weighing" in route
            if is_diagnosis != isinstance(result, tuple) or "refit" in route:
                continue  # a refit is given out, and kept nowhere
            path = re.sub(r"{(\w+)}", lambda found: names[found[1]], route)
            shown += browser.send("GET", path).status_code in (200, 204, 303)
            assert everything(site) == before, route
    assert shown >= 2
    if isinstance(result, tuple):
        assert browser.post(f"/jobs/{names['job']}/service/weighing/done").status_code == 200
        assert everything(site) != before  # what is kept is seen by this test

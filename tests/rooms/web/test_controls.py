"""Pages of the control: matrix, settings, guide, proof, files; simulated unit and trainer; the JSON interface."""

from __future__ import annotations

import csv
import io
import re
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from control_pages import Desk, gas
from real_browser import real_browser
from vaporwright.actions import control_desk, prove_job
from vaporwright.actions.job_book import demo_job_text
from vaporwright.controls.counterexample import Fault
from vaporwright.controls.single_faults import FaultOutcome
from vaporwright.store.job_store import Texts
from web_client import Site, site


@pytest.fixture
def desk(local: Site) -> Desk:
    return Desk(local)


def test_a_job_that_is_not_prepared_shows_progress_and_then_the_page(desk: Desk) -> None:
    desk.controlled.entry(desk.job, 1, Texts("")).prepared = None
    page = desk.browser.get(desk.base)
    assert "<progress" in page.text
    assert 'hx-get="' + desk.base in page.text
    part = desk.browser.part("GET", desk.base)
    assert part.headers["HX-Redirect"] == desk.base
    assert "asks for" in desk.browser.get(desk.base).text


def test_a_job_whose_sizing_fails_says_what_is_wrong(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    bad = demo_job_text("tumbling_effluent_gas").replace("[duty]", '[unit]\ntower = "no such"\n[duty]', 1)
    desk.controlled._entries.clear()
    entry = desk.controlled.entry(desk.job, 1, Texts(bad))
    assert entry.prepared is None
    desk.browser.get(desk.base)
    page = desk.browser.get(desk.base)
    assert page.status_code == 422
    assert entry.tasks == {}  # the next look begins it again
    del monkeypatch


def test_the_matrix_has_every_row_with_its_reason_and_every_mark(desk: Desk) -> None:
    text = desk.browser.get(desk.base).text
    design = gas().controlled.unit.design
    assert text.count('<tr role="row" data-row') == len(design.rows)
    cells = sum(len(row.effects) for row in design.rows)
    assert len(re.findall(r'<td role="cell" class="cell (?:on|off|need)">', text)) == cells
    assert "Splashes do not count." in text
    assert "is no functional-safety assessment" in text
    assert not re.search(r"\sstyle=|<script(?![^>]* src=)|\son[a-z]+=", text)


def test_settings_and_guide_give_reasons(desk: Desk) -> None:
    text = desk.browser.get(f"{desk.base}/settings").text
    assert "a gust must not stop the unit" in text
    assert "155 °F" in text
    guide = desk.browser.get(f"{desk.base}/guide").text
    assert "Alarm: airflow is lost" in guide
    assert "never bridge" in guide


@pytest.mark.parametrize("kind", list(control_desk.FILES))
def test_files_are_those_of_the_actions(desk: Desk, kind: str) -> None:
    answer = desk.browser.get(f"{desk.base}/files/{kind}")
    assert answer.status_code == 200
    assert f"_r1_{kind}" in answer.headers["Content-Disposition"]
    if kind == "matrix.pdf":
        assert answer.content.startswith(b"%PDF")
    elif kind.endswith(".csv"):
        rows = list(csv.reader(io.StringIO(answer.text)))
        assert len({len(row) for row in rows}) == 1
        assert not any(cell[:1] in "=+-@" for row in rows for cell in row if cell)
        if kind == "matrix.csv":
            design = gas().controlled.unit.design
            assert sorted({cell for row in rows[1:] for cell in row[2:-1]}) == ["", "need", "off", "on"]
            assert [row[0] for row in rows[1:]] == [row.title for row in design.rows]
    else:
        assert "UNVERIFIED" in answer.text or "Cause-and-effect" in answer.text


def test_a_file_that_there_is_not_is_refused(desk: Desk) -> None:
    assert desk.browser.get(f"{desk.base}/files/..%2f..%2fetc").status_code in (404, 422)
    assert desk.browser.get(f"{desk.base}/files/wiring.dwg").status_code == 422
    assert desk.browser.get("/jobs/nothing/controls").status_code == 404


def _few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prove three properties and no more: the whole proof is tested where it is made."""
    known = prove_job.properties_of
    monkeypatch.setattr(prove_job, "properties_of", lambda unit: known(unit)[:3])
    monkeypatch.setattr(prove_job, "rows_that_never_act", lambda _: ())


def test_the_proof_is_shown_and_settled_by_an_engineer(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    _few(monkeypatch)
    page = desk.browser.get(f"{desk.base}/proof")
    assert "<progress" in page.text
    assert desk.browser.post(f"{desk.base}/settle").url.path == "/who"
    page = desk.browser.get(f"{desk.base}/proof")
    assert "All 3 properties are proved" in page.text
    assert "Look at every single fault" in page.text
    desk.browser.post("/who", {"name": "Pat"})
    page = desk.browser.post(f"{desk.base}/settle")
    assert "is settled" in page.text
    assert desk.site.shop.book.stage(desk.job) == "controls"


def test_single_faults_are_looked_at_only_on_request(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    _few(monkeypatch)
    asked: list[int] = []

    def faults(table: Any, *_: Any, **_more: Any) -> tuple[Any, ...]:
        asked.append(1)
        return tuple(
            FaultOutcome(Fault(name, stuck), "claim", "falls" if stuck else "by the table alone", None)
            for name in (table.signals[0], table.outputs[0])
            for stuck in (True, False)
        )

    monkeypatch.setattr(prove_job, "single_faults", faults)
    for _ in range(2):
        desk.browser.get(f"{desk.base}/proof")
    assert asked == []
    page = desk.browser.post(f"{desk.base}/proof/faults")
    assert asked == [1]
    page = desk.browser.get(f"{desk.base}/proof")
    assert "4 pairs of fault and claim: 2 stand by the table alone" in page.text
    assert "control relay: contact welded" in page.text
    assert asked == [1]


def test_nothing_is_settled_without_a_proof(desk: Desk) -> None:
    desk.browser.post("/who", {"name": "Pat"})
    assert desk.browser.post(f"{desk.base}/settle").status_code == 422
    assert desk.site.shop.book.stage(desk.job) == "enquiry"


def test_a_unit_is_begun_worked_and_ended_from_the_page(desk: Desk) -> None:
    assert "Switch it on" in desk.browser.get(f"{desk.base}/run").text
    assert desk.state() == {"state": "none"}
    desk.begin()
    text = desk.browser.get(f"{desk.base}/run").text
    assert not re.search(r"\sstyle=|<script(?![^>]* src=)|\son[a-z]+=", text)
    for name in ("blower", "pump", "refill", "heat"):
        assert desk.deed(f"turn|{name}|auto").json() == {"said": ""}
    desk.turns(1)
    for button in ("reset", "start"):
        desk.deed(f"press||{button}")
        desk.turns(1)
    assert desk.is_on("run")
    assert desk.browser.post(f"{desk.base}/run/speed", {"speed": "60"}).status_code == 200
    desk.turns(30)
    told = desk.state(events=3)
    assert told["speed"] == 60
    assert told["selectors"]["heat"] == "auto"
    assert told["shown"]["temperature"].endswith("°F")
    assert min(event[0] for event in told["events"]) == 4
    assert len(told["points"]["rows"][0]) == 5
    last = told["points"]["rows"][-1][0]
    assert desk.state(points=last)["points"]["rows"] == []
    assert desk.is_on("heat")
    desk.deed("fail|blower_belt|broken")
    desk.turns(2)
    told = desk.state()
    assert told["alarms"][0][:4] == ["airflow_lost", "airflow is lost", "high", "latched unacknowledged"]
    assert told["altered"] == [["fail blower_belt", "blower belt: broken", "fail|blower_belt|sound"]]
    desk.deed(told["altered"][0][2])
    desk.turns(1)
    assert desk.state()["altered"] == []
    desk.browser.post(f"{desk.base}/run/end")
    assert desk.state() == {"state": "none"}


def test_units_of_the_reader(desk: Desk) -> None:
    desk.begin()
    desk.turns(1)
    us = desk.state()
    desk.browser.post("/preferences", {"units": "SI", "theme": "auto", "next": "/"})
    desk.controlled.units.close()
    desk.begin()
    desk.turns(1)
    si = desk.state()
    assert us["shown"]["level"].endswith("in")
    assert si["shown"]["level"].endswith("mm")
    assert us["points"]["rows"][0][2] * 25.4 == pytest.approx(si["points"]["rows"][0][2], rel=1e-4)


def test_a_deed_that_is_not_there_is_told_and_changes_nothing(desk: Desk) -> None:
    assert desk.deed("press||start").status_code == 422  # no unit yet
    desk.begin()
    answer = desk.deed("turn|sun|on")
    assert answer.status_code == 422
    assert "is not there" in answer.json()["problem"]
    assert desk.deed("").status_code == 422
    page = desk.browser.post(f"{desk.base}/run/deed", {"deed": "turn|<b>|on"})  # a page without script
    assert "&lt;b&gt;" in page.text
    assert "<b>" not in page.text
    plain = desk.browser.send("POST", f"{desk.base}/run/deed", data={"deed": "press||start"})
    assert plain.status_code == 403  # no token


def test_another_browser_has_a_unit_of_its_own(desk: Desk) -> None:
    desk.begin()
    desk.turns(1)
    other = desk.site.browser()
    other.get("/jobs")
    assert desk.state(other) == {"state": "none"}
    another = next(one.job.id for one in desk.site.shop.book.listed() if one.job.id != desk.job)
    assert desk.browser.get(f"/jobs/{another}/controls/run/state").json() == {"state": "none"}
    assert (
        other.post(
            f"{desk.base}/run/deed", {"deed": "press||start"}, headers={"Accept": "application/json"}
        ).status_code
        == 422
    )
    for _ in range(2):
        desk.site.browser().post(f"{desk.base}/run/begin")
    page = desk.site.browser().post(f"{desk.base}/run/begin")
    assert page.status_code == 422
    assert "3 units run already" in page.text


def test_a_revised_job_does_not_go_on_with_the_old_unit(desk: Desk) -> None:
    desk.begin()
    desk.turns(1)
    desk.browser.post("/who", {"name": "Pat"})
    text = demo_job_text("tumbling_effluent_gas") + "\n# another revision\n"
    desk.site.shop.book.revise(desk.job, 1, Texts(text), by="Pat", note="")
    desk.controlled.entry(desk.job, 2, Texts(text)).prepared = gas()
    assert "Switch it on" in desk.browser.get(f"{desk.base}/run").text


def test_a_task_on_the_page(desk: Desk) -> None:
    text = desk.browser.get(f"{desk.base}/train").text
    assert text.count('<li class="sheet">') >= 11
    assert "Steam is lost" not in text  # a gas unit
    assert desk.browser.post(f"{desk.base}/train/belt/begin").url.path == "/who"  # results are kept under a name
    desk.browser.post("/who", {"name": "Pat"})
    assert desk.browser.post(f"{desk.base}/train/steam/begin").status_code == 422
    desk.begin("belt")
    page = desk.browser.get(f"{desk.base}/run").text
    assert "Find out why it stopped" in page
    assert "belt lies" not in page
    assert "Faults and supplies" not in page
    assert desk.deed("fail|blower_belt|sound").status_code == 422  # a trainee works by hand, not by magic
    desk.deed("look||blower")
    desk.turns(1)
    told = desk.state()
    assert told["events"][-1][2:4] == [
        "seen",
        "The motor stands, the belt lies in the guard. The gauge across the fill reads nothing.",
    ]
    assert told["task"]["told"] == []
    assert told["task"]["debrief"] == ""
    accept = {"Accept": "application/json"}
    said = desk.browser.post(f"{desk.base}/train/answer", {"cause": "prime"}, headers=accept).json()["said"]
    assert said.startswith("No")
    said = desk.browser.post(f"{desk.base}/train/answer", {"cause": "belt"}, headers=accept).json()["said"]
    assert said.startswith("Right")
    assert "first" in desk.browser.post(f"{desk.base}/train/hint", headers=accept).json()["said"]
    desk.deed("work||belt")  # blower in auto
    desk.turns(1)
    told = desk.state()["task"]
    assert told["dangerous"] == 1
    assert (told["guesses"], told["hints_left"]) == (2, 2)
    desk.browser.post(f"{desk.base}/train/give-up", headers=accept)
    told = desk.state()["task"]
    assert told["verdict"] == "given up"
    assert "belt" in told["cause"]
    assert told["debrief"]


def test_works_are_for_tasks(desk: Desk) -> None:
    desk.begin()
    assert desk.deed("work||belt").status_code == 422
    assert desk.browser.post(f"{desk.base}/train/hint", headers={"Accept": "application/json"}).status_code == 422


def test_the_interface_for_programs(desk: Desk) -> None:
    api = "/api/v1"
    send = desk.browser.send
    found = send("GET", f"{api}/jobs/{desk.job}/controls").json()
    assert found["heat"] == "gas"
    assert found["rows"][0]["why"]
    assert send("GET", f"{api}/jobs/{desk.job}/controls/guide").json()[0]["suspects"]
    assert len(send("GET", f"{api}/jobs/{desk.job}/controls/tasks").json()) >= 11
    assert send("POST", f"{api}/jobs/{desk.job}/simulated-units", json={"task": "power"}).status_code == 403
    named = {"X-Vaporwright-Name": "Pat"}
    begun = send("POST", f"{api}/jobs/{desk.job}/simulated-units", json={"task": "power"}, headers=named)
    assert begun.status_code == 201
    unit = f"{api}/simulated-units/{begun.json()['id']}"
    assert send("GET", unit).json()["state"] == "preparing"
    desk.unit.prepare()
    assert len(send("GET", unit).json()["bits"]) == len(begun.json()["names"])
    assert send("POST", f"{unit}/deeds", json={"verb": "press", "value": "reset"}).status_code == 202
    assert send("POST", f"{unit}/deeds", json={"verb": "fail", "target": "flame", "value": "out"}).status_code == 422
    assert send("POST", f"{unit}/speed", json={"speed": 10}).status_code == 204
    assert send("POST", f"{unit}/speed", json={"speed": 11}).status_code == 422
    assert send("POST", f"{unit}/answer", json={"cause": "power"}).json() == {"right": True}
    desk.turns(2)
    assert desk.unit.attempt is not None
    assert "relay" in desk.unit.attempt.reached
    assert send("DELETE", unit, headers={"X-Vaporwright": "1"}).status_code == 204
    gone = send("GET", unit)
    assert gone.status_code == 404
    assert set(gone.json()["error"]) == {"where", "key", "problem", "allowed"}
    tried = send("POST", f"{api}/jobs/{desk.job}/simulated-units", json={"task": "steam"}, headers=named)
    assert tried.status_code == 422


@pytest.fixture
def served(tmp_path: Path) -> Iterator[str]:
    """The demo on a port of this machine."""
    import uvicorn

    with site(tmp_path, demo=True) as made:
        made.app.state.shop.working.warm()
        listening = socket.socket()
        listening.bind(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(made.app, log_level="warning", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        thread.join(20.0)
        if (known := getattr(made.app.state, "controlled", None)) is not None:
            known.units.close()


@pytest.mark.slow
def test_by_keyboard_the_unit_starts_and_the_matrix_lights(served: str) -> None:
    from axe_playwright_python.sync_playwright import Axe
    from playwright.sync_api import expect

    with real_browser() as browser:
        page = browser.new_page(viewport={"width": 820, "height": 1100}, bypass_csp=True)  # for axe's own script
        faults: list[str] = []
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto(f"{served}/jobs")
        page.get_by_role("link", name=re.compile("Tumbling")).click()
        page.get_by_role("link", name="Controls", exact=True).press("Enter")
        expect(page.locator("#matrix")).to_be_visible(timeout=60_000)
        page.get_by_role("link", name="Simulated unit", exact=True).press("Enter")
        page.get_by_role("button", name="Switch it on").press("Enter")
        expect(page.locator("#clock")).not_to_have_text("0:00:00", timeout=20_000)
        for name in ("blower", "pump", "refill", "heat"):
            page.locator(f"[data-selector={name}][data-position=auto]").press("Enter")
            expect(page.locator(f"[data-selector={name}][data-position=auto]")).to_have_attribute(
                "aria-pressed", "true"
            )
        row = page.locator("#matrix tbody tr", has_text="reset button is up")
        expect(row).to_have_class(re.compile("true"))
        page.locator("[data-push=reset]").focus()
        page.keyboard.down("Space")
        expect(row).not_to_have_class(re.compile("true"))  # for as long as it is held
        page.keyboard.up("Space")
        expect(row).to_have_class(re.compile("true"))
        effect = page.locator("#matrix .effect")
        expect(effect.nth(0).locator(".lamp")).to_have_text("on")
        for key in ("Alt", "Shift", "KeyS"):
            page.keyboard.down(key)
        expect(effect.nth(1).locator(".lamp")).to_have_text("on")
        for key in ("KeyS", "Shift", "Alt"):
            page.keyboard.up(key)
        expect(page.locator("#w-blower")).to_contain_text("runs")
        page.locator('[data-speed="60"]').press("Enter")
        heat = page.locator("#matrix .effect", has_text="call for heat")
        expect(heat.locator(".lamp")).to_have_text("on", timeout=20_000)
        page.locator("#fail").select_option("fail|blower_belt|broken")
        page.locator("#fail ~ button").press("Enter")
        lost = page.locator("#matrix tbody tr", has_text="airflow is lost")
        expect(lost.locator(".now")).to_have_text("■ latched, came first", timeout=10_000)
        expect(page.locator("#alarms")).to_contain_text("latched unacknowledged")
        expect(page.locator("#say")).to_contain_text("airflow is lost")
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            results = Axe().run(page)
            assert results.violations_count == 0, results.generate_report()
        sizes = page.locator(".panel button").evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
        assert min(sizes) >= 56
        page.set_viewport_size({"width": 390, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert faults == []

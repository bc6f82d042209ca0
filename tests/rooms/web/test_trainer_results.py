"""The unit's air on its page, results of the trainer kept and shown to whom they belong, the page without a script."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest

from control_pages import Desk
from vaporwright.store.training_store import TrainingStore
from vaporwright.web.running.kept import RunningUnits
from web_client import PASSWORD, Browser, Site


@pytest.fixture
def desk(local: Site) -> Desk:
    return Desk(local)


def _said(text: str) -> str:
    """What a page says, without its tags."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


# The air


def test_one_chooses_the_air_and_the_page_says_which_with_its_figures(desk: Desk) -> None:
    offered = desk.browser.get(f"{desk.base}/run").text
    assert re.search(r'value="winter" checked', offered)
    assert "summer of the job" in offered
    desk.browser.post(f"{desk.base}/run/begin", {"air": "summer"})
    desk.unit.prepare()
    answer = desk.controlled.entry(desk.job, 1, None).known.controlled.answer  # type: ignore[arg-type]
    summer = answer.seasons["summer"]
    assert desk.unit.rig.season.conditions.air == summer.conditions.air
    said = _said(desk.browser.get(f"{desk.base}/run").text)
    settles_F = summer.settling_temperature_K * 1.8 - 459.67
    assert "It stands in summer of the job: air 96 °F, wet bulb 76 °F, feed 60 °F." in said
    assert f"settles at {settles_F:.1f} °F and evaporates 27.2 gal/h" in said
    refused = desk.browser.post(f"{desk.base}/run/begin", {"air": "monsoon"})
    assert refused.status_code == 422
    assert "is not offered" in refused.text
    assert desk.unit.rig.season.season == "summer"  # what ran goes on


def test_programs_choose_the_air_too(desk: Desk) -> None:
    path = f"/api/v1/jobs/{desk.job}/simulated-units"
    assert desk.browser.send("POST", path, json={"air": "average"}).status_code == 201
    assert desk.unit.rig.season.season == "average"
    assert desk.browser.send("POST", path, json={"air": "day nothing"}).status_code == 422


# Without a script


def test_without_a_script_the_page_comes_anew_and_says_what_is_so(desk: Desk) -> None:
    desk.begin()
    for name in ("blower", "pump", "refill", "heat"):
        desk.browser.post(f"{desk.base}/run/deed", {"deed": f"turn|{name}|auto"})
    desk.turns(1)
    for button in ("reset", "start"):
        desk.browser.post(f"{desk.base}/run/deed", {"deed": f"press||{button}"})
        desk.turns(1)
    desk.unit.set_speed(10)
    desk.turns(60)
    desk.browser.post(f"{desk.base}/run/deed", {"deed": "fail|blower_belt|broken"})
    desk.turns(10)
    text = desk.browser.get(f"{desk.base}/run").text
    assert '<noscript><meta http-equiv="refresh" content="4"></noscript>' in text
    assert 'http-equiv="refresh"' not in desk.browser.get(f"{desk.base}/run?still=true").text
    said = _said(text)
    assert "airflow is lost latched unacknowledged since" in said
    assert "came first" in said
    assert "horn sounds" in said
    assert "blower belt: broken Put right" in said
    assert "low rod wet" in said
    (row,) = re.findall(
        r'<tr role="row" data-row class="([^"]*)">\s*<th[^>]*>airflow is lost</th>(.*?)</tr>', text, re.S
    )
    assert row[0].split() == ["true", "abnormal", "high", "first"]
    assert "■ latched, came first" in _said(row[1])
    assert "ends blower , acts now" in _said(row[1])
    assert re.search(r'class="effect lit">.*?control relay.*?<span class="lamp">on</span>', text, re.S)
    assert re.search(r'data-selector="heat" data-position="auto" aria-pressed="true"', text)


def test_a_row_that_is_needed_and_not_there_says_so_in_words(desk: Desk) -> None:
    desk.begin()
    desk.turns(1)
    text = desk.browser.get(f"{desk.base}/run").text
    (row,) = re.findall(r"<th[^>]*>airflow is proven</th>(.*?)</tr>", text, re.S)
    assert _said(row).startswith("○ missing")
    assert "is needed for spray branch , missing now" in _said(row)
    assert 'class="effect lit"' not in text


# Results


def _results(desk: Desk, browser: Browser | None = None, **more: Any) -> list[dict[str, Any]]:
    answer = (browser or desk.browser).send("GET", "/api/v1/training-results", params=more)
    assert answer.status_code == 200
    found: list[dict[str, Any]] = answer.json()
    return found


def test_a_task_that_is_given_up_is_kept_with_what_was_wrong_and_the_hints(desk: Desk) -> None:
    desk.begin("belt")
    (line,) = _results(desk)
    assert (line["who"], line["task"], line["outcome"], line["ended_at"]) == ("Pat", "belt", "at work", None)
    assert (line["job"], line["revision"], line["goals"]) == (desk.job, 1, 4)
    accept = {"Accept": "application/json"}
    desk.browser.post(f"{desk.base}/train/hint", headers=accept)
    desk.browser.post(f"{desk.base}/train/answer", {"cause": "prime"}, headers=accept)
    desk.deed("push||acknowledge")
    desk.deed("pull||acknowledge")
    desk.deed("work||belt")  # with the blower in auto
    desk.turns(2)
    desk.site.clock.at += 60.0
    desk.browser.post(f"{desk.base}/train/give-up", headers=accept)
    (line,) = _results(desk)
    assert line["outcome"] == "given up"
    assert line["ended_at"] - line["begun_at"] == 60.0
    assert (line["hints"], line["wrong_guesses"], line["reached"]) == (1, 1, 2)
    assert [(one["words"], one["dangerous"]) for one in line["wrong"]] == [
        ("The belt guard was opened with the blower in auto.", True)
    ]
    said = _said(desk.browser.get("/training").text)
    assert "Find out why it stopped ▲ given up Tumbling effluent, gas , revision 1" in said
    assert "dangerous : The belt guard was opened with the blower in auto." in said
    noted = [(one.what, one.who, one.subject, one.detail) for one in desk.site.people.audit(limit=3)]
    assert noted[:2] == [
        ("training ended", "Pat", desk.job, "Find out why it stopped: given up"),
        ("training begun", "Pat", desk.job, "Find out why it stopped"),
    ]


def test_a_task_that_is_done_is_kept_as_done(desk: Desk) -> None:
    desk.begin("power")
    desk.browser.post(f"{desk.base}/train/answer", {"cause": "power"}, headers={"Accept": "application/json"})
    desk.unit.set_speed(10)
    for button in ("reset", "start"):
        desk.deed(f"press||{button}")
        desk.turns(2)
    desk.turns(250)
    (line,) = _results(desk)
    assert (line["outcome"], line["reached"], line["goals"], line["wrong"]) == ("done", 3, 3, [])
    assert line["unit_s"] > 60.0  # it had to heat for a minute


def test_a_task_that_is_left_says_why_and_one_that_the_server_cut_short_is_not_at_work(desk: Desk) -> None:
    desk.begin("belt")
    desk.site.clock.at += 1.0
    desk.begin("power")
    newest, older = _results(desk)
    assert (older["outcome"], older["remark"]) == ("left", "another one was begun")
    assert newest["outcome"] == "at work"
    desk.controlled.units = RunningUnits(1, threads=False)  # as after a start of the server
    assert _results(desk)[0]["outcome"] == "cut short"
    assert "cut short" in desk.browser.get("/training").text


def test_where_there_is_no_room_nothing_is_kept(desk: Desk) -> None:
    for _ in range(3):
        desk.site.browser().post(f"{desk.base}/run/begin")
    desk.browser.post("/who", {"name": "Pat"})
    assert desk.browser.post(f"{desk.base}/train/belt/begin").status_code == 422
    assert _results(desk) == []


def test_at_the_machine_results_are_those_of_the_name(desk: Desk) -> None:
    desk.begin("belt")
    other = desk.site.browser()
    other.post("/who", {"name": "Kim"})
    assert _results(desk, other) == []
    assert [one["who"] for one in _results(desk, other, everybody=True)] == ["Pat"]
    nobody = desk.site.browser()
    assert _results(desk, nobody) == []
    assert "You have no name here yet" in nobody.get("/training").text


def _keep(site: Site, name: str, job: str, at: float) -> None:
    account = site.people.account_named(name)
    assert account is not None
    store = TrainingStore(site.shop.database)
    store.begin(job, 1, "belt", 4, who=name, account=account.id, at=at)


def test_with_accounts_one_sees_ones_own_and_the_engineer_everybodys(shared: Site) -> None:
    own, other = (job.id for job in shared.shop.book.add_demo(by="Ada")[:2])
    technician, engineer = shared.signed_in("Tim", "technician"), shared.signed_in("Ada", "engineer")
    shared.add("Wilma", "witness")
    wilma = shared.people.account_named("Wilma")
    assert wilma is not None
    shared.shop.jobs.open_to(own, (wilma.id,))
    for at, (name, job) in enumerate((("Tim", own), ("Ada", own), ("Wilma", own), ("Wilma", other))):
        _keep(shared, name, job, float(at))

    def names(browser: Browser, **more: Any) -> list[str]:
        return [one["who"] for one in browser.send("GET", "/api/v1/training-results", params=more).json()]

    assert names(technician) == ["Tim"]
    assert technician.send("GET", "/training?everybody=true").status_code == 403
    assert technician.send("GET", "/api/v1/training-results?everybody=true").status_code == 403
    assert names(engineer) == ["Ada"]
    assert names(engineer, everybody=True) == ["Wilma", "Wilma", "Ada", "Tim"]
    assert names(engineer, everybody=True, before=2.0) == ["Ada", "Tim"]
    witness = shared.browser("192.0.2.9")
    witness.sign_in("Wilma", PASSWORD)
    assert names(witness) == ["Wilma"]  # not on the job that is no longer open to her
    hidden = shared.shop.book.job(other).name
    assert hidden not in witness.get("/training").text
    assert shared.browser("192.0.2.10").send("GET", "/training").status_code == 303


def test_a_name_of_nonsense_is_shown_as_it_is(desk: Desk) -> None:
    desk.browser.post("/who", {"name": "<script>x</script>"})
    desk.browser.post(f"{desk.base}/train/belt/begin")
    text = desk.browser.get("/training?everybody=true").text
    assert "&lt;script&gt;x" in text
    assert "<script>x" not in text


# The stream's address


def test_whoever_has_no_unit_is_told_so(desk: Desk) -> None:
    answer = desk.browser.get(f"{desk.base}/run/live")
    assert answer.headers["content-type"].startswith("text/event-stream")
    assert answer.text == 'data: {"state":"none"}\n\n'
    desk.controlled.units.streams = 60
    assert desk.browser.get(f"{desk.base}/run/live").status_code == 503

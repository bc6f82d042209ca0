"""The book of jobs in pages: from the empty state to revisions and what differs between them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from invented_record import Hand
from vaporwright.acceptance.record.events import Command, Reopen
from vaporwright.actions.job_book import DEMO_JOBS, STAGES, demo_job_text
from vaporwright.store.signing import SigningKey
from web_client import Browser, Site

SCRIPT = "<img src=x onerror=alert(1)>"
SMALL = '[job]\nname = "Small"\ncustomer = "Invented"\n\n[duty]\nvolume = "26 gal/h"\n'


@pytest.fixture
def pat(local: Site) -> Browser:
    browser = local.browser()
    browser.post("/who", {"name": "Pat"})
    return browser


def _upload(browser: Browser, text: str | bytes, name: str = "job.toml", **more: str) -> tuple[int, str, str]:
    content = text if isinstance(text, bytes) else text.encode()
    files = {"job_file": (name, content), **{key: (f"{key}.toml", value.encode()) for key, value in more.items()}}
    answer = browser.post("/jobs/upload", files=files)
    return answer.status_code, answer.text, answer.url.path


def test_the_empty_book_offers_the_demo(local: Site) -> None:
    browser = local.browser()
    page = browser.get("/")
    assert page.url.path == "/jobs"
    assert "No job yet" in page.text
    page = browser.post("/jobs/demo")
    assert "No job yet" not in page.text
    assert page.text.count('<th scope="row">') == len(DEMO_JOBS)
    browser.post("/jobs/demo")  # again: nothing twice
    assert len(local.shop.book.listed()) == len(DEMO_JOBS)


@pytest.mark.parametrize("name", DEMO_JOBS)
def test_the_demo_jobs_are_the_examples(name: str) -> None:
    examples = Path(__file__).parents[3] / "examples"
    assert demo_job_text(name) == (examples / f"{name}.toml").read_text(encoding="utf-8")


def test_a_search_and_a_filter(local: Site, pat: Browser) -> None:
    pat.post("/jobs/demo")
    assert "Nickel rinse" in pat.get("/jobs?search=ELECTRIC+nickel").text
    assert "Nickel rinse" not in pat.get("/jobs?search=gas").text
    assert "Nickel rinse" in pat.get("/jobs?search=mountains").text  # the customer
    job = local.shop.book.listed("nickel")[0].job.id
    local.shop.book.mark(job, "sized", 1, by="Pat")
    page = pat.get("/jobs?stage=sized").text
    assert "Nickel rinse" in page
    assert "Tumbling" not in page
    assert "No job fits" in pat.get("/jobs?stage=shipped").text
    assert pat.get("/jobs?archived=maybe").status_code == 422


def test_a_job_from_the_least_one_can_know(local: Site, pat: Browser) -> None:
    page = pat.post("/jobs/new", {"name": 'Dip "A" \\ 2', "customer": "Ünver", "volume": "100 L/h"})
    assert page.status_code == 200
    job = local.shop.book.listed()[0].job
    assert (job.name, job.customer, job.revision, job.made_by) == ('Dip "A" \\ 2', "Ünver", 1, "Pat")
    file = pat.get(f"/jobs/{job.id}/file")
    assert file.headers["Content-Disposition"] == 'attachment; filename="dip_a_2_r1.toml"'
    assert 'volume = "100 L/h"' in file.text
    assert "# hours_per_day" in file.text  # the commented start file


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"name": "A", "volume": "26 furlongs"}, "unknown unit"),
        ({"name": "A", "volume": ""}, "does not start with a number"),
        ({"name": "", "volume": "26 gal/h"}, "job.name"),
        ({"name": "A\x01", "volume": "26 gal/h"}, "control characters"),
        ({"name": "A", "volume": "26"}, "has no unit"),
    ],
)
def test_what_does_not_fit_is_said_and_what_was_typed_stays(
    local: Site, pat: Browser, form: dict[str, str], said: str
) -> None:
    answer = pat.post("/jobs/new", {"customer": "kept as typed", **form})
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="kept as typed"' in answer.text
    assert "/tmp" not in answer.text
    assert local.shop.book.listed() == ()


def test_a_file_is_taken_in_with_its_catalogue(pat: Browser) -> None:
    named = 'catalogue = "../shop/ours.toml"\n\n' + SMALL
    status, text, _ = _upload(pat, named)
    assert status == 422
    assert "did not come with the job file" in text
    status, _, path = _upload(pat, named, catalogue_file="# ours\n[catalogue]\n")
    assert status == 200
    assert "# ours" in pat.get(f"{path}/file?part=catalogue").text
    assert pat.get(f"{path}/file?part=table").status_code == 404
    assert pat.get(f"{path}/file?part=/etc/passwd").status_code == 404


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "binary"),
        (b"caf\xe9 = 1", "not UTF-8"),
        (b"[job\n", "not valid TOML"),
        (b'[job]\nname = "x"\n', "missing"),
        (b'[duty]\nvolume = "26 gal/h"\nvolumen = 3\n', "unknown key"),
        (b'catalogue = "/etc/passwd"\n[duty]\nvolume = "26 gal/h"\n', "lies elsewhere"),
        (b'catalogue = "../../../../../../../../etc/x"\n[duty]\nvolume = "26 gal/h"\n', "lies elsewhere"),
        (b'catalogue = "job.toml"\n[duty]\nvolume = "26 gal/h"\n', "lies elsewhere"),
        (b'catalogue = "."\n[duty]\nvolume = "26 gal/h"\n', "is a folder"),
        (b"x = " + b"[" * 3000 + b"]" * 3000, "nested too deeply"),
        (b"#" * 4_000_001, "too large"),
    ],
)
def test_wrong_files_are_refused_with_the_reason(local: Site, pat: Browser, content: bytes, said: str) -> None:
    status, text, _ = _upload(pat, content, catalogue_file="x = 1")
    assert status == 422
    assert said in text
    assert "Traceback" not in text
    assert local.shop.book.listed() == ()


def test_a_files_name_leads_nowhere(pat: Browser) -> None:
    status, text, path = _upload(pat, SMALL, name="../../etc/<b>cron.toml")
    assert status == 200
    assert "from &lt;b&gt;cron.toml" in pat.get(path).text
    assert "<b>cron" not in text


def test_revisions_and_what_differs(local: Site, pat: Browser) -> None:
    _, _, path = _upload(pat, SMALL)
    job = path.rpartition("/")[2]
    changed = SMALL.replace("26 gal/h", "100 L/h") + 'hours_per_day = 20\n\n[site]\nelevation = "200 m"\n'
    page = pat.post(f"{path}/revise", {"after": 1, "text": changed.replace("\n", "\r\n"), "why": "they called"})
    assert page.url.path == f"{path}/difference"
    for said in (
        "3 values of the job differ",
        "26 gal/h",
        "100 L/h",
        "26.42 gal/h",
        "656.2 ft",
        "they called",
        "added",
    ):
        assert said in page.text, said
    assert local.shop.book.revision(job, 1).texts.job == SMALL
    assert local.shop.book.revision(job, 2).texts.job == changed
    pat.post("/preferences", {"units": "SI"})
    assert "98.42 L/h" in pat.get(f"{path}/difference?old=1&new=2").text  # 26 gal/h: 26 x 3.785411784 L
    back = pat.get(f"{path}/difference?old=2&new=1").text
    assert "removed" in back
    same = pat.post(f"{path}/revise", {"after": 2, "text": changed})
    assert "Nothing differs from revision 2" in same.text
    assert local.shop.book.job(job).revision == 2


def test_the_same_value_written_otherwise_is_called_that(pat: Browser) -> None:
    _, _, path = _upload(pat, SMALL + 'hours_per_day = 16\n\n[site]\nelevation = "1000 ft"\n')
    other = SMALL + 'hours_per_day = 16.0\n\n[site]\nelevation = "304.8 m"\n'
    page = pat.post(f"{path}/revise", {"after": 1, "text": other})
    assert "No value of the job differs; something is written otherwise" in page.text


def test_somebody_who_was_slower_does_not_write_over_the_other(local: Site, pat: Browser) -> None:
    _, _, path = _upload(pat, SMALL)
    kim = local.browser()
    kim.post("/who", {"name": "Kim"})
    assert kim.post(f"{path}/revise", {"after": 1, "text": SMALL.replace("26", "27")}).status_code == 200
    late = pat.post(f"{path}/revise", {"after": 1, "text": SMALL.replace("26", "28")})
    assert late.status_code == 409
    assert "revision 2" in late.text
    assert "28 gal/h" in late.text  # what was typed is still there
    assert [entry.made_by for entry in local.shop.book.revisions(path.rpartition("/")[2])] == ["Kim", "Pat"]


def test_a_copy_and_putting_away(local: Site, pat: Browser) -> None:
    _, _, path = _upload(pat, SMALL)
    copied = pat.post(f"{path}/copy")
    assert copied.url.path != path
    assert 'name = "Copy of Small"' in pat.get(f"{copied.url.path}/file").text
    assert "copy of Small, revision 1" in copied.text
    page = pat.post(f"{path}/archive", {"away": "true"})
    assert [entry.job.name for entry in local.shop.book.listed()] == ["Copy of Small"]
    assert "Small is put away" in page.text
    assert "Small" in pat.get("/jobs?archived=true").text
    assert "Put away on" in pat.get(path).text
    pat.post(f"{path}/archive", {"away": "false"})
    assert len(local.shop.book.listed()) == 2


def test_scripts_in_every_text_are_only_letters(pat: Browser) -> None:
    text = f'[job]\nname = "{SCRIPT}"\ncustomer = "{SCRIPT}"\nnote = "{SCRIPT}"\n\n[duty]\nvolume = "26 gal/h"\n'
    _, _, path = _upload(pat, text, name=f"{SCRIPT}.toml")
    pat.post(f"{path}/revise", {"after": 1, "text": text.replace("note", "#note"), "why": SCRIPT})
    pages = (path, "/jobs", f"{path}/revise", f"{path}/difference?old=1&new=2", "/audit", f"/jobs?search={SCRIPT}")
    for page in pages:
        found = pat.get(page).text
        assert SCRIPT not in found, page
        assert "&lt;img" in found, page
    refused = pat.post(f"{path}/revise", {"after": 2, "text": f'[duty]\nvolume = "{SCRIPT}"\n', "why": SCRIPT})
    assert refused.status_code == 422
    assert SCRIPT not in refused.text


@pytest.mark.parametrize("path", ["", "/file", "/revise", "/difference?old=1&new=2", "/file?revision=99"])
def test_a_job_that_is_not_there(pat: Browser, path: str) -> None:
    for job in ("0" * 16, "x", "' OR 1=1 --"):
        answer = pat.get(f"/jobs/{job}{path}")
        assert answer.status_code == 404, answer.url
        assert "There is nothing under this address" in answer.text


def test_the_way_shows_how_far_the_newest_revision_has_come(local: Site, pat: Browser) -> None:
    _, _, path = _upload(pat, SMALL)
    job = path.rpartition("/")[2]
    local.shop.book.mark(job, "sized", 1, by="Pat")
    local.clock.at += 3_600
    local.shop.book.mark(job, "sized", 1, by="Kim")  # the first time stands
    way = {entry.stage: entry for entry in local.shop.book.way(job)}
    assert tuple(way) == STAGES
    mark = way["sized"].mark
    assert mark is not None
    assert (mark.who, mark.at) == ("Pat", local.clock.at - 3_600)
    assert '<span class="state">sized</span>' in pat.get(path).text
    pat.post(f"{path}/revise", {"after": 1, "text": SMALL.replace("26", "30")})
    page = pat.get(path).text
    assert '<span class="state">enquiry</span>' in page  # the newest has not been sized
    assert re.search(r'class="reached older">\s*<span class="stage">sized', page)


def test_tests_move_a_job_along_and_reopening_takes_it_back(local: Site, pat: Browser, tmp_path: Path) -> None:
    _, _, path = _upload(pat, SMALL)
    job, book, records = path.rpartition("/")[2], local.shop.book, local.shop.database.records
    key = SigningKey(tmp_path / "shop.pem")

    def reached() -> list[str]:
        return [passed.stage for passed in book.way(job) if passed.mark is not None]

    def enters(hand: Hand, command: Command) -> None:
        before = len(hand.rows)
        hand.enters(command)
        records.append(hand.run, before, hand.rows[before:])

    dry, witnessed = Hand("dry-1"), Hand("wit-1")
    dry.runs_through("dry run")
    witnessed.runs_through("witnessed")
    for hand in (dry, witnessed):
        records.append(hand.run, 0, hand.rows)
        book.link_run(hand.run, job, 1)
    assert reached() == ["enquiry"]
    enters(dry, key.sign(dry.state, dry.stamp("engineer"), "tested as written"))
    assert reached() == ["enquiry", "dry run"]
    enters(witnessed, key.sign(witnessed.state, witnessed.stamp("engineer"), "tested as written"))
    assert reached() == ["enquiry", "dry run"]  # the witness has not signed
    enters(witnessed, key.sign(witnessed.state, witnessed.stamp("witness"), "seen"))
    assert reached() == ["enquiry", "dry run", "accepted"]
    mark = {passed.stage: passed.mark for passed in book.way(job)}["accepted"]
    assert mark is not None
    assert (mark.who, mark.note) == ("A witness", "wit-1")
    assert [entry.stage for entry in book.listed()] == ["accepted"]
    enters(witnessed, Reopen(witnessed.stamp("engineer"), "a reading was of another unit"))
    assert reached() == ["enquiry", "dry run"]


def test_a_job_by_the_interface_for_programs(local: Site) -> None:
    browser = local.browser()
    named = {"X-Vaporwright-Name": "A program of Pat's"}
    made = browser.send("POST", "/api/v1/jobs", json={"job": SMALL, "note": "by a program"}, headers=named)
    assert made.status_code == 201
    job = made.json()["id"]
    assert browser.send("GET", "/api/v1/jobs").json() == [made.json()]
    changed = SMALL.replace("26 gal/h", "30 gal/h")
    revised = browser.send("POST", f"/api/v1/jobs/{job}/revisions", json={"job": changed, "after": 1}, headers=named)
    assert (revised.status_code, revised.json()["revision"]) == (201, 2)
    late = browser.send("POST", f"/api/v1/jobs/{job}/revisions", json={"job": SMALL, "after": 1}, headers=named)
    assert late.status_code == 409
    found = browser.send("GET", f"/api/v1/jobs/{job}/difference?old=1&new=2").json()
    assert [(one["key"], one["old"], one["new"]) for one in found["changes"]] == [
        ("duty.volume", "26 gal/h", "30 gal/h")
    ]
    assert browser.send("GET", f"/api/v1/jobs/{job}/revisions/1/file").text == SMALL
    detail = browser.send("GET", f"/api/v1/jobs/{job}").json()
    assert [entry["number"] for entry in detail["revisions"]] == [2, 1]
    assert detail["made_by"] == "A program of Pat's"
    assert browser.send("POST", f"/api/v1/jobs/{job}/archive", headers={"X-Vaporwright": "1"}).status_code == 204
    assert browser.send("GET", "/api/v1/jobs").json() == []
    wrong = browser.send("POST", "/api/v1/jobs", json={"job": "[duty]\nvolume = 26\n"}, headers=named)
    assert wrong.status_code == 422
    assert wrong.json()["error"] | {"allowed": ""} == {
        "where": "job.toml",
        "key": "duty.volume",
        "problem": "26 has no unit",
        "allowed": "",
    }

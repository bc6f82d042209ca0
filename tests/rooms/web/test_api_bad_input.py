"""What no page and no program would send: paths out of the shop, wrong files, nonsense in every field."""

from __future__ import annotations

import inspect
import io
import re
import struct
import zipfile
import zlib

import pytest
from fastapi.routing import iter_route_contexts

from invented_record import JOB_FILE, Hand
from web_client import Browser, Site
from web_routes import routes_of

OUT_OF_THE_SHOP = (
    "../../../../../../etc/passwd",
    "..%2f..%2f..%2f..%2fetc%2fpasswd",
    "%2e%2e%2f%2e%2e%2fetc%2fpasswd",
    "/etc/passwd",
    "file:%2f%2f%2fetc%2fpasswd",
    "..%5c..%5cwindows%5cwin.ini",
    "%00",
    "shop.db",
    "-1",
    "9" * 30,
    "%F0%9F%94%A7",
    "x" * 3000,
)
NONSENSE = (
    "",
    " ",
    "\x00",
    "-1",
    "1e999",
    "nan",
    "9" * 40,
    "None",
    "🔧" * 50,
    "a" * 20_000,
    "'; DROP TABLE web_jobs;--",
)
# These take nothing but a name, or what /sizing/live takes as well, and each would begin a minute's work.
WORK_FROM_A_NAME = ("/controls/proof/faults", "/controls/settle", "/sizing/best", "/performance/result")
SECRETS = re.compile(r"root:[^:]*:0:0|SQLite format 3|Traceback \(most recent")
PROGRAM = {"X-Vaporwright": "1", "X-Vaporwright-Name": "Pat"}


@pytest.fixture
def filled(local: Site) -> tuple[Site, Browser, str]:
    """A shop with a job and a test under way, and a browser of somebody with a name."""
    job = local.shop.book.add_demo(by="Ada")[0].id
    local.shop.database.records.put(JOB_FILE)
    hand = Hand(f"run-{job}")
    hand.begins()
    local.shop.database.records.append(hand.run, 0, hand.rows)
    local.shop.book.link_run(hand.run, job, 1)
    browser = local.browser()
    browser.post("/who", {"name": "Pat"})
    return local, browser, job


def _path(route: str, job: str, odd: str = "", place: str = "") -> str:
    known = {"job": job, "run": f"run-{job}", "step": "tank.leak", "number": "1", place: odd}
    return re.sub(r"{(\w+)(?::\w+)?}", lambda found: known.get(found[1], "1"), route)


@pytest.mark.slow
def test_no_part_of_an_address_leads_out_of_the_shop(filled: tuple[Site, Browser, str]) -> None:
    site, browser, job = filled
    asked = 0
    for method, route in routes_of(site.app):
        for place in re.findall(r"{(\w+)", route):
            for odd in OUT_OF_THE_SHOP:
                more = {} if method == "GET" else {"headers": PROGRAM, "json": {}}
                answer = browser.send(method, _path(route, job, odd, place), **more)
                assert answer.status_code < 500, f"{method} {route}, {place} = {odd[:40]}: {answer.status_code}"
                assert not SECRETS.search(answer.text[:200_000]), f"{method} {route}, {place} = {odd[:40]}"
                asked += 1
    assert asked > 1000


def test_no_question_leads_out_of_the_shop(filled: tuple[Site, Browser, str]) -> None:
    site, browser, job = filled
    asked = 0
    for route in iter_route_contexts(site.app.routes):
        if "GET" not in (route.methods or ()) or "sizing" in str(route.path) or "controls" in str(route.path):
            continue  # those would work a unit out for each; their questions are asked in test_sizing
        names = [one for one in inspect.signature(route.endpoint).parameters if "{" + one not in str(route.path)]
        for name in set(names) - {"request", "scope"}:
            for odd in OUT_OF_THE_SHOP:
                answer = browser.send("GET", f"{_path(str(route.path), job)}?{name}={odd}")
                assert answer.status_code < 500, f"{route.path}?{name}={odd[:40]}"
                assert not SECRETS.search(answer.text[:200_000]), f"{route.path}?{name}={odd[:40]}"
                asked += 1
    assert asked > 100


def test_nonsense_in_any_field_is_an_answer_and_never_a_fault(filled: tuple[Site, Browser, str]) -> None:
    site, browser, job = filled
    csrf, asked = browser.csrf, 0
    for route in iter_route_contexts(site.app.routes):
        path = str(route.path)
        if "POST" not in (route.methods or ()) or path.startswith("/api/") or path in ("/sign-out", "/sign-in"):
            continue
        if path.endswith(WORK_FROM_A_NAME):
            continue
        names = {one for one in inspect.signature(route.endpoint).parameters if "{" + one not in path} - {"request"}
        names |= {"kind", "variant", "text", "number", "minutes", "step", "field", "event_id", "duty.volume", "hand"}
        for odd in NONSENSE:
            form = {**dict.fromkeys(sorted(names), odd), "csrf": csrf}
            for more in ({"data": form}, {"data": form, "files": {"photo": ("x", b"x"), "record": ("x", b"")}}):
                answer = browser.send("POST", _path(path, job), **more)
                assert answer.status_code < 500, f"{path} with {odd[:30]!r}: {answer.status_code}"
                asked += 1
    assert asked > 400


def _zip_of(content: bytes, name: str) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return made.getvalue()


def _picture(width: int, height: int) -> bytes:
    """A whole PNG of zeros: ten thousand times as large unfolded as it is."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((width // 8 + 1) * height), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


WRONG_FILES = {
    "empty": b"",
    "binary": bytes(range(256)) * 40,
    "half a letter": b"\xc3",
    "deep": b"a = " + b"[" * 5000,
    "script": b"<html><script>alert(1)</script>",
    "drawing with a script": b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "entities": b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">]><x>&a;</x>',
    "a zip of much": _zip_of(b"\0" * 50_000_000, "xl/workbook.xml"),
    "a zip that leads out": _zip_of(b"x", "../../../../out"),
    "half a picture": b"\x89PNG\r\n\x1a\n",
    "a picture of 100 megapixels": _picture(10_000, 10_000),
    "a program": b"MZ\x90\x00" + b"\0" * 100,
}
FIELDS_OF_FILES = {
    "/jobs/upload": ("job_file", "catalogue_file", "table_file"),
    "/jobs/{job}/replace": ("job_file", "catalogue_file", "table_file"),
    "/jobs/{job}/acceptance/{run}/instruments": ("instruments",),
    "/jobs/{job}/acceptance/{run}/performance/file": ("log",),
    "/jobs/{job}/acceptance/{run}/steps/{step}/photo": ("photo",),
    "/verify": ("record",),
}


@pytest.mark.parametrize("what", sorted(WRONG_FILES))
def test_a_wrong_file_is_refused_in_words(filled: tuple[Site, Browser, str], what: str) -> None:
    site, browser, job = filled
    runs = [row.hash for row in site.shop.database.records.load(f"run-{job}")]
    csrf = browser.csrf
    for route, fields in FIELDS_OF_FILES.items():
        for name in ("../../../../etc/cron.d/x", "a.xlsx", "a.png\r\nX: y", "CON", "." * 300):
            sent = dict.fromkeys(fields, (name, WRONG_FILES[what]))
            answer = browser.send("POST", _path(route, job), data={"csrf": csrf, "after": "1"}, files=sent)
            assert answer.status_code in (200, 303, 400, 413, 422), f"{route}: {answer.status_code}"
            assert not SECRETS.search(answer.text), route
            assert "X" not in answer.headers
    kept = [row.hash for row in site.shop.database.records.load(f"run-{job}")]
    assert kept == runs  # nothing of it is in the record
    assert len(site.shop.book.listed()) == 3


@pytest.mark.parametrize(
    "named", ["/etc/passwd", "../../../../../../../../etc/passwd", "..\\..\\x.toml", "job.toml", ".", "", "a\\u0000b"]
)
def test_a_job_file_cannot_name_a_file_of_the_server(filled: tuple[Site, Browser, str], named: str) -> None:
    _, browser, _ = filled
    for key in ("catalogue", "control_table"):
        named_toml = named if named.startswith("a\\u") else named.replace("\\", "\\\\")
        text = f'{key} = "{named_toml}"\n[job]\nname = "X"\n[duty]\nvolume = "26 gal/h"\n'
        answer = browser.send("POST", "/api/v1/jobs", json={"job": text}, headers=PROGRAM)
        assert answer.status_code == 422, answer.text
        assert not SECRETS.search(answer.text)

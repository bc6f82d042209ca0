"""Who comes in, and what they bring: hosts, sizes, sessions, forms, headers, roles, attempts at passwords."""

from __future__ import annotations

import hashlib
import logging
import re
import sqlite3
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from vaporwright.foundation.errors import InputError
from vaporwright.web.context import own_path
from vaporwright.web.serve import require_accounts
from vaporwright.web.settings import Settings
from web_client import PASSWORD, Browser, Site, site
from web_routes import routes_of

COOKIE = "vaporwright"


def _session_cookie(browser: Browser) -> str:
    return str(browser.client.cookies[COOKIE])


# hosts, headers


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "localhost.evil.example:8420"])
def test_a_name_that_merely_points_here_is_refused(local: Site, host: str) -> None:
    answer = local.browser().send("GET", "/jobs", headers={"Host": host})
    assert answer.status_code == 421
    assert "Set-Cookie" not in answer.headers or "Jobs" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:8420", "localhost", "LOCALHOST:1", "[::1]:8420"])
def test_its_own_names_are_served(local: Site, host: str) -> None:
    assert local.browser().send("GET", "/health", headers={"Host": host}).status_code == 200


def test_a_server_for_others_goes_by_its_names_and_by_digits(shared: Site) -> None:
    known = {host: shared.settings.knows_host(host) for host in ("shop-pc:8420", "192.0.2.9:8420", "other-pc")}
    assert known == {"shop-pc:8420": True, "192.0.2.9:8420": True, "other-pc": False}


def _assert_headers_of_safety(answer: httpx.Response, where: str) -> None:
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy or "default-src 'none'" in policy, where
    scripts = (
        policy.partition("script-src ")[2].partition(";")[0] or policy.partition("default-src ")[2].partition(";")[0]
    )
    assert "unsafe" not in scripts, where
    assert answer.headers["X-Content-Type-Options"] == "nosniff", where
    assert answer.headers["X-Frame-Options"] in ("DENY", "SAMEORIGIN"), where
    assert answer.headers["Referrer-Policy"] in ("same-origin", "no-referrer"), where
    assert answer.headers["Cache-Control"], where
    assert "Strict-Transport-Security" not in answer.headers, where  # without TLS it would lock people out
    assert "server" not in answer.headers, where


@pytest.mark.parametrize("signed_in", [False, True])
def test_every_answer_has_the_headers_of_safety(shared: Site, signed_in: bool) -> None:
    browser = shared.signed_in("Ada", "engineer") if signed_in else shared.browser("192.0.2.7")
    statuses = set()
    for method, route in routes_of(shared.app):
        path = re.sub(r"{[^}]*}", "1", route)
        answer = browser.send(method, path)
        _assert_headers_of_safety(answer, f"{method} {path}")
        statuses.add(answer.status_code)
    for answer in (
        browser.get("/static/style.css"),
        browser.get("/static/nothing.css"),
        browser.get("/nope"),
        browser.send("PUT", "/jobs"),
        browser.send("GET", "/jobs", headers={"Host": "elsewhere.example"}),
        browser.send("POST", "/sign-in", headers={"Content-Length": "99999999999"}),
        browser.send("POST", "/sign-in", headers={"Content-Length": "ten"}),
    ):
        _assert_headers_of_safety(answer, f"{answer.request.method} {answer.request.url} {answer.status_code}")
        statuses.add(answer.status_code)
    assert {200, 403, 404, 421, 413, 400} | ({405} if signed_in else {303, 401}) <= statuses


def test_pages_have_no_script_or_style_within(local: Site) -> None:
    browser = local.browser()
    browser.post("/jobs/demo")
    job = re.search(r"/jobs/([0-9a-f]{16})", browser.get("/jobs").text)
    assert job is not None
    for path in ("/jobs", "/jobs/new", f"/jobs/{job[1]}", f"/jobs/{job[1]}/revise", "/who", "/people", "/audit"):
        text = browser.get(path).text
        assert not re.search(r"<script(?![^>]* src=)|<style|\sstyle=|\son[a-z]+=|javascript:", text), path
        assert not re.search(r"""(?:href|src|action)=["']?(?:https?:)?//""", text), f"{path} leads elsewhere"


def test_nothing_vendored_reaches_outside() -> None:
    folder = Path(__file__).parents[3] / "src" / "vaporwright" / "web" / "static"
    for path in (*folder.glob("*.css"), *folder.glob("*.js")):
        assert not re.search(r"@import|https?://", path.read_text(encoding="utf-8")), path


# sessions


def test_the_cookie_is_kept_from_scripts_and_other_sites(shared: Site, tmp_path: Path) -> None:
    shared.add("Ada", "engineer")
    browser = shared.browser()
    answer = browser.send("GET", "/sign-in")
    attributes = answer.headers["Set-Cookie"].split("; ")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(attributes)
    assert "Secure" not in attributes
    (tmp_path / "tls").mkdir()
    pem = tmp_path / "tls" / "any.pem"
    with site(tmp_path / "tls", tls_cert=pem, tls_key=pem) as other:
        secured = other.browser(base="https://127.0.0.1:8420").send("GET", "/jobs").headers
        assert secured["Set-Cookie"].startswith("__Host-vaporwright=")
        assert "Secure" in secured["Set-Cookie"].split("; ")
        assert "max-age" in secured["Strict-Transport-Security"]


def test_of_a_session_only_the_hash_is_stored_and_signing_in_changes_the_secret(shared: Site, tmp_path: Path) -> None:
    shared.add("Ada", "engineer")
    browser = shared.browser()
    browser.get("/sign-in")
    before = _session_cookie(browser)
    assert browser.sign_in("ada").status_code == 200
    after = _session_cookie(browser)
    assert after != before
    assert len(after) == 43  # 256 bits in base 64
    content = (tmp_path / "shop.db").read_bytes()
    assert after.encode() not in content
    assert hashlib.sha256(after.encode()).hexdigest().encode() in content
    assert PASSWORD.encode() not in content
    assert b"$argon2id$" in content


def test_a_secret_set_by_somebody_else_is_worth_nothing_after_signing_in(shared: Site) -> None:
    planted = "A" * 43
    victim = shared.browser()
    victim.client.cookies.set(COOKIE, planted)
    shared.add("Ada", "engineer")
    assert victim.sign_in("Ada").status_code == 200
    thief = shared.browser()
    thief.client.cookies.set(COOKIE, planted)
    assert thief.send("GET", "/jobs").status_code == 303


def test_a_session_ends_when_idle_and_when_it_has_lasted_too_long(shared: Site) -> None:
    browser = shared.signed_in("Ada", "engineer")
    for _ in range(3):  # used now and then, it lasts
        shared.clock.at += shared.settings.idle_s - 1
        assert browser.send("GET", "/jobs").status_code == 200
    shared.clock.at += shared.settings.idle_s + 1
    assert browser.send("GET", "/jobs").headers["Location"] == "/sign-in?next=%2Fjobs"
    assert browser.sign_in("Ada").status_code == 200
    steps = int(shared.settings.lasting_s // shared.settings.idle_s) + 2
    answers = []
    for _ in range(steps):
        shared.clock.at += shared.settings.idle_s - 1
        answers.append(browser.send("GET", "/jobs").status_code)
    assert answers[0] == 200
    assert answers[-1] == 303


def test_signing_out_ends_the_session_on_the_server(shared: Site) -> None:
    browser = shared.signed_in("Ada", "engineer")
    kept = _session_cookie(browser)
    assert "You are signed out" in browser.post("/sign-out").text
    thief = shared.browser()
    thief.client.cookies.set(COOKIE, kept)
    assert thief.send("GET", "/jobs").status_code == 303


def test_a_session_of_the_machine_itself_opens_nothing_when_others_can_reach_the_server(tmp_path: Path) -> None:
    with site(tmp_path) as made:
        browser = made.browser()
        browser.post("/who", {"name": "Pat"})
        kept = _session_cookie(browser)
        assert made.people.session(kept) is not None
    with site(tmp_path, host="0.0.0.0") as reachable:
        other = reachable.browser()
        other.client.cookies.set(COOKIE, kept)
        assert other.send("GET", "/jobs").status_code == 303


@pytest.mark.parametrize("method", ["GET", "POST", "DELETE", "PUT", "HEAD"])
def test_without_an_account_nothing_is_shown(shared: Site, method: str) -> None:
    browser = shared.browser()
    every = {path for _, path in routes_of(shared.app)} | {"/nope", "/jobs/x/../y"}
    shown = {"/health", "/sign-in", "/api/v1/session"} | {path for path in every if path.startswith("/witness/")}
    for path in sorted(every - shown):
        answer = browser.send(method, path.replace("{", "").replace("}", ""))
        assert answer.status_code in (303, 401), path
        if answer.status_code == 303:
            assert answer.headers["Location"].startswith("/sign-in")


def test_after_signing_in_one_goes_on_only_within_this_server(shared: Site) -> None:
    shared.add("Ada", "engineer")
    for where in ("//evil.example/", "https://evil.example", "/\\evil.example", "javascript:alert(1)", "/jobs\r\nX: y"):
        assert own_path(where) == "/", where
    assert own_path("/jobs?search=a&stage=b") == "/jobs?search=a&stage=b"
    browser = shared.browser()
    data = {"csrf": browser.csrf, "name": "Ada", "password": PASSWORD, "next": "//evil.example"}
    assert browser.send("POST", "/sign-in", data=data).headers["Location"] == "/"


# forms


def test_a_form_that_no_page_of_this_server_made_changes_nothing(local: Site) -> None:
    browser = local.browser()
    for data in ({}, {"csrf": ""}, {"csrf": "0" * 64}, {"csrf": "ü"}):
        assert browser.send("POST", "/jobs/demo", data=data).status_code == 403
    assert browser.send("POST", "/jobs/demo", content=b"{}", headers={"Content-Type": "application/json"}).is_error
    other = local.browser()
    assert browser.send("POST", "/jobs/demo", data={"csrf": other.csrf}).status_code == 403
    assert local.shop.book.listed() == ()
    assert browser.post("/jobs/demo").status_code == 200
    assert len(local.shop.book.listed()) == 3


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_page_of_another_server_cannot_send_even_a_good_form(local: Site, headers: dict[str, str]) -> None:
    browser = local.browser()
    answer = browser.send("POST", "/jobs/demo", data={"csrf": browser.csrf}, headers=headers)
    assert answer.status_code == 403
    sent = browser.send("POST", "/api/v1/jobs", json={"job": "x"}, headers={**headers, "X-Vaporwright-Name": "Pat"})
    assert sent.status_code == 403
    assert local.shop.book.listed() == ()


def test_every_route_that_changes_something_asks_for_the_token(local: Site) -> None:
    browser = local.browser()
    for method, route in routes_of(local.app):
        if method not in ("GET", "HEAD"):
            path = re.sub(r"{[^}]*}", "1", route)
            found = {403, 404} if "{job}" in route else {403}  # there is no such job: nothing is asked further
            assert browser.send(method, path).status_code in found, f"{method} {path}"


def test_looking_changes_nothing(local: Site) -> None:
    """A GET may be made by anybody's page: none of them enters anything."""
    browser = local.browser()
    for method, route in routes_of(local.app):
        if method == "GET":
            browser.send("GET", re.sub(r"{[^}]*}", "1", route))
    assert local.people.audit() == ()
    assert local.shop.book.listed() == ()


# sizes


def test_too_much_is_refused_by_what_it_says_and_while_it_is_read(tmp_path: Path) -> None:
    with site(tmp_path, largest_upload_bytes=10_000) as made:
        browser = made.browser()
        csrf = browser.csrf
        said = browser.send("POST", "/jobs/new", data={"csrf": csrf, "name": "x" * 20_000})
        assert said.status_code == 413
        assert "Traceback" not in said.text

        sent = 0

        async def drip() -> AsyncIterator[bytes]:
            nonlocal sent
            yield f"csrf={csrf}&name=".encode()
            for _ in range(100):
                sent += 1_000
                yield b"x" * 1_000

        headers = {"Content-Type": "application/x-www-form-urlencoded"}
        unsaid = browser.send("POST", "/jobs/new", content=drip(), headers=headers)
        assert unsaid.status_code == 413
        assert sent < 12_000  # the rest was not even read
        form = {"job_file": ("a.toml", drip_of(30_000))}
        assert browser.send("POST", "/jobs/upload", data={"csrf": csrf}, files=form).status_code == 413
        assert made.shop.book.listed() == ()


def drip_of(size: int) -> bytes:
    return b"#" * size


@pytest.mark.parametrize("length", ["-1", "ten", "1e3", "99999999999999999999", "+5"])
def test_a_length_that_is_none_is_refused(local: Site, length: str) -> None:
    answer = local.browser().send("POST", "/jobs/demo", headers={"Content-Length": length})
    assert answer.status_code in (400, 413)


# attempts at passwords


def test_guessing_is_stopped_by_name_and_by_address(shared: Site) -> None:
    shared.add("Ada", "engineer")
    shared.add("Ben", "viewer")
    guesser = shared.browser("198.51.100.1")
    answers = [guesser.sign_in("ada", f"wrong password {place}").status_code for place in range(10)]
    assert answers == [401] * 8 + [429] * 2
    assert guesser.sign_in("Ada").status_code == 429  # the right one tells the guesser nothing
    elsewhere = shared.browser("198.51.100.2")
    assert elsewhere.sign_in("Ada").status_code == 429
    assert elsewhere.sign_in("Ben").status_code == 200  # others work on
    shared.clock.at += 901
    assert elsewhere.sign_in("Ada").status_code in (200, 303)
    many = shared.browser("198.51.100.3")
    answers = [many.sign_in(f"nobody {place}", "wrong password").status_code for place in range(22)]
    assert answers == [401] * 20 + [429] * 2
    refused = many.sign_in("nobody", "wrong password")
    assert refused.headers["Retry-After"] == "900"
    assert "Traceback" not in refused.text


def test_guessing_from_elsewhere_does_not_lock_the_owner_out(shared: Site) -> None:
    """For as long as somebody keeps guessing: the owner comes in from where they have signed in lately."""
    own = shared.signed_in("Ada", "engineer", "192.0.2.7")
    for _ in range(4):  # hours of it
        guesser = shared.browser("198.51.100.1")
        answers = [guesser.sign_in("Ada", f"wrong password {place}").status_code for place in range(9)]
        assert answers[-1] == 429
        own.post("/sign-out")
        assert own.sign_in("ada").status_code == 200
        assert shared.browser("192.0.2.9").sign_in("Ada").status_code == 429  # not from where nobody knows them
        shared.clock.at += 901
    # Nor is it a way in: from there, too, only so many attempts.
    own.post("/sign-out")
    assert [own.sign_in("Ada", "wrong password").status_code for _ in range(9)] == [401] * 8 + [429]
    assert own.sign_in("Ada").status_code == 429
    shared.clock.at += 901
    assert own.sign_in("Ada").status_code == 200
    # A month later the address is anybody's again.
    shared.clock.at += 31 * 86_400
    guesser = shared.browser("198.51.100.1")
    for place in range(9):
        guesser.sign_in("Ada", f"wrong password {place}")
    assert own.sign_in("Ada").status_code == 429


def test_whoever_has_stolen_a_session_cannot_guess_the_password_with_it(shared: Site) -> None:
    own = shared.signed_in("Ada", "engineer")
    thief = shared.browser("198.51.100.4")
    thief.client.cookies.set(COOKIE, _session_cookie(own))
    new = {"password": "a password of the thief", "again": "a password of the thief"}
    answers = [thief.post("/password", {"old": f"guess {place}", **new}).status_code for place in range(10)]
    assert answers == [403] * 8 + [429] * 2
    assert thief.post("/password", {"old": PASSWORD, **new}).status_code == 429  # even the right one
    assert shared.browser("192.0.2.7").sign_in("Ada").status_code == 200  # the owner signs in all the same
    shared.clock.at += 901
    changed = "quite another password"
    assert own.post("/password", {"old": PASSWORD, "password": changed, "again": changed}).status_code == 200
    assert thief.send("GET", "/jobs").status_code == 303  # and with that the thief is out


def test_what_is_refused_does_not_tell_who_exists(shared: Site) -> None:
    shared.add("Ada", "engineer")
    browser = shared.browser()
    texts = []
    for name in ("Ada", "Nobody"):
        answer = browser.sign_in(name, "wrong password")
        assert answer.status_code == 401
        texts.append(re.sub(r'value="[^"]*"', "", answer.text))
    assert texts[0] == texts[1]


# errors


def test_a_fault_of_ours_shows_a_number_and_nothing_of_the_inside(
    local: Site, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_arguments: object, **_more: object) -> object:
        raise RuntimeError("the secret of the inside")

    monkeypatch.setattr(local.shop.book, "listed", broken)
    browser = local.browser()
    with caplog.at_level(logging.ERROR):
        page, program = browser.get("/jobs"), browser.get("/api/v1/jobs")
    for answer in (page, program):
        assert answer.status_code == 500
        assert "secret" not in answer.text
        assert "Traceback" not in answer.text
        number = re.search(r"fault ([0-9a-f]{8})", answer.text)
        assert number is not None
        assert number[1] in caplog.text
        assert answer.headers["X-Frame-Options"] == "DENY"
    assert program.json()["error"].keys() == {"where", "key", "problem", "allowed"}


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/v1/nope", 404),
        ("GET", "/api/v1/jobs/nope", 404),
        ("GET", "/api/v1/jobs?stage=nope", 422),
        ("PUT", "/api/v1/jobs", 405),
        ("POST", "/api/v1/jobs", 422),
    ],
)
def test_programs_get_every_error_in_one_shape(local: Site, method: str, path: str, status: int) -> None:
    answer = local.browser().send(method, path, json={}, headers={"X-Vaporwright-Name": "Pat"})
    assert answer.status_code == status
    assert ("Allow" in answer.headers) == (status == 405)
    assert answer.json().keys() == {"error"}
    assert answer.json()["error"].keys() == {"where", "key", "problem", "allowed"}


def test_a_part_of_a_page_gets_its_error_as_a_part(local: Site) -> None:
    browser = local.browser()
    answer = browser.part("GET", "/jobs/nope")
    assert answer.status_code == 404
    assert answer.headers["HX-Retarget"] == "#messages"
    assert "<html" not in answer.text
    assert 'role="alert"' in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static//etc/passwd",
        "/static/vendor/..%5c..%5capp.py",
        "/jobs/..%2f..%2fetc/file",
    ],
)
def test_paths_do_not_lead_out_of_the_static_files(local: Site, path: str) -> None:
    answer = local.browser().get(path)
    assert answer.status_code == 404
    assert "make_app" not in answer.text


# the address of the server


def test_others_may_reach_it_only_when_there_are_accounts(tmp_path: Path) -> None:
    for host in ("127.0.0.1", "localhost", "::1", "127.0.0.53"):
        require_accounts(Settings("x", tmp_path, host=host), has_engineer=False)
    for host in ("0.0.0.0", "::", "192.0.2.9", "shop-pc"):
        with pytest.raises(InputError, match=r"nobody has an account.*people add"):
            require_accounts(Settings("x", tmp_path, host=host), has_engineer=False)
        require_accounts(Settings("x", tmp_path, host=host), has_engineer=True)


def test_the_audit_is_only_added_to(local: Site, tmp_path: Path) -> None:
    browser = local.browser("127.0.0.1")
    browser.post("/who", {"name": "Pat"})
    browser.post("/jobs/demo")
    noted = [(entry.who, entry.what, entry.address) for entry in local.people.audit()]
    assert noted == [("Pat", "demo jobs added", "127.0.0.1"), ("Pat", "gave a name", "127.0.0.1")]
    functions = (Path(__file__).parents[3] / "src" / "vaporwright" / "store" / "people_store.py").read_text()
    assert not re.search(r"(update|delete)\(AUDIT", functions)
    with sqlite3.connect(tmp_path / "shop.db") as connection:
        assert connection.execute("SELECT count(*) FROM web_audit").fetchone() == (2,)
    connection.close()

"""People's pages: names at the machine itself, units and look, accounts, roles, passwords, who did what."""

from __future__ import annotations

import re

import pytest

from vaporwright.store.people_store import THEMES, UNIT_SYSTEMS
from web_client import PASSWORD, Browser, Site

SCRIPT = "<script>alert(1)</script>"


def _id_of(site: Site, name: str) -> str:
    found = site.people.account_named(name)
    assert found is not None
    return found.id


def test_at_the_machine_itself_one_is_an_engineer_who_gives_a_name_once(local: Site) -> None:
    browser = local.browser()
    page = browser.get("/jobs/new")
    assert 'name="your_name"' in page.text
    page = browser.post("/who", {"name": "  Pat   Under ", "qualifications": ["electrician"], "next": "/jobs/new"})
    assert page.url.path == "/jobs/new"
    assert "Pat Under" in page.text
    assert 'name="your_name"' not in page.text
    assert browser.get("/api/v1/me").json() == {
        "name": "Pat Under",
        "role": "engineer",
        "qualifications": ["electrician"],
        "units": "US",
    }


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\x00b", "a\u202eb"])
def test_what_is_no_name_is_refused_where_it_was_typed(local: Site, name: str) -> None:
    answer = local.browser().post("/who", {"name": name})
    assert answer.status_code == 422
    assert "Allowed: a readable name" in answer.text


def test_what_needs_a_name_asks_for_it_and_comes_back(local: Site) -> None:
    browser = local.browser()
    browser.post("/jobs/demo")
    job = local.shop.book.listed()[0].job.id
    back = f"{browser.base}/jobs/{job}"
    answer = browser.send("POST", f"/jobs/{job}/copy", data={"csrf": browser.csrf}, headers={"Referer": back})
    assert answer.status_code == 303
    assert answer.headers["Location"] == f"/who?next=%2Fjobs%2F{job}"
    program = browser.send("POST", "/api/v1/jobs", json={"job": '[duty]\nvolume = "26 gal/h"\n'})
    assert program.status_code == 403
    assert "say who you are" in program.json()["error"]["problem"]


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("units", UNIT_SYSTEMS)
def test_units_and_look_are_kept_for_a_person(shared: Site, units: str, theme: str) -> None:
    browser = shared.signed_in("Ada", "technician")
    page = browser.post("/preferences", {"units": units, "theme": theme, "next": "/jobs"})
    assert page.url.path == "/jobs"
    assert f'data-theme="{theme}"' in page.text
    browser.post("/sign-out")
    browser.sign_in("Ada")
    page = browser.get("/jobs")
    assert f'data-theme="{theme}"' in page.text
    assert browser.get("/api/v1/me").json()["units"] == units


@pytest.mark.parametrize("data", [{"units": "furlongs"}, {"theme": '"><script>'}])
def test_other_units_and_looks_are_refused(local: Site, data: dict[str, str]) -> None:
    assert local.browser().post("/preferences", data).status_code == 422


def test_an_engineer_adds_changes_and_disables_people(shared: Site) -> None:
    boss = shared.signed_in("Ada", "engineer")
    form = {"name": "Ben", "role": "technician", "password": PASSWORD, "units": "SI", "qualifications": "electrician"}
    page = boss.post("/people", form)
    assert "Ben can sign in as technician" in page.text
    ben = shared.browser("192.0.2.8")
    assert ben.sign_in("ben").status_code == 200
    assert ben.get("/api/v1/me").json()["qualifications"] == ["electrician"]
    account = _id_of(shared, "Ben")
    boss.post(f"/people/{account}", {"role": "viewer", "units": "US"})
    assert ben.get("/api/v1/me").json() | {"units": ""} == {
        "name": "Ben",
        "role": "viewer",
        "qualifications": [],
        "units": "",
    }  # at once, in the session that runs
    boss.post(f"/people/{account}", {"role": "viewer", "units": "US", "disabled": "yes"})
    assert ben.send("GET", "/jobs").status_code == 303
    assert ben.sign_in("Ben").status_code == 401
    boss.post(f"/people/{account}", {"role": "viewer", "units": "US"})
    assert ben.sign_in("Ben").status_code == 200
    noted = [entry.what for entry in shared.people.audit() if entry.subject == "Ben"]
    assert noted == ["account changed"] * 3 + ["account made"]


def test_a_reset_password_ends_every_session_of_its_owner(shared: Site) -> None:
    boss = shared.signed_in("Ada", "engineer")
    ben = shared.signed_in("Ben", "technician", "192.0.2.8")
    boss.post(f"/people/{_id_of(shared, 'Ben')}/password", {"password": "quite another password"})
    assert ben.send("GET", "/jobs").status_code == 303
    assert ben.sign_in("Ben").status_code == 401
    assert ben.sign_in("Ben", "quite another password").status_code == 200


def test_changing_ones_own_password_needs_the_old_one_and_keeps_this_session(shared: Site) -> None:
    ben = shared.signed_in("Ben", "technician")
    elsewhere = shared.browser("192.0.2.9")
    elsewhere.sign_in("Ben")
    new = "quite another password"
    assert ben.post("/password", {"old": "wrong", "password": new, "again": new}).status_code == 403
    assert ben.post("/password", {"old": PASSWORD, "password": new, "again": "differs"}).status_code == 422
    short = ben.post("/password", {"old": PASSWORD, "password": "short", "again": "short"})
    assert "5 characters" in short.text
    assert "10 to 200 characters" in short.text
    assert ben.post("/password", {"old": PASSWORD, "password": new, "again": new}).status_code == 200
    assert ben.send("GET", "/jobs").status_code == 200
    assert elsewhere.send("GET", "/jobs").status_code == 303
    assert elsewhere.sign_in("Ben", new).status_code == 200


def test_the_last_engineer_stays(shared: Site) -> None:
    boss = shared.signed_in("Ada", "engineer")
    account = _id_of(shared, "Ada")
    for change in ({"role": "viewer"}, {"role": "engineer", "disabled": "yes"}):
        answer = boss.post(f"/people/{account}", {"units": "US", **change})
        assert answer.status_code == 422
        assert "last engineer" in answer.text
        assert boss.send("GET", "/people").status_code == 200


def test_a_witness_sees_only_the_jobs_that_were_opened_to_them(shared: Site) -> None:
    shared.shop.book.add_demo(by="test")
    (mine, other, _) = (entry.job for entry in shared.shop.book.listed())
    shared.shop.book.link_run("run-1", other.id, 1)
    witness = shared.signed_in("Wim", "witness", "192.0.2.8")
    boss = shared.signed_in("Ada", "engineer")
    assert "No job is opened to you yet" in witness.get("/jobs").text
    account = _id_of(shared, "Wim")
    page = boss.post(f"/jobs/{mine.id}/witnesses", {"witness": [account, "0" * 32]})
    assert "may look at this job: Wim." in page.text
    assert witness.get("/api/v1/jobs").json()[0]["id"] == mine.id
    assert len(witness.get("/api/v1/jobs").json()) == 1
    assert other.name not in witness.get("/jobs?search=" + other.name.split()[0]).text
    assert witness.get(f"/jobs/{mine.id}").status_code == 200
    shared.app.add_api_route("/jobs/{job}/careless", lambda: "a page that checks nothing itself")
    assert boss.get(f"/jobs/{other.id}/careless").status_code == 200
    for route in shared.app.routes:  # every page of every job, those of later modules too
        if "{job}" in getattr(route, "path", ""):
            path = re.sub(r"{[^}]*}", "1", route.path.replace("{job}", other.id).replace("{run}", "run-1"))
            for method in route.methods - {"HEAD"}:
                answer = witness.send(method, path, headers={"X-CSRF-Token": witness.csrf})
                assert answer.status_code == 404, f"{method} {path}"
    assert witness.post(f"/jobs/{mine.id}/witnesses", {"witness": account}).status_code == 403
    boss.post(f"/jobs/{mine.id}/witnesses", {})
    assert witness.get(f"/jobs/{mine.id}").status_code == 404


@pytest.mark.parametrize("role", ["technician", "witness", "viewer"])
def test_the_others_change_no_jobs_and_no_people(shared: Site, role: str) -> None:
    shared.shop.book.add_demo(by="test")
    job = shared.shop.book.listed()[0].job.id
    other = shared.signed_in("Ben", role)
    shared.shop.jobs.open_to(job, (_id_of(shared, "Ben"),))
    asked = {
        "/jobs/new": {"name": "x", "volume": "26 gal/h"},
        "/jobs/demo": {},
        "/jobs/upload": {},
        f"/jobs/{job}/revise": {"after": 1, "text": "x"},
        f"/jobs/{job}/replace": {"after": 1},
        f"/jobs/{job}/copy": {},
        f"/jobs/{job}/archive": {"away": "true"},
        f"/jobs/{job}/witnesses": {},
        "/people": {"name": "Eve", "role": "engineer", "password": PASSWORD},
        f"/people/{_id_of(shared, 'Ben')}": {"role": "engineer", "units": "US"},
        f"/people/{_id_of(shared, 'Ben')}/password": {"password": PASSWORD},
        "/who": {"name": "Ada"},
    }
    for path, data in asked.items():
        assert other.post(path, data).status_code == 403, path
    for path in ("/people", "/audit", f"/people/{_id_of(shared, 'Ben')}", "/jobs/new", f"/jobs/{job}/revise"):
        assert other.get(path).status_code == 403, path
    assert other.get(f"/jobs/{job}").status_code == 200
    assert len(shared.shop.book.listed()) == 3
    assert shared.shop.book.job(job).revision == 1


def test_who_is_only_at_the_machine_hands_out_no_accounts(local: Site) -> None:
    browser = local.browser()
    browser.post("/who", {"name": "Pat"})
    answer = browser.post("/people", {"name": "Eve", "role": "engineer", "password": PASSWORD})
    assert answer.status_code == 403
    assert local.people.accounts() == ()
    assert "vaporwright people add" in browser.get("/people").text
    local.add("Ada", "engineer")
    assert browser.post("/people", {"name": "Eve", "role": "engineer", "password": PASSWORD}).status_code == 403
    assert browser.sign_in("Ada").status_code == 200
    assert browser.post("/people", {"name": "Eve", "role": "viewer", "password": PASSWORD}).status_code == 200


def test_scripts_in_names_are_only_letters(shared: Site) -> None:
    boss = shared.signed_in("Ada", "engineer")
    boss.post("/people", {"name": SCRIPT, "role": "viewer", "password": PASSWORD})
    for path in ("/people", "/audit", f"/people/{_id_of(shared, SCRIPT)}"):
        text = boss.get(path).text
        assert SCRIPT not in text
        assert "&lt;script&gt;" in text
    answer = shared.browser().sign_in('"><script>alert(2)</script>', "wrong password")
    assert "<script>alert" not in answer.text


def test_a_program_signs_in_and_out_with_a_bearers_secret(shared: Site) -> None:
    shared.add("Ada", "engineer")
    browser = shared.browser()
    assert browser.send("GET", "/api/v1/jobs").json()["error"]["problem"] == "sign in first"
    wrong = browser.send("POST", "/api/v1/session", json={"name": "Ada", "password": "wrong password"})
    assert (wrong.status_code, wrong.json()["error"]["where"]) == (401, "")
    opened = browser.send("POST", "/api/v1/session", json={"name": "Ada", "password": PASSWORD})
    assert opened.status_code == 201
    assert "Set-Cookie" not in opened.headers
    bearer = {"Authorization": f"Bearer {opened.json()['token']}"}
    assert browser.send("GET", "/api/v1/me", headers=bearer).json()["name"] == "Ada"
    assert browser.send("DELETE", "/api/v1/session", headers=bearer).status_code == 204
    assert browser.send("GET", "/api/v1/me", headers=bearer).status_code == 401


def test_the_audit_turns_pages(shared: Site) -> None:
    boss = shared.signed_in("Ada", "engineer")
    for place in range(130):
        shared.people.note(f"entry {place}", at=shared.clock(), who="x", account="", address="")
    page = boss.get("/audit")
    assert "entry 129<" in page.text
    assert "entry 20<" not in page.text
    older = re.search(r'href="(/audit\?before=\d+)"', page.text)
    assert older is not None
    page = boss.get(older[1])
    assert "entry 20<" in page.text
    assert "signed in" in page.text


def test_a_link_shows_one_thing_until_it_runs_out_or_is_withdrawn(local: Site) -> None:
    people, clock = local.people, local.clock
    token = people.make_link("witness", "run-1", "Wilma", by="Ada", at=clock(), until=clock() + 100)
    other = people.make_link("witness", "run-1", "Walt", by="Ada", at=clock(), until=clock() + 100)
    found = people.link(token, "witness")
    assert found is not None
    assert (found.subject, found.label, found.made_by) == ("run-1", "Wilma", "Ada")
    assert people.link(token, "other") is None
    assert people.link(token[:-1] + "x", "witness") is None
    assert (found.is_open(clock() + 99), found.is_open(clock() + 100)) == (True, False)
    people.withdraw_link("witness", "run-2", found.id, at=clock())  # of another run: nothing
    assert people.link(token, "witness") == found
    people.withdraw_link("witness", "run-1", found.id, at=clock())
    people.withdraw_link("witness", "run-1", found.id, at=clock() + 50)  # the first time stands
    assert {one.label: one.withdrawn_at for one in people.links("witness", "run-1")} == {"Wilma": clock(), "Walt": None}
    kept = people.link(other, "witness")
    assert kept is not None
    assert kept.is_open(clock())


def test_one_persons_pages_do_not_show_another_persons_messages(shared: Site) -> None:
    boss = shared.signed_in("Ada", "engineer")
    other = shared.signed_in("Eve", "engineer", "192.0.2.8")
    sent: Browser = boss
    sent.send("POST", "/people", data={"csrf": boss.csrf, "name": "Ben", "role": "viewer", "password": PASSWORD})
    assert "Ben can sign in" not in other.get("/jobs").text
    assert "Ben can sign in" in boss.get("/jobs").text
    assert "Ben can sign in" not in boss.get("/jobs").text

"""Enquiry and sizing in pages: the form, the result while one types, the choice, papers, roles, the interface."""

from __future__ import annotations

import html
import json
import re
import statistics
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import httpx
import pytest

from vaporwright.actions.job_book import demo_job_text, laid_out
from vaporwright.actions.live_size import full_outcome, hand_from, rate_in_hand, typed_of
from vaporwright.actions.size_job import answer_job, rate_job
from vaporwright.display_units import show
from vaporwright.store.job_store import Texts
from vaporwright.unit.fields import FIELDS
from vaporwright.unit.questions import MOVING
from vaporwright.unit.sizing import TRYING
from web_client import Browser, Site, site

SCRIPT = "<script>alert(1)</script>"
GAS = "tumbling_effluent_gas"
UNIT = '\n[unit]\ntower = "T4"\ntowers = 1\ntank = "K8-316"\nheat_source = "G350"\npump = "P50"\n'


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """One server for all: its processes take a second to start."""
    with site(tmp_path_factory.mktemp("sizing")) as made:
        yield made


@pytest.fixture(scope="module")
def pat(shop: Site) -> Browser:
    browser = shop.browser()
    browser.post("/who", {"name": "Pat"})
    return browser


def _job(shop: Site, text: str) -> str:
    return shop.shop.book.take_in(Texts(text), by="Pat").id


@pytest.fixture
def named(shop: Site) -> str:
    """A job that names its unit: nothing is chosen."""
    return _job(shop, demo_job_text(GAS) + UNIT)


@pytest.fixture
def open_job(shop: Site) -> str:
    """A job whose unit is chosen by the sizing."""
    return _job(shop, demo_job_text(GAS))


def _form(page: str) -> dict[str, Any]:
    """What the form of a page would bring, lists aside."""
    found: dict[str, Any] = {}
    for name, value in re.findall(r'<input id="field-[^>]*name="([^"]+)" type="text" value="([^"]*)"', page):
        found[name] = html.unescape(value)
    for name, inner in re.findall(r'<select id="field-[^>]*name="([^"]+)"(.*?)</select>', page, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', inner)
        found[name] = html.unescape(chosen[1]) if chosen else ""
    for name, value in re.findall(r'<textarea id="field-[^>]*name="([^"]+)"[^>]*>\n?([^<]*)<', page):
        found[name] = html.unescape(value)
    for name in ("after", "hand", "beside"):
        found[name] = html.unescape(_one(rf'name="{name}" value="([^"]*)"', page))
    return found


def _one(pattern: str, text: str) -> str:
    found = re.search(pattern, text, re.S)
    assert found is not None, (pattern, text[:2000])
    return found[1]


def _plain(text: str) -> str:
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)))


def _page(browser: Browser, job: str) -> str:
    page = browser.get(f"/jobs/{job}/sizing?wait=yes")
    assert page.status_code == 200, page.text
    return page.text


def _live(browser: Browser, job: str, form: dict[str, Any]) -> httpx.Response:
    return browser.part("POST", f"/jobs/{job}/sizing/live", data=form)


# the form


def test_every_key_of_a_job_file_has_its_field(pat: Browser, named: str) -> None:
    page = _page(pat, named)
    for field in FIELDS:
        assert page.count(f'name="{field.key}"') >= 1, field.key
        assert html.escape(field.meaning, quote=False).replace("'", "&#39;") in page, field.key
    assert " style=" not in page
    assert "<script>" not in page
    assert not re.search(r"\son[a-z]+=", page)


def test_a_default_looks_like_one_and_a_typed_value_like_one(pat: Browser, named: str) -> None:
    page = _page(pat, named)

    def field(key: str) -> str:
        return _one(
            rf'(<div class="field[^>]*>\s*<label for="field-{key.replace(".", "-")}".*?)<div class="field', page
        )

    default, typed = field("duty.availability"), field("duty.hours_per_day")
    assert default.startswith('<div class="field default"')
    assert 'placeholder="85 %"' in default
    assert "° </span>default: <span" in default
    assert typed.startswith('<div class="field"')
    assert 'value="16"' in typed
    # a default that follows from others: midway between 91 and 3 degF
    assert 'placeholder="47 °F"' in field("site.average.air_temperature") or 'placeholder="47.0 °F"' in page


def test_a_wrong_unit_is_said_where_it_was_typed_and_nothing_is_lost(shop: Site, pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"duty.volume": "26 furlongs", "job.note": "called twice", "why": "they called"}
    at_field = pat.part("POST", f"/jobs/{named}/sizing/field/duty.volume", data=form)
    for said in ('"26 furlongs" has an unknown unit', "Allowed: a volume flow such as", "26 gal/h"):
        assert said in _plain(at_field.text)
    note = _live(pat, named, form)
    assert 'href="#field-duty-volume"' in note.text
    assert 'id="live"' not in note.text  # the result of before stays
    refused = pat.post(f"/jobs/{named}/sizing", form)
    assert refused.status_code == 422
    kept = _form(refused.text)
    assert (kept["duty.volume"], kept["job.note"]) == ("26 furlongs", "called twice")
    assert 'value="they called"' in refused.text
    assert _one(r'<div id="field-duty-volume-problem" class="problem">(.*?)</div>', refused.text)
    assert shop.shop.book.job(named).revision == 1
    mended = pat.part("POST", f"/jobs/{named}/sizing/field/duty.volume", data=form | {"duty.volume": "26 gph"})
    assert "error" not in mended.text


def test_values_that_contradict_each_other_are_said_at_one_of_them(pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"site.summer.wet_bulb": "95 degF"}
    note = _live(pat, named, form).text
    assert 'href="#field-site-summer-wet_bulb"' in note
    assert "is above the air temperature" in _plain(note)


# the result


def test_the_live_result_is_that_of_a_rated_file(shop: Site, pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"duty.volume": "5200 gal/month", "site.elevation": "300 m"}
    form["liquid.chloride"] = ""  # taken out: the default holds again
    live = _live(pat, named, form)
    text = demo_job_text(GAS).replace("6000 gal/month", "5200 gal/month").replace('"700 ft"', '"300 m"')
    text = text.replace('chloride = "8 mg/L"  # softened and deionised make-up\n', "") + UNIT
    with laid_out(Texts(text)) as path:
        expected = rate_job(path).answer
    found = shop.app.state.sized.find(named, _one(r'data-key="(\w+)"', live.text)).answer
    assert found.job.duty == expected.job.duty
    for season, result in expected.seasons.items():
        assert found.seasons[season].evaporation_kg_s == result.evaporation_kg_s
        assert found.seasons[season].settling_temperature_K == result.settling_temperature_K
        shown = show(result.settling_temperature_K, "temperature", "US")
        row = _plain(_one(rf'<th scope="row">{season}</th>(.*?)</tr>', live.text))
        assert shown in row
        assert show(result.evaporation_kg_s, "evaporation", "US") in row
    assert show(expected.required_kg_s, "evaporation", "US") in _plain(live.text)
    assert [entry["key"] for entry in _assumed(found)] == [entry["key"] for entry in _assumed(expected)]


def _assumed(answer: object) -> list[dict[str, str]]:
    return [{"key": entry.key} for entry in answer.job.assumptions]  # type: ignore[attr-defined]


def test_units_are_the_viewers(shop: Site, named: str) -> None:
    browser = shop.browser()
    browser.post("/who", {"name": "Kim"})
    browser.post("/preferences", {"units": "SI"})
    page = _page(browser, named)
    assert 'placeholder="68.33 °C"' in page  # 155 degF, the default set point
    assert "kg/h" in _one(r'<p class="sentence"[^>]*>(.*?)</p>', page)
    assert _form(page)["duty.volume"] == "6000 gal/month"  # as typed


def test_a_refused_liquid_is_refused_at_once(pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"liquid.hazards": ["", "cyanide"]}
    live = _plain(_live(pat, named, form).text)
    assert "This liquid is refused." in live
    assert "hydrogen cyanide" in live


def test_another_kind_of_heat_asks_for_another_unit(pat: Browser, open_job: str) -> None:
    form = _form(_page(pat, open_job)) | {"choices.heat_source": "electric"}
    live = _live(pat, open_job, form).text
    assert "the unit in hand is heated by gas, the job asks for electric" in _plain(live)
    assert "load delay" in live  # the choice begins by itself


def _chosen(browser: Browser, job: str, form: dict[str, Any]) -> str:
    """The part of a full sizing, however long it takes."""
    part = browser.part("POST", f"/jobs/{job}/sizing/best", data=form)
    for _ in range(600):
        waits = re.search(r'hx-get="([^"]*)" hx-trigger="load', part.text)
        if waits is None:
            return part.text
        assert "<progress" in part.text
        time.sleep(0.05)  # as the page waits
        part = browser.part("GET", html.unescape(waits[1]))
    raise AssertionError("not done within 30 s")


def test_the_choice_is_made_again_and_shown_side_by_side(shop: Site, pat: Browser, open_job: str) -> None:
    page = _page(pat, open_job)
    form = _form(page)
    first = hand_from(form["hand"])
    assert first is not None
    more = form | {"duty.volume": "9000 gal/month"}
    assert "too small" in _plain(_live(pat, open_job, more).text)
    found = _chosen(pat, open_job, more)
    assert "Side by side" in found
    assert "The smallest that meets the duty" in _plain(found)
    renewed = hand_from(html.unescape(_one(r'data-renews="([^"]*)"', found)))
    with laid_out(Texts(demo_job_text(GAS).replace("6000", "9000"))) as path:
        unit = answer_job(path)[2].unit
    assert renewed is not None
    assert renewed != first
    assert (renewed.tower, renewed.heat_source) == (unit.tower.part_id, unit.heat_source.part_id)
    live = _live(pat, open_job, more | {"hand": renewed.as_text()}).text
    assert "The catalogue has no better choice for these values" in _plain(live)
    assert "load delay" not in live
    offered = [html.unescape(one) for one in re.findall(r'name="take_hand" value="([^"]*)"', found)]
    held = pat.post(f"/jobs/{open_job}/sizing/look", more | {"take_hand": offered[0]})
    assert held.status_code == 200
    assert _form(held.text)["hand"] == offered[0]
    assert _form(held.text)["duty.volume"] == "9000 gal/month"
    assert "What is shown is not saved yet" in held.text
    assert shop.shop.book.job(open_job).revision == 1


def test_an_unnamed_job_shows_progress_first(shop: Site, pat: Browser) -> None:
    job = _job(shop, demo_job_text(GAS).replace("6000", "6100"))
    page = pat.get(f"/jobs/{job}/sizing").text
    assert "<progress" in page
    assert f"/jobs/{job}/sizing/full?of=" in page
    assert "?wait=yes" in page  # without scripts


@pytest.mark.parametrize(
    ("text", "catalogue", "said"),
    [
        (demo_job_text(GAS).replace("[liquid]", '[liquid]\nhazards = ["volatile"]'), None, "This liquid is refused"),
        (demo_job_text(GAS).replace('"75 degF"', '"95 degF"'), None, "is above the air temperature"),
        ('catalogue = "ours.toml"\n' + demo_job_text(GAS), "[catalogue]\nnam = 1\n", "ours.toml"),
        (demo_job_text(GAS) + UNIT.replace("K8-316", "K99"), None, "is not in the catalogue"),
    ],
)
def test_a_saved_job_that_has_no_answer_says_why_and_keeps_its_form(
    shop: Site, pat: Browser, text: str, catalogue: str | None, said: str
) -> None:
    job = shop.shop.book.take_in(Texts(text, catalogue), by="Pat").id
    for wait in ("", "?wait=yes"):
        page = pat.get(f"/jobs/{job}/sizing{wait}")
        assert page.status_code == 200
        assert 'id="enquiry"' in page.text
        assert "/tmp" not in page.text
    assert said in _plain(page.text)
    key = re.search(r"full\?of=(\w+)", pat.get(f"/jobs/{job}/sizing").text)
    if key is not None:
        _ = pat.part("GET", f"/jobs/{job}/sizing/full?of={key[1]}&first=yes")
    mended = _form(page.text) | {"liquid.hazards": [""], "site.summer.wet_bulb": "75 degF", "unit.tank": ""}
    assert _live(pat, job, mended).status_code == 200  # and the server is well


def test_a_shops_own_catalogue_is_the_one_that_counts(shop: Site, pat: Browser) -> None:
    ours = (files("vaporwright.files") / "data" / "demo_catalogue.toml").read_text(encoding="utf-8")
    assert 'id = "T4"' in ours
    ours = ours.replace('id = "T4"', 'id = "OURS-4"')
    text = 'catalogue = "ours.toml"\n' + demo_job_text(GAS) + UNIT.replace("T4", "OURS-4")
    job = shop.shop.book.take_in(Texts(text, ours), by="Pat").id
    form = _form(_page(pat, job))
    assert "OURS-4" in form["hand"]
    assert "gal/h" in _plain(_live(pat, job, form | {"duty.volume": "20 gph"}).text)


# saving


def test_a_save_keeps_the_engineers_comments(shop: Site, pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"liquid.chloride": "9 mg/L", "site.winter.wet_bulb": "1 degF", "why": "a sample"}
    saved = pat.post(f"/jobs/{named}/sizing", form)
    assert "Revision 2 is in the book." in saved.text
    text, before = shop.shop.book.revision(named, 2).texts.job, shop.shop.book.revision(named, 1).texts.job
    assert 'chloride = "9 mg/L"  # softened and deionised make-up' in text
    assert text.splitlines()[0] == before.splitlines()[0]
    changed = set(text.splitlines()) ^ set(before.splitlines())
    assert changed == {
        'chloride = "8 mg/L"  # softened and deionised make-up',
        'chloride = "9 mg/L"  # softened and deionised make-up',
        'wet_bulb = "1 degF"',
    }
    assert shop.shop.book.revision(named, 2).note == "a sample"
    late = pat.post(f"/jobs/{named}/sizing", form | {"liquid.chloride": "10 mg/L"})
    assert late.status_code == 409
    assert _form(late.text)["liquid.chloride"] == "10 mg/L"


def test_settling_names_the_unit_and_marks_the_job_as_sized(shop: Site, pat: Browser, open_job: str) -> None:
    form = _form(_page(pat, open_job))
    saved = pat.post(f"/jobs/{open_job}/sizing", form | {"settle": "yes"})
    assert "Sized: revision 2 names the unit" in saved.text
    assert shop.shop.book.stage(open_job) == "sized"
    hand = hand_from(form["hand"])
    assert hand is not None
    with laid_out(shop.shop.book.revision(open_job).texts) as path:
        unit = answer_job(path)[2].unit
    assert (unit.tower.part_id, unit.tank.part_id, unit.pump.part_id) == (hand.tower, hand.tank, hand.pump)
    assert unit.spray_flow_m3_s == hand.spray_flow_m3_s
    named = {key: one for key, one in typed_of(shop.shop.book.revision(open_job).texts).items() if key[:5] == "unit."}
    parts = {f"unit.{part}": getattr(hand, part) for part in ("tower", "tank", "heat_source", "pump")}
    assert named == parts | {"unit.towers": "1"}
    again = pat.post(f"/jobs/{open_job}/sizing", _form(_page(pat, open_job)) | {"settle": "yes"})
    assert shop.shop.book.job(open_job).revision == 2, again.text[:500]


def test_the_choice_can_be_left_to_the_sizing_again(pat: Browser, named: str) -> None:
    page = pat.post(f"/jobs/{named}/sizing/look", _form(_page(pat, named)) | {"free": "yes"})
    assert _form(page.text)["unit.tower"] == ""


# what it leaves to look at and to keep


def test_papers_of_values_that_are_not_saved(pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"duty.volume": "5000 gal/month"}
    key = _one(r'data-key="(\w+)"', _live(pat, named, form).text)
    base = f"/jobs/{named}/sizing"
    chart = pat.get(f"{base}/chart.svg?of={key}")
    assert chart.headers["content-type"].startswith("image/svg+xml")
    assert "default-src 'none'" in chart.headers["Content-Security-Policy"]
    assert re.search(r"duty\s15\.[23]\sgal/h", chart.text)  # 18.3 x 5000 / 6000
    assert "Tank and rod elevation" in pat.get(f"{base}/elevation.svg?of={key}").text
    questions = pat.get(f"{base}/questions.txt?of={key}")
    assert questions.headers["content-type"] == "text/plain; charset=utf-8"
    assert "1. How much of the time will be lost" in questions.text
    assert "winter: tower carries, gal/h" in _plain(pat.get(f"{base}/curves?of={key}").text)


def test_the_sizing_sheet_of_a_revision(pat: Browser, named: str) -> None:
    sheet = pat.get(f"/jobs/{named}/sizing/sheet.pdf")
    assert sheet.content.startswith(b"%PDF")
    assert "tumbling_effluent_gas_sizing_sheet.pdf" in sheet.headers["Content-Disposition"]


def test_a_script_is_told_how_far_a_paper_is_and_where_it_lies(pat: Browser, named: str) -> None:
    address = f"/jobs/{named}/sizing/sheet.pdf?revision=1"
    said = []
    while (answer := pat.part("GET", f"{address}&how_far=yes")).status_code == 200:
        said.append(_plain(answer.text))
        time.sleep(0.02)
    assert answer.headers["X-Go-To"] == address
    assert all("s so far" in one for one in said)
    assert pat.get(address).content.startswith(b"%PDF")
    assert pat.part("GET", f"{address}&how_far=yes").status_code == 204  # it is there, and not made again


def test_a_paper_that_cannot_be_made_says_why_and_is_tried_anew(pat: Browser, shop: Site) -> None:
    job = _job(shop, demo_job_text(GAS) + UNIT.replace('"P50"', '"P99"'))
    for _ in range(2):
        found = pat.get(f"/jobs/{job}/sizing/sheet.pdf")
        assert found.status_code == 422
        assert "P99" in found.text


def test_a_full_sizing_tells_its_units_and_questions() -> None:
    told: list[tuple[str, int, int]] = []

    def report(stage: str, done: int = 0, of: int = 0) -> None:
        told.append((stage, done, of))

    outcome = full_outcome(report, Texts(demo_job_text(GAS)))
    tried = [done for stage, done, of in told if stage == TRYING and of == 0]
    assert tried == list(range(1, len(tried) + 1))
    assert len(tried) >= len(outcome.candidates)
    count = len(outcome.answer.job.assumptions)
    assert [(done, of) for stage, done, of in told if stage == MOVING] == [(one, count) for one in range(count + 1)]


def test_the_chart_to_point_at(pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"duty.volume": "5000 gal/month"}
    live = _live(pat, named, form).text
    key = _one(r'data-key="(\w+)"', live)
    part = pat.part("GET", f"/jobs/{named}/sizing/chart?of={key}").text
    curves = json.loads(html.unescape(_one(r'data-curves="([^"]*)"', part)))
    assert [curve["season"] for curve in curves] == ["summer", "winter", "average"]
    governing = next(curve for curve in curves if curve["season"] == _one(r'data-governing="(\w+)"', part))
    operating = governing["steps"][governing["operating"]]
    assert operating["settles"]
    assert operating["temperature"] in live  # the numbers of the result beside it
    assert operating["tower"] in live
    assert "<svg" in part
    assert "style=" not in part
    page = pat.get(f"/jobs/{named}/sizing/chart?of={key}").text
    assert "pointed_chart.js" in page


def test_how_a_number_came_about(pat: Browser, named: str) -> None:
    page = _page(pat, named)
    address = html.unescape(_one(r'class="explained" href="([^"]*why[^"]*evaporation_kg_s)"', page))
    part = pat.part("GET", address)
    assert "<html" not in part.text
    assert "tower + tank surface, at the settling temperature" in part.text.casefold()
    assert "equipment.tower.rate_counterflow" in part.text
    whole = pat.get(address)
    assert "<html" in whole.text
    assert "To the sizing" in whole.text
    unknown = pat.get(address.replace("evaporation_kg_s", "evaporation_kg"))
    assert unknown.status_code == 422
    assert "evaporation_kg_s" in unknown.text


def test_what_a_change_moves(shop: Site, pat: Browser, named: str) -> None:
    form = _form(_page(pat, named)) | {"duty.volume": "5000 gal/month"}
    pat.post(f"/jobs/{named}/sizing", form)
    other = _job(shop, demo_job_text(GAS) + UNIT)
    for job in (named, other):
        _page(pat, job)
    pat.get(f"/jobs/{named}/sizing/compare")  # works out the first revision, if it is no longer kept
    page = pat.get(f"/jobs/{named}/sizing/compare")
    assert "needed while running" in page.text
    assert "18.3 gal/h" in page.text
    assert re.search(r"15\.[23]\sgal/h", page.text)
    same = pat.get(f"/jobs/{named}/sizing/compare?old={other}:1&new={named}:1")
    assert "Nothing that is printed differs" in same.text
    for wrong in ("x", f"{named}:x", f"{named}:-1"):
        assert pat.get(f"/jobs/{named}/sizing/compare?old={wrong}").status_code == 422
    assert pat.get(f"/jobs/{named}/sizing/compare?old={named}:99").status_code == 404


# others


def test_scripts_in_every_text_are_only_letters(pat: Browser, named: str) -> None:
    texts = {field.key: SCRIPT for field in FIELDS if field.quantity == "text" and not field.key.startswith("unit.")}
    form = _form(_page(pat, named)) | texts
    live = _live(pat, named, form)
    assert SCRIPT not in live.text
    saved = pat.post(f"/jobs/{named}/sizing", form | {"why": SCRIPT})
    assert saved.status_code == 200
    page = _page(pat, named)
    assert _form(page)["job.note"] == SCRIPT
    key = _one(r'data-key="(\w+)"', page)
    for address in (f"elevation.svg?of={key}", f"chart.svg?of={key}", "", "compare", f"why?of={key}&name={SCRIPT}"):
        assert SCRIPT not in pat.get(f"/jobs/{named}/sizing/{address}".rstrip("/")).text, address
    bad = form | {field.key: SCRIPT for field in FIELDS if field.quantity not in ("text", "list")}
    bad |= {"after": "2", "liquid.hazards": [SCRIPT], "unit.tower": SCRIPT, "hand": SCRIPT}
    refused = pat.post(f"/jobs/{named}/sizing", bad | {"hand": form["hand"]})
    assert refused.status_code == 422
    assert SCRIPT not in refused.text
    for path in ("live", "look", "best", f"field/{FIELDS[4].key}", "field/nothing"):
        answer = pat.part("POST", f"/jobs/{named}/sizing/{path}", data=bad)
        assert answer.status_code in (200, 422), path
        assert SCRIPT not in answer.text, path


def test_an_answer_is_only_for_its_own_job(pat: Browser, named: str, open_job: str) -> None:
    key = _one(r'data-key="(\w+)"', _page(pat, named))
    for path in ("chart.svg", "elevation.svg", "sheet.pdf", "questions.txt", "full"):
        assert pat.get(f"/jobs/{open_job}/sizing/{path}?of={key}").status_code == 422, path
    for path in ("", "/chart.svg", "/compare", "/why?name=x"):
        assert pat.get(f"/jobs/{'0' * 16}/sizing{path}").status_code == 404, path


@pytest.mark.parametrize(
    "hand", ["[", "[1]", '["a", true, "b", "c", "d", null]', '["a", 1, "b", "c", "d", 1e300]', "1"]
)
def test_what_is_no_unit_in_hand_is_refused(pat: Browser, named: str, hand: str) -> None:
    answer = _live(pat, named, _form(_page(pat, named)) | {"hand": hand})
    assert answer.status_code in (200, 422)
    assert "is no unit of this server" in _plain(answer.text)


@pytest.mark.parametrize("role", ["technician", "witness", "viewer"])
def test_others_look_but_do_not_change(tmp_path: Path, role: str) -> None:
    with site(tmp_path, host="0.0.0.0", names=("shop-pc",)) as shared:
        job = shared.shop.book.take_in(Texts(demo_job_text(GAS) + UNIT), by="Pat").id
        browser = shared.signed_in("Lee", role)
        if role == "witness":  # comes from outside: sees only what was opened to them
            closed = ("", "/chart.svg", "/sheet.pdf", "/questions.txt", "/why?name=x", "/compare", "/full?of=x")
            assert all(browser.get(f"/jobs/{job}/sizing{path}").status_code == 404 for path in closed)
            lee = shared.people.account_named("Lee")
            assert lee is not None
            shared.shop.jobs.open_to(job, (lee.id,))
        page = browser.get(f"/jobs/{job}/sizing")
        assert page.status_code == 200
        assert 'id="enquiry"' not in page.text
        assert "6000 gal/month" in page.text
        form = {"after": "1", "duty.volume": "1 gal/h"}
        for path in ("", "/live", "/look", "/best", "/field/duty.volume"):
            answer = browser.post(f"/jobs/{job}/sizing{path}", form)
            assert answer.status_code == 403, path
        assert shared.shop.book.job(job).revision == 1


def test_nobody_else_comes_in(tmp_path: Path) -> None:
    with site(tmp_path, host="0.0.0.0", names=("shop-pc",)) as shared:
        job = shared.shop.book.take_in(Texts(demo_job_text(GAS) + UNIT), by="Pat").id
        stranger = shared.browser("192.0.2.9")
        for path in ("", "/chart.svg", "/sheet.pdf", "/questions.txt", "/why?name=x"):
            assert stranger.send("GET", f"/jobs/{job}/sizing{path}").status_code == 303, path


# the interface for programs


def test_sizing_by_the_interface(pat: Browser, named: str) -> None:
    base = f"/api/v1/jobs/{named}/revisions/1"
    fields = pat.send("GET", "/api/v1/fields").json()
    assert [entry["key"] for entry in fields] == [field.key for field in FIELDS]
    whole = pat.send("GET", f"{base}/sizing").json()
    assert whole["unit"]["tower"] == "T4"
    assert {"summer", "winter", "average"} <= set(whole["capacity"])
    asked = {"values": {"duty.volume": "5000 gal/month"}}
    rated = pat.send("POST", f"{base}/rating", json=asked).json()
    share = whole["duty"]["required_evaporation_kg_s"] * 5.0 / 6.0
    assert rated["required_evaporation_kg_s"] == pytest.approx(share, rel=1e-12)
    assert rated["capacity"]["winter"]["evaporation_kg_s"] == whole["capacity"]["winter"]["evaporation_kg_s"]
    wrong = pat.send("POST", f"{base}/rating", json={"values": {"duty.volume": "5"}})
    assert wrong.status_code == 422
    assert wrong.json()["error"]["key"] == "duty.volume"
    assert pat.send("POST", f"{base}/rating", json={"values": {"duty.volumen": "5"}}).status_code == 422
    why = pat.send("GET", f"{base}/why?name=duty.share_of_capacity").json()
    assert why["value"].endswith("%")
    assert pat.send("GET", f"/api/v1/jobs/{named}/revisions/9/sizing").status_code == 404


@pytest.mark.slow
def test_the_live_part_costs_little_beside_the_rating_itself(pat: Browser, shop: Site, named: str) -> None:
    """Ratio to the rating, so that a busy machine does not matter; `-s` prints the times themselves."""
    form = _form(_page(pat, named))
    hand = hand_from(form["hand"])
    headers = {"HX-Request": "true", "HX-Request-Type": "partial", "X-CSRF-Token": pat.csrf}
    assert hand is not None
    values = shop.app.state.sized.entry(named, shop.shop.book.revision(named).texts, {}).values

    def timed(number: int) -> tuple[float, float]:
        begun = time.perf_counter()
        changed = form | {"duty.volume": f"{5000 + number} gal/month"}
        answer = pat.send("POST", f"/jobs/{named}/sizing/live", data=changed, headers=headers)
        middle = time.perf_counter()
        rate_in_hand(values, None, hand)
        assert answer.status_code == 200
        return middle - begun, time.perf_counter() - middle

    for number in range(4):
        timed(number)  # each process reads the catalogue once
    times = [timed(number) for number in range(10, 50)]
    live, rating = sorted(one for one, _ in times), sorted(two for _, two in times)
    print(f"\nlive part p50 {1e3 * live[19]:.0f} ms, p95 {1e3 * live[37]:.0f} ms; rating {1e3 * rating[19]:.0f} ms")
    assert statistics.median(live) < 2.5 * statistics.median(rating) + 0.03

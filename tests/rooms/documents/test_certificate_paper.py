"""The certificate on paper: number first, everything of the record on it, text stays text, same record same bytes."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import segno
from pypdf import PdfReader

import invented_acceptance as invented
from vaporwright.acceptance.record.certificate import (
    Certificate,
    Estimate,
    Headline,
    RecordHead,
    Verdict,
    certificate_from,
)
from vaporwright.acceptance.record.punch_list import PunchItem
from vaporwright.acceptance.steps.outcomes import ACCEPTED
from vaporwright.documents import certificate_paper
from vaporwright.documents.certificate_paper import CAUTION, certificate_data, certificate_pdf, head_code_svg
from vaporwright.documents.interval_picture import interval_picture

NASTY = '#let x = 1; $a*b$ _it_ @ref <lab> `raw` \\ // /* "quoted" \u202e ŻÓŁĆ\t\n\x00 ' + "W" * 200
DRAW = """
import hashlib, sys
sys.path.insert(0, sys.argv[1])
import invented_acceptance
from vaporwright.documents.certificate_paper import certificate_pdf
print(hashlib.sha256(certificate_pdf(invented_acceptance.certificate(), "US")).hexdigest())
"""


def squeezed(text: str) -> str:
    """Text as it can be compared with what a reader extracts: no spaces, no joiners."""
    return re.sub(r"[\s\u200b\u2060\u00a0\u2002]+", "", text)


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


@cache
def printed(system: str) -> bytes:
    return certificate_pdf(invented.certificate(), system)


def strings(entry: Any) -> Iterator[str]:
    if isinstance(entry, str):
        yield entry
    elif isinstance(entry, dict):
        for key, value in entry.items():
            if key not in ("paper", "code", "means"):
                yield from strings(value)
    elif isinstance(entry, list):
        for value in entry:
            yield from strings(value)


def test_the_number_comes_first_and_the_parts_in_order() -> None:
    text = squeezed("".join(pages_of(printed("US"))))
    order = [
        "103.5±5.4%",
        "ofthe guaranteed evaporation",
        "As tested, the unit will evaporate 26.9 ± 1.4 gal/h at the site in winter; the guarantee is 26.0 gal/h.",
        "Whole test: not accepted. Of 10 steps: 1 not accepted.",
        "Evaporation on the day",
        "Measured, expected and predicted evaporation",
        "Guarantee",
        "Not released for shipping",
        "Signatures",
        "Caution.",
        "Performance run: balances",
        "How far the test was from the conditions of the guarantee",
        "Results by section",
        "Deviations from the procedure",
        "Punch list",
        "Instruments",
        "Conditions of the day",
        "Set points and delays as left",
        "Rules: void, interruption, rerun",
        "The record",
        "Appendix: every step",
    ]
    places = []
    start = 0
    for words in order:
        start = text.index(squeezed(words), start)
        places.append(start)
    assert places[0] < 150


def test_every_string_reaches_the_paper() -> None:
    for system in ("US", "SI"):
        text = squeezed("".join(pages_of(printed(system))))
        for words in strings(certificate_data(invented.certificate(), system)):
            assert squeezed(words) in text, words


def test_pages_are_numbered_and_name_run_and_head() -> None:
    pages = pages_of(printed("US"))
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert f"event 211, head {invented.HASH[:16]}" in page


def test_numbers_by_hand() -> None:
    # 26.91 gal/h of 998.2 kg/m3: 26.91 * 3.785411784 * 0.9982 = 101.68 kg/h; 1.4 gal/h are 5.29 kg/h.
    # 7.31 gal per 100,000 Btu: 7.31 * 3.77860 kg / 105.5056 MJ = 0.26180 kg/MJ; 0.24 are 0.00860.
    us, si = (certificate_data(invented.certificate(), system) for system in ("US", "SI"))
    assert us["number"] == {"value": "103.5", "uncertainty": "5.4", "unit": "%", "of": "of the guaranteed evaporation"}
    assert si["number"] == us["number"]
    assert "101.7 ± 5.3 kg/h" in si["sentence"]
    rows = [{row[0]: row[1] for row in data["few"]} for data in (us, si)]
    assert rows[0]["Evaporation per heat"] == "7.31 ± 0.24 gal per 100,000 Btu"
    assert rows[1]["Evaporation per heat"] == "0.2618 ± 0.0086 kg per MJ"
    assert rows[0]["Evaporation on the day"] == "29.8 ± 1.2 gal/h"
    assert us["departures"][0]["cells"][1:] == ["58.5 °F", "66 °F", "7.5 °F", "at most 15 °F"]
    assert si["departures"][0]["cells"][3:] == ["4.17 K", "at most 8.33 K"]
    assert us["instruments"][1][4] == "± 0.062 in, k = 2"
    assert si["instruments"][1][4] == "± 1.6 mm, k = 2"
    assert us["as_left"][1] == ["delay of the low rod", "4 s", "3 s", "changed"]


def test_steps_show_what_was_entered_and_what_it_reads() -> None:
    steps = certificate_data(invented.certificate(), "SI")["steps"][2]["steps"]
    high = steps[2]["readings"][0]
    assert high["entered"] == "22.4 in"
    assert high["shown"] == "569.0 ± 1.6 mm"
    assert high["expected"] == "558.80 ± 3.18 mm" or high["expected"] == "558.8 ± 3.2 mm"
    assert not high["passes"]
    assert high["words"] == "above 562 mm"
    assert steps[0]["done"].startswith("A. Technician, 2026-03-04 10:00 UTC")


def test_same_record_same_bytes_in_other_processes() -> None:
    tests = str(Path(invented.__file__).parent)
    found = {hashlib.sha256(printed("US")).hexdigest()}
    for seed, zone in (("1", "Asia/Tokyo"), ("2", "America/Denver")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone}
        run = subprocess.run(
            [sys.executable, "-c", DRAW, tests], env=environment, capture_output=True, text=True, check=True
        )
        found.add(run.stdout.strip())
    assert len(found) == 1


def test_the_date_in_the_file_is_the_records() -> None:
    about = PdfReader(BytesIO(printed("US"))).metadata
    assert about is not None
    assert about.creation_date == datetime.fromisoformat(invented.MADE_AT)
    east = invented.certificate(made_at="2026-03-06T01:42:07+09:00")
    moved = PdfReader(BytesIO(certificate_pdf(east, "US"))).metadata
    assert moved is not None
    assert moved.creation_date == datetime(2026, 3, 5, 16, 42, 7, tzinfo=UTC)


def test_another_record_gives_other_bytes() -> None:
    other = RecordHead("run-2026-03-05-a", 211, "f" * 64)
    assert certificate_pdf(invented.certificate(head=other), "US") != printed("US")


def modules_of(svg: str) -> list[list[int]]:
    """Black modules as the SVG draws them: relative moves and horizontal strokes of one module's width."""
    size = int(re.search(r'width="(\d+)"', svg)[1])  # type: ignore[index]
    grid = [[0] * size for _ in range(size)]
    path = re.search(r'\bd="([^"]+)"', svg)[1]  # type: ignore[index]
    x = y = 0.0
    for kind, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        values = [float(value) for value in numbers.split()]
        if kind == "h":
            for column in range(round(x), round(x + values[0])):
                grid[int(y)][column] = 1
            x += values[0]
        else:
            x, y = values if kind == "M" else (x + values[0], y + values[1])
    return grid


def test_the_code_says_the_records_head() -> None:
    text = f"vaporwright-record:run-2026-03-05-a:211:{invented.HASH}"
    assert invented.FACTS.head.text == text
    assert certificate_data(invented.certificate(), "US")["code"]["text"] == text
    code = segno.make(text, error="m", micro=False)
    assert code.error == "M"
    drawn = modules_of(head_code_svg(text))
    quiet = (len(drawn) - len(code.matrix)) // 2
    assert quiet == 4
    assert [row[quiet:-quiet] for row in drawn[quiet:-quiet]] == [[int(cell) for cell in row] for row in code.matrix]
    assert not any(any(row) for row in (*drawn[:quiet], *drawn[-quiet:]))
    other = modules_of(head_code_svg(text[:-1] + "0"))
    assert other != drawn


def test_the_code_on_the_paper_is_the_heads(monkeypatch: pytest.MonkeyPatch) -> None:
    handed: dict[str, str] = {}

    def catch(_template: str, _data: dict[str, Any], **pictures: str) -> bytes:
        handed.update(pictures)
        return b""

    monkeypatch.setattr(certificate_paper, "typeset", catch)
    certificate_pdf(invented.certificate(), "US")
    assert modules_of(handed["code"]) == modules_of(
        head_code_svg(f"vaporwright-record:run-2026-03-05-a:211:{invented.HASH}")
    )


def test_text_of_the_user_stays_text() -> None:
    procedure = replace(invented.PROCEDURE, job=NASTY, customer=NASTY, unit=NASTY, rules=(NASTY,))
    facts = replace(invented.FACTS, place=NASTY, serial=NASTY, notes=(NASTY,), dry_run=NASTY, void=NASTY)
    found = certificate_from(procedure, invented.READINGS, invented.VERDICTS, facts, acts=invented.ACTS)
    text = squeezed("".join(pages_of(certificate_pdf(found, "US"))))
    assert squeezed('#let x = 1; $a*b$ _it_ @ref <lab> `raw` \\ // /* "quoted"') in text


def test_a_void_run_shows_no_number() -> None:
    found = invented.certificate(void="the gas meter was past its due date")
    data = certificate_data(found, "US")
    assert data["number"] is None
    text = "".join(pages_of(certificate_pdf(found, "US")))
    assert "VOID: the gas meter was past its due date" in text
    assert "proves and guarantees nothing" in text
    assert "103.5" not in text


def test_a_cold_test_guarantees_nothing() -> None:
    procedure = replace(invented.PROCEDURE, variant="cold")
    facts = replace(invented.FACTS, headline=None, performance=None)
    found = certificate_from(procedure, invented.READINGS, invented.VERDICTS, facts)
    data = certificate_data(found, "US")
    assert data["sentence"].startswith("Cold test: no capacity was measured")
    assert data["picture"] is None
    assert "Cold test" in "".join(pages_of(certificate_pdf(found, "US")))


@pytest.mark.parametrize(
    ("kind", "title"),
    [("witnessed", "Certificate of acceptance test"), ("dry run", "Record of the shop's dry run")],
)
def test_kinds_of_run(kind: str, title: str) -> None:
    assert title in pages_of(certificate_pdf(invented.certificate(kind=kind), "US"))[0]


def test_release_and_what_keeps_the_unit() -> None:
    closed = PunchItem(1, "A", "High rod", "Shop", "rods.high", invented.OPENED, invented.CLOSED)

    def said(found: Certificate) -> str:
        return str(certificate_data(found, "US")["release"])

    assert said(invented.certificate()) == "Not released for shipping: item 1 of category A is open."
    assert said(invented.certificate(punch_list=(closed,))) == "Not released for shipping."
    released = invented.certificate(punch_list=(closed,), release=invented.RELEASE)
    assert said(released) == "Released for shipping by C. Engineer, engineer, 2026-03-06 09:00 UTC."
    assert "though item 1 of category A is open" in said(invented.certificate(release=invented.RELEASE))


def test_all_accepted_says_so() -> None:
    verdicts = dict.fromkeys(invented.READINGS, Verdict(ACCEPTED))
    found = certificate_from(invented.PROCEDURE, invented.READINGS, verdicts, invented.FACTS)
    verdict = certificate_data(found, "US")["verdict"]
    assert verdict == {"text": "Whole test: accepted. All 10 steps are accepted.", "passes": True}


def test_cautions_defer_to_codes_and_licensed_people() -> None:
    text = squeezed("".join(pages_of(printed("US"))))
    assert squeezed(CAUTION) in text
    assert "no safety approval" in CAUTION


def test_the_picture_puts_values_where_they_are() -> None:
    picture = interval_picture(invented.PERFORMANCE, invented.FACTS.headline, "US")
    rows = {row["label"]: row for row in picture["rows"]}
    winter = rows["at the site, winter"]
    assert winter["headline"]
    assert winter["from"] < picture["guarantee"]["at"] < winter["at"] < winter["to"]
    assert not rows["expected on the day"]["known"]
    ticks = [(float(tick["text"]), tick["at"]) for tick in picture["ticks"]]
    (first, at_first), (last, at_last) = ticks[0], ticks[-1]
    slope = (at_last - at_first) / (last - first)
    assert winter["at"] == pytest.approx(at_first + slope * (26.91 - first), abs=1e-4)
    assert winter["to"] - winter["from"] == pytest.approx(2.0 * 1.4 * slope, abs=1e-4)
    assert all(0.0 <= place <= 1.0 for row in rows.values() for place in (row["from"], row["at"], row["to"]))


def test_a_picture_of_equal_values_still_has_an_axis() -> None:
    flat = replace(invented.PERFORMANCE, measured_kg_s=Estimate(0.03), expected_kg_s=0.03, seasons=())
    picture = interval_picture(flat, Headline(Estimate(1.0), Estimate(0.03), 0.03, "winter", ACCEPTED), "SI")
    assert len(picture["ticks"]) >= 2


def test_colours_are_greys() -> None:
    templates = Path(sys.modules[certificate_pdf.__module__].__file__ or "").parent / "templates"
    for name in ("test_look.typ", "procedure.typ", "reading_sheet.typ", "certificate.typ"):
        for colour in re.findall(r'rgb\("#(\w{6})"\)', (templates / name).read_text(encoding="utf-8")):
            assert colour[:2] == colour[2:4] == colour[4:], f"{name}: #{colour}"

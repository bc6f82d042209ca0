"""The procedure on paper: every word of every step, boxes for every reading, steps whole on their page."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from io import BytesIO

import pytest
from pypdf import PdfReader

import invented_acceptance as invented
from vaporwright.acceptance.steps.procedure import VARIANTS, ProcedureSection, Variant
from vaporwright.documents.procedure_paper import (
    FLAGS,
    TITLES,
    VARIANT_TEXTS,
    guarantee_rows,
    numbered,
    procedure_data,
    procedure_pdf,
    sentence,
)
from vaporwright.documents.typeset import ADVICE

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 180 60"><rect width="180" height="60" fill="none" '
    'stroke="#000"/><text x="10" y="30" font-size="8" font-family="Source Sans Pro">drawn here</text></svg>'
)
NASTY = '#let x = 1; $a*b$ _it_ @ref <lab> `raw` \\ // /* "quoted" \u202e\x00 ' + "W" * 200


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b\u2060\u00a0]+", "", text)


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


@cache
def pages(system: str) -> list[str]:
    return pages_of(procedure_pdf(invented.PROCEDURE, system, drawing=DRAWING))


def test_every_word_of_every_step_is_printed() -> None:
    for system in ("US", "SI"):
        text = squeezed("".join(pages(system)))
        for step in invented.PROCEDURE.steps:
            for words in (step.title, step.purpose, step.restore, step.by, step.key, *step.actions, *step.cautions):
                assert squeezed(words) in text, words
            for one in step.fields:
                for words in (one.label, one.reason, one.instrument):
                    assert squeezed(words) in text, words


def test_expected_values_by_hand() -> None:
    text = {system: squeezed("".join(pages(system))) for system in ("US", "SI")}
    for words in ("14.250 ± 0.125 in", "50.0 ± 2.5 gal/min", "447 ± 40 °F", "4.7 ± 1.0 %", "at most 4 s"):
        assert squeezed(words) in text["US"], words
    # 22 in are 558.8 mm and 1/8 in is 3.175 mm; 50 gal/min are 189.27 L/min; 447 °F are 230.56 °C, 40 °F 22.2 K
    for words in ("558.8 ± 3.2 mm", "189.3 ± 9.5 L/min", "231 ± 22 °C"):
        assert squeezed(words) in text["SI"], words


def test_cover() -> None:
    cover = squeezed("".join(pages("US")[:2]))
    said = sentence(invented.PROCEDURE)
    assert said == "10 steps in 5 sections, about 11 h, with 2 hold points and 2 witness points."
    for words in (said, invented.PROCEDURE.unit, *invented.PROCEDURE.rules, ADVICE, "26 gal/h", "71 °F", "14.39 psia"):
        assert squeezed(words) in cover, words
    assert squeezed("1 Documents and nameplate 2 0:00 0:25 0:25 3") in cover  # ends on the page where it begins
    assert squeezed("HOLD 2.1 Fill to the rim and wait four hours") in cover
    assert squeezed("WITNESS 1.1 Compare the nameplate with the job") in cover


def test_agenda_adds_up() -> None:
    rows = procedure_data(invented.PROCEDURE, "US")["agenda"]
    assert [row[3:6] for row in rows] == [
        ["0:00", "0:25", "0:25"],
        ["0:25", "4:15", "4:40"],
        ["4:40", "0:18", "4:58"],
        ["4:58", "0:30", "5:28"],
        ["5:28", "5:10", "10:38"],
    ]


def test_numbers_follow_section_and_place() -> None:
    found = {step.key: number for _, number, step in numbered(invented.PROCEDURE)}
    assert found["documents.nameplate"] == "1.1"
    assert found["rods.high"] == "3.3"
    rods = procedure_data(invented.PROCEDURE, "US")["sections"][2]
    assert rods["alike"][0] == ["Only after 2.1", "every step"]
    assert "after" not in rods["groups"][0]["steps"][0]["facts"]  # said once for all
    one = replace(invented.RODS.steps[0], after=("tank_leak.cold",))
    section = ProcedureSection("s", "S", (one,))
    alone = procedure_data(replace(invented.PROCEDURE, sections=(invented.LEAKS, section)), "US")["sections"][1]
    assert "after 1.1" in alone["groups"][0]["steps"][0]["facts"]


def test_each_step_stands_whole_on_one_page() -> None:
    sections = invented.PROCEDURE.sections
    many = tuple(
        ProcedureSection(
            f"s{place}",
            f"Section {place}",
            tuple(
                replace(step, key=f"{step.key}_{place}", title=f"{step.title}, round {chr(65 + place)}")
                for step in sections[place % 5].steps
            ),
        )
        for place in range(24)
    )
    found = [squeezed(page) for page in pages_of(procedure_pdf(replace(invented.PROCEDURE, sections=many), "US"))]
    assert len(found) > 6
    for place, section in enumerate(many, 1):
        for count, step in enumerate(section.steps, 1):
            start = squeezed(f"{place}.{count}{step.title}")
            starts = [page for page in found if start in page and squeezed("do, then look") in page]
            assert len(starts) == 1, step.title
            page = starts[0]
            at = page.index(start)
            for words in ("accepted", *step.actions, step.restore, *(one.label for one in step.fields)):
                assert squeezed(words) in page[at:], words


def test_no_heading_stands_last_on_its_page() -> None:
    for page in pages("US")[2:]:
        for section in invented.PROCEDURE.sections:
            heading = squeezed(section.title)
            body = squeezed(page).split("Takereadings")[0]
            assert not body.endswith(heading)


def test_a_step_longer_than_a_page_goes_on_where_it_must() -> None:
    step = replace(next(iter(invented.PROCEDURE.steps)), actions=tuple(f"Do thing {count}." for count in range(150)))
    section = ProcedureSection("long", "Long", (step,))
    text = squeezed("".join(pages_of(procedure_pdf(replace(invented.PROCEDURE, sections=(section,)), "US"))))
    assert all(f"Dothing{count}." in text for count in range(150))


def test_a_reason_shared_by_readings_in_a_row_is_printed_once() -> None:
    one = invented.yes("a", "first", reason="Same reason.")
    fields = (one, replace(one, key="b", label="second"), replace(one, key="c", label="third", reason="Other."))
    step = replace(next(iter(invented.PROCEDURE.steps)), fields=fields)
    section = ProcedureSection("s", "S", (step,))
    data = procedure_data(replace(invented.PROCEDURE, sections=(section,)), "US")
    (part,) = data["sections"][0]["groups"][0]["steps"][0]["parts"]
    assert [entry["reason"] for entry in part["fields"]] == ["", "Same reason.", "Other."]


def test_the_drawing_stands_with_the_rods() -> None:
    with_it = [page for page in pages("US") if "drawn here" in page]
    assert len(with_it) == 1
    assert "Level rods" in with_it[0]
    assert not any("drawn here" in page for page in pages_of(procedure_pdf(invented.PROCEDURE, "US")))


@pytest.mark.parametrize("variant", VARIANTS)
def test_variants_say_so_on_the_cover(variant: Variant) -> None:
    cover = squeezed(pages_of(procedure_pdf(replace(invented.PROCEDURE, variant=variant), "US"))[0])
    assert squeezed(TITLES[variant]) in cover
    assert squeezed(FLAGS[variant]) in cover
    assert squeezed(VARIANT_TEXTS[variant]) in cover
    assert (squeezed("What the performance run must show") in cover) is (variant != "cold")


def test_what_the_run_must_show() -> None:
    # 0.03 kg/s are 0.03 * 3600 / 998.2 / 3.785411784e-3 = 28.58 gal/h
    rows = guarantee_rows(
        {"least_share": 0.95, "guaranteed_site_kg_s": 0.03, "least_run_s": 14400.0, "odd_x": 2.0}, "US"
    )
    assert rows == [
        ["guaranteed at the site", "28.58 gal/h"],
        ["of it, at least", "95 %"],
        ["run lasts, at least", "4 h"],
        ["odd_x", "2 (SI)"],
    ]


def test_text_of_others_stays_text() -> None:
    step = replace(
        next(iter(invented.PROCEDURE.steps)), title=NASTY, actions=(NASTY,), purpose=NASTY, restore=f"Back: {NASTY}"
    )
    section = ProcedureSection("s", NASTY, (step,), NASTY)
    procedure = replace(invented.PROCEDURE, job=NASTY, customer=NASTY, unit=NASTY, sections=(section,), rules=(NASTY,))
    text = squeezed("".join(pages_of(procedure_pdf(procedure, "SI"))))
    assert text.count(squeezed('$a*b$ _it_ @ref <lab> `raw` \\ // /* "quoted"')) >= 7


def test_same_procedure_same_bytes() -> None:
    assert procedure_pdf(invented.PROCEDURE, "US") == procedure_pdf(invented.PROCEDURE, "US")


def test_paper_sizes() -> None:
    for system, size in (("US", (612, 792)), ("SI", (595, 842))):
        box = PdfReader(BytesIO(procedure_pdf(invented.PROCEDURE, system))).pages[0].mediabox
        assert (round(box.width), round(box.height)) == size

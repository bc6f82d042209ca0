"""The demo units' procedures and reading sheets: short enough to carry, and nothing of any step lost by grouping.

Texts are read back from the PDF. What a step must show is taken from the procedure, where the paper's own grouping has
no part in it; a caution's letter is the one that the section's head prints before its words.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from io import BytesIO

import pytest
from pypdf import PdfReader

from example_subjects import example_subject
from vaporwright.acceptance.steps.procedure import YES_OR_NO, Procedure, ReadingField, Step
from vaporwright.documents.measured_words import expected_text
from vaporwright.documents.procedure_paper import procedure_pdf
from vaporwright.documents.reading_sheet import reading_sheet_pdf

pytestmark = pytest.mark.slow
UNITS = (("gas", "US"), ("electric", "SI"), ("steam", "US"))
RUN, REVISION = "fat-2026-03", "7"
MOST_PAGES = {"gas": 49, "electric": 45, "steam": 45}
MOST_SHEETS = 20
COLUMNS = "do,thenlook"


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u200b\u2060\u00a0\u2002]+", "", text)


@cache
def procedure_of(heat: str) -> Procedure:
    return example_subject(heat).procedure


@cache
def printed(heat: str, system: str) -> bytes:
    return procedure_pdf(procedure_of(heat), system, run=RUN, revision=REVISION)


@cache
def pages_of(heat: str, system: str) -> list[str]:
    return [squeezed(page.extract_text()) for page in PdfReader(BytesIO(printed(heat, system))).pages]


@dataclass(frozen=True)
class Found:
    """A step with what stands on paper from its number to the next step's, and the head of its section."""

    step: Step
    number: str
    words: str
    head: str


@cache
def steps_on_paper(heat: str, system: str) -> list[Found]:
    text = "".join(page for page in pages_of(heat, system) if COLUMNS in page)
    at, starts = 0, []
    for place, section in enumerate(procedure_of(heat).sections, 1):
        begins = text.index(squeezed(f"{place} {section.title}"), at)
        for count, step in enumerate(section.steps, 1):
            at = text.index(squeezed(f"{place}.{count} {step.title}"), begins if count == 1 else at)
            starts.append((step, f"{place}.{count}", at, begins))
            at += 1
    first = {begins: min(at for _, _, at, other in starts if other == begins) for *_, begins in starts}
    ends = [at for _, _, at, _ in starts[1:]] + [len(text)]
    return [
        Found(step, number, text[at:end], text[begins : first[begins]])
        for (step, number, at, begins), end in zip(starts, ends, strict=True)
    ]


def pieces(one: ReadingField) -> list[str]:
    """A label, or what stands before and after its colon: the words before may be said once for several."""
    return [squeezed(piece) for piece in one.label.split(": ", 1)]


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_a_technician_can_carry_it(heat: str, system: str) -> None:
    assert len(pages_of(heat, system)) <= MOST_PAGES[heat]
    sheets = PdfReader(BytesIO(reading_sheet_pdf(procedure_of(heat), system))).pages
    assert len(sheets) <= MOST_SHEETS


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_every_step_has_its_key_people_deeds_and_points(heat: str, system: str) -> None:
    found = steps_on_paper(heat, system)
    assert [one.step.key for one in found] == [step.key for step in procedure_of(heat).steps]
    before = ""
    for one in found:
        step = one.step
        flag = {"": "", "hold": "HOLDPOINT", "witness": "WITNESSPOINT"}[step.point]
        head = re.match(rf"{re.escape(squeezed(one.number + step.title))}{flag}[A-Z]*{squeezed(step.by)}·", one.words)
        assert head, one.words[:200]
        assert squeezed(step.key) in one.words, step.key
        before += one.words  # a set-up and a purpose may stand above a group of steps
        assert squeezed(step.purpose) in one.head + before[-9000:], step.key
        for words in step.actions:
            looks = words.startswith("Look (")
            at = f"{squeezed(words[6:-2])}:" if looks else squeezed(words)
            assert at in (one.head + before[-9000:] if words.startswith("Bring the unit to") else one.words), words
        assert squeezed(step.restore) in one.words or step.restore.rstrip(".") + "." in step.actions


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_every_reading_has_what_is_expected_and_why(heat: str, system: str) -> None:
    for one in steps_on_paper(heat, system):
        for field in one.step.fields:
            where = f"{one.step.key}.{field.key}"
            assert all(piece in one.words for piece in pieces(field)), where
            answer = "yesno" if field.quantity == YES_OR_NO else squeezed(expected_text(field, system))
            assert answer in one.words, where
            assert squeezed(field.instrument) in one.words, where
            reason = field.reason.removeprefix(one.step.purpose) if field.reason != one.step.purpose else field.reason
            assert squeezed(reason) in one.words + one.head, where
        expected_yes = sum(field.quantity == YES_OR_NO for field in one.step.fields)
        assert one.words.count("yesno") == expected_yes, one.step.key


def bound(step: Step, letters: dict[str, str]) -> Iterator[str]:
    """Cautions of a step; one that is joined of two others, as those two."""
    for words in step.cautions:
        whole = squeezed(words).casefold()
        halves = [squeezed(half).casefold() for half in words.rsplit("; ", 1)]
        yield from halves if whole not in letters and len(halves) == 2 and set(halves) <= set(letters) else [whole]


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_every_caution_binds_its_step(heat: str, system: str) -> None:
    found = steps_on_paper(heat, system)
    said = [words for one in found for words in one.step.cautions]
    every = {squeezed(half).casefold() for words in said for half in (words, *words.rsplit("; ", 1))}
    letters_said = 0
    for one in found:
        letters = {
            words: match[1]
            for words in every
            if (match := re.search(rf"([A-Z])(?i:{re.escape(words.rstrip('.'))})\.", one.head))
        }
        head = re.escape(squeezed(one.number + one.step.title))
        marked = re.match(rf"{head}(?:HOLDPOINT|WITNESSPOINT)?([A-Z]*)", one.words)
        assert marked
        wanted = set()
        for words in bound(one.step, letters):
            if words in letters:
                wanted.add(letters[words])
            else:
                assert words.rstrip(".") in one.words.casefold(), (one.step.key, words)
        assert set(marked[1]) == wanted, one.step.key
        letters_said += len(wanted)
    assert letters_said > 150


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_each_page_says_whose_it_is_and_repeats_its_columns(heat: str, system: str) -> None:
    pages = pages_of(heat, system)
    for number, page in enumerate(pages, 1):
        assert page.startswith(squeezed(f"{procedure_of(heat).job} page {number} of {len(pages)}"))
        assert squeezed(f"revision {REVISION} run {RUN}") in page
        assert re.search(r"issue[0-9a-f]{8}revision", page)
    first = next(number for number, page in enumerate(pages) if COLUMNS in page)
    assert first == 2
    assert all(COLUMNS in page for page in pages[first:])
    numbers = [one.number for one in steps_on_paper(heat, system)]
    for page in pages[first:]:
        assert any(number in page for number in numbers)


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_a_deed_stands_with_what_is_looked_at(heat: str, system: str) -> None:
    pages = pages_of(heat, system)
    looked = 0
    for one in steps_on_paper(heat, system):
        deeds: list[str] = []
        for words in one.step.actions:
            if not words.startswith("Look ("):
                deeds.append(words)
                continue
            when = words[6:-2]
            (field, *_) = [entry for entry in one.step.fields if entry.label.startswith(f"{when}: ")]
            line = squeezed(" ".join(deeds[1:] if deeds and deeds[0].startswith("Bring") else deeds) + field.label)
            assert any(f"{line}yesno" in page for page in pages), (one.step.key, when)
            deeds, looked = [], looked + 1
    assert looked > 400


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_a_step_goes_on_over_a_page_only_with_its_number(heat: str, system: str) -> None:
    turn = rf"page\d+of{len(pages_of(heat, system))}"
    turned = 0
    for one in steps_on_paper(heat, system):
        again = one.words.count(f"{squeezed(one.step.key)}goeson")
        assert one.words.count(squeezed(f"{one.number} {one.step.title}")) == 1 + again, one.step.key
        turns = len(re.findall(turn, one.words))
        behind = re.split(turn, one.words)[-1]  # of the last step on a page: the next page's head, and no reading
        assert again == turns or (again == turns - 1 and "yesno" not in behind), one.step.key
        turned += again
    assert turned < 30


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_same_procedure_same_bytes(heat: str, system: str) -> None:
    assert procedure_pdf(procedure_of(heat), system, run=RUN, revision=REVISION) == printed(heat, system)
    assert procedure_pdf(procedure_of(heat), system, run="another", revision=REVISION) != printed(heat, system)


@pytest.mark.parametrize(("heat", "system"), UNITS)
def test_every_line_of_the_sheets_has_its_step_field_and_expectation(heat: str, system: str) -> None:
    procedure = procedure_of(heat)
    reader = PdfReader(BytesIO(reading_sheet_pdf(procedure, system, run=RUN)))
    text = squeezed("".join(page.extract_text() for page in reader.pages))
    at = 0
    for step in procedure.steps:
        if not step.fields:
            continue
        at = text.index(squeezed(step.key), at)
        for one in step.fields:
            label = squeezed(one.label.split(": ", 1)[-1]) + ("" if one.needed else ",ifitcanberead")
            assert label + squeezed(one.key) in text[at:], f"{step.key}.{one.key}"
            assert squeezed(expected_text(one, system)) in text[at:], f"{step.key}.{one.key}"
    for number, page in enumerate(reader.pages, 1):
        assert squeezed(f"page {number} of {len(reader.pages)}") in squeezed(page.extract_text())

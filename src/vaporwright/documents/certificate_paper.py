"""The certificate of a test as PDF: one number plus or minus one figure first, then what stands behind it.

`certificate_data` builds every printed string from the certificate's values; the template only places it. The file's
date is the time of the record's last event: the same record gives the same bytes. A certificate of a test is evidence
of what was read on the day; it is no safety approval, and says so.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, Final

from vaporwright.acceptance.record.certificate import (
    PUNCH_CATEGORIES,
    Certificate,
    Departure,
    Estimate,
    PerformanceResult,
    ResultRow,
)
from vaporwright.acceptance.record.events import WHOLE_TEST, RunKind
from vaporwright.acceptance.record.punch_list import PunchItem
from vaporwright.acceptance.steps.instruments import KINDS, Instrument
from vaporwright.acceptance.steps.outcomes import ACCEPTED, IN_GUARD_BAND, OUTCOMES, PASSES, Outcome
from vaporwright.acceptance.steps.procedure import YES_OR_NO
from vaporwright.display_units import SI, US, show, shown_unit
from vaporwright.documents.certificate_steps import step_groups
from vaporwright.documents.interval_picture import interval_picture
from vaporwright.documents.measured_words import (
    beside_text,
    estimate_parts,
    estimate_text,
    fixed,
    limits_text,
    moment_text,
    places,
    size_shown,
    trimmed,
    without_zeros,
)
from vaporwright.documents.printed import cut, plain
from vaporwright.documents.procedure_paper import LONGEST_TITLE, conditions_rows
from vaporwright.documents.typeset import paper_of, typeset

TITLES: Final[dict[RunKind, str]] = {
    "witnessed": "Certificate of acceptance test",
    "site": "Certificate of site acceptance test",
    "dry run": "Record of the shop's dry run",
}
NO_NUMBER: Final = {
    "cold": "Cold test: no capacity was measured, none is guaranteed. It binds only with the hot test on site.",
    "": "No performance run was evaluated: this paper guarantees no capacity.",
}
CAUTION: Final = (
    "This paper says what was read on the day, with which instruments, and what follows for evaporation. It is no "
    "safety approval of burner, gas, flue, wiring, pressure parts or interlocks: local codes, the authority having "
    "jurisdiction and the licensed engineer, gas fitter and electrician decide. A changed set point, part or site "
    "needs a new test of what it touches."
)
HEAT_WORDS: Final = {"gas": "gross fuel heat", "electric": "electric heat", "steam": "heat of the steam"}
PER_HEAT_J: Final = {US: 1.0e5 * 1055.05585262, SI: 1.0e6}  # 100,000 Btu, 1 MJ
PER_HEAT_UNIT: Final = {US: "gal per 100,000 Btu", SI: "kg per MJ"}


def certificate_pdf(certificate: Certificate, system: str) -> bytes:
    """The certificate as PDF, not yet signed, US letter or A4 (SI); the same certificate gives the same bytes.

    Args: system: "US" or "SI".
    """
    data = certificate_data(certificate, system)
    return typeset("certificate.typ", data, code=head_code_svg(certificate.facts.head.text))


def head_code_svg(text: str) -> str:
    """A text as QR code: SVG of black modules with their quiet zone."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(out, kind="svg", border=4, xmldecl=False, svgns=True, dark="#000")
    return out.getvalue().decode("utf-8")


def certificate_data(certificate: Certificate, system: str) -> dict[str, Any]:
    """Every string of the certificate, in the units of `system`."""
    facts, performance = certificate.facts, certificate.facts.performance
    moment = datetime.fromisoformat(facts.made_at).astimezone(UTC)
    return {
        "paper": paper_of(system),
        "created": [moment.year, moment.month, moment.day, moment.hour, moment.minute, moment.second],
        "title": TITLES[facts.kind],
        "marks": [["run", cut(plain(facts.head.run), 40)]],
        "foot": f"Run {facts.head.run}, event {facts.head.sequence}, head {facts.head.hash[:16]}…",
        "job": cut(plain(certificate.job), LONGEST_TITLE),
        "customer": cut(plain(certificate.customer), LONGEST_TITLE),
        "number": _number(certificate),
        "sentence": sentence(certificate, system),
        "void": plain(facts.void),
        "verdict": {
            "text": "" if facts.void else verdict_sentence(certificate),
            "passes": bool(facts.void) or certificate.outcome in PASSES,
        },
        "about": _about(certificate),
        "code": {"text": facts.head.text, "groups": _groups(facts.head.hash)},
        "picture": None if performance is None else interval_picture(performance, facts.headline, system),
        "few": [] if performance is None else few_rows(performance, certificate.heat, system),
        "performance": [] if performance is None else [_result(row, system) for row in performance.rows],
        "run_notes": [] if performance is None else _run_notes(performance),
        "departures": [] if performance is None else [_departure(one, system) for one in performance.departures],
        "sections": _sections(certificate),
        "deviations": _deviations(certificate),
        "punch_list": [_punch(item) for item in facts.punch_list],
        "release": release_sentence(certificate),
        "guarantee": guarantee_sentences(certificate, system),
        "signatures": [
            {
                "role": plain(one.role),
                "name": plain(one.name),
                "when": moment_text(one.at),
                "statement": plain(one.statement),
                "head": one.head[:16],
            }
            for one in facts.signatures
        ],
        "conditions": conditions_rows(certificate.conditions, system),
        "steps": step_groups(certificate, system),
        "instruments": [_instrument(one, system) for one in facts.instruments],
        "as_left": [
            [
                plain(one.label),
                trimmed(one.left, one.quantity, system),
                "" if one.designed is None else trimmed(one.designed, one.quantity, system),
                "" if one.designed is None or one.left == one.designed else "changed",
            ]
            for one in facts.as_left
        ],
        "rules": [plain(rule) for rule in certificate.rules],
        "notes": [plain(note) for note in facts.notes],
        "caution": CAUTION,
    }


def _number(certificate: Certificate) -> dict[str, str] | None:
    """The one number of the paper and its one figure, in percent."""
    headline = certificate.facts.headline
    if headline is None or certificate.facts.void:
        return None
    number, uncertainty = estimate_parts(headline.capability, "fraction", US)
    return {"value": number, "uncertainty": uncertainty, "unit": "%", "of": "of the guaranteed evaporation"}


def sentence(certificate: Certificate, system: str) -> str:
    """What the number means, or why there is none."""
    headline = certificate.facts.headline
    if certificate.facts.void:
        return "This run is void: it proves and guarantees nothing."
    if headline is None:
        return NO_NUMBER.get(certificate.variant, NO_NUMBER[""])
    will = estimate_text(headline.site_evaporation_kg_s, "evaporation", system)
    guaranteed = show(headline.guarantee_kg_s, "evaporation", system)
    when = "on average" if headline.season == "average" else f"in {headline.season}"
    return (
        f"As tested, the unit will evaporate {will} at the site {when}; the guarantee is {guaranteed}. "
        f"Capacity: {headline.outcome}."
    )


def verdict_sentence(certificate: Certificate) -> str:
    """The whole test in one sentence: the outcome, and how many steps stand in its way."""
    total = sum(certificate.counts.values())
    missed = [
        f"{count} {outcome}" for outcome in OUTCOMES if outcome not in PASSES and (count := certificate.counts[outcome])
    ]
    banded = certificate.counts[IN_GUARD_BAND]
    if certificate.outcome in PASSES:
        within = f", {banded} of them in the guard band" if banded else ""
        return f"Whole test: {certificate.outcome}. All {total} steps are accepted{within}."
    of_run = certificate.facts.performance
    run = f"; performance run {of_run.outcome}" if of_run is not None and of_run.outcome not in PASSES else ""
    which = ", ".join(missed) or "none stands in its way"
    return f"Whole test: {certificate.outcome}. Of {total} steps: {which}{run}."


def release_sentence(certificate: Certificate) -> str:
    """Whether the unit may ship, who said so, and what keeps it."""
    keeping = ", ".join(str(item.number) for item in certificate.open_before_shipping)
    release = certificate.facts.release
    if release is None:
        return f"Not released for shipping{f': item {keeping} of category A is open' if keeping else ''}."
    text = f"Released for shipping by {plain(release.name)}, {plain(release.role)}, {moment_text(release.at)}"
    return f"{text}, though item {keeping} of category A is open." if keeping else f"{text}."


def guarantee_sentences(certificate: Certificate, system: str) -> list[str]:
    """What is guaranteed on these readings, and under which conditions."""
    headline = certificate.facts.headline
    if headline is None or certificate.facts.void:
        return [sentence(certificate, system)]
    percent = estimate_text(headline.capability, "fraction", system)
    will = estimate_text(headline.site_evaporation_kg_s, "evaporation", system)
    guaranteed = show(headline.guarantee_kg_s, "evaporation", system)
    found = [
        f"Guaranteed at the site: {guaranteed}, judged for {headline.season} air. On the readings of this test the "
        f"unit evaporates {will} there, {percent} of it. The figure after ± is the expanded uncertainty (95 % "
        "coverage): of the readings, of what was fitted to them, and of carrying that over to the site.",
    ]
    if certificate.facts.guarantee_conditions:
        found.append(f"It holds {'; '.join(plain(one) for one in certificate.facts.guarantee_conditions)}.")
    return found


def _about(certificate: Certificate) -> list[list[str]]:
    facts = certificate.facts
    rows = [
        ("unit", plain(certificate.unit)),
        ("serial number", plain(facts.serial)),
        ("tested", ", ".join(entry for entry in (plain(facts.tested_on), plain(facts.place)) if entry)),
        ("run", f"{facts.head.run}, {facts.kind}"),
        ("record up to", f"event {facts.head.sequence}, {moment_text(facts.made_at)}"),
        ("dry run", plain(facts.dry_run)),
        ("made by", f"vaporwright {facts.tool_version}"),
    ]
    return [[name, value] for name, value in rows if value]


def _groups(digits: str) -> list[str]:
    return [digits[place : place + 16] for place in range(0, len(digits), 16)]


def few_rows(performance: PerformanceResult, heat: str, system: str) -> list[list[str]]:
    """The few numbers behind the first one: label, value with its uncertainty, what stands beside it."""
    measured = estimate_text(performance.measured_kg_s, "evaporation", system)
    ratio = performance.measured_kg_s.value / performance.expected_kg_s
    said = beside_text(performance.expected_kg_s, performance.measured_kg_s, "evaporation", system)
    expected = f"expected {said}; measured is {100.0 * ratio:.1f} % of it"
    rows = [["Evaporation on the day", measured, expected]]
    for entry in performance.seasons:
        where = (
            ""
            if entry.settling_temperature_K is None
            else (f"tank settles at {estimate_text(entry.settling_temperature_K, 'temperature', system)}")
        )
        rows.append(
            [f"At the site, {entry.season}", estimate_text(entry.evaporation_kg_s, "evaporation", system), where]
        )
    if performance.evaporation_per_heat_kg_J is not None:
        of = f"of {HEAT_WORDS[heat]}"
        rows.append(["Evaporation per heat", per_heat_text(performance.evaporation_per_heat_kg_J, system), of])
    return rows


def per_heat_text(estimate: Estimate, system: str) -> str:
    """Evaporation per heat drawn: gallons per 100,000 Btu, or kilograms per megajoule."""
    per_kg = 1.0 / shown_unit("evaporation", US).si_per_unit / 3600.0 if system == US else 1.0
    factor = per_kg * PER_HEAT_J[system]
    value = estimate.value * factor
    if not estimate.expanded_uncertainty:
        return f"{fixed(value, places(value, 3))} {PER_HEAT_UNIT[system]}"
    size = estimate.expanded_uncertainty * factor
    return f"{fixed(value, places(size))} ± {fixed(size, places(size))} {PER_HEAT_UNIT[system]}"


def _result(row: ResultRow, system: str) -> list[str]:
    allowed = limits_text(row.low, row.high, row.quantity, system)
    said = "" if not row.expected else beside_text(row.expected, row.measured, row.quantity, system)
    expected = f"expected {said}" if said else ""
    texts = [expected, f"allowed {allowed}" if allowed else ""]
    return [plain(row.label), estimate_text(row.measured, row.quantity, system), "; ".join(filter(None, texts))]


def _run_notes(performance: PerformanceResult) -> list[str]:
    notes = [plain(note) for note in performance.notes]
    if performance.steady_from and performance.steady_to:
        notes.insert(0, f"Steady from {moment_text(performance.steady_from)} to {moment_text(performance.steady_to)}.")
    return [f"Performance run: {performance.outcome}.", *notes]


def _departure(one: Departure, system: str) -> dict[str, Any]:
    def size(difference: float) -> str:
        unit = "K" if one.quantity == "temperature" and system == SI else shown_unit(one.quantity, system).text
        shown = size_shown(difference, one.quantity, system)
        return f"{without_zeros(fixed(shown, places(size_shown(one.most, one.quantity, system), 3)))} {unit}".rstrip()

    return {
        "cells": [
            plain(one.label),
            trimmed(one.at_test, one.quantity, system),
            trimmed(one.at_guarantee, one.quantity, system),
            size(one.at_test - one.at_guarantee),
            f"at most {size(one.most)}",
        ],
        "within": one.within,
    }


def _sections(certificate: Certificate) -> list[dict[str, Any]]:
    return [
        {
            "number": str(place),
            "title": plain(section.title),
            "counts": [str(section.counts[outcome] or "") for outcome in _columns()],
            "outcome": section.outcome,
            "passes": section.outcome in PASSES,
        }
        for place, section in enumerate(certificate.sections, 1)
    ]


def _columns() -> Sequence[Outcome]:
    """Outcomes as columns, the good ones first."""
    return (ACCEPTED, IN_GUARD_BAND, *(outcome for outcome in OUTCOMES if outcome not in PASSES))


def _deviations(certificate: Certificate) -> list[list[str]]:
    numbers = {
        step.step.key: f"{place}.{count}"
        for place, section in enumerate(certificate.sections, 1)
        for count, step in enumerate(section.steps, 1)
    }
    return [
        [
            "whole test" if one.step == WHOLE_TEST else numbers[one.step],
            plain(one.text),
            f"agreed by {plain(one.agreed_by)}" + (f", {moment_text(one.when)}" if one.when else ""),
        ]
        for one in certificate.facts.deviations
    ]


def _punch(item: PunchItem) -> dict[str, Any]:
    if item.closed is not None:
        state = f"closed by {plain(item.closed.who)}, {moment_text(item.closed.at)}"
    elif item.accepted_open is not None:
        state = f"left open with consent of {plain(item.accepted_open.who)}, {moment_text(item.accepted_open.at)}"
    else:
        state = "open"
    evidence = item.closed or item.accepted_open
    words = "" if evidence is None else plain(evidence.words)
    return {
        "category": item.category,
        "means": PUNCH_CATEGORIES[item.category],
        "number": str(item.number),
        "text": plain(item.text),
        "owner": plain(item.owner),
        "state": f"{state}: {words}" if words else state,
        "open": item.closed is None,
    }


def _instrument(one: Instrument, system: str) -> list[str]:
    quantity = KINDS[one.kind].quantity
    quantity = "short length" if quantity == "length" else quantity
    parts = []
    if one.expanded and quantity != YES_OR_NO:
        shown = size_shown(one.expanded, quantity, system)
        unit = "K" if quantity == "temperature" and system == SI else shown_unit(quantity, system).text
        parts.append(f"{fixed(shown, places(shown))} {unit}".rstrip())
    if one.expanded_relative:
        share = 100.0 * one.expanded_relative
        parts.append(f"{fixed(share, places(share))} % of reading")
    uncertainty = f"± {' + '.join(parts)}, k = {one.coverage_factor:g}" if parts else ""
    return [plain(one.id), plain(one.title), one.kind, plain(one.certificate), uncertainty, one.due]

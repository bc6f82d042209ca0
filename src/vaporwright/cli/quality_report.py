"""How good a procedure is, in the terminal: the share of planted faults found, by which steps."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator

from vaporwright.actions.procedure_quality import QualityReport

WIDTH = 80
MOST_STEPS = 15  # without --full


def quality_text(found: QualityReport, *, full: bool = False) -> str:
    """The report; every fault with the steps that found it with `full`."""
    blocks = [
        f"Procedure of the {found.heat} unit against planted faults\n{'-' * WIDTH}",
        textwrap.fill(_sentence(found), WIDTH),
        "\n".join(_kinds(found)),
        "\n".join(_steps(found, full)),
        "\n".join(_missed(found)),
        "\n".join(_order(found, full)),
    ]
    if full:
        blocks.append("\n".join(_faults(found)))
    caution = (
        "The share is of these planted faults, each of a stated size. It does not say that no other fault can be there,"
        " and it is no functional-safety assessment."
    )
    return "\n\n".join([*blocks, textwrap.fill(caution, WIDTH)])


def _sentence(found: QualityReport) -> str:
    failed, done = found.false_alarms
    total = len(found.findings)
    caught = sum(item.caught for item in found.findings)
    return (
        f"The procedure finds {caught} of {total} planted faults; {len(found.unseen)} change nothing that anyone could"
        f" see: {found.share:.1%} of those that show. A sound unit fails {failed} of {done} steps by chance."
    )


def _kinds(found: QualityReport) -> Iterator[str]:
    yield f"{'kind of fault':<44}{'found':>10}{'unseen':>12}{'missed':>12}"
    for kind, (caught, unseen, missed) in found.by_kind.items():
        yield f"{kind[:43]:<44}{caught:>10}{unseen:>12}{missed:>12}"


def _steps(found: QualityReport, full: bool) -> Iterator[str]:
    by_step = Counter(step for item in found.findings for step in item.steps)
    yield f"{'step':<56}{'finds':>10}{'alone':>12}"
    for step, count in by_step.most_common(None if full else MOST_STEPS):
        yield f"{step[:55]:<56}{count:>10}{found.only_by.get(step, 0):>12}"
    if not full and len(by_step) > MOST_STEPS:
        yield f"({len(by_step) - MOST_STEPS} more with --full)"


def _missed(found: QualityReport) -> Iterator[str]:
    if not found.survivors:
        yield "No fault that shows slips through."
    for item in found.survivors:
        yield textwrap.fill(f"missed: {item.fault.name}", WIDTH, subsequent_indent="  ")


def _order(found: QualityReport, full: bool) -> Iterator[str]:
    choice = found.choice
    yield textwrap.fill(
        f"The whole procedure takes {found.minutes / 60.0:.1f} h in {found.steps} steps. The shortest choice that"
        f" finds as many takes {choice.minutes / 60.0:.1f} h in {len(choice.steps)}"
        f" ({'no shorter one exists' if choice.exact else f'none under {choice.least_minutes / 60.0:.1f} h exists'}).",
        WIDTH,
    )
    yield f"{'in the order that finds most per minute':<56}{'min':>10}{'found':>12}"
    for place in found.order if full else found.order[:MOST_STEPS]:
        yield f"{place.step[:55]:<56}{place.minutes:>10.0f}{place.found:>12}"
    if not full and len(found.order) > MOST_STEPS:
        yield f"({len(found.order) - MOST_STEPS} more with --full)"


def _faults(found: QualityReport) -> Iterator[str]:
    yield "Every fault and the steps that found it"
    for item in found.findings:
        words = ", ".join(item.steps) or (
            f"nobody could see it: {item.fault.unseen}" if item.fault.unseen else "nothing"
        )
        yield textwrap.fill(f"{item.fault.name}: {words}", WIDTH, subsequent_indent="    ")

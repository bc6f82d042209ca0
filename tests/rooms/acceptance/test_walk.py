"""A step is walked through in the order of its deeds: what is seen after a deed stands with that deed."""

from __future__ import annotations

from dataclasses import replace

from vaporwright.acceptance.steps.procedure import YES_OR_NO, ReadingField, Step
from vaporwright.acceptance.steps.walk import look, parts_of


def field(key: str, label: str) -> ReadingField:
    return ReadingField(key, label, YES_OR_NO)


STEP = Step(
    "rows.low",
    "Low level",
    "",
    ("Bring the unit to: running.", look("before"), "Lift the rod.", look("then"), "Push reset.", look("reset pushed")),
    (
        field("before", "before: pump on"),
        field("then", "then: pump off"),
        field("delay", "from cause to effect"),
        field("then_alarm", "then: alarm listed"),
        field("reset", "reset pushed: pump off"),
    ),
    minutes=2.0,
)


def walked(step: Step) -> list[tuple[tuple[str, ...], list[str]]]:
    return [(part.deeds, [one.key for one in part.fields]) for part in parts_of(step)]


def test_each_look_stands_with_the_deed_before_it_and_a_timing_with_the_first_effect() -> None:
    assert walked(STEP) == [
        (("Bring the unit to: running.",), ["before"]),
        (("Lift the rod.",), ["then", "then_alarm", "delay"]),
        (("Push reset.",), ["reset"]),
    ]


def test_deeds_after_the_last_look_are_not_lost() -> None:
    longer = replace(STEP, actions=(*STEP.actions, "Hang the rod back."))
    assert walked(longer)[-1] == (("Hang the rod back.",), [])


def test_a_step_whose_looks_and_labels_do_not_match_stays_whole() -> None:
    unlike = replace(STEP, fields=STEP.fields[:-1])  # nothing is read at the last look
    assert walked(unlike) == [(STEP.actions, ["before", "then", "delay", "then_alarm"])]


def test_a_step_without_looks_is_one_part() -> None:
    plain = replace(STEP, actions=("Open the valve.", "Read the gauge."))
    assert walked(plain) == [(plain.actions, [one.key for one in STEP.fields])]

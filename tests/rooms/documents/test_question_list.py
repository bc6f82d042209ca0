"""The list of questions as plain text."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporwright.actions.size_job import Outcome, size_job
from vaporwright.documents.question_list import question_list_text

EXAMPLE = Path(__file__).parents[3] / "examples" / "tumbling_effluent_gas.toml"


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    return size_job(EXAMPLE)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_every_question_is_there_with_what_was_assumed(outcome: Outcome, system: str) -> None:
    text = question_list_text(outcome.answer.job, outcome.questions, system)
    flat = " ".join(text.split())
    for question in outcome.questions:
        assert question.text in flat
    assert flat.count("(assumed ") == len(outcome.questions)
    assert all(len(line) <= 76 for line in text.splitlines())
    assert ("°F" in text) == (system == "US")


def test_nothing_left_to_ask_is_said(outcome: Outcome) -> None:
    assert "Nothing is left to ask" in question_list_text(outcome.answer.job, (), "US")

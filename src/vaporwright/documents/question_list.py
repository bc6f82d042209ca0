"""The questions to the customer as plain text, to be sent: what is asked, and what was assumed meanwhile."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from vaporwright.documents.printed import plain
from vaporwright.documents.sheet_tables import ranked_questions
from vaporwright.unit.job import Job
from vaporwright.unit.questions import Question

WIDTH = 76


def question_list_text(job: Job, questions: Sequence[Question], system: str) -> str:
    """The list, most important first; one question a paragraph."""
    customer, name = (plain(job.text(key)) for key in ("job.customer", "job.name"))
    if not questions:
        return f"Questions about: {name}\n\nNothing is left to ask.\n"
    lines = [f"Questions about: {name}", *([f"For: {customer}"] if customer else []), ""]
    intro = (
        "The answers below would firm up the evaporator's size. Until they are known we go by what is assumed; the "
        "questions that move the answer most come first."
    )
    lines += [textwrap.fill(intro, WIDTH), ""]
    for number, entry in enumerate(ranked_questions(questions, len(questions), system), start=1):
        head = f"{number}. "
        indent = " " * len(head)
        lines.append(textwrap.fill(entry["text"], WIDTH, initial_indent=head, subsequent_indent=indent))
        lines.append(textwrap.fill(f"({entry['assumed']})", WIDTH, initial_indent=indent, subsequent_indent=indent))
    return "\n".join(lines) + "\n"

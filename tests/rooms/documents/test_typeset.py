"""Setting papers one after another, as a server does for weeks."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

LONG_ONES = """
from dataclasses import replace
from pathlib import Path
import invented_acceptance as invented
from vaporwright.documents.procedure_paper import procedure_pdf

def held_MB():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6

def long_paper(number):
    sections = tuple(
        replace(one, key=f"{one.key}{number}x{at}", title=f"{one.title} {number} {at}")
        for at in range(8)
        for one in invented.PROCEDURE.sections
    )
    procedure_pdf(replace(invented.PROCEDURE, sections=sections, job=f"job {number}"), "US")
    return held_MB()

first = long_paper(0)
print(max(long_paper(number) for number in range(1, 5)) - first)
"""


@pytest.mark.slow
def test_a_server_that_sets_paper_after_paper_does_not_keep_them_all() -> None:
    """Without forgetting, each of these long papers stays in memory: some 170 MB each."""
    made = subprocess.run(
        [sys.executable, "-c", LONG_ONES], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
    )
    assert float(made.stdout) < 200.0

"""Twenty people at once for half a minute: no error. How fast they are served, `benchmarks/bench_pages.py` measures."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from finished_shop import FinishedShop

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks"))

from bench_pages import PEOPLE, measure, shown

pytestmark = pytest.mark.slow
SHORT_s = 25.0
LEAST_PAGES = 50


def test_twenty_people_get_their_pages_and_no_error(
    finished: FinishedShop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = measure(finished, tmp_path, PEOPLE, SHORT_s)
    shown(found)
    said = capsys.readouterr().out
    assert not found.wrong, said
    assert len(found.pages_s) >= LEAST_PAGES, said

"""What accepted runs do to a tower's law: they pull it by their weight, shrink its interval, and outliers are named."""

from dataclasses import replace
from pathlib import Path

import pytest

from vaporwright.acceptance.guarantee.refinement import RunPoint, refine
from vaporwright.files.catalogue_edit import write_refined_catalogue
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.catalogue import Fill

DATA = Path(__file__).parents[3] / "src" / "vaporwright" / "files" / "data" / "demo_catalogue.toml"
TOWERS = read_catalogue_file(None).towers
TESTED = next(tower for tower in TOWERS.values() if tower.fill.test_points)
STATED = replace(TESTED.fill, test_points=(), tested_ratio_low=1.5, tested_ratio_high=4.0, tested_water_high_K=320.0)


def run(name: str, ratio: float, share_of_law: float, share: float = 0.04) -> RunPoint:
    number = TESTED.fill.merkel_coefficient * ratio**TESTED.fill.merkel_exponent * share_of_law
    return RunPoint(name, "0" * 64, ratio, number, share)


@pytest.mark.parametrize("fill", [TESTED.fill, STATED], ids=["raw points", "stated law"])
def test_runs_pull_the_law_between_what_was_and_what_they_say(fill: Fill) -> None:
    found = refine(fill, [run(str(number), 2.2 + 0.3 * number, 0.85) for number in range(5)])
    assert 0.85 < found.change_at(2.8) < 0.93
    assert found.after_coefficient.high - found.after_coefficient.low < (
        found.before_coefficient.high - found.before_coefficient.low
    )
    assert found.outliers == ()


def test_a_better_run_weighs_more() -> None:
    poor, good = (refine(STATED, [run("a", 2.8, 0.85, share)]).change_at(2.8) for share in (0.15, 0.02))
    assert good < poor < 1.0
    assert good < 0.90


def test_without_points_the_law_is_best_known_where_it_was_tested() -> None:
    # A run at the middle of the tested range moves the level there and leaves the exponent alone.
    middle = (1.5 * 4.0) ** 0.5
    found = refine(STATED, [run("a", middle, 0.9, 0.01)])
    assert found.after.exponent == pytest.approx(STATED.merkel_exponent, abs=1e-12)
    assert found.change_at(middle) < 0.93


def test_a_run_far_off_is_named_and_stays_in() -> None:
    runs = [*(run(str(number), 2.2 + 0.2 * number, 1.0) for number in range(6)), run("odd", 2.5, 0.6)]
    found = refine(TESTED.fill, runs)
    assert found.outliers == ("odd",)
    assert len(found.runs) == 7
    assert found.change_at(2.5) < refine(TESTED.fill, runs[:-1]).change_at(2.5)


def test_what_is_no_set_of_runs_is_refused() -> None:
    with pytest.raises(InputError, match="at least one"):
        refine(STATED, [])
    with pytest.raises(InputError, match="given twice"):
        refine(STATED, [run("a", 2.0, 1.0), run("a", 2.5, 1.0)])
    with pytest.raises(InputError, match="poppe"):
        refine(replace(STATED, model="merkel"), [run("a", 2.0, 1.0)])
    with pytest.raises(OutOfRange, match="standard_share"):
        RunPoint("a", "0" * 64, 2.0, 0.2, 0.0)


def test_the_copy_of_the_catalogue_has_the_new_law_and_nothing_else_new(tmp_path: Path) -> None:
    target = tmp_path / "shop.toml"
    write_refined_catalogue(DATA, target, TESTED.part_id, 0.30123, -0.5432, "refined from 3 accepted runs")
    after = read_catalogue_file(target).towers
    assert (after[TESTED.part_id].fill.merkel_coefficient, after[TESTED.part_id].fill.merkel_exponent) == (
        0.3012,
        -0.5432,
    )
    old, new = DATA.read_text("utf-8").split("\n"), target.read_text("utf-8").split("\n")
    assert [line for line in new if line not in old] == [
        "# refined from 3 accepted runs",
        "merkel_coefficient = 0.3012",
        "merkel_exponent = -0.5432",
    ]
    assert len(new) == len(old) + 1
    assert {name: tower for name, tower in after.items() if name != TESTED.part_id} == {
        name: tower for name, tower in TOWERS.items() if name != TESTED.part_id
    }


def test_a_catalogue_is_never_overwritten_and_an_unknown_tower_is_named(tmp_path: Path) -> None:
    target = tmp_path / "shop.toml"
    target.write_text("mine")
    with pytest.raises(InputError, match="exists already"):
        write_refined_catalogue(DATA, target, TESTED.part_id, 0.3, -0.5, "note")
    assert target.read_text() == "mine"
    with pytest.raises(InputError, match="'T99' is no tower"):
        write_refined_catalogue(DATA, tmp_path / "other.toml", "T99", 0.3, -0.5, "note")

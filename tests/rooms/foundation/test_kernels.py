"""Kernels: compiled twins equal their Python, and the cache never gives a stale answer."""

from __future__ import annotations

import inspect
import math
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

import vaporwright
from vaporwright.equipment import counterflow_solver, tower_kernels
from vaporwright.equipment.tower import rate_counterflow, rate_counterflow_batch
from vaporwright.foundation import kernels
from vaporwright.foundation.errors import OutOfRange
from vaporwright.foundation.kernels import cache_folder, compiled, is_kernel, kernel
from vaporwright.properties import moist_air_kernels
from vaporwright.properties.moist_air import enthalpy_J_kg

PACKAGE = Path(vaporwright.__file__).parent

# Water [K], L/G, air [K], its humidity ratio, pressure [Pa], Merkel number, water activity: cool and hot, thin air,
# mist, brine, and the corners of the range.
ROWS = [
    (313.15, 1.2, 303.15, 0.013, 101325.0, 1.0, 1.0),
    (338.15, 3.0, 293.15, 0.0073, 101325.0, 0.25, 1.0),
    (333.15, 2.5, 293.15, 0.0088, 84556.0, 0.2, 0.9),
    (353.15, 6.0, 258.15, 0.0008, 101325.0, 0.5, 0.8),
    (365.0, 25.0, 308.15, 0.02, 101325.0, 0.05, 1.0),
    (303.15, 0.35, 275.15, 0.0043, 95000.0, 4.0, 1.0),
    (320.15, 2.0, 293.15, 0.025, 101325.0, 0.3, 1.0),  # foggy air
]


def flat(thing: object) -> list[float]:
    return [float(part) for part in thing] if isinstance(thing, tuple) else [float(thing)]  # type: ignore[arg-type]


def assert_twins(function: Callable[..., object], *arguments: object) -> None:
    python, twin = flat(function(*arguments)), flat(compiled(function)(*arguments))
    assert twin == pytest.approx(python, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("row", ROWS)
def test_tower_solution_compiled_equals_python(row: tuple[float, ...]) -> None:
    water_K, ratio, air_K, humidity, pressure, merkel, activity = row
    air_J_kg = enthalpy_J_kg(air_K, humidity, pressure)
    arguments = (water_K, ratio, air_J_kg, humidity, air_K, 1.0, pressure, merkel, activity)
    assert counterflow_solver.solve_counterflow(*arguments).status == tower_kernels.SOLVED
    assert_twins(counterflow_solver.solve_counterflow, *arguments)


@pytest.mark.parametrize("row", ROWS)
def test_properties_compiled_equal_python(row: tuple[float, ...]) -> None:
    water_K, _, air_K, humidity, pressure, _, activity = row
    assert_twins(moist_air_kernels.saturated_humidity_ratio_kg_kg, water_K, pressure, activity)
    assert_twins(moist_air_kernels.moist_air_enthalpy_J_kg, air_K, humidity, pressure)
    assert_twins(tower_kernels.lewis_factor, 0.1, humidity)
    air_J_kg = enthalpy_J_kg(air_K, humidity, pressure)
    assert_twins(moist_air_kernels.air_state_from_enthalpy, air_J_kg, humidity, pressure, air_K, False, 1e-5)


def test_one_twin_a_process() -> None:
    assert compiled(tower_kernels.lewis_factor) is compiled(tower_kernels.lewis_factor)


def test_marking_returns_the_function_itself() -> None:
    def plain(x: float) -> float:
        return 2.0 * x

    assert not is_kernel(plain)
    assert kernel(plain) is plain
    assert is_kernel(plain)
    assert compiled(plain)(1.5) == 3.0


def test_unmarked_function_is_refused() -> None:
    def unmarked(x: float) -> float:
        return x

    for thing in (unmarked, math.sqrt, pytest.approx):
        with pytest.raises(TypeError, match="is not marked as a kernel"):
            compiled(thing)


def test_every_kernel_keeps_the_rules() -> None:
    # Positional arguments only, none of them a function, and no library but math among the names used.
    import importlib
    import pkgutil

    found = 0
    for info in pkgutil.walk_packages(vaporwright.__path__, "vaporwright."):
        if info.name.split(".")[1] not in ("foundation", "properties", "equipment", "unit", "season"):
            continue
        module = importlib.import_module(info.name)
        for name, function in vars(module).items():
            if not is_kernel(function) or function.__module__ != info.name:
                continue
            found += 1
            where = f"{info.name}.{name}"
            for parameter in inspect.signature(function).parameters.values():
                assert parameter.kind is inspect.Parameter.POSITIONAL_OR_KEYWORD, where
                assert "Callable" not in str(parameter.annotation), where
            for used in kernels._global_names(function.__code__):
                thing = function.__globals__.get(used)
                assert not inspect.ismodule(thing) or thing is math, f"{where} uses {used}"
                plain_function = inspect.isfunction(thing) and not is_kernel(thing)
                assert not plain_function, f"{where} calls {used}, which is no kernel"
    assert found > 30


@pytest.fixture
def fresh_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    """A copy of the package for cache_folder to look at, a cache of its own, and nothing remembered."""
    copy = tmp_path / "vaporwright"
    for room in ("foundation", "properties", "equipment", "unit", "files"):
        shutil.copytree(PACKAGE / room, copy / room, ignore=shutil.ignore_patterns("__pycache__", "data"))
    monkeypatch.setattr(kernels, "__file__", str(copy / "foundation" / "kernels.py"))
    monkeypatch.setenv("VAPORWRIGHT_CACHE", str(tmp_path / "cache"))
    cache_folder.cache_clear()
    yield copy
    cache_folder.cache_clear()


def folder_now() -> Path:
    cache_folder.cache_clear()
    folder = cache_folder()
    assert folder is not None
    return folder


def test_cache_folder_follows_the_text_of_the_physics(fresh_folder: Path) -> None:
    before = folder_now()
    assert before.is_dir()
    assert before.parent == fresh_folder.parent / "cache" / "vaporwright"
    assert folder_now() == before
    seen = {before}
    for changed in ("foundation/constants.py", "properties/moist_air_kernels.py", "equipment/tower_kernels.py"):
        path = fresh_folder / changed
        path.write_text(path.read_text().replace("0.", "0.0", 1))
        seen.add(folder_now())
    assert len(seen) == 4
    # What holds no kernels leaves the folder alone.
    path = fresh_folder / "files" / "values.py"
    path.write_text(path.read_text() + "\n# changed\n")
    assert folder_now() in seen


@pytest.mark.usefixtures("fresh_folder")
def test_cache_folder_is_where_the_environment_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("VAPORWRIGHT_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert folder_now().parent == tmp_path / "xdg" / "vaporwright"
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    assert folder_now().parent == tmp_path / "home" / ".cache" / "vaporwright"


@pytest.mark.usefixtures("fresh_folder")
def test_unwritable_cache_turns_caching_off(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import numba

    file = tmp_path / "a file"
    file.write_text("no folder")
    monkeypatch.setenv("VAPORWRIGHT_CACHE", str(file))
    cache_folder.cache_clear()
    before = numba.config.CACHE_DIR
    assert cache_folder() is None
    assert kernels._prepare_cache(numba) is False
    assert before == numba.config.CACHE_DIR


SCRIPT = """
from vaporwright.foundation.kernels import compiled, cache_folder
from vaporwright.equipment.tower_kernels import lewis_factor
print(compiled(lewis_factor)(0.1, 0.01), lewis_factor(0.1, 0.01), cache_folder())
"""


def run_copy(folder: Path, cache: Path) -> tuple[float, float, str]:
    environment = {**os.environ, "PYTHONPATH": str(folder), "VAPORWRIGHT_CACHE": str(cache)}
    environment |= {"HOME": str(folder), "USERPROFILE": str(folder)}
    environment.pop("NUMBA_CACHE_DIR", None)
    done = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True, env=environment, check=True)
    twin, python, where = done.stdout.split(maxsplit=2)
    return float(twin), float(python), where.strip()


@pytest.mark.slow
def test_a_changed_constant_in_another_file_is_seen(tmp_path: Path) -> None:
    copy, cache = tmp_path / "vaporwright", tmp_path / "cache"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    twin, python, folder = run_copy(tmp_path, cache)
    assert twin == pytest.approx(python, rel=1e-12)
    assert list(Path(folder).rglob("*.nbc"))
    constants = copy / "foundation" / "constants.py"
    text = constants.read_text()
    assert "0.018015268" in text  # molar mass of water, which the Lewis factor takes from there
    constants.write_text(text.replace("0.018015268", "0.028015268"))
    other_twin, other_python, other_folder = run_copy(tmp_path, cache)
    assert other_python != pytest.approx(python, rel=1e-3)
    assert other_twin == pytest.approx(other_python, rel=1e-12)
    assert other_folder != folder


@pytest.mark.slow
def test_nothing_is_written_where_the_cache_cannot_be(tmp_path: Path) -> None:
    shutil.copytree(PACKAGE, tmp_path / "vaporwright", ignore=shutil.ignore_patterns("__pycache__"))
    file = tmp_path / "a file"
    file.write_text("no folder")
    twin, python, folder = run_copy(tmp_path, file)
    assert twin == pytest.approx(python, rel=1e-12)
    assert folder == "None"
    assert not [path for path in tmp_path.rglob("*") if path.suffix in (".nbi", ".nbc")]


def test_one_rating_needs_no_compiler() -> None:
    script = (
        "import sys; from vaporwright.equipment.tower import rate_counterflow; "
        "rate_counterflow(water_temperature_K=333.0, water_flow_kg_s=2.0, air_temperature_K=293.0, "
        "air_humidity_ratio_kg_kg=0.007, dry_air_flow_kg_s=1.0, pressure_Pa=101325.0, merkel_number=0.2); "
        "print([m for m in ('numba', 'numpy', 'scipy', 'pint', 'altair') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def batch(**changed: list[float]) -> dict[str, object]:
    columns = {
        "water_temperature_K": [330.0, 335.0, 340.0, 345.0],
        "water_flow_kg_s": [2.0, 3.0, 4.0, 5.0],
        "air_temperature_K": [293.0] * 4,
        "air_humidity_ratio_kg_kg": [0.007] * 4,
        "dry_air_flow_kg_s": [1.0] * 4,
        "pressure_Pa": [101325.0] * 4,
        "merkel_number": [0.2] * 4,
    }
    return {name: np.array(changed.get(name, values)) for name, values in columns.items()}


@pytest.mark.parametrize("threads", [1, 2])
def test_batch_equals_single_ratings(threads: int) -> None:
    columns = batch()
    got = rate_counterflow_batch(**columns, threads=threads)  # type: ignore[arg-type]
    for row in range(4):
        one = rate_counterflow(**{name: float(values[row]) for name, values in columns.items()})  # type: ignore[index]
        assert got.water_out_temperature_K[row] == pytest.approx(one.water_out_temperature_K, rel=1e-12)
        assert got.evaporation_kg_s[row] == pytest.approx(one.evaporation_kg_s, rel=1e-10)
        assert got.air_out_temperature_K[row] == pytest.approx(one.air_out_temperature_K, rel=1e-12)


@pytest.mark.parametrize(
    ("changed", "row", "message"),
    [
        ({"water_temperature_K": [330.0, 335.0, 380.0, 390.0]}, 2, "water_temperature_K = 380"),
        ({"merkel_number": [0.2, float("nan"), 0.2, 0.2]}, 1, "merkel_number = nan"),
        ({"dry_air_flow_kg_s": [1.0, 1.0, 1.0, 0.0]}, 3, "dry_air_flow_kg_s = 0"),
        ({"water_temperature_K": [280.0, 335.0, 340.0, 345.0]}, 0, "water_temperature_K = 280"),  # colder than wet bulb
    ],
)
def test_batch_error_names_the_row(changed: dict[str, list[float]], row: int, message: str) -> None:
    with pytest.raises(OutOfRange, match=message) as caught:
        rate_counterflow_batch(**batch(**changed))  # type: ignore[arg-type]
    assert caught.value.__notes__ == [f"row {row} of 4"]

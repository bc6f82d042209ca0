"""Speed of ratings as ratios to the SciPy + CoolProp reference, measured in one run (python3 dev.py bench).

A rating is one tower solved. Bare times say little on a shared machine; the ratio to a reference that does the same
work in the same minute does. The reference starts first, so that its imports and saturated-state tables are warm.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from reference import reference_rating

from vaporwright.equipment.crossflow import rate_crossflow, rate_crossflow_batch
from vaporwright.equipment.tower import rate_counterflow, rate_counterflow_batch
from vaporwright.properties.moist_air import humidity_ratio_kg_kg, standard_pressure_Pa

ROWS = 10_000
REFERENCE_ROWS = 12
CROSSFLOW_ROWS = 400
PLAIN_ROWS = 200
TARGETS = {"batch": 1000.0, "difference": 1e-3, "rating_us": 25.0, "plain_ms": 1.0, "threads": 1.8}


def cases(rows: int) -> dict[str, np.ndarray]:
    """Towers as a year or a study meets them: usual water, air, flows and fills."""
    random = np.random.default_rng(20261125)
    pressure = np.array([standard_pressure_Pa(z) for z in random.uniform(0.0, 1800.0, rows)])
    air = random.uniform(265.0, 308.0, rows)
    relative = random.uniform(0.2, 0.95, rows)
    humidity = [humidity_ratio_kg_kg(t, r, p) for t, r, p in zip(air, relative, pressure, strict=True)]
    return {
        "water_temperature_K": random.uniform(315.0, 343.0, rows),
        "water_flow_kg_s": random.uniform(1.5, 5.0, rows),
        "air_temperature_K": air,
        "air_humidity_ratio_kg_kg": np.array(humidity),
        "dry_air_flow_kg_s": np.ones(rows),
        "pressure_Pa": pressure,
        "merkel_number": random.uniform(0.1, 0.45, rows),
        "water_activity": random.uniform(0.92, 1.0, rows),
    }


def row(columns: dict[str, np.ndarray], index: int) -> dict[str, float]:
    return {name: float(column[index]) for name, column in columns.items()}


def seconds(work: Callable[[], Any], repeats: int = 3) -> float:
    """Median time of a few runs."""
    found = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return statistics.median(found)


def start_s(*arguments: str) -> float:
    command = [sys.executable, *arguments]
    return seconds(lambda: subprocess.run(command, capture_output=True, check=False), 5)


def main() -> None:
    columns = cases(ROWS)
    lines: list[tuple[str, str, str]] = []

    reference_rating(**row(columns, 0))
    start = time.perf_counter()
    expected = [reference_rating(**row(columns, index)).evaporation_kg_s for index in range(REFERENCE_ROWS)]
    reference_s = (time.perf_counter() - start) / REFERENCE_ROWS
    lines.append(("reference: one rating, SciPy + CoolProp", f"{reference_s * 1e3:.1f} ms", "1"))

    plain_s = seconds(lambda: [rate_counterflow(**row(columns, i)) for i in range(PLAIN_ROWS)]) / PLAIN_ROWS
    lines.append(("one rating, plain Python", f"{plain_s * 1e3:.2f} ms", f"{reference_s / plain_s:.0f}"))

    start = time.perf_counter()
    first = rate_counterflow_batch(**{name: column[:2] for name, column in columns.items()})
    first_s = time.perf_counter() - start
    batch_s = seconds(lambda: rate_counterflow_batch(**columns))
    each_s = batch_s / ROWS
    lines.append(("first batch of the process (compiling, or from the cache)", f"{first_s:.2f} s", ""))
    lines.append(
        (f"{ROWS:,} ratings, compiled, one core", f"{each_s * 1e6:.1f} us each", f"{reference_s / each_s:.0f}")
    )
    half_s = seconds(lambda: rate_counterflow_batch(**{n: c[: ROWS // 2] for n, c in columns.items()}))
    lines.append(("  time against rows (10,000 over 5,000; linear is 2)", f"{batch_s / half_s:.2f}", ""))
    threads_s = seconds(lambda: rate_counterflow_batch(**columns, threads=2))
    lines.append(
        ("  two threads against one", f"{batch_s / threads_s:.2f} times", f"{reference_s / threads_s * ROWS:.0f}")
    )

    got = rate_counterflow_batch(**columns).evaporation_kg_s
    difference = max(abs(got[i] / expected[i] - 1.0) for i in range(REFERENCE_ROWS))
    lines.append((f"  largest difference in evaporation, {REFERENCE_ROWS} rows", f"{difference:.1e}", ""))
    assert abs(first.evaporation_kg_s[0] / got[0] - 1.0) < 1e-12

    cross = {name: column[:CROSSFLOW_ROWS] for name, column in columns.items()}
    cross_plain_s = seconds(lambda: rate_crossflow(**row(columns, 0)))
    rate_crossflow_batch(**{name: column[:2] for name, column in cross.items()})
    cross_s = seconds(lambda: rate_crossflow_batch(**cross)) / CROSSFLOW_ROWS
    lines.append(
        ("one crossflow rating, plain Python", f"{cross_plain_s * 1e3:.0f} ms", f"{reference_s / cross_plain_s:.1f}")
    )
    lines.append(("crossflow ratings, compiled", f"{cross_s * 1e6:.0f} us each", f"{reference_s / cross_s:.0f}"))

    bare_s = start_s("-c", "pass")
    lines.append(("process start: bare Python", f"{bare_s * 1e3:.0f} ms", ""))
    help_s = start_s("-m", "vaporwright", "--help")
    lines.append(("process start: vaporwright --help", f"{help_s * 1e3:.0f} ms", f"{reference_s / help_s:.1f}"))
    example = Path(__file__).resolve().parent.parent / "examples" / "tumbling_effluent_gas.toml"
    size_s = start_s("-m", "vaporwright", "size", str(example), "--json")
    lines.append(("process start to answer: vaporwright size --json", f"{size_s:.2f} s", f"{reference_s / size_s:.2f}"))

    print(f"{'measured in this run':<62}{'':>16}{'x reference':>14}")
    for name, value, ratio in lines:
        print(f"{name:<62}{value:>16}{ratio:>14}")
    verdicts = {
        "batch at least 1,000 times the reference": reference_s / each_s >= TARGETS["batch"],
        "difference under 0.1 %": difference < TARGETS["difference"],
        "25 us per rating and core": each_s * 1e6 <= TARGETS["rating_us"],
        "1 ms in plain Python": plain_s * 1e3 <= TARGETS["plain_ms"],
        "1.8 times on two threads": batch_s / threads_s >= TARGETS["threads"],
    }
    print(
        "\nTargets: "
        + json.dumps({name: "reached" if met else "NOT reached" for name, met in verdicts.items()}, indent=1)
    )


if __name__ == "__main__":
    main()

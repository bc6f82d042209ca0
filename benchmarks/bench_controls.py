"""Speed of the control: scans of the engine against the reference interpreter, plant time against wall time.

The reference reads the table as it is written (controls.scan.scanned) and runs the same scans in the same minute.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np

from vaporwright.actions.control_job import control_job
from vaporwright.controls.rehearsal import rehearse, rig_of
from vaporwright.controls.scan import Engine, power_up, scanned
from vaporwright.files.script_library import library_scripts

SCANS, REFERENCE_SCANS = 400_000, 2_000
TARGET_SCANS_s = 500_000.0
DAY = "A day with refill cycles"


def main() -> int:
    example = Path(__file__).resolve().parent.parent / "examples" / "tumbling_effluent_gas.toml"
    controlled = control_job(example)
    table = controlled.table
    inputs = np.random.default_rng(20261125).random((SCANS, len(table.signals))) < 0.5
    engine = Engine(table)
    engine.run(inputs[:2])  # compiled, or from the cache
    start = time.perf_counter()
    record = engine.run(inputs)
    engine_s = (time.perf_counter() - start) / SCANS
    state = power_up(table)
    start = time.perf_counter()
    for row in inputs[:REFERENCE_SCANS]:
        state = scanned(table, state, dict(zip(table.signals, row.tolist(), strict=True)))
    reference_s = (time.perf_counter() - start) / REFERENCE_SCANS
    fresh = Engine(table).run(inputs[:REFERENCE_SCANS])
    last = dict(zip(table.names, fresh[-1].tolist(), strict=True))
    assert last == {name: state.values[name] for name in table.names}
    assert record.shape[0] == SCANS

    rig = rig_of(controlled.answer, controlled.unit)
    script = next(entry for entry in library_scripts() if entry.name == DAY)
    rehearse(script, rig)
    found = rehearse(script, rig)
    print(f"{'measured in this run':<62}{'':>16}{'x reference':>14}")
    print(f"{'reference: one scan, the table read as written':<62}{f'{reference_s * 1e6:.0f} us':>16}{'1':>14}")
    scans = f"{len(table.items)} items, {1.0 / engine_s:,.0f} scans/s"
    print(f"{'one scan, compiled interpreter':<62}{f'{engine_s * 1e6:.2f} us':>16}{reference_s / engine_s:>14.0f}")
    print(f"  {scans}")
    hours = f"{found.plant_time_s / 3600.0:.0f} h of plant time in {found.wall_time_s:.1f} s"
    print(f"{'rehearsal of a day with refills, plant time over wall time':<62}{f'{found.speed:,.0f} times':>16}")
    print(f"  {hours}")
    verdicts = {"500,000 scans/s": 1.0 / engine_s >= TARGET_SCANS_s}
    print("\nTargets: " + json.dumps({name: "reached" if met else "NOT reached" for name, met in verdicts.items()}))
    return 0


if __name__ == "__main__":
    sys.exit(main())

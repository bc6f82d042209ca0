"""An invented unit's own table for tests, and a bench that runs it scan by scan with a plant that answers at once."""

from __future__ import annotations

from functools import lru_cache
from itertools import product

from invented_unit import unit
from vaporwright.controls.delays import delays_of
from vaporwright.controls.expansion import expanded
from vaporwright.controls.expressions import evaluate
from vaporwright.controls.scan import Engine
from vaporwright.controls.set_points import set_points_of
from vaporwright.controls.table import Table
from vaporwright.controls.unit_properties import healthy_plant
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.controls.unit_table import UnitTable, unit_table_of
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.heat import HeatKind
from vaporwright.unit.job import build_job

HEATS: tuple[HeatKind, ...] = ("gas", "electric", "steam")
STOPS = UnitOptions("stop the unit", "by reset", warm_up=False)
BARE = UnitOptions(warm_up=False, refill_by_hand=False, drain=False, filter_press=False)


def every_option() -> tuple[UnitOptions, ...]:
    """All 64 of them."""
    high, low = ("keep evaporating", "stop the unit"), ("at refill-off", "by reset")
    return tuple(UnitOptions(*given) for given in product(high, low, *((True, False),) * 4))  # type: ignore[arg-type]


@lru_cache(maxsize=1)
def invented_answer() -> UnitAnswer:
    return answer_for(build_job({"duty.volume": 8.6e-6}), unit())


@lru_cache(maxsize=256)
def unit_control(heat: HeatKind = "gas", options: UnitOptions | None = None) -> UnitTable:
    """The table of the invented unit, as though it had that heat."""
    answer, chosen = invented_answer(), options or UnitOptions()
    return unit_table_of(heat, chosen, set_points_of(answer), delays_of(answer, dict(chosen.delays)))


@lru_cache(maxsize=256)
def unit_plain(heat: HeatKind = "gas", options: UnitOptions | None = None) -> Table:
    return expanded(unit_control(heat, options).design)


class Bench:
    """The table with hands on it. A signal is what was set, else what a healthy plant makes of the scan before."""

    def __init__(self, heat: HeatKind = "gas", options: UnitOptions | None = None, *, running: bool = True) -> None:
        self.control, self.table = unit_control(heat, options), unit_plain(heat, options)
        self.engine = Engine(self.table)
        self.plant = healthy_plant(self.control)
        self.set: dict[str, bool] = {"refill_on_rod": True, "refill_off_rod": False, "refill_auto": True}
        self.now = self.engine.state().values
        self.scans = 0
        if running:
            self.restore().start().after(26.0)
            assert self["heat"], "the bench's unit does not start"

    def __getitem__(self, name: str) -> bool:
        return self.now[name]

    def after(self, seconds: float, **signals: bool) -> Bench:
        """Go on for that long with these signals held from now on."""
        assert set(signals) <= set(self.table.signals)
        self.set |= signals
        for _ in range(round(seconds / self.table.scan_s)):
            answers = {name: evaluate(expr, {}, self.now) for name, expr in self.plant.items()}
            self.now = self.engine.scan({**answers, **self.set})
            self.scans += 1
        return self

    def free(self, *names: str) -> Bench:
        """Let the plant answer for these signals again."""
        for name in names:
            self.set.pop(name, None)
        return self

    def push(self, button: str) -> Bench:
        return self.after(0.2, **{button: True}).after(0.2, **{button: False})

    def restore(self) -> Bench:
        """Acknowledge, then reset: trips and control relay."""
        return self.push("acknowledge").push("reset")

    def start(self) -> Bench:
        return self.after(0.2, blower_auto=True, pump_auto=True, heat_auto=True).push("start")

    def on(self) -> set[str]:
        """What runs, heats or is open."""
        return {column.name for column in self.control.design.columns if self[column.name]} - {"control_on", "run"}

    def standing(self) -> set[str]:
        """Alarm rows and trips that stand."""
        return {row.name for row in self.control.design.rows if (row.alarm or row.first_out) and self[row.name]}

    def first_out(self) -> set[str]:
        return {row for latch, row in self.table.first_out.items() if self[latch]}

    def seconds_until(self, name: str, value: bool, most: float = 400.0) -> float:
        """How long until an item is so, to a scan."""
        began = self.scans
        while self[name] != value:
            self.after(self.table.scan_s)
            assert (self.scans - began) * self.table.scan_s <= most, f"{name} never becomes {value}"
        return round((self.scans - began) * self.table.scan_s, 6)

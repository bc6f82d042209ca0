"""The pages of control as tests work them: the gas job prepared at once, units that go on when a test says so."""

from __future__ import annotations

import threading
from typing import Any

from vaporwright.actions.control_desk import prepared
from vaporwright.actions.job_book import demo_job_text
from vaporwright.foundation.telling import unheard
from vaporwright.store.job_store import Texts
from vaporwright.web.controlled import Controlled
from vaporwright.web.running.kept import RunningUnits
from vaporwright.web.running.unit import Pace, RunningUnit
from vaporwright.web.working import TaskState
from web_client import Browser, Site

GAS = "Tumbling effluent"


class Inline:
    """Work done at once in this process; a task is told of twice: under way, then done."""

    def __init__(self) -> None:
        self.asked: dict[str, int] = {}
        self.results: dict[str, Any] = {}

    def run(self, function: Any, *arguments: Any) -> Any:
        return function(*arguments)

    def start(self, owner: str, function: Any, *arguments: Any) -> str:
        assert owner == "controls"
        name = f"task {len(self.results)}"
        self.asked[name] = 0
        try:
            self.results[name] = function(unheard, *arguments)
        except Exception as error:
            self.results[name] = error
        return name

    def task(self, owner: str, task: str) -> TaskState:
        assert owner == "controls"
        self.asked[task] += 1
        if self.asked[task] == 1:
            return TaskState(task, 2.0, False, "Proving", 4, 10)
        result = self.results[task]
        failed = isinstance(result, Exception)
        return TaskState(task, 2.0, True, result=None if failed else result, error=result if failed else None)


class AtOnce(Pace):
    """No time passes but what is waited for."""

    def __init__(self) -> None:
        self.at = 0.0

    def now(self) -> float:
        return self.at

    def wait(self, condition: threading.Condition, seconds: float) -> None:
        del condition
        self.at += seconds


class Desk:
    """The demo jobs, prepared at once, and units that go on when a test says so."""

    def __init__(self, place: Site) -> None:
        self.site = place
        self.browser: Browser = place.browser()
        self.browser.post("/jobs/demo")
        self.controlled = place.app.state.controlled = Controlled(
            Inline(),  # type: ignore[arg-type]
            RunningUnits(3, AtOnce(), threads=False),
        )
        self.job = next(one.job.id for one in place.shop.book.listed() if GAS in one.job.name)
        self.base = f"/jobs/{self.job}/controls"
        entry = self.controlled.entry(self.job, 1, Texts(demo_job_text("tumbling_effluent_gas")))
        entry.prepared = gas()

    @property
    def unit(self) -> RunningUnit:
        """The one that was begun last."""
        return list(self.controlled.units._units.values())[-1]

    def turns(self, count: int) -> None:
        for _ in range(count):
            self.unit.looked_at()
            self.unit.turn()

    def state(self, browser: Browser | None = None, **more: Any) -> dict[str, Any]:
        answer = (browser or self.browser).get(f"{self.base}/run/state", params=more)
        assert answer.status_code == 200
        found: dict[str, Any] = answer.json()
        return found

    def deed(self, deed: str) -> Any:
        return self.browser.post(f"{self.base}/run/deed", {"deed": deed}, headers={"Accept": "application/json"})

    def begin(self, task: str = "") -> None:
        if task:
            self.browser.post("/who", {"name": "Pat"})  # results are kept under a name
        path = f"{self.base}/train/{task}/begin" if task else f"{self.base}/run/begin"
        assert self.browser.post(path).status_code == 200
        self.unit.prepare()

    def is_on(self, name: str) -> bool:
        return bool(self.state()["bits"][self.unit.rig.table.names.index(name)] == "1")


_KNOWN: dict[str, Any] = {}


def gas() -> Any:
    if "gas" not in _KNOWN:
        _KNOWN["gas"] = prepared(unheard, Texts(demo_job_text("tumbling_effluent_gas")))
    return _KNOWN["gas"]

"""A trainee without a page: deeds on a simulated unit as a task hands it over, and the attempt that judges them."""

from __future__ import annotations

from example_rigs import example_rig
from vaporwright.actions.at_hand import deed_of
from vaporwright.actions.training import begin, look_of, work_deeds, work_of
from vaporwright.actions.training_tasks import TASK_OF
from vaporwright.controls.deeds import act

PANEL = ("push", "turn", "pull", "reset")


class Trainee:
    """Works at a task; each deed is followed by a few seconds of the unit."""

    def __init__(self, task: str, heat: str) -> None:
        self.rig = example_rig(heat)
        self.unit, self.attempt = begin(TASK_OF[task], self.rig)

    def does(self, *deeds: str) -> Trainee:
        """`push start`, `turn blower off`, `work belt`, `look pump`, `answer belt`, `wait 60`, `until heat`."""
        for text in deeds:
            verb, _, rest = text.partition(" ")
            if verb == "answer":
                self.attempt.answer(rest, self.unit.time_s)
            elif verb == "wait":
                self.goes_on(float(rest))
            elif verb == "until":
                self.waits_for(rest)
            elif verb == "look":
                look_of(self.rig, rest).seen(self.unit)
                self.attempt.deed(text, self.unit.value, self.unit.time_s)
            elif verb == "work":
                work = work_of(self.rig, rest)
                self.attempt.work(work, self.unit.value, self.unit.time_s)
                for deed in work_deeds(work):
                    act(self.unit, deed.verb, deed.target, deed.value)
                self.goes_on(2.0)
            else:
                self.hand(verb, rest)
        return self

    def hand(self, verb: str, rest: str) -> None:
        target, _, value = rest.rpartition(" ") if verb == "turn" else ("", "", rest)
        deed = deed_of(self.rig, verb, target, value, "SI")
        self.attempt.deed(deed.key, self.unit.value, self.unit.time_s)
        act(self.unit, deed.verb, deed.target, deed.value)
        self.goes_on(2.0)
        if verb == "push" and value != "emergency stop":
            act(self.unit, "pull", "", value)
            self.goes_on(1.0)

    def goes_on(self, seconds: float) -> None:
        for number in range(round(seconds)):
            self.unit.second(_nothing, due=number == 0)
            self.attempt.second(self.unit.value, self.unit.sample(), self.unit.time_s)

    def waits_for(self, name: str, most_s: float = 12.0 * 3600.0) -> None:
        wanted = not name.startswith("not ")
        name = name.removeprefix("not ")
        for _ in range(round(most_s)):
            if self.unit.value(name) == wanted or self.attempt.verdict != "at work":
                return
            self.goes_on(1.0)
        raise AssertionError(f"{name} never becomes {wanted}")


def _nothing(scan: int) -> None:
    del scan

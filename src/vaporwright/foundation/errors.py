"""Errors that name what is wrong, where, the value, its unit and what is allowed."""

from __future__ import annotations

from typing import Any


class VaporwrightError(Exception):
    """Base of all errors that this package raises on purpose."""

    def __reduce__(self) -> tuple[Any, ...]:
        """Errors come back whole from other processes: their message alone does not make them again."""
        return _made_again, (type(self), self.args, self.__dict__)


def _made_again(kind: type[VaporwrightError], args: tuple[Any, ...], state: dict[str, Any]) -> VaporwrightError:
    made = kind.__new__(kind, *args)
    made.__dict__.update(state)
    return made


class OutOfRange(VaporwrightError, ValueError):
    """A value lies outside the range in which an equation or a part may be used.

    Args:
        name: the argument or quantity, with its unit suffix.
        value: the offending value, in that unit.
        low, high: the allowed range; None where a side is open.
        reason: what sets the limit (source, equation, part).
    """

    def __init__(self, name: str, value: float, low: float | None, high: float | None, reason: str = "") -> None:
        self.name, self.value, self.low, self.high, self.reason = name, value, low, high, reason
        if low is not None and high is not None:
            allowed = f"allowed {low:.6g} to {high:.6g}"
        elif low is not None:
            allowed = f"allowed at least {low:.6g}"
        elif high is not None:
            allowed = f"allowed at most {high:.6g}"
        else:
            allowed = "not allowed"
        because = f" ({reason})" if reason else ""
        super().__init__(f"{name} = {value:.6g}: {allowed}{because}")


class NotConverged(VaporwrightError, ArithmeticError):
    """A solver did not reach its stated tolerance; the message names the unknown and what was reached."""


class InputError(VaporwrightError):
    """The input is at fault: one message with file, key, value and what is allowed (exit code 2)."""

    def __init__(self, where: str, key: str, problem: str, allowed: str = "") -> None:
        self.where, self.key, self.problem, self.allowed = where, key, problem, allowed
        message = f"{where}: {key}: {problem}" if key else f"{where}: {problem}"
        super().__init__(f"{message}. Allowed: {allowed}" if allowed else message)


class LiquidRefused(VaporwrightError):
    """The liquid must not be put into a heated open tank; the message says why (exit code 1)."""


def require_range(name: str, value: float, low: float | None, high: float | None, reason: str = "") -> None:
    """Raise OutOfRange unless low <= value <= high (NaN never passes)."""
    above = low is None or value >= low
    below = high is None or value <= high
    if not (above and below) or value != value:
        raise OutOfRange(name, value, low, high, reason)

"""What of a running unit is not in order, as it was done there: so that it can be seen and put right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from vaporwright.actions.at_hand import BACK, Deed

_IN_ORDER: Final[tuple[str | float, ...]] = ("sound",)
_SOUND: Final[Mapping[str, tuple[str | float, ...]]] = {
    "supply": ("on",),
    "dip": (BACK,),
    "lift": (0.0,),
    "nozzles": (1.0,),
    "heat_transfer": (1.0,),
    "foam": (0.0,),
    "wave": (0.0,),
    "trickle": (0.0,),
}


class Altered:
    """Kept up with what people do; what a task planted is not in it."""

    def __init__(self) -> None:
        self.supplies: dict[str, str] = {}
        self._words: dict[str, str] = {}

    def remember(self, deed: Deed) -> None:
        """Keep account of a deed."""
        if deed.verb in ("push", "pull", "turn", "reset"):
            return
        if deed.verb == "supply":
            self.supplies[deed.target] = str(deed.value)
        key = f"{deed.verb} {deed.target}".strip()
        if deed.verb == "thermometer_back":
            self._words.pop("thermometer", None)
        elif deed.value in _SOUND.get(deed.verb, _IN_ORDER):
            self._words.pop(key, None)
        else:
            self._words[key] = deed.words

    @property
    def lines(self) -> tuple[tuple[str, str], ...]:
        """What is not in order, each with words."""
        return tuple(self._words.items())

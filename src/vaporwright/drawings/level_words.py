"""What a drawing says about a tank's levels: lengths as shown, flags under a mark's name, conflicts, one sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from vaporwright.drawings.paper import NAME, one_line, text_width_mm
from vaporwright.equipment.level_rods import LevelConflict, LevelMark, LevelStack, MarkName
from vaporwright.foundation.errors import InputError

NEGLIGIBLE_m: Final = 0.0005  # half a millimetre is no margin that a shop could hold
_LONGEST_LENGTH_mm: Final = 16.0  # of a length as shown

ShowLength = Callable[[float], str]


@dataclass(frozen=True)
class LevelWords:
    """What the drawing says about a stack."""

    stack: LevelStack
    heater: str
    show_length: ShowLength

    def length(self, length_m: float) -> str:
        """A length as shown, never broken between number and unit."""
        text = one_line(self.show_length(length_m))
        if text_width_mm(text, NAME) > _LONGEST_LENGTH_mm:
            raise InputError("tank elevation", "show_length", f"{text!r} is too long", 'as short as "38.44 in"')
        return text.replace(" ", "\u00a0")

    def height_m(self, name: MarkName) -> float:
        return self.stack.mark(name).height_m

    def conflicts(self, name: MarkName) -> list[LevelConflict]:
        return [conflict for conflict in self.stack.conflicts if conflict.mark == name]

    def conflict(self, conflict: LevelConflict) -> str:
        """How far off a mark is, in words."""
        if conflict.unit != "m":
            return f"passes less than the {conflict.against}"
        high = conflict.mark == "reference" and conflict.against != "sludge top"
        return f"{self.length(conflict.size)} too {'high' if high else 'low'} against {conflict.against}"

    def flags(self, mark: LevelMark, heater_labelled: bool) -> list[str]:
        """What stands under a mark's name: conflicts, else what it is and what it has to spare."""
        conflicts = self.conflicts(mark.name)
        if conflicts:
            return [f"CONFLICT: {self.conflict(conflict)}" for conflict in conflicts]
        if mark.name == "sludge top":
            return []
        if mark.name == "heater top":
            return [] if heater_labelled else [self.heater]
        spare = f"{self.length(mark.margin_m)} to spare" if mark.margin_m >= NEGLIGIBLE_m else "just enough"
        return [*self._kind(mark), spare]

    def _kind(self, mark: LevelMark) -> list[str]:
        gaps: dict[str, tuple[MarkName, str]] = {
            "low": ("heater top", "over the heater"),
            "make-up outlet": ("rim", "air gap"),
        }
        fixed: dict[str, str] = {"refill-off": "liquor drawn here", "high-high": "separate switch, no rod"}
        kinds = [fixed[mark.name]] if mark.name in fixed else []
        if mark.name in gaps:
            other, what = gaps[mark.name]
            gap_m = mark.height_m - self.height_m(other)
            kinds += [f"{self.length(gap_m)} {what}"] if gap_m > 0.0 else []
        return [*kinds, "given"] if mark.given and mark.name != "rim" else kinds

    def sentence(self) -> str:
        """The one sentence that opens the drawing."""
        names = list(dict.fromkeys(conflict.mark for conflict in self.stack.conflicts))
        if names:
            listed = " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))
            verb = "conflicts with what it needs" if len(names) == 1 else "conflict with what they need"
            return f"CONFLICT: {listed} {verb}. Cut no rod to this drawing before that is resolved."
        on, off, cover = (
            self.length(height_m)
            for height_m in (
                self.height_m("refill-on"),
                self.height_m("refill-off"),
                self.height_m("low") - self.height_m("heater top"),
            )
        )
        return (
            f"The refill keeps the liquor between {on} and {off} above the low corner; the low rod trips with {cover} "
            "of liquor over the heater. No conflict in the stack-up."
        )

    def told(self, conflict: LevelConflict) -> str:
        """A conflict with what would resolve it by itself."""
        enough = [remedy.change for remedy in conflict.remedies if remedy.enough][:3]
        ways = f" Enough by itself: {'; '.join(enough)}." if enough else " Only several changes together resolve it."
        return f"CONFLICT, {conflict.mark}: {self.conflict(conflict)}.{ways}"

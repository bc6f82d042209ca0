"""The level stack-up: every height of the tank from the sludge to the make-up outlet, and five rods cut to it.

Heights are above the tank's low corner. The stack is solved from the bottom up. Between two marks lies what the
liquor does there (allowances, computed or given) and, where that is less, the gap that the trade usually leaves.
A mark whose height is given stays where it is put; all above it are stacked on it, all below stay. Where a given
mark is lower than its allowances ask, the result names the conflict, its size and what would resolve it; marks above
are then stacked on where it should have been, so that one wrong mark never drags others across their neighbours.

What each gap is for:
  low         heater covered when the rod loses the liquor: cover, floor tilt, wave, foam that the rod takes for liquor
  refill-on   the pump starts at refill-on and fills pipe, header and tower: low must not trip
  refill-off  waves and tolerances never switch the refill on and off
  high        refill run-on, then the pump stops and tower and pipe drain back, then the cold fill warms: must not trip
  high-high   an independent switch, not a rod: the refill's second valve closes in time
  overflow    passive; the drain-back of a stop at high-high stays below it
  rim         refill at full flow leaves by the overflow with freeboard left
  make-up     air gap above the rim

The rods are operating controls, not protection. A rod that reads wet when it is dry (scale, foam, a wet holder) lets a
tank boil dry and burn: an independent, hard-wired, listed low-water cut-off of another principle and a sheath or tube
over-temperature device are required. A broken reference rod overfills: refill run timer and independent high switch.
Overflow carries hot, possibly hazardous liquor: pipe it to a safe place. This stack-up is no safety approval.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal, get_args

from vaporwright.equipment.tank_volume import HIGHEST_LEVEL_m, ImmersedBody, SlopedTank, level_after_change_m
from vaporwright.foundation.errors import OutOfRange, require_range
from vaporwright.foundation.register import sourced

MarkName = Literal[
    "sludge top",
    "heater bottom",
    "heater top",
    "low",
    "refill-on",
    "refill-off",
    "high",
    "high-high",
    "overflow",
    "rim",
    "make-up outlet",
    "reference",
    "rod holder",
]
MARKS: Final[tuple[MarkName, ...]] = get_args(MarkName)
ORDER: Final = tuple(name for name in MARKS if name not in ("reference", "rod holder"))
RODS: Final[tuple[MarkName, ...]] = ("reference", "low", "refill-on", "refill-off", "high")
MOVABLE: Final = tuple(name for name in MARKS if name not in ("sludge top", "heater top", "rim"))
Basis = Literal["published", "common practice, no source", "computed", "given"]
_PRACTICE: Final[Basis] = "common practice, no source"
_INCH: Final = 0.0254
_SLACK_m: Final = 1.0e-9  # a rounding error is no conflict


@dataclass(frozen=True)
class LevelPractice:
    """Usual gaps and allowances: common practice, no source. A shop sets its own.

    Raises OutOfRange for a negative one, or one that is no length of a tank.
    """

    heater_clearance_m: float = 2.0 * _INCH  # sludge to heater
    heater_cover_m: float = 4.0 * _INCH  # liquor over the heater when low trips; never given up to resolve a conflict
    low_to_refill_on_m: float = 2.5 * _INCH
    refill_band_m: float = 2.0 * _INCH
    refill_off_to_high_m: float = 3.0 * _INCH
    high_to_high_high_m: float = 1.0 * _INCH
    high_high_to_overflow_m: float = 1.5 * _INCH
    rim_above_high_m: float = 8.0 * _INCH  # 12 in for foaming liquor
    least_freeboard_m: float = 2.0 * _INCH  # rim above the highest liquor and foam
    reference_below_low_m: float = 2.0 * _INCH
    rod_tolerance_m: float = 0.125 * _INCH  # each tip, cutting and hanging together
    wave_m: float = 0.5 * _INCH  # crest above, trough below the mean level, at the rods
    floor_tilt: float = 0.125 / 12.0  # fall over run
    least_air_gap_m: float = 1.0 * _INCH  # published, as are the bores below
    air_gap_bores: float = 2.0  # 3 where the outlet is within 3 bores of a wall

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if name == "floor_tilt":
                require_range(name, value, 0.0, 0.1, "a floor")
            elif name == "air_gap_bores":
                require_range(name, value, 2.0, 10.0, "air gap of plumbing standards")
            elif name == "least_air_gap_m":
                require_range(name, value, _INCH, 1.0, "air gap of plumbing standards")
            else:
                require_range(name, value, 0.0, 2.0, "gap of a level stack-up")


@dataclass(frozen=True)
class LevelPlan:
    """What the stack-up is made for.

    Args:
        tank: inside dimensions; its wall is the rim. Leave the heater out of tank.immersed: it is added here.
        heater_height_m, heater_volume_m3: of the heater, and what it displaces; 0.001 to 3 m, 0 to 10 m3.
        sludge_depth_m [m]: above the bottom's high end, 0 to 2.
        start_drawdown_m3 [m3]: pipe, header and film in the tower filled at a pump start, 0 to 50.
        drain_back_m3 [m3]: what comes back at a pump stop; no more than the drawdown.
        refill_flow_m3_s, refill_run_on_s: refill, and delay of rod and valve until it stops; 0 to 0.1 m3/s, 0 to 120 s.
        overflow_capacity_m3_s [m3/s]: that the passive overflow passes; overflow_head_m [m]: liquor above its lip at
            the refill flow, 0 to 1.
        make_up_bore_m [m]: of the make-up outlet, 0.005 to 0.2.
        expansion_ratio [-]: volume hot over volume of the cold fill, 1 to 1.1.
        foam_m [m]: depth of foam that a rod may take for liquor, 0 to 1.
        heater_run_m, overflow_run_m [m]: level distance from the rods to the heater's far end and to the overflow, over
            which the floor tilts; 0 to 30.
        fixed_heights_m: height of each mark that is given instead of solved (MOVABLE).
    Raises OutOfRange outside those: a rod below the bottom, an unknown mark.
    """

    tank: SlopedTank
    heater_height_m: float
    heater_volume_m3: float
    start_drawdown_m3: float
    drain_back_m3: float
    refill_flow_m3_s: float
    overflow_capacity_m3_s: float
    make_up_bore_m: float
    refill_run_on_s: float = 5.0
    overflow_head_m: float = 0.0
    expansion_ratio: float = 1.02
    sludge_depth_m: float = 0.0
    foam_m: float = 0.0
    heater_run_m: float = 0.0
    overflow_run_m: float = 0.0
    fixed_heights_m: Mapping[MarkName, float] = field(default_factory=dict)
    practice: LevelPractice = LevelPractice()

    def __post_init__(self) -> None:
        require_range("heater_height_m", self.heater_height_m, 0.001, 3.0, "heater")
        require_range("heater_volume_m3", self.heater_volume_m3, 0.0, 10.0, "heater")
        require_range("start_drawdown_m3", self.start_drawdown_m3, 0.0, 50.0, "pipe, header and tower")
        require_range("drain_back_m3", self.drain_back_m3, 0.0, self.start_drawdown_m3, "what the start drew")
        require_range("refill_flow_m3_s", self.refill_flow_m3_s, 0.0, 0.1, "refill")
        require_range("refill_run_on_s", self.refill_run_on_s, 0.0, 120.0, "rod delay and closing of the valve")
        require_range("overflow_capacity_m3_s", self.overflow_capacity_m3_s, 0.0, 10.0, "overflow")
        require_range("overflow_head_m", self.overflow_head_m, 0.0, 1.0, "overflow")
        require_range("make_up_bore_m", self.make_up_bore_m, 0.005, 0.2, "make-up outlet")
        require_range("expansion_ratio", self.expansion_ratio, 1.0, 1.1, "hot over cold")
        require_range("sludge_depth_m", self.sludge_depth_m, 0.0, 2.0, "sludge")
        require_range("foam_m", self.foam_m, 0.0, 1.0, "foam")
        require_range("heater_run_m", self.heater_run_m, 0.0, 30.0, "across the tank")
        require_range("overflow_run_m", self.overflow_run_m, 0.0, 30.0, "across the tank")
        for name, height_m in self.fixed_heights_m.items():
            if name not in MOVABLE:
                raise OutOfRange(f"height of {name!r}", height_m, None, None, "can be given: " + ", ".join(MOVABLE))
            require_range(f"height_m of {name}", height_m, 0.0, HIGHEST_LEVEL_m, "above the tank's low corner")


@dataclass(frozen=True)
class Allowance:
    """One part of a gap: what the liquor or the shop needs there."""

    name: str
    rise_m: float
    basis: Basis


@dataclass(frozen=True)
class LevelMark:
    """One height of the stack. Its margin is what lies between it and the least that its allowances ask."""

    name: MarkName
    height_m: float
    margin_m: float
    why: str
    above: str  # the mark or place from which its allowances count
    allowances: tuple[Allowance, ...]
    given: bool = False  # or solved

    @property
    def least_height_m(self) -> float:
        """Lowest height at which every allowance below it is met."""
        return self.height_m - self.margin_m


@dataclass(frozen=True)
class Remedy:
    """A change that would help, and how much of what is short it frees, alone and at most."""

    change: str
    frees: float  # in the conflict's unit
    enough: bool


@dataclass(frozen=True)
class LevelConflict:
    """A mark that lies lower (the reference: higher) than its allowances ask."""

    mark: MarkName
    against: str  # what it collides with
    size: float  # in `unit`
    unit: Literal["m", "m3/s"]
    remedies: tuple[Remedy, ...]


@dataclass(frozen=True)
class RodCut:
    """A rod as it is cut: from the holder's seat to the tip, with what the holder takes up."""

    name: MarkName
    tip_height_m: float
    cut_length_m: float | None  # None: the tip would lie above the holder, whose conflict is named
    tolerance_m: float


@dataclass(frozen=True)
class LevelStack:
    """The solved stack, from the bottom up as it ought to be, with what stands in the way."""

    stack: tuple[LevelMark, ...]  # in ORDER; out of height order only where conflicts says so
    reference: LevelMark
    rod_holder: LevelMark
    rods: tuple[RodCut, ...]
    conflicts: tuple[LevelConflict, ...]

    def mark(self, name: MarkName) -> LevelMark:
        """One mark by name."""
        return next(mark for mark in (*self.stack, self.reference, self.rod_holder) if mark.name == name)


@dataclass(frozen=True)
class _Solved:
    """Marks with their least heights and the heights on which others are stacked."""

    marks: dict[MarkName, LevelMark]

    def base(self, name: MarkName) -> float:
        mark = self.marks[name]
        return max(mark.height_m, mark.least_height_m)


class _Solver:
    """Stacks the marks of one plan."""

    def __init__(self, plan: LevelPlan) -> None:
        self.plan, self.practice = plan, plan.practice
        self.tank = plan.tank
        self.solved = _Solved({})
        p = self.practice
        self.wave = Allowance("wave", p.wave_m, _PRACTICE)
        self.tip = Allowance("tolerance of the tip", p.rod_tolerance_m, _PRACTICE)
        self.tips = Allowance("tolerance of two tips", 2.0 * p.rod_tolerance_m, _PRACTICE)
        self.foam = Allowance("foam taken for liquor", plan.foam_m, "given")

    def place(
        self,
        name: MarkName,
        why: str,
        above: MarkName | None,
        allowances: list[Allowance],
        usual_m: float = 0.0,
    ) -> None:
        """Put a mark on the one below it: where it is given, else at the usual gap, never less than allowed."""
        start_m = self.solved.base(above) if above else 0.0
        least_m = start_m + sum(part.rise_m for part in allowances)
        given_m = self.plan.tank.wall_height_m if name == "rim" else self.plan.fixed_heights_m.get(name)
        height_m = max(least_m, start_m + usual_m) if given_m is None else given_m
        where = above or "low corner"
        self.solved.marks[name] = LevelMark(
            name, height_m, height_m - least_m, why, where, tuple(allowances), given_m is not None
        )

    def rise_m(self, from_m: float, added_m3: float = 0.0, expansion_ratio: float = 1.0) -> float:
        """How far a level moves when liquor is added and warmed."""
        after_m = level_after_change_m(self.tank, level_m=from_m, added_m3=added_m3, expansion_ratio=expansion_ratio)
        return after_m - from_m

    def solve(self) -> _Solved:
        self.place_heater()
        self.place_controls()
        self.place_top()
        self.place_sides()
        return self.solved

    def place_heater(self) -> None:
        plan, p = self.plan, self.practice
        sludge = [
            Allowance("rise of the bottom", self.tank.bottom_rise_m, "given"),
            Allowance("sludge", plan.sludge_depth_m, "given"),
        ]
        self.place("sludge top", "sludge above the high end of the bottom", None, sludge)
        tilt = Allowance("floor tilt", p.floor_tilt * plan.heater_run_m, _PRACTICE)
        self.place("heater bottom", "heater clear of sludge", "sludge top", [tilt], tilt.rise_m + p.heater_clearance_m)
        height = Allowance("height of the heater", plan.heater_height_m, "given")
        self.place("heater top", "hot surface", "heater bottom", [height])
        if plan.heater_volume_m3 > 0.0:
            heater = ImmersedBody(self.solved.base("heater bottom"), plan.heater_height_m, plan.heater_volume_m3)
            self.tank = replace(self.tank, immersed=(*self.tank.immersed, heater))
        cover = Allowance("cover of the heater", p.heater_cover_m, _PRACTICE)
        self.place("low", "heater covered when low trips", "heater top", [cover, tilt, self.wave, self.foam, self.tip])

    def place_controls(self) -> None:
        plan, p = self.plan, self.practice
        low_m = self.solved.base("low")
        quiet_m = low_m + self.wave.rise_m + self.tips.rise_m
        drawdown = Allowance("drawdown at pump start", self.rise_m(quiet_m, plan.start_drawdown_m3), "computed")
        why = "a pump start at refill-on does not trip low"
        self.place("refill-on", why, "low", [self.wave, self.tips, drawdown], p.low_to_refill_on_m)
        waves = Allowance("wave, crest and trough", 2.0 * p.wave_m, _PRACTICE)
        self.place("refill-off", "waves do not cycle the refill", "refill-on", [waves, self.tips], p.refill_band_m)
        off_m = self.solved.base("refill-off")
        run_on_m3 = plan.refill_flow_m3_s * plan.refill_run_on_s
        full_m3 = run_on_m3 + plan.drain_back_m3
        run_on = Allowance("refill run-on", self.rise_m(off_m, run_on_m3), "computed")
        back = Allowance("drain-back at pump stop", self.rise_m(off_m, full_m3) - run_on.rise_m, "computed")
        cold_rise_m = run_on.rise_m + back.rise_m
        growth_m = self.rise_m(off_m, full_m3, plan.expansion_ratio) - cold_rise_m
        warm = Allowance("expansion from cold fill", growth_m, "computed")
        why = "a pump stop after a cold fill does not trip high"
        allowances = [run_on, back, warm, self.wave, self.foam, self.tips]
        self.place("high", why, "refill-off", allowances, p.refill_off_to_high_m)

    def place_top(self) -> None:
        plan, p = self.plan, self.practice
        high_m = self.solved.base("high")
        run_on_m3 = plan.refill_flow_m3_s * plan.refill_run_on_s
        run_on = Allowance("refill until its second valve closes", self.rise_m(high_m, run_on_m3), "computed")
        why = "high stops the refill first"
        self.place("high-high", why, "high", [run_on, self.wave, self.tips], p.high_to_high_high_m)
        top_m = self.solved.base("high-high")
        back = Allowance("drain-back at pump stop", self.rise_m(top_m, plan.drain_back_m3), "computed")
        tilt = Allowance("floor tilt", p.floor_tilt * plan.overflow_run_m, _PRACTICE)
        why = "a stop at high-high does not spill"
        self.place("overflow", why, "high-high", [back, self.wave, tilt, self.tip], p.high_high_to_overflow_m)
        self.place("rim", "refill at full flow leaves by the overflow", "overflow", self.freeboard(tilt))
        gap_m = max(p.least_air_gap_m, p.air_gap_bores * plan.make_up_bore_m)
        gap = Allowance("air gap", gap_m, "published")
        self.place("make-up outlet", "no liquor is drawn back into the water supply", "rim", [gap])

    def freeboard(self, tilt: Allowance) -> list[Allowance]:
        """What the rim needs above the overflow, filled up to what it usually has above high."""
        plan, p = self.plan, self.practice
        parts = [
            Allowance("head over the overflow at refill flow", plan.overflow_head_m, "given"),
            self.wave,
            Allowance("foam", plan.foam_m, "given"),
            tilt,
            Allowance("freeboard", p.least_freeboard_m, _PRACTICE),
        ]
        gap_m = self.solved.base("overflow") - self.solved.base("high")
        more_m = p.rim_above_high_m - gap_m - sum(part.rise_m for part in parts)
        if more_m > 0.0:
            parts.append(Allowance("rim above high", more_m, _PRACTICE))
        return parts

    def place_sides(self) -> None:
        """The reference hangs below low, the holder sits above the highest liquor and foam."""
        plan, p = self.plan, self.practice
        low_m = self.solved.base("low")
        parts = (self.wave, self.tips)
        most_m = low_m - sum(part.rise_m for part in parts)
        given_m = plan.fixed_heights_m.get("reference")
        usual_m = max(min(most_m, low_m - p.reference_below_low_m), self.solved.base("sludge top"))
        height_m = usual_m if given_m is None else given_m
        why = "always wet while low can still be wet"
        self.solved.marks["reference"] = LevelMark(
            "reference", height_m, most_m - height_m, why, "low", parts, given_m is not None
        )
        highest = [
            Allowance("head over the overflow at refill flow", plan.overflow_head_m, "given"),
            self.wave,
            Allowance("foam", plan.foam_m, "given"),
        ]
        usual_m = max(0.0, self.solved.base("rim") - self.solved.base("overflow"))
        self.place("rod holder", "a wet holder reads as liquor", "overflow", highest, usual_m)


@sourced("level-practice", "usual gaps and allowances, order of the marks")
@sourced("tank-geometry", "drawdown, drain-back and expansion by volume")
@sourced("asme-a112-1-2", "air gap: twice the opening, at least 1 in")
def level_stack(
    plan: LevelPlan, *, holder_engagement_m: float = 0.0, cut_tolerance_m: float = 0.0625 * _INCH
) -> LevelStack:
    """Solve the stack-up and cut the rods.

    Args:
        plan: tank, heater, liquor movements, marks that are given.
        holder_engagement_m [m]: length of each rod that its holder takes up above the seat, 0 to 0.3.
        cut_tolerance_m [m]: plus or minus on the cut, 0 to the practice's tolerance of the tip. Where a cut must err,
            low errs short and high errs long: both then trip early.
    Returns: LevelStack. Marks keep their given heights even where they conflict; each conflict is named.
    Raises: OutOfRange for bad input.
    Source: level-practice, tank-geometry, asme-a112-1-2.
    """
    require_range("holder_engagement_m", holder_engagement_m, 0.0, 0.3, "rod holder")
    require_range("cut_tolerance_m", cut_tolerance_m, 0.0, plan.practice.rod_tolerance_m, "tolerance of the tip")
    solved = _Solver(plan).solve()
    conflicts = [_conflict(plan, mark) for mark in solved.marks.values() if mark.margin_m < -_SLACK_m]
    conflicts += _conflicts_beside_the_stack(plan, solved)
    holder_m = solved.marks["rod holder"].height_m
    rods = []
    for name in RODS:
        tip_m = solved.marks[name].height_m
        length_m = holder_m - tip_m + holder_engagement_m if tip_m < holder_m else None
        rods.append(RodCut(name, tip_m, length_m, cut_tolerance_m))
    return LevelStack(
        stack=tuple(solved.marks[name] for name in ORDER),
        reference=solved.marks["reference"],
        rod_holder=solved.marks["rod holder"],
        rods=tuple(rods),
        conflicts=tuple(conflicts),
    )


def _conflict(plan: LevelPlan, mark: LevelMark) -> LevelConflict:
    short_m = -mark.margin_m
    move = {"rim": "a taller tank", "reference": "a longer reference rod"}.get(mark.name, f"raise {mark.name}")
    frees = {move: short_m}
    for change, other in _alternatives(plan, mark.name):
        margin_m = _Solver(other).solve().marks[mark.name].margin_m
        frees[change] = margin_m - mark.margin_m
    remedies = [
        Remedy(change, gain_m, gain_m >= short_m - _SLACK_m) for change, gain_m in frees.items() if gain_m > 1.0e-6
    ]
    remedies.sort(key=lambda remedy: not remedy.enough)
    return LevelConflict(mark.name, mark.above, short_m, "m", tuple(remedies))


def _alternatives(plan: LevelPlan, name: MarkName) -> list[tuple[str, LevelPlan]]:
    """Changes to try one by one; none gives up the heater's cover, the freeboard or the air gap."""
    p = plan.practice

    def practice(**gaps: float) -> LevelPlan:
        return replace(plan, practice=replace(p, **gaps))

    tried = [
        ("a smaller refill band", practice(refill_band_m=0.0)),
        ("a smaller gap from low to refill-on", practice(low_to_refill_on_m=0.0)),
        ("a smaller gap from refill-off to high", practice(refill_off_to_high_m=0.0)),
        ("smaller gaps from high to overflow", practice(high_to_high_high_m=0.0, high_high_to_overflow_m=0.0)),
        ("a calmer surface at the rods (stilling well)", practice(wave_m=0.0)),
        ("a smaller drain-back (check valve, shorter pipe, wider tank)", replace(plan, drain_back_m3=0.0)),
        (
            "less drawn at pump start (pipe that stays full, wider tank)",
            replace(plan, start_drawdown_m3=0.0, drain_back_m3=0.0),
        ),
        ("a warm fill", replace(plan, expansion_ratio=1.0)),
        ("no foam (antifoam)", replace(plan, foam_m=0.0)),
        ("less sludge", replace(plan, sludge_depth_m=0.0)),
        ("a lower heater", practice(heater_clearance_m=0.0)),
        ("a slower refill or a faster valve", replace(plan, refill_run_on_s=0.0)),
    ]
    for other in plan.fixed_heights_m:
        if other != name:
            rest = {key: value for key, value in plan.fixed_heights_m.items() if key != other}
            tried.append((f"free {other}", replace(plan, fixed_heights_m=rest)))
    return tried


def _conflicts_beside_the_stack(plan: LevelPlan, solved: _Solved) -> list[LevelConflict]:
    found = []
    sludge_m = solved.marks["sludge top"].height_m - solved.marks["reference"].height_m
    if sludge_m > _SLACK_m:
        shorter = (Remedy("a shorter reference rod", sludge_m, True),)
        found.append(LevelConflict("reference", "sludge top", sludge_m, "m", shorter))
    short_m3_s = plan.refill_flow_m3_s - plan.overflow_capacity_m3_s
    if short_m3_s > 0.0:
        larger = tuple(Remedy(change, short_m3_s, True) for change in ("a larger overflow", "a smaller refill flow"))
        found.append(LevelConflict("overflow", "refill flow", short_m3_s, "m3/s", larger))
    return found

"""The burner's steps, all by the qualified burner technician: cold ones first, then with gas, then with fire."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vaporwright.acceptance.sections.full_heat import CLOCKED_s
from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    FAHRENHEIT_K,
    GAS_CAUTION,
    MEMORY,
    POWER_CAUTION,
    PRACTICE,
    about,
    about_share,
    at_least,
    at_most,
    tick,
    within,
)
from vaporwright.acceptance.steps.procedure import Limits, ReadingField, Step
from vaporwright.controls.burner_safeguard import PURGE_VOLUMES, SHORTEST_PURGE_s, chamber_and_air
from vaporwright.controls.delays import DELAY_OF
from vaporwright.unit.catalogue import GasBurnerPart
from vaporwright.unit.flue_of_unit import gas_rating

INPUT_SHARE: Final = 0.05
LOW_INPUT_SHARE: Final = 0.10
PRESSURE_SHARE: Final = 0.10
OXYGEN_TOLERANCE: Final = 0.01
LOW_FIRE_OXYGEN: Final = (0.03, 0.14)
MOST_CARBON_MONOXIDE: Final = 1.0e-4  # air-free
STACK_TOLERANCE_difference_K: Final = 40.0 * FAHRENHEIT_K
LEAST_DRAFT_Pa: Final = 5.0  # 0.02 in. w.c.
WITHIN_SAFETY_TIME: Final = 0.75  # where listed safeguards act; expected only, never a limit
BY: Final = "burner technician"
PROVEN: Final = "proven: the reading clears the limit by the stopwatch's uncertainty"


def burner_steps(under: UnitUnderTest, before: tuple[str, ...]) -> Iterator[Step]:
    """Every step; `before` are the guards that stand before any fire."""
    part = under.unit.heat_source
    assert isinstance(part, GasBurnerPart)
    yield _train()
    yield _closure()
    yield _purge(under, part)
    yield _trial()
    yield _gas_pressures(under, part, before)
    yield _first_fire(under)
    yield _flame_failure()
    yield _combustion(under, "high")
    yield _clocked(under, part, "high")
    yield _combustion(under, "low")
    yield _clocked(under, part, "low")
    yield _switches(under)
    yield _flue(under)


def _train() -> Step:
    return Step(
        "burner.train",
        "Gas train, tightness",
        "Gas that leaks past a valve or joint collects and explodes.",
        (
            "Compare the train with its drawing: cock, strainer, regulator, two safety valves, switches, vents.",
            "Put air at the train's highest pressure on it, valves shut; leak fluid on every joint.",
            "Bubble-test each safety valve at its test cock.",
        ),
        (
            tick("drawn", "train as drawn, every part listed for this gas, vents to a safe place"),
            tick("joints", "no bubble at any joint", instrument="gas leak detector"),
            tick("first_valve", "first safety valve tight", instrument="gas leak detector"),
            tick("second_valve", "second safety valve tight", instrument="gas leak detector"),
        ),
        30.0,
        cautions=(GAS_CAUTION, "Air, never gas, for this test; never a flame."),
        by=BY,
        point="hold",
        after=("electrical.power_on",),
        restore="Vent the air; test cocks shut and plugged; manual gas cock stays shut and locked.",
    )


def _closure() -> Step:
    return Step(
        "burner.closure",
        "Proof of closure, air proving",
        "The safeguard starts only with valves proved shut and air proved off, then on.",
        (
            "Manual cock shut. Hold a safety valve's closure switch open and call for heat.",
            "Bridge nothing: hold the air switch on at rest, then off in the purge, by its hose.",
        ),
        (
            tick("closure", "closure not proved: no start"),
            tick("air_at_rest", "air proved at rest: no start"),
            tick("air_lost", "air lost in the purge: the purge begins anew or locks out"),
        ),
        15.0,
        cautions=(GAS_CAUTION, POWER_CAUTION),
        by=BY,
        point="witness",
        after=("burner.train",),
        restore="Switches and hoses as they were; safeguard reset.",
    )


def _purge(under: UnitUnderTest, part: GasBurnerPart) -> Step:
    chamber_m3, air_m3_s = chamber_and_air(part)
    least_s = max(PURGE_VOLUMES * chamber_m3 / air_m3_s, SHORTEST_PURGE_s)
    reason = f"four volumes of the tube at the fan's air, and 15 s at least ({MEMORY}); {PROVEN}"
    return Step(
        "burner.purge",
        "Pre-purge and post-purge",
        "Nothing unburnt is left where the spark comes.",
        ("Manual cock shut, call for heat.", "Clock from air proved to the spark.", "Look at the damper: full air."),
        (
            at_least("pre_purge_s", "pre-purge, air proved to spark", "delay", least_s, reason, "stopwatch",
                     expected=max(under.table.delays["pre_purge_s"], 1.2 * least_s), proven=True),
            tick("full_air", "damper at full air through the whole purge"),
            tick("post_purge", "fan runs on after the stop"),
        ),
        10.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        point="witness",
        after=("burner.closure",),
    )  # fmt: skip


def _trial() -> Step:
    most_s = DELAY_OF["ignition_s"].high_s
    return Step(
        "burner.trial",
        "Trial for ignition, without gas",
        "Gas flows unlit for no longer than the code allows, and the safeguard locks out.",
        ("Manual cock shut, call for heat.", "Clock from the valves' power to lock-out.", "Wait; then reset by hand."),
        (
            _safety_time("trial_s", "valves powered until lock-out", most_s, "trial for ignition"),
            tick("lock_out", "locks out, gas valves without power, alarm"),
            tick("by_hand", "stays locked out until reset by hand at the safeguard"),
        ),
        10.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        point="witness",
        after=("burner.purge",),
        restore="Safeguard reset.",
    )


def _safety_time(key: str, label: str, most_s: float, name: str) -> ReadingField:
    reason = f"{name}: {most_s:.0f} s at most, or less where the code adopted on site says so ({MEMORY}); {PROVEN}"
    return at_most(key, label, "delay", most_s, reason, "stopwatch", expected=WITHIN_SAFETY_TIME * most_s, proven=True)


def _gas_pressures(under: UnitUnderTest, part: GasBurnerPart, before: tuple[str, ...]) -> Step:
    rest = Limits(part.train_lowest_gauge_Pa, part.train_highest_gauge_Pa)
    return Step(
        "burner.gas_at_rest",
        "Gas on: leaks, pressure at rest",
        "Every joint up to the burner holds gas, and the train bears the pressure at rest.",
        (
            "Open the supply with everybody told; vent the line outdoors until it smells.",
            "Sniff and soap every joint up to the first valve; then read the pressure at rest.",
        ),
        (
            tick("tight", "no gas at any joint", instrument="gas leak detector"),
            within("at_rest_gauge_Pa", "train inlet, nothing flowing", "pressure", rest,
                   "between the lowest and the highest inlet pressure of the train; the supply decides where",
                   "manometer", expected=under.number("gas", "gas_at_rest_gauge_Pa")),
        ),
        20.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        point="hold",
        after=("burner.train", "burner.trial", *before),
        hot=True,
    )  # fmt: skip


def _first_fire(under: UnitUnderTest) -> Step:
    manifold_Pa = under.number("gas", "manifold_gauge_Pa")
    part = under.unit.heat_source
    assert isinstance(part, GasBurnerPart)
    flowing = Limits(part.train_lowest_gauge_Pa, part.train_highest_gauge_Pa)
    return Step(
        "burner.first_fire",
        "First fire, pressures at full fire",
        "The flame lights at once, stays on its burner, and gets the gas it was made for.",
        (
            "Tank between refill-on and refill-off, pump and blower on.",
            "Light at low fire; look at the flame; go slowly to full fire.",
            "Read inlet and manifold at full fire; set the manifold by the regulator.",
        ),
        (
            tick("lights", "lights smoothly within the trial, no puff"),
            tick("flame", "flame steady, on its burner, not on the tube's wall"),
            within("inlet_gauge_Pa", "train inlet, full fire", "pressure", flowing,
                   "between the lowest and the highest inlet pressure of the train", "manometer",
                   expected=under.number("gas", "train_inlet_gauge_Pa")),
            about_share("manifold_gauge_Pa", "manifold, full fire", "pressure", manifold_Pa, PRESSURE_SHARE,
                        f"burner's own; gas goes with its root, so that this is 5 % of gas ({PRACTICE})", "manometer"),
            tick("joints", "no gas at any joint behind the valves", instrument="gas leak detector"),
        ),
        30.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        after=("burner.gas_at_rest",),
        hot=True,
    )  # fmt: skip


def _flame_failure() -> Step:
    most_s = DELAY_OF["flame_failure_s"].high_s
    return Step(
        "burner.flame_failure",
        "Flame failure",
        "A flame that goes out stops the gas before it collects.",
        ("With the flame on, shut the manual cock.", "Clock from the flame's end to the valves' drop.", "Wait, purge."),
        (
            _safety_time("response_s", "flame out until valves without power", most_s, "flame failure response"),
            tick("lock_out", "locks out, or tries once more after a full purge, as listed"),
            tick("pump_blower", "pump and blower go on and cool the tube"),
        ),
        10.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        point="witness",
        after=("burner.first_fire",),
        restore="Safeguard reset, purge, fire again.",
        hot=True,
    )


def _combustion(under: UnitUnderTest, fire: str) -> Step:
    rating = gas_rating(under.result)
    if fire == "high":
        oxygen = about("oxygen", "oxygen, dry", "fraction", rating.oxygen_dry_fraction, OXYGEN_TOLERANCE,
                       f"excess air of the job, on the day's gas and air; set to a point ({PRACTICE})",
                       "flue gas analyser")  # fmt: skip
        stack = about("stack_temperature_K", "stack", "temperature", rating.stack_temperature_K,
                      STACK_TOLERANCE_difference_K,
                      f"tube at the day's input and the settling tank; film coefficients are no better ({PRACTICE})",
                      "stack thermometer")  # fmt: skip
    else:
        oxygen = within("oxygen", "oxygen, dry", "fraction", Limits(*LOW_FIRE_OXYGEN),
                        f"burners run leaner at low fire; the burner's manual narrows it ({PRACTICE})",
                        "flue gas analyser", expected=0.5 * sum(LOW_FIRE_OXYGEN))  # fmt: skip
        stack = at_most("stack_temperature_K", "stack", "temperature",
                        rating.stack_temperature_K + STACK_TOLERANCE_difference_K,
                        "no hotter than at high fire: less gas on the same tube", "stack thermometer",
                        expected=0.5 * (rating.stack_temperature_K + under.result.settling_temperature_K))  # fmt: skip
    fields = [
        oxygen,
        at_most("carbon_monoxide", "CO, air-free", "fraction", MOST_CARBON_MONOXIDE,
                f"100 ppm air-free; 200 is an alarm, 400 a stop ({PRACTICE})", "flue gas analyser",
                expected=0.2 * MOST_CARBON_MONOXIDE),
        stack,
    ]  # fmt: skip
    if under.design.job.text("choices.flue") == "natural draft":
        fields.append(
            at_least("draft_Pa", "draft at the flue collar", "pressure", LEAST_DRAFT_Pa,
                     f"less spills into the room; the shop's flue stands in for the site's ({PRACTICE})", "manometer",
                     expected=max(2.0 * LEAST_DRAFT_Pa, under.number("gas", "flue_net_draft_Pa")))
        )  # fmt: skip
    return Step(
        f"burner.combustion_{fire}",
        f"Combustion at {fire} fire",
        "Little CO, the right air, a stack that says the tube takes its heat.",
        (
            f"Hold {fire} fire until stack and oxygen stand still, tank near its settling temperature.",
            "Read at the flue collar, before any dilution; print the analyser's slip and attach it.",
        ),
        (*fields, tick("slip", "analyser's slip attached")),
        20.0,
        cautions=(GAS_CAUTION, "CO: stop the burner and leave if an alarm sounds."),
        by=BY,
        point="witness",
        after=("burner.flame_failure",),
        hot=True,
    )


def _clocked(under: UnitUnderTest, part: GasBurnerPart, fire: str) -> Step:
    flow_m3_s = under.number("gas", "gas_flow_standard_m3_s")
    share, tolerance = (1.0, INPUT_SHARE) if fire == "high" else (part.least_input_W / part.gross_input_W,
                                                                  LOW_INPUT_SHARE)  # fmt: skip
    derated = "by the air's density" if part.fan_assisted else "by the elevation"
    reason = f"nameplate's input, derated {derated} of the day, over the gas's gross heat; meter and gas ({PRACTICE})"
    return Step(
        f"burner.clocked_{fire}",
        f"Gas clocked at {fire} fire",
        "Expected evaporation follows from this input.",
        (
            "No other appliance on the meter.",
            "Clock ten minutes; read the gas's temperature and pressure at the meter.",
            "Standard volume is the dial's, times the gas's absolute pressure (barometer and gauge) in standard"
            " atmospheres, times the base's absolute temperature over the gas's. A meter that corrects by itself is"
            " read as it is.",
            "Ask the utility for the day's gross heating value; note it.",
        ),
        (
            about_share("gas_volume_standard_m3", "gas of ten minutes, at standard conditions", "standard gas volume",
                        flow_m3_s * share * CLOCKED_s, tolerance, reason, "gas meter"),
        ),
        15.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        point="witness" if fire == "high" else "",
        after=(f"burner.combustion_{fire}",),
        hot=True,
    )  # fmt: skip


def _switches(under: UnitUnderTest) -> Step:
    low_Pa, high_Pa = (under.built_number("gas", f"{side}_gas_switch_gauge_Pa") for side in ("low", "high"))
    reason = f"set-point sheet, confirmed by the burner technician with the burner's manual ({PRACTICE})"
    return Step(
        "burner.pressure_switches",
        "Gas pressure switches",
        "Too little gas blows off, too much overfires: both open the string.",
        ("Choke the inlet by its cock until the low switch opens; read.",
         "Raise the manifold by its regulator until the high switch opens; read; set it back at once."),
        (
            about_share("low_gauge_Pa", "low gas switch opens at", "pressure", low_Pa, PRESSURE_SHARE, reason,
                        "manometer"),
            about_share("high_gauge_Pa", "high gas switch opens at", "pressure", high_Pa, PRESSURE_SHARE, reason,
                        "manometer"),
            tick("reset", "each: burner off, stays off until reset by hand"),
        ),
        20.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        after=("burner.clocked_high",),
        restore="Manifold back to the pressure clocked, read again; caps and seals on.",
        hot=True,
    )  # fmt: skip


def _flue(under: UnitUnderTest) -> Step:
    sealed = under.design.job.text("choices.flue") == "sealed"
    return Step(
        "burner.flue",
        "Flue, spillage, condensate",
        "Flue gas leaves the room, and acid condensate of a cold start leaves the tube.",
        (
            "Five minutes after a start, doors shut and blower drawing on the room, try every flue joint with smoke.",
            "Look at drain and trap of the tube's end.",
        ),
        (
            tick("joints", "no flue gas at any joint of flue and air duct" if sealed else "no spillage at the collar"),
            tick("room", "CO alarm of the room quiet through the whole test"),
            tick("drain", "tube pitched, its condensate drained and trapped"),
        ),
        15.0,
        cautions=(GAS_CAUTION,),
        by=BY,
        after=("burner.first_fire",),
        hot=True,
    )

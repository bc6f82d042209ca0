"""An invented procedure, its readings and what was decided, for tests of papers. Unit, shop and figures are made up."""

from __future__ import annotations

from dataclasses import replace

from vaporwright.acceptance.record.certificate import (
    AsLeft,
    Certificate,
    CertificateFacts,
    Departure,
    Deviation,
    Estimate,
    Headline,
    PerformanceResult,
    RecordHead,
    ResultRow,
    SiteSeason,
    StepAct,
    Verdict,
    certificate_from,
)
from vaporwright.acceptance.record.chain import SignedHead
from vaporwright.acceptance.record.events import Kind
from vaporwright.acceptance.record.punch_list import Mark, PunchItem
from vaporwright.acceptance.steps.instruments import Instrument
from vaporwright.acceptance.steps.outcomes import ACCEPTED, IN_GUARD_BAND, NOT_ACCEPTED
from vaporwright.acceptance.steps.procedure import Limits, Procedure, ProcedureSection, ReadingField, Step
from vaporwright.acceptance.steps.readings import Reading
from vaporwright.foundation.notice import Notice

INCH_m = 0.0254
GALLON_PER_MINUTE_m3_s = 3.785411784e-3 / 60.0
GALLON_PER_HOUR_kg_s = 3.785411784e-3 * 998.2 / 3600.0
GALLONS_PER_100_000_BTU_kg_J = 3.785411784e-3 * 998.2 / (1.0e5 * 1055.05585262)
SPRAY_m3_s = 49.1 * GALLON_PER_MINUTE_m3_s
HASH = "0123456789abcdef" * 4
MADE_AT = "2026-03-05T16:42:07+00:00"


def fahrenheit_K(value: float) -> float:
    return (value + 459.67) / 1.8


def yes(key: str, label: str, expected: bool = True, reason: str = "") -> ReadingField:
    return ReadingField(key, label, "yes or no", expected, reason=reason)


PAPERS = ProcedureSection(
    "documents",
    "Documents and nameplate",
    (
        Step(
            "documents.nameplate",
            "Compare the nameplate with the job",
            "A unit with another plate is another unit.",
            ("Read the plate.", "Write down the serial number.", "Compare voltage and heat input with the job."),
            (
                ReadingField("serial", "serial number", "text"),
                yes("plate_agrees", "plate agrees with the job", reason="As the job file states them."),
            ),
            10.0,
            point="witness",
        ),
        Step(
            "documents.instruments",
            "Register the instruments of the day",
            "A reading is worth no more than what it was read with.",
            ("Enter number, certificate and due date of each instrument once.",),
            (yes("all_in_date", "every instrument within its due date"),),
            15.0,
        ),
    ),
)
LEAKS = ProcedureSection(
    "tank_leak",
    "Tank leak test",
    (
        Step(
            "tank_leak.cold",
            "Fill to the rim and wait four hours",
            "A weld that weeps cold will pour hot.",
            (
                "Close the drain and lock it out.",
                "Fill to the overflow.",
                "Mark the level.",
                "Wait 4 h.",
                "Walk round.",
            ),
            (
                yes("dry_outside", "dry at every weld, flange and drain"),
                ReadingField(
                    "level_fall_m",
                    "fall of the level",
                    "short length",
                    0.0,
                    Limits(None, INCH_m / 16.0),
                    "What cold water evaporates in 4 h is less than a rule can show.",
                    "rule",
                ),
            ),
            255.0,
            cautions=("A full tank is heavy: nobody works under it, and the floor must carry it.",),
            point="hold",
        ),
    ),
    note="On cold water, before anything is energised.",
)
RODS = ProcedureSection(
    "rods",
    "Level rods",
    tuple(
        Step(
            f"rods.{name}",
            f"Dip the {name} rod",
            "Each rod must act at its height, in the order of the drawing.",
            ("Raise the level slowly.", f"Read the level where the {name} rod makes.", "Lower it again."),
            (
                ReadingField(
                    "made_at_m",
                    f"level at which {name} makes",
                    "short length",
                    height_m,
                    Limits(height_m - INCH_m / 8.0, height_m + INCH_m / 8.0),
                    "Rods are cut to 1/16 in; the dip is read to 1/16 in.",
                    "tape",
                ),
                yes("input_shows", "the panel's input shows it"),
            ),
            6.0,
            cautions=("Wet rods carry the relay's voltage: lock out before touching them.",),
            restore="Level back to refill-off.",
            after=("tank_leak.cold",),
        )
        for name, height_m in (("low", 14.25 * INCH_m), ("refill-on", 16.75 * INCH_m), ("high", 22.0 * INCH_m))
    ),
)
BURNER = ProcedureSection(
    "burner",
    "Burner",
    (
        Step(
            "burner.flame_failure",
            "Close the hand valve under fire",
            "The safeguard must shut the gas off by itself.",
            ("Fire at low input.", "Close the manual valve behind the train.", "Time the closing of the valves."),
            (
                ReadingField(
                    "closes_s",
                    "time to closed valves",
                    "delay",
                    None,
                    Limits(None, 4.0, proven=True),
                    "Flame failure response is at most 4 s.",
                    "stopwatch",
                ),
            ),
            10.0,
            cautions=("Gas and flame: by a qualified burner technician only, to the local code.",),
            by="burner technician",
            point="hold",
            restore="Open the manual valve; reset by hand.",
            hot=True,
        ),
        Step(
            "burner.combustion",
            "Read the flue gas at high fire",
            "Efficiency and carbon monoxide.",
            ("Wait for a steady stack.", "Read oxygen, carbon monoxide and stack."),
            (
                ReadingField("flue_oxygen", "oxygen, dry", "fraction", 0.047, Limits(0.037, 0.057), "25 % excess air.",
                             "flue gas analyser"),
                ReadingField("stack_temperature_K", "stack", "temperature", fahrenheit_K(447.0),
                             Limits(fahrenheit_K(407.0), fahrenheit_K(487.0)), "Model of the tube.",
                             "stack thermometer", needed=False),
            ),
            20.0,
            by="burner technician",
            hot=True,
        ),
    ),
)  # fmt: skip
RUN = ProcedureSection(
    "performance",
    "Performance run",
    (
        Step(
            "performance.spray_flow",
            "Read the spray flow",
            "Range and rate follow from it.",
            ("Set the header valve to its mark.", "Read the meter."),
            (
                ReadingField(
                    "spray_flow_m3_s",
                    "spray flow",
                    "liquid flow",
                    50.0 * GALLON_PER_MINUTE_m3_s,
                    Limits(47.5 * GALLON_PER_MINUTE_m3_s, 52.5 * GALLON_PER_MINUTE_m3_s),
                    "Where the pump's curve meets the circuit; meter ±3 %.",
                    "liquid flow meter",
                ),
            ),
            10.0,
        ),
        Step(
            "performance.run",
            "Run four hours on weighed make-up",
            "The guarantee is judged by this run.",
            ("Isolate refill and drain.", "Log every 15 min.", "Stop where the balances do not close."),
            (yes("log_complete", "log complete"),),
            300.0,
            cautions=("Water near 150 °F scalds; steam and hot surfaces: guards on.",),
            point="witness",
            hot=True,
        ),
    ),
)
PROCEDURE = Procedure(
    "Tumbling effluent, gas",
    "Invented deburring shop",
    "Gas tank 300, tower 2 ft by 3 ft, pump 50 gal/min",
    "gas",
    "full",
    {
        "air_temperature_K": fahrenheit_K(71.0),
        "wet_bulb_K": fahrenheit_K(58.5),
        "pressure_Pa": 99_200.0,
        "elevation_m": 213.4,
        "water_temperature_K": fahrenheit_K(55.0),
        "supply_voltage_V": 478.0,
    },
    (PAPERS, LEAKS, RODS, BURNER, RUN),
    {"evaporation_kg_s": 26.0 * GALLON_PER_HOUR_kg_s},
    (
        "Void: a balance outside 7 %, an instrument past its due date, a refill during the run.",
        "Interrupted for under 30 min: the steady span starts again. Longer: the run starts again.",
        "The witness may repeat any step and use instruments of their own.",
    ),
)
READINGS = {
    (reading.step, reading.field): reading
    for reading in (
        Reading("documents.nameplate", "serial", "V-0042", "V-0042"),
        Reading("documents.nameplate", "plate_agrees", "yes", True),
        Reading("documents.instruments", "all_in_date", "yes", True),
        Reading("tank_leak.cold", "dry_outside", "yes", True),
        Reading("tank_leak.cold", "level_fall_m", "1/32 in", INCH_m / 32.0, "R1"),
        Reading("rods.low", "made_at_m", "14.3 in", 14.3 * INCH_m, "T1"),
        Reading("rods.low", "input_shows", "yes", True),
        Reading("rods.refill-on", "made_at_m", "16.87 in", 16.87 * INCH_m, "T1"),
        Reading("rods.refill-on", "input_shows", "yes", True),
        Reading("rods.high", "made_at_m", "22.4 in", 22.4 * INCH_m, "T1"),
        Reading("rods.high", "input_shows", "yes", True),
        Reading("burner.flame_failure", "closes_s", "1.8 s", 1.8, "S1"),
        Reading("burner.combustion", "flue_oxygen", "4.9 %", 0.049, "F1"),
        Reading("performance.spray_flow", "spray_flow_m3_s", "49.1 gal/min", SPRAY_m3_s, "L1", "live"),
        Reading("performance.run", "log_complete", "yes", True),
    )
}  # fmt: skip
UNCERTAIN = {
    ("tank_leak.cold", "level_fall_m"): 0.0005,
    ("rods.low", "made_at_m"): INCH_m / 16.0,
    ("rods.refill-on", "made_at_m"): INCH_m / 16.0,
    ("rods.high", "made_at_m"): INCH_m / 16.0,
    ("burner.flame_failure", "closes_s"): 0.2,
    ("burner.combustion", "flue_oxygen"): 0.003,
    ("performance.spray_flow", "spray_flow_m3_s"): 1.5 * GALLON_PER_MINUTE_m3_s,
}
VERDICTS = {key: Verdict(ACCEPTED, UNCERTAIN.get(key)) for key in READINGS} | {
    ("rods.refill-on", "made_at_m"): Verdict(
        IN_GUARD_BAND,
        INCH_m / 16.0,
        Notice("guard", "within its uncertainty of {0}", ((16.875 * INCH_m, "short length"),)),
    ),
    ("rods.high", "made_at_m"): Verdict(
        NOT_ACCEPTED, INCH_m / 16.0, Notice("high", "above {0}", ((22.125 * INCH_m, "short length"),))
    ),
}


def rate(value: float, uncertainty: float | None = None) -> Estimate:
    """An evaporation given in gal/h."""
    return Estimate(value * GALLON_PER_HOUR_kg_s, None if uncertainty is None else uncertainty * GALLON_PER_HOUR_kg_s)


PERFORMANCE = PerformanceResult(
    ACCEPTED,
    rate(29.84, 1.23),
    30.4 * GALLON_PER_HOUR_kg_s,
    (
        SiteSeason("summer", rate(27.62, 1.31), Estimate(fahrenheit_K(137.0), 1.2)),
        SiteSeason("winter", rate(26.91, 1.4), Estimate(fahrenheit_K(129.0), 1.2)),
        SiteSeason("average", rate(27.4, 1.3), Estimate(fahrenheit_K(133.0), 1.2)),
    ),
    Estimate(7.31 * GALLONS_PER_100_000_BTU_kg_J, 0.24 * GALLONS_PER_100_000_BTU_kg_J),
    "2026-03-05T10:15:00+00:00",
    "2026-03-05T14:15:00+00:00",
    (
        ResultRow("water balance, closes within", "fraction", Estimate(0.021, 0.03), 0.0, -0.07, 0.07),
        ResultRow("heat balance, closes within", "fraction", Estimate(-0.034, 0.05), 0.0, -0.07, 0.07),
        ResultRow("Merkel number (Poppe) at the test", "ratio", Estimate(0.172, 0.014), 0.18),
    ),
    (
        Departure("wet bulb at the blower's inlet", "temperature", fahrenheit_K(58.5), fahrenheit_K(66.0), 15.0 / 1.8),
        Departure("spray flow", "liquid flow", 49.1 * GALLON_PER_MINUTE_m3_s, 50.0 * GALLON_PER_MINUTE_m3_s,
                  2.5 * GALLON_PER_MINUTE_m3_s),
    ),
)  # fmt: skip
OPENED = Mark("A. Technician", "technician", "2026-03-04T13:00:00+00:00", "e41")


def signature(role: str, name: str, at: str, kind: Kind = "signed") -> SignedHead:
    """A signature over the record's head."""
    return SignedHead(212, HASH, role, name, "I saw this.", "ab" * 32, "cd" * 64, kind, at)


FACTS = CertificateFacts(
    RecordHead("run-2026-03-05-a", 211, HASH),
    "witnessed",
    MADE_AT,
    "0.1.0",
    serial="V-0042",
    place="the shop's test bay",
    tested_on="2026-03-04 to 2026-03-05",
    headline=Headline(Estimate(26.91 / 26.0, 0.054), rate(26.91, 1.4), 26.0 * GALLON_PER_HOUR_kg_s, "winter", ACCEPTED),
    performance=PERFORMANCE,
    deviations=(
        Deviation("rods.high", "Dipped with the lid off.", "Witness and engineer", "2026-03-04T13:02:00+00:00"),
    ),
    guarantee_conditions=("on clean water and on the liquor that the job states",),
    instruments=(
        Instrument("L1", "liquid flow meter", "clamp-on flow meter", "C-1107", "2026-11-30", expanded_relative=0.03),
        Instrument("T1", "tape", "steel tape", "C-1033", "2027-01-31", expanded=INCH_m / 16.0),
    ),
    as_left=(
        AsLeft("set_point_K", "set point of the tank", "temperature", fahrenheit_K(150.0), fahrenheit_K(150.0)),
        AsLeft("low_delay_s", "delay of the low rod", "delay", 4.0, 3.0),
    ),
    punch_list=(
        PunchItem(2, "B", "Label on the drain valve missing.", "Shop", "", OPENED),
        PunchItem(1, "A", "High rod 1/4 in too short: replace.", "Shop", "rods.high", OPENED),
    ),
    signatures=(
        signature("technician", "A. Technician", "2026-03-05T16:30:00+00:00"),
        signature("witness", "B. Witness", "2026-03-05T16:41:00+00:00"),
    ),
    dry_run="run-2026-02-27-dry, head " + "fedcba98" * 8,
    notes=("Spray header cleaned after the dry run.",),
)
CLOSED = Mark("A. Technician", "technician", "2026-03-06T08:00:00+00:00", "e99", "dipped again at 22.1 in")
RELEASE = signature("engineer", "C. Engineer", "2026-03-06T09:00:00+00:00", "ship released")
ACTS = {step.key: StepAct("A. Technician", "2026-03-04T10:00:00+00:00") for step in PROCEDURE.steps}


def certificate(**changes: object) -> Certificate:
    """The invented certificate, with other facts where given."""
    facts = replace(FACTS, **changes)  # type: ignore[arg-type]
    return certificate_from(PROCEDURE, READINGS, VERDICTS, facts, acts=ACTS)

"""The opening of a test: papers, nameplate, conditions of the day; dimensions, connections, materials; leak test."""

from __future__ import annotations

from typing import Final

from vaporwright.acceptance.sections.unit_under_test import UnitUnderTest
from vaporwright.acceptance.steps.making import (
    CHEMICAL_CAUTION,
    ENTRY_CAUTION,
    FAHRENHEIT_K,
    LIFT_CAUTION,
    LOCAL_CODE,
    PRACTICE,
    INCH_m,
    about,
    about_share,
    at_least,
    at_most,
    tick,
    within,
    words,
)
from vaporwright.acceptance.steps.procedure import Limits, ProcedureSection, ReadingField, Step
from vaporwright.unit.catalogue import ElectricHeaterPart, GasBurnerPart, SteamCoilPart

CONDITIONS: Final = "documents.conditions"
DRY_RUN: Final = "documents.dry_run"
COLD_LEAK: Final = "leak.cold"
LEAK_METAL_s: Final = 4.0 * 3600.0  # common practice, no source
LEAK_PLASTIC_s: Final = 24.0 * 3600.0
METALS: Final = ("stainless", "steel", "duplex", "titanium", "alloy")
DIMENSION_TOLERANCE_m: Final = 0.25 * INCH_m
HEIGHT_TOLERANCE_m: Final = 0.125 * INCH_m
AIR_MAY_MOVE_difference_K: Final = 5.0 * FAHRENHEIT_K
WET_BULB_MAY_MOVE_difference_K: Final = 3.0 * FAHRENHEIT_K
BAROMETER_MAY_MOVE_Pa: Final = 1000.0
VOLTAGE_MAY_MOVE: Final = 0.03
STEAM_MAY_MOVE: Final = 0.05
LEVEL_MAY_FALL_m: Final = 0.125 * INCH_m
WEIGHT_TOLERANCE: Final = 0.10  # shells are reckoned, not weighed: common practice, no source
_MOVES: Final = f"entered for the day; further off, the procedure is issued again: expectations follow ({PRACTICE})"
_HEAT_PAPERS: Final = {
    "gas": "listing of burner, safeguard and gas train, and the burner's manual",
    "electric": "listing and manual of heater, contactor and ground-fault protection",
    "steam": "pressure test of the coil, and manuals of valve and trap",
}


def opening_section(under: UnitUnderTest) -> ProcedureSection:
    """Documents, briefing, instruments, conditions of the day, nameplate."""
    steps = [_documents(under), _dry_run(under), _briefing(under), _instruments(), _conditions(under)]
    if under.variant != "hot on site":
        steps.append(_nameplate(under))
    return ProcedureSection("documents", "Documents, instruments, conditions of the day, nameplate", tuple(steps))


def _documents(under: UnitUnderTest) -> Step:
    papers = [
        ("drawings", "drawings and pipe diagram, as built"),
        ("wiring", "wiring diagram and terminal list, as built"),
        ("table", "cause-and-effect table, set points and delays"),
        ("materials", "material certificates"),
        ("heat", _HEAT_PAPERS[under.heat]),
        ("manual", "operating manual with cautions, in the user's language"),
    ]
    if under.variant in ("hot on site", "site"):
        papers.append(("shop_record", "record of the shop's test, with its punch list and as-left set points"))
    return Step(
        "documents.list",
        "Documents",
        "What is tested must be what was drawn, sold and listed.",
        (
            "Lay out every document at its latest revision.",
            "Compare each revision with the order and the unit's label.",
        ),
        (*(tick(key, label, "seen at its latest revision") for key, label in papers), words("revisions", "revisions")),
        20.0,
        by="engineer",
    )


def _dry_run(under: UnitUnderTest) -> Step:
    whose = "on site, by the shop's own people" if under.variant in ("hot on site", "site") else "in the shop"
    return Step(
        DRY_RUN,
        "Dry run signed",
        "A witness never waits for a fault that the shop could have found alone.",
        (
            f"Show this procedure, done once {whose} and signed.",
            "Show what the dry run found, and that it was put right.",
        ),
        (tick("signed", "dry run done and signed"), tick("cleared", "its findings are put right")),
        10.0,
        by="engineer",
        point="hold",
    )


def _briefing(under: UnitUnderTest) -> Step:
    hazards = {"gas": "fuel gas, flame and flue gas", "electric": "power beside water", "steam": "steam and condensate"}
    fields = [
        tick("hazards", f"hazards told: {hazards[under.heat]}, hot liquid, moving parts, confined space"),
        tick("rescue", "way out, assembly point, first aid, extinguisher, eye wash and shower shown"),
        tick("agenda", "agenda, hold and witness points agreed"),
        tick("rights", "the witness knows that any step may be repeated, with his own thermometer"),
    ]
    if under.variant == "site":
        fields.append(tick("liquor", "safety data sheet of the liquor read, protective clothing worn"))
    return Step(
        "documents.briefing",
        "Briefing and agenda",
        "Everybody near the unit knows what can hurt and what comes when.",
        (
            "Walk round the unit together.",
            "Name each hazard and its precaution.",
            "Agree on agenda and witness points.",
        ),
        tuple(fields),
        20.0,
        by="engineer",
        cautions=(LOCAL_CODE, *((CHEMICAL_CAUTION,) if under.variant == "site" else ())),
    )


def _instruments() -> Step:
    return Step(
        "documents.instruments",
        "Instruments registered",
        "Readings are worth what the instruments' certificates say; they are registered once, not per reading.",
        (
            "Register each instrument: certificate number, uncertainty, due date.",
            "Put aside any whose calibration has run out.",
        ),
        (tick("registered", "every instrument of this procedure registered"), tick("valid", "none is overdue")),
        20.0,
        after=(DRY_RUN,),
    )


def _conditions(under: UnitUnderTest) -> Step:
    day = under.day
    fields: list[ReadingField] = [
        about("air_temperature_K", "air at the blower's inlet", "temperature", day.air_temperature_K,
              AIR_MAY_MOVE_difference_K, _MOVES, "psychrometer"),
        about("wet_bulb_K", "wet bulb at the blower's inlet", "temperature", day.wet_bulb_K,
              WET_BULB_MAY_MOVE_difference_K, _MOVES, "psychrometer"),
        about("pressure_Pa", "barometer, not reduced to sea level", "absolute pressure", day.pressure_Pa,
              BAROMETER_MAY_MOVE_Pa, _MOVES, "barometer"),
        about("water_temperature_K", "make-up water", "temperature", day.water_temperature_K,
              AIR_MAY_MOVE_difference_K, _MOVES, "thermometer"),
        about_share("supply_voltage_V", "supply voltage, line to line", "voltage", day.supply_voltage_V,
                    VOLTAGE_MAY_MOVE, _MOVES, "voltmeter"),
    ]  # fmt: skip
    if under.heat == "steam" and under.variant != "cold":
        steam_Pa = under.result.conditions.heat_site.steam_gauge_pressure_Pa
        fields.append(
            about_share("steam_gauge_Pa", "steam at the stop valve, coil in use", "gauge pressure", steam_Pa,
                        STEAM_MAY_MOVE, _MOVES, "pressure gauge")
        )  # fmt: skip
    return Step(
        CONDITIONS,
        "Conditions of the day",
        "Every expected value follows from these, by the same model as the quotation.",
        (
            "Read each where the unit draws it: air and wet bulb at the blower's inlet, water at the make-up.",
            "Read again whenever the weather, a door or the supply changes.",
        ),
        tuple(fields),
        15.0,
        after=("documents.instruments",),
        restore="Where one is outside, enter the day anew and issue the procedure again before going on.",
    )


def _nameplate(under: UnitUnderTest) -> Step:
    part, phases = under.unit.heat_source, 3
    rating = {
        "gas": "fuel, gross input and gas pressures as ordered",
        "electric": "power, voltage and phases of the heater as ordered",
        "steam": "highest steam pressure of the coil as ordered",
    }[under.heat]
    return Step(
        "documents.nameplate",
        "Nameplate",
        "The label is what an inspector reads in ten years.",
        ("Read the unit's nameplate and those of motors and heat source.", "Compare each with the order."),
        (
            words("serial", "serial number"),
            tick("unit", f"unit as ordered: {under.unit.label()}"),
            tick("supply", f"supply as ordered: {under.design.job.number('utilities.supply_voltage'):.0f} V,"
                 f" {phases} phases"),
            tick("heat", f"{part.name}: {rating}"),
            tick("warnings", "warning labels in place: power, hot liquid, moving parts, confined space"),
        ),
        15.0,
    )  # fmt: skip


def mechanical_section(under: UnitUnderTest) -> ProcedureSection:
    """Dimensions, heights, openings, connections, materials, weight and lifting."""
    steps = (_tank(under), _heights(under), _connections(under), _materials(under), _guards(under), _lifting(under))
    return ProcedureSection("mechanical", "Dimensions, connections, materials", steps)


def _tank(under: UnitUnderTest) -> Step:
    tank = under.unit.tank
    reason = f"shop's part; a welded tank keeps to about this ({PRACTICE})"

    def side(key: str, label: str, length_m: float) -> ReadingField:
        return about(key, label, "length", length_m, DIMENSION_TOLERANCE_m, reason, "tape")

    return Step(
        "mechanical.tank",
        "Tank",
        "Volume and levels stand on the tank's own dimensions.",
        ("Measure inside, at the rim and at the bottom.", "Look along the bottom: it falls to the drain."),
        (
            side("length_m", "inside length", tank.length_m),
            side("width_m", "inside width", tank.width_m),
            side("height_m", "inside height", tank.height_m),
            tick("slope", "bottom falls to the drain"),
            tick("welds", "welds and walls free of cracks, dents and sharp edges"),
        ),
        25.0,
        cautions=(ENTRY_CAUTION,),
    )


def _heights(under: UnitUnderTest) -> Step:
    cut = f"level stack-up of this unit; nozzles and seats are set to this ({PRACTICE})"
    own = f"shop's part; set to this ({PRACTICE})"

    def height(key: str, label: str, height_m: float, reason: str = cut) -> ReadingField:
        return about(key, label, "short length", height_m, HEIGHT_TOLERANCE_m, reason, "rule")

    fields = [
        height("heater_bottom_m", "underside of the heater", under.level_m("heater bottom")),
        height("heater_top_m", "top of the heater", under.level_m("heater top")),
        height("overflow_m", "lip of the overflow", under.level_m("overflow")),
        height("rod_holder_m", "seat of the rod holder", under.level_m("rod holder")),
        height("make_up_m", "outlet of the make-up, with its air gap", under.level_m("make-up outlet")),
        height("suction_m", "centre of the pump's suction", under.unit.tank.suction_mouth_m, own),
    ]
    if under.built_text("return", "return_kind") == "outlet in air":
        outlet_m = under.built_number("return", "return_outlet_m")
        fields.append(height("return_outlet_m", "mouth of the return, in air", outlet_m))
    return Step(
        "mechanical.heights",
        "Heights above the tank's low corner",
        "The stack-up keeps the heater covered and the overflow below the rim.",
        ("Level the unit.", "Measure from the tank's low corner upwards, each mark from that same corner."),
        tuple(fields),
        30.0,
        cautions=(ENTRY_CAUTION,),
        after=("mechanical.tank",),
    )


def _connections(under: UnitUnderTest) -> Step:
    part, tank = under.unit.heat_source, under.unit.tank
    bore = f"shop's part; pipe of that size ({PRACTICE})"

    def opening(key: str, label: str, bore_m: float) -> ReadingField:
        return about(key, label, "short length", bore_m, HEIGHT_TOLERANCE_m, bore, "rule")

    fields = [
        opening("drain_bore_m", "bore of the drain", tank.drain_bore_m),
        opening("overflow_bore_m", "bore of the overflow", tank.overflow_bore_m),
        tick("suction", f"suction pipe: {under.built_text('hydraulics', 'suction_pipe')}"),
        tick("discharge", f"discharge and spray pipe: {under.built_text('hydraulics', 'discharge_pipe')}"),
        tick("return", f"each return: {under.built_text('return', 'return_pipe')}"),
    ]
    if isinstance(part, GasBurnerPart):
        fields.append(opening("flue_bore_m", "bore of the flue collar", part.flue_diameter_m))
        fields.append(tick("gas", f"gas connection for {under.built_text('gas', 'gas_pipe')}"))
    if isinstance(part, SteamCoilPart):
        fields.append(tick("steam", f"steam connection for {under.built_text('steam', 'steam_pipe')}"))
        fields.append(tick("breaker", "vacuum breaker, trap and drain leg fitted as drawn"))
    return Step(
        "mechanical.connections",
        "Connections, nozzles, strainer",
        "What the customer pipes to must be where and as large as drawn.",
        (
            "Compare each connection with the connection sheet: place, size, thread or flange, label.",
            f"Count the nozzles: {under.unit.tower.nozzles} in each tower.",
            "Open the strainer and measure its hole.",
        ),
        (
            *fields,
            tick("nozzles", f"{under.unit.tower.nozzles} nozzles in each tower, all alike, none plugged"),
            at_most("strainer_hole_m", "hole of the strainer", "short length", 0.5 * under.unit.tower.nozzle_passage_m,
                    f"half the nozzles' free passage at most, or solids plug them ({PRACTICE})", "rule",
                    expected=under.unit.pump.strainer_hole_m),
            tick("flow_arrows", "check valve, strainer and trap stand in the direction of flow"),
        ),
        30.0,
    )  # fmt: skip


def _materials(under: UnitUnderTest) -> Step:
    unit, part = under.unit, under.unit.heat_source
    heater = {
        "gas": ("immersion tube", part.tube_material if isinstance(part, GasBurnerPart) else ""),
        "electric": ("heater sheaths", part.sheath_material if isinstance(part, ElectricHeaterPart) else ""),
        "steam": ("steam coil", part.material if isinstance(part, SteamCoilPart) else ""),
    }[under.heat]
    parts = [("tank", unit.tank.material), heater, ("piping", under.design.job.text("choices.pipe_material"))]
    parts += [(f"tower {name}", material) for name, material in unit.tower.materials]
    return Step(
        "mechanical.materials",
        "Materials of the wetted parts",
        "A wrong metal or plastic fails within months, at temperature and end-of-batch strength.",
        ("Compare certificate, heat number or moulded mark of each part.", "Spot-test metals where a mark is missing."),
        (
            *(tick(name.replace(" ", "_"), f"{name}: {material}") for name, material in parts),
            words("heat_numbers", "certificate or heat numbers"),
            tick("gaskets", "gaskets and seals as listed for this liquor and temperature"),
        ),
        20.0,
    )


def _guards(under: UnitUnderTest) -> Step:
    access = {
        "gas": "burner, gas cock and flame sight",
        "electric": "heater terminals and disconnect",
        "steam": "stop valve, trap and strainer",
    }[under.heat]
    return Step(
        "mechanical.guards",
        "Guards, lid, insulation, access",
        "Nobody can touch what turns or scalds, and everybody reaches what must be shut.",
        ("Try to reach every moving part.", "Reach every hand valve, switch and drain as an operator would."),
        (
            tick("guards", "belts, couplings and fan inlets are guarded"),
            tick("lid", "lid and rim safe to hold, insulation whole"),
            tick("access", f"{access} are within reach and labelled"),
            tick("discharge", "overflow, drain and vents end where they hurt nobody"),
            tick("eliminator", "drift eliminator seated all round"),
        ),
        15.0,
    )


def _lifting(under: UnitUnderTest) -> Step:
    reason = f"weights of this unit: plates reckoned, parts from the catalogue; known to about this ({PRACTICE})"
    empty_kg = under.built_number("weights", "empty_kg")
    return Step(
        "mechanical.lifting",
        "Weight and lifting points",
        "Riggers lift by the papers' weight.",
        ("Weigh the empty unit, without crate.", "Look at every lifting point and its label."),
        (
            about_share("empty_kg", "weight, empty", "mass", empty_kg, WEIGHT_TOLERANCE, reason, "scale"),
            tick("points", "lifting points, fork pockets and centre of gravity marked; welds whole"),
        ),
        20.0,
        cautions=(LIFT_CAUTION,),
    )


def leak_section(under: UnitUnderTest) -> ProcedureSection:
    """The tank, cold; joints under pressure and hot are looked at once the pump runs, and once the unit is hot."""
    return ProcedureSection(
        "leak",
        "Leak test of the tank",
        (_cold_leak(under),),
        "The unit stands alone through most of it; only the attended time is in the estimate.",
    )


def is_metal(material: str) -> bool:
    """Whether a tank is of metal."""
    return any(metal in material for metal in METALS)


def _cold_leak(under: UnitUnderTest) -> Step:
    metal = is_metal(under.unit.tank.material)
    least_s, hours = (LEAK_METAL_s, "4 h") if metal else (LEAK_PLASTIC_s, "24 h")
    return Step(
        COLD_LEAK,
        f"Cold leak test, {hours}",
        "Every weld and fitting holds before power, fire or liquor come near.",
        (
            "Shut the drain, blind make-up and overflow.",
            "Fill with clean water to the overflow's lip; cover the tank, so that it does not evaporate.",
            "Dry the outside, lay paper under every joint, read the level in the stilling well.",
            f"Leave it for {hours}, then read the level again and look at every joint.",
        ),
        (
            at_least("stands_s", "time it stood", "duration", least_s,
                     f"{hours} for a {'metal' if metal else 'plastic'} tank ({PRACTICE})", "stopwatch",
                     expected=1.05 * least_s),
            within("level_fall_m", "fall of the level meanwhile", "short length",
                   Limits(-LEVEL_MAY_FALL_m, LEVEL_MAY_FALL_m),
                   f"covered water loses far less; a stilling well is read to a quarter of it ({PRACTICE})",
                   "level gauge", expected=0.0),
            tick("dry", "no wet paper, no drop at any weld, joint, seal or valve"),
            tick("walls", "walls and supports do not bulge or sink"),
        ),
        45.0,
        cautions=("A full tank weighs tons: floor and stand must bear it.",),
        point="witness",
        after=(CONDITIONS,),
        restore="Take the blinds out; leave the water in for the steps that follow.",
    )  # fmt: skip

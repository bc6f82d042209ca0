"""Every key of a catalogue file, declared once: quantity, meaning and allowed range (SI).

The reader's checks come from this table. Ranges are what such parts can be, not what is good practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.materials import PLASTICS
from vaporwright.unit.catalogue import COUNTERFLOW, CROSSFLOW
from vaporwright.unit.fields import FIELDS_BY_KEY

_LOADING: Final = 0.6779  # 1 gal/min per ft2 in kg/(s m2), rounded: ranges need no more


@dataclass(frozen=True)
class CatalogueKey:
    """One key of a catalogue file. Quantity names are those of display_units, or "text", "choice", "list",
    "yes or no"; `many` marks a list of quantities."""

    name: str
    quantity: str
    meaning: str
    least: float | None = None
    most: float | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False
    many: bool = False


def _identity(what: str) -> tuple[CatalogueKey, ...]:
    return (
        CatalogueKey("id", "text", f"Short name by which other parts and jobs name this {what}"),
        CatalogueKey("name", "text", f"What this {what} is called in reports"),
    )


CATALOGUE_KEYS: Final = (
    CatalogueKey("name", "text", "Name of the catalogue"),
    CatalogueKey("invented", "yes or no", "Whether its parts are invented, for trying out", optional=True),
)

TOWER_KEYS: Final = (
    *_identity("tower"),
    CatalogueKey("blower", "text", "Id of its blower"),
    CatalogueKey("blower_position", "choice", "Where the blower sits", choices=("before fill", "after fill")),
    CatalogueKey(
        "arrangement",
        "choice",
        "How air meets water; counterflow where it is not stated",
        choices=(COUNTERFLOW, CROSSFLOW),
        optional=True,
    ),
    CatalogueKey("rated_water_loading", "water loading", "Usual spray per fill area", 0.5 * _LOADING, 30.0 * _LOADING),
    CatalogueKey("other_loss", "ratio", "Loss of louvre, eliminator and outlet in velocity heads", 0.0, 3000.0),
    CatalogueKey("drift", "fraction", "Drift, of the spray", 0.0, 0.02),
    CatalogueKey("nozzles", "count", "Spray nozzles of its header", 1.0, 500.0),
    CatalogueKey("nozzle_pressure", "gauge pressure", "Pressure at them at the rated water loading", 1e3, 5e5),
    CatalogueKey("nozzle_passage", "short length", "Free passage of a nozzle", 0.5e-3, 0.1),
    CatalogueKey("sump_bottom", "length", "Where the return leaves its sump, above the floor", 0.05, 20.0),
    CatalogueKey("sump_depth", "short length", "Liquor that the sump can hold over the return's mouth", 0.01, 2.0),
    CatalogueKey("mass", "mass", "Dry, with fill, blower and stand", 5.0, 2e4),
    CatalogueKey("floor_area", "area", "Floor that it stands on beside the tank; zero on top of it", 0.0, 100.0),
)

FILL_KEYS: Final = (
    CatalogueKey("area", "area", "Face area of the fill", 0.02, 50.0),
    CatalogueKey("depth", "length", "Depth of the fill along the air", 0.1, 6.0),
    CatalogueKey("model", "choice", "Model that reduced the test points", choices=("poppe", "merkel")),
    CatalogueKey("merkel_coefficient", "ratio", "c of Me = c (L/G)^n", 0.005, 20.0),
    CatalogueKey(
        "merkel_exponent", "ratio", "n of Me = c (L/G)^n, negative: more water per air, smaller Me", -2.0, -0.01
    ),
    CatalogueKey("tested_ratio_low", "ratio", "Lowest tested L/G", 0.05, 50.0, optional=True),
    CatalogueKey("tested_ratio_high", "ratio", "Highest tested L/G", 0.05, 50.0, optional=True),
    CatalogueKey("tested_water_high", "temperature", "Hottest tested water", 283.15, 373.15, optional=True),
    CatalogueKey("loss_dry", "ratio", "Loss of the dry fill in velocity heads of the face velocity", 0.0, 3000.0),
    CatalogueKey("loss_at_rated_loading", "ratio", "The same at the rated water loading", 0.0, 5000.0),
    CatalogueKey("least_water_loading", "water loading", "Below it the fill has dry patches", 0.0, 30.0 * _LOADING),
    CatalogueKey("most_water_loading", "water loading", "Above it the fill floods", 0.5 * _LOADING, 60.0 * _LOADING),
    CatalogueKey("flooding_air_velocity", "velocity", "Face velocity that holds the water up", 0.5, 10.0),
)

TEST_POINT_KEYS: Final = (
    CatalogueKey("water_in", "temperature", "Water at the spray", 274.15, 368.15),
    CatalogueKey("water_out", "temperature", "Water under the fill", 273.15, 368.15),
    CatalogueKey("water_flow", "liquid flow", "Water at the spray, as metered there", 1e-6, 1.0),
    CatalogueKey("air_temperature", "temperature", "Air entering the fill", 243.15, 323.15),
    CatalogueKey("wet_bulb", "temperature", "Wet bulb of that air", 243.15, 323.15, optional=True),
    CatalogueKey("relative_humidity", "fraction", "Relative humidity of that air", 0.0, 1.0, optional=True),
    CatalogueKey("air_flow", "air flow", "Volume flow of that air, as it enters", 1e-3, 100.0),
    CatalogueKey("barometer", "absolute pressure", "Pressure of the air, not reduced to sea level", 60e3, 110e3),
)

# A part of a tower and its highest temperature; the fill is required.
TEMPERATURE_LIMIT: Final = CatalogueKey("", "temperature", "Highest water or air temperature", 303.15, 423.15)
LIMITED_PARTS: Final = ("fill", "shell", "eliminator", "header", "hose", "louvre", "liner")
# What those parts are made of, as far as the shop states it.
PART_MATERIAL: Final = CatalogueKey("", "choice", "Plastic of the part", choices=PLASTICS)

BLOWER_KEYS: Final = (
    *_identity("blower"),
    CatalogueKey("flow", "air flow", "Flows of its curve, rising", 0.0, 100.0, many=True),
    CatalogueKey("static_pressure", "pressure", "Static pressures at those flows, falling", 0.0, 2e4, many=True),
    CatalogueKey("shaft_power", "power", "Shaft powers at those flows", 1.0, 5e5, many=True),
    CatalogueKey("density", "density", "Air density of the curve", 0.6, 1.6),
    CatalogueKey("motor_efficiency", "fraction", "Efficiency of motor and drive", 0.2, 0.99),
    CatalogueKey("motor_rating", "power", "Rated power of the motor", 10.0, 5e5),
)

TANK_KEYS: Final = (
    *_identity("tank"),
    CatalogueKey("material", "choice", "Material of the tank", choices=FIELDS_BY_KEY["choices.tank_material"].choices),
    CatalogueKey("length", "length", "Inside length", 0.3, 20.0),
    CatalogueKey("width", "length", "Inside width", 0.2, 10.0),
    CatalogueKey("height", "length", "Inside height to the rim", 0.2, 5.0),
    CatalogueKey("working_depth", "length", "Mean liquid depth in service", 0.1, 5.0),
    CatalogueKey("wall_thickness", "short length", "Wall thickness", 0.5e-3, 0.1),
    CatalogueKey("wall_conductivity", "thermal conductivity", "Conductivity of the wall", 0.05, 420.0),
    CatalogueKey("insulation_thickness", "short length", "Insulation, zero for none", 0.0, 0.5),
    CatalogueKey("insulation_conductivity", "thermal conductivity", "Conductivity of the insulation", 0.01, 1.0),
    CatalogueKey("temperature_limit", "temperature", "Highest liquid temperature", 303.15, 423.15),
    CatalogueKey("standing_height", "short length", "Its low corner above the floor", 0.0, 3.0),
    CatalogueKey("suction_mouth", "short length", "Centre of the pump's suction above the low corner", 0.01, 2.0),
    CatalogueKey("drain_bore", "short length", "Bore of the drain", 0.005, 0.5),
    CatalogueKey("overflow_bore", "short length", "Bore of the passive overflow", 0.01, 1.0),
)

_HEATER_HEIGHT: Final = CatalogueKey(
    "height", "length", "Height from its underside to its top, as it lies in the tank", 0.01, 3.0
)
_MASS: Final = CatalogueKey("mass", "mass", "Mass, dry", 0.5, 2e4)
HEATER_METALS: Final = ("carbon steel", "304 stainless", "316 stainless", "2205 duplex", "titanium")

GAS_BURNER_KEYS: Final = (
    *_identity("burner"),
    CatalogueKey("fuels", "list", "Fuels it is approved for", choices=("natural gas", "propane")),
    CatalogueKey("gross_input", "heat", "Rated input on gross heating value, at sea level", 1e3, 5e6),
    CatalogueKey("least_input", "heat", "Lowest input, equal to the rated one if it only fires full", 1e3, 5e6),
    CatalogueKey("fan_assisted", "yes or no", "Whether a fan supplies the combustion air"),
    _HEATER_HEIGHT,
    CatalogueKey("tube_material", "choice", "Metal of the immersion tube", choices=HEATER_METALS),
    CatalogueKey("tube_outer_diameter", "short length", "Outer diameter of the immersion tube", 0.035, 0.42),
    CatalogueKey("tube_wall_thickness", "short length", "Wall of the tube", 0.0005, 0.02),
    CatalogueKey("tube_length", "length", "Developed immersed length of all passes", 0.5, 60.0),
    CatalogueKey("tube_conductivity", "thermal conductivity", "Conductivity of the tube", 5.0, 420.0),
    CatalogueKey("tube_emissivity", "ratio", "Emissivity inside the oxidised tube", 0.8, 1.0),
    CatalogueKey("flame_length", "length", "Length of the visible flame", 0.05, 20.0),
    CatalogueKey("blower_power", "power", "Electric power of its combustion fan", 0.0, 1e5),
    CatalogueKey("train_lowest_pressure", "pressure", "Lowest pressure at the train's inlet, full fire", 250.0, 1e4),
    CatalogueKey("train_highest_pressure", "pressure", "Highest pressure at the train's inlet", 250.0, 5e4),
    CatalogueKey("manifold_pressure", "pressure", "Pressure at the burner, full fire", 50.0, 1e4),
    CatalogueKey("flue_diameter", "short length", "Inner diameter of the flue at its connection", 0.03, 1.0),
    _MASS,
)

ELECTRIC_HEATER_KEYS: Final = (
    *_identity("heater"),
    CatalogueKey("rated_power", "power", "Power at the rated voltage", 100.0, 5e6),
    CatalogueKey("rated_voltage", "voltage", "Rated line voltage", 100.0, 1000.0),
    CatalogueKey("phases", "count", "1 or 3", 1.0, 3.0),
    _HEATER_HEIGHT,
    CatalogueKey("sheath_material", "choice", "Metal of the sheath", choices=HEATER_METALS),
    CatalogueKey("sheath_area", "area", "Heated sheath surface of all elements", 0.005, 500.0),
    CatalogueKey("sheath_diameter", "short length", "Outer diameter of an element", 0.003, 0.1),
    CatalogueKey("circuits", "count", "Circuits that its elements are subdivided into", 1.0, 100.0),
    _MASS,
)

STEAM_COIL_KEYS: Final = (
    *_identity("coil"),
    _HEATER_HEIGHT,
    CatalogueKey("material", "choice", "Material of the tubes", choices=(*HEATER_METALS, "fluoropolymer")),
    CatalogueKey("tube_outer_diameter", "short length", "Outer diameter of a tube", 0.002, 0.15),
    CatalogueKey("tube_wall_thickness", "short length", "Wall of a tube", 0.0001, 0.02),
    CatalogueKey("wall_conductivity", "thermal conductivity", "Conductivity of the tube", 0.1, 420.0),
    CatalogueKey("tube_length", "length", "Immersed length of all tubes together", 0.5, 5000.0),
    CatalogueKey("parallel_tubes", "count", "Tubes side by side between the headers", 1.0, 1000.0),
    CatalogueKey("highest_pressure", "gauge pressure", "Highest steam pressure", 5e3, 25e5),
    _MASS,
)

PUMP_KEYS: Final = (
    *_identity("pump"),
    CatalogueKey("flow", "liquid flow", "Flow at its duty point", 1e-5, 0.5),
    CatalogueKey("curve_flow", "liquid flow", "Flows of its curve, rising from shut-off", 0.0, 1.0, many=True),
    CatalogueKey("curve_head", "length", "Heads at those flows, falling", 0.0, 150.0, many=True),
    CatalogueKey("curve_shaft_power", "power", "Shaft powers at those flows, on water", 1.0, 5e5, many=True),
    CatalogueKey("curve_npsh_required", "length", "NPSH required at those flows", 0.0, 50.0, many=True),
    CatalogueKey("motor_efficiency", "fraction", "Efficiency of the motor", 0.2, 0.99),
    CatalogueKey("motor_rating", "power", "Rated power of the motor", 10.0, 5e5),
    CatalogueKey("centre_height", "short length", "Its centre above the floor", 0.0, 3.0),
    CatalogueKey("strainer_hole", "short length", "Holes of its suction strainer", 0.1e-3, 0.05),
    CatalogueKey("strainer_loss", "pressure", "Loss of the clean strainer at the duty flow", 10.0, 5e4),
    _MASS,
)

# Settings of the shop: its preferred margins and usual figures. What is not stated is common practice, no source.
# Each key is an attribute of unit.practice.ShopPractice without its unit.
PRACTICE_KEYS: Final = (
    CatalogueKey("most_share_of_capacity", "fraction", "Most that a duty may take of the capacity", 0.3, 1.0),
    CatalogueKey(
        "clear_of_clamp", "temperature difference", "Least gap from tank to clamp, heat full on, in summer", 0.0, 20.0
    ),
    CatalogueKey("spray_share", "fraction", "Spray, of the pump's flow; the rest agitates", 0.3, 1.0),
    CatalogueKey(
        "least_spray_time", "short duration", "Least working volume of the tank over spray flow", 10.0, 7200.0
    ),
    CatalogueKey("candidates_shown", "count", "How many units a sizing shows side by side", 1.0, 9.0),
    CatalogueKey("suction_velocity", "liquid velocity", "Velocity by which the suction pipe is chosen", 0.3, 3.0),
    CatalogueKey("discharge_velocity", "liquid velocity", "Velocity by which pressure pipe is chosen", 0.5, 4.0),
    CatalogueKey("bottom_slope", "ratio", "Fall of a tank's bottom to its drain, over its length", 0.0, 0.1),
    CatalogueKey("gas_line_drop", "pressure", "Most pressure drop from meter to train", 10.0, 5e3),
    CatalogueKey("trap_factor", "ratio", "Trap's capacity over the condensate at full load", 1.0, 10.0),
    CatalogueKey("trap_drain_leg", "short length", "Coil outlet down to the trap", 0.0, 5.0),
    CatalogueKey("exhaust_velocity", "velocity", "Most velocity in the exhaust duct", 2.0, 20.0),
    CatalogueKey(
        "room_depressurisation", "pressure", "Most that a room with a natural-draft flue may be pulled down", 0.5, 4.98
    ),
    CatalogueKey("stiffener_share", "fraction", "Rim, ribs and legs over a tank's plates", 0.0, 2.0),
    CatalogueKey("packing_share", "fraction", "Skid and crate over the dry unit", 0.0, 1.0),
    CatalogueKey("panel_mass", "mass", "Panel, piping and valves", 0.0, 5e3),
    CatalogueKey("control_power", "power", "Apparent power of panel, dosing and lamps", 1.0, 1e5),
)
LEVEL_PRACTICE_KEYS: Final = (
    CatalogueKey("heater_clearance", "short length", "Sludge to heater", 0.0, 2.0),
    CatalogueKey("heater_cover", "short length", "Liquor over the heater when low trips", 0.0, 2.0),
    CatalogueKey("low_to_refill_on", "short length", "Usual gap", 0.0, 2.0),
    CatalogueKey("refill_band", "short length", "Usual gap from refill-on to refill-off", 0.0, 2.0),
    CatalogueKey("refill_off_to_high", "short length", "Usual gap", 0.0, 2.0),
    CatalogueKey("high_to_high_high", "short length", "Usual gap", 0.0, 2.0),
    CatalogueKey("high_high_to_overflow", "short length", "Usual gap", 0.0, 2.0),
    CatalogueKey("rim_above_high", "short length", "Usual; where foam is stated, at least 12 in", 0.0, 2.0),
    CatalogueKey("least_freeboard", "short length", "Rim above the highest liquor and foam", 0.0, 2.0),
    CatalogueKey("reference_below_low", "short length", "Usual gap", 0.0, 2.0),
    CatalogueKey("rod_tolerance", "short length", "Of each tip, cutting and hanging together", 0.0, 0.05),
    CatalogueKey("floor_tilt", "ratio", "Fall of the floor over its run", 0.0, 0.1),
    CatalogueKey("wave", "short length", "Crest above, trough below the mean level, at the rods", 0.0, 0.3),
)

"""The gas side of a unit: gas at full fire, line and train, pressure switches, combustion air; and its flue.

What neither job, catalogue nor shop practice says is common practice, no source, and stands here as a constant. Gas
explodes: the settings are a start for the qualified person who fires the burner, never an approval.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.flue import FLUE_CAUTION, TUBE_CONDENSATE_CAUTION
from vaporwright.equipment.gas_piping import (
    COMBUSTION_AIR_CAUTION,
    GAS_PIPING_CAUTION,
    GasLine,
    PipedGas,
    combustion_air_openings,
    gas_line,
)
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.properties.fuels import gross_heating_value_J_standard_m3
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.catalogue import GasBurnerPart
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.flue_of_unit import flue_figures, flue_notices, flue_of, gas_rating
from vaporwright.unit.heat import FUELS

KEY: Final = "gas"
TITLE: Final = "Gas, combustion air, flue"
AT_REST: Final = "utilities.gas_pressure_at_rest"

# Common practice, no source
LOW_SWITCH_SHARE: Final = 0.5  # of the train's inlet pressure at full fire
HIGH_SWITCH_SHARE: Final = 1.5  # of the manifold pressure
CLOSE_LOW_SWITCH_SHARE: Final = 0.9  # of the inlet pressure; closer, it trips when neighbours draw gas

_TO_CONFIRM: Final = "common practice, no source: the qualified person confirms it with the burner's manual"
_PIPED: Final[dict[str, PipedGas]] = {"natural gas": "natural gas", "propane": "propane"}
_LINE: Final = ("equipment.gas_piping.gas_line",)


@dataclass(frozen=True)
class _Gas:
    """Gas at full fire and its line."""

    answer: UnitAnswer
    part: GasBurnerPart
    gross_input_W: float
    heating_value_J_m3: float
    line: GasLine
    low_switch_Pa: float | None  # None where the flowing pressure is too low for any setting
    high_switch_Pa: float


def gas_section(answer: UnitAnswer) -> Section:
    """Gas line, combustion air and flue of a gas-fired unit.

    Raises: InputError where the unit burns no gas or a pressure contradicts another; OutOfRange from the equipment,
        naming its variable.
    """
    part = answer.unit.heat_source
    if not isinstance(part, GasBurnerPart):
        raise InputError("unit", "heat_source", f"{part.part_id!r} burns no gas", "a gas burner")
    gas, notices = _solve(answer, part)
    flue = flue_of(answer, part)
    return Section(
        KEY,
        TITLE,
        (*_line_figures(gas), *_pressure_figures(gas), *_air_figures(gas), *flue_figures(flue)),
        (*notices, *_line_notices(gas), *flue_notices(flue)),
        (GAS_PIPING_CAUTION, COMBUSTION_AIR_CAUTION, FLUE_CAUTION, TUBE_CONDENSATE_CAUTION),
    )


def _solve(answer: UnitAnswer, part: GasBurnerPart) -> tuple[_Gas, tuple[Notice, ...]]:
    gross_W = max(gas_rating(result).gross_input_W for result in answer.seasons.values())
    heating_value = gross_heating_value_J_standard_m3(FUELS[answer.job.text("utilities.fuel")])
    line, notices = _line(answer, part, gross_W, heating_value)
    low_Pa = max(LOW_SWITCH_SHARE * line.train_inlet_gauge_Pa, part.train_lowest_gauge_Pa)
    gas = _Gas(
        answer=answer,
        part=part,
        gross_input_W=gross_W,
        heating_value_J_m3=heating_value,
        line=line,
        low_switch_Pa=low_Pa if low_Pa < line.train_inlet_gauge_Pa else None,
        high_switch_Pa=HIGH_SWITCH_SHARE * part.manifold_gauge_Pa,
    )
    return gas, notices


def _line(
    answer: UnitAnswer, part: GasBurnerPart, gross_input_W: float, heating_value_J_m3: float
) -> tuple[GasLine, tuple[Notice, ...]]:
    job = answer.job
    running_Pa, rest_Pa = job.number("utilities.gas_pressure"), job.number(AT_REST)
    notices: tuple[Notice, ...] = ()
    if rest_Pa < running_Pa:
        if all(assumed.key != AT_REST for assumed in job.assumptions):
            problem = f"{rest_Pa:.0f} Pa is below utilities.gas_pressure, {running_Pa:.0f} Pa"
            raise InputError("job", AT_REST, problem, "at least that")
        text = (
            "The gas pressure with nothing running is not known; it is taken as no more than the {0} with all running:"
        )
        ask = " ask the utility before the train is chosen."
        notices = (Notice("gas pressure at rest not known", text + ask, ((running_Pa, "pressure"),)),)
        rest_Pa = running_Pa
    line = gas_line(
        gas=_PIPED[job.text("utilities.fuel")],
        heat_input_W=gross_input_W,
        heating_value_J_standard_m3=heating_value_J_m3,
        length_m=job.number("utilities.gas_line_length"),
        most_drop_Pa=answer.unit.practice.gas_line_drop_Pa,
        site_pressure_Pa=job.pressure_Pa,
        site_lowest_gauge_Pa=running_Pa,
        site_highest_gauge_Pa=rest_Pa,
        train_lowest_gauge_Pa=part.train_lowest_gauge_Pa,
        train_highest_gauge_Pa=part.train_highest_gauge_Pa,
    )
    return line, notices


def _line_figures(gas: _Gas) -> Iterator[Figure]:
    job, pipe = gas.answer.job, gas.line.pipe
    fuel = Input("utilities.fuel", job.text("utilities.fuel"), "text")
    value = Input("heating value, gross, per standard volume", gas.heating_value_J_m3, "heat per volume")
    gross = Input("gas.gross_input_W", gas.gross_input_W, "heat")
    yield Figure(
        "gross_input_W",
        gas.gross_input_W,
        "heat",
        "rated input of the burner x its share at the site's altitude, the greatest of the seasons, at full fire",
        (
            Input("rated input", gas.part.gross_input_W, "heat"),
            Input("site.elevation", job.number("site.elevation"), "length"),
        ),
        ("equipment.burner_altitude.altitude_input_factor",),
        "gross input at full fire",
    )
    yield Figure(
        "gas_flow_standard_m3_s",
        pipe.flow_standard_m3_s,
        "gas flow",
        "gross input / gross heating value at 60 degF and 14.7 psi",
        (gross, value, fuel),
        ("properties.fuels.gross_heating_value_J_standard_m3",),
        "gas at full fire, at 60 °F and 14.7 psi",
    )
    flow = Input("gas.gas_flow_standard_m3_s", pipe.flow_standard_m3_s, "gas flow")
    length = Input("utilities.gas_line_length", job.number("utilities.gas_line_length"), "length")
    allowed = Input("drop allowed, meter to train", gas.line.allowed_drop_Pa, "pressure")
    altitude = Input("drop against sea level", gas.line.altitude_factor, "ratio")
    smallest = (
        "the smallest steel pipe that carries the flow and 2.5 % more at the drop allowed, at the site's altitude"
    )
    inputs = (flow, length, allowed, altitude, fuel)
    functions = (*_LINE, "equipment.gas_piping.smallest_gas_pipe")
    words = f"{pipe.nominal_size} in steel, schedule 40"
    yield Figure("gas_pipe", words, "text", smallest, inputs, functions, "gas line, meter to train")
    bore_m = pipe.inner_diameter_m
    yield Figure("gas_pipe_bore_m", bore_m, "short length", smallest, inputs, functions, "its bore")
    yield Figure(
        "gas_line_drop_Pa",
        pipe.pressure_drop_Pa,
        "pressure",
        "the code's low-pressure equation at the load x 101.325 kPa / site pressure (at sea level and below, x 1)",
        (flow, length, Input("gas.gas_pipe_bore_m", bore_m, "short length"), altitude),
        (*_LINE, "equipment.gas_piping.gas_pipe_pressure_drop_Pa"),
        "its drop at full fire",
    )


def _pressure_figures(gas: _Gas) -> Iterator[Figure]:
    part, line, job = gas.part, gas.line, gas.answer.job
    running = Input("utilities.gas_pressure", job.number("utilities.gas_pressure"), "pressure")
    drop = Input("gas.gas_line_drop_Pa", line.pipe.pressure_drop_Pa, "pressure")
    inlet = Input("gas.train_inlet_gauge_Pa", line.train_inlet_gauge_Pa, "pressure")
    lowest = Input("gas.train_lowest_gauge_Pa", part.train_lowest_gauge_Pa, "pressure")
    manifold = Input("gas.manifold_gauge_Pa", part.manifold_gauge_Pa, "pressure")
    at_rest = Input(AT_REST, job.number(AT_REST), "pressure")
    half = (
        f"the greater of {LOW_SWITCH_SHARE:g} x train inlet at full fire and what the train needs to hold its manifold"
    )
    given = "of the catalogue"
    rows: tuple[tuple[str, float | None, str, tuple[Input, ...], tuple[str, ...], str], ...] = (
        (
            "train_inlet_gauge_Pa",
            line.train_inlet_gauge_Pa,
            "site's gas pressure with everything running - drop of the line",
            (running, drop),
            _LINE,
            "train inlet at full fire",
        ),
        (
            "gas_at_rest_gauge_Pa",
            line.no_flow_gauge_Pa,
            "site's gas pressure with nothing running, no less than with everything running",
            (at_rest, running),
            _LINE,
            "train inlet with no flow",
        ),
        ("train_lowest_gauge_Pa", part.train_lowest_gauge_Pa, given, (), (), "train's lowest inlet, full fire"),
        ("train_highest_gauge_Pa", part.train_highest_gauge_Pa, given, (), (), "train's highest inlet"),
        ("manifold_gauge_Pa", part.manifold_gauge_Pa, given, (), (), "manifold at full fire"),
        (
            "low_gas_switch_gauge_Pa",
            gas.low_switch_Pa,
            f"{half}; {_TO_CONFIRM}",
            (inlet, lowest),
            (),
            "low gas pressure switch, at the train inlet, to be confirmed",
        ),
        (
            "high_gas_switch_gauge_Pa",
            gas.high_switch_Pa,
            f"{HIGH_SWITCH_SHARE:g} x manifold pressure at full fire; {_TO_CONFIRM}",
            (manifold,),
            (),
            "high gas pressure switch, at the manifold, to be confirmed",
        ),
    )
    for name, value, equation, inputs, functions, label in rows:
        yield Figure(
            name, value, "pressure", equation, inputs, functions, label, absent="the train gets too little gas"
        )


def _air_figures(gas: _Gas) -> Iterator[Figure]:
    kind = gas.answer.job.text("choices.flue")
    sealed = kind == "sealed"
    supply = "ducted from outdoors to the burner" if sealed else "from the room, by openings to outdoors"
    flue_kind = Input("choices.flue", kind, "text")
    yield Figure("combustion_air", supply, "text", "by the kind of flue", (flue_kind,), (), "combustion air")
    openings = combustion_air_openings(gas.gross_input_W)
    rows = (
        ("two_direct", openings.two_to_outdoors_each_m2, "4000", "two openings to outdoors, each"),
        ("two_by_ducts", openings.two_by_horizontal_ducts_each_m2, "2000", "or two horizontal ducts, each"),
        ("one", openings.one_to_outdoors_m2, "3000", "or one opening to outdoors, high up"),
        ("two_indoors", openings.two_to_indoors_each_m2, "1000 (at least 100 in2)", "or two to large rooms, each"),
    )
    for name, area_m2, input_Btu_h, label in rows:
        yield Figure(
            f"air_opening_{name}_m2",
            None if sealed else area_m2,
            "area",
            f"free area: gross input in Btu/h / {input_Btu_h}, in2; one of the four ways",
            (Input("gas.gross_input_W", gas.gross_input_W, "heat"), flue_kind),
            ("equipment.gas_piping.combustion_air_openings",),
            f"{label}, free area",
            absent="ducted from outdoors",
        )


def _line_notices(gas: _Gas) -> Iterator[Notice]:
    yield from gas.line.notices
    inlet_Pa, low_Pa = gas.line.train_inlet_gauge_Pa, gas.low_switch_Pa
    if low_Pa is not None and low_Pa > CLOSE_LOW_SWITCH_SHARE * inlet_Pa:
        yield Notice(
            "low gas switch close to the running pressure",
            "The low gas pressure switch at {0} stands close under the {1} that the train gets at full fire: it trips"
            " when other equipment draws gas. More pressure, or a shorter or wider line.",
            ((low_Pa, "pressure"), (inlet_Pa, "pressure")),
        )
    if gas.answer.job.text("utilities.fuel") == "propane" and len(gas.part.fuels) > 1:
        yield Notice(
            "pressures on propane",
            "The catalogue states one manifold pressure, {0}, and one train range for all fuels of this burner: propane"
            " needs its own orifices, regulator springs and pressures, by the burner's manual and a licensed fitter.",
            ((gas.part.manifold_gauge_Pa, "pressure"),),
        )

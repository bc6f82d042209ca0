"""The steam side of a unit: what its coil draws, hot and cold, the steam pipe, and how the condensate gets out.

The coil is rated over the seasons by unit.heat; here its pipe, trap and drain are put together for the connection
sheet. The condensate is taken as not returned to the boiler: a pinhole would carry liquor there. What neither job,
catalogue nor the shop's settings say is common practice, no source, and stands here as a constant.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from vaporwright.equipment.condensate import (
    CONDENSATE_CAUTION,
    CondensateDrain,
    SteamPipe,
    condensate_drain,
    steam_pipe_for_velocity,
    steam_velocity_m_s,
)
from vaporwright.equipment.steam_coil import STEAM_SUPPLY, SteamCoilRating
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.notice import Notice
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.catalogue import SteamCoilPart
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.heat import HeatRating, rate_heat
from vaporwright.unit.levels import levels_of

KEY: Final = "steam"
TITLE: Final = "Steam and condensate"
RUNNING_VELOCITY_m_s: Final = 30.0  # most in the steam pipe at full output; common practice, no source (25 to 40)
COLD_START_VELOCITY_m_s: Final = 40.0  # most while the cold tank warms up; common practice, no source
MODULATED: Final = "modulated"
COIL: Final = "equipment.steam_coil.rate_steam_coil"
PIPE: Final = "equipment.condensate.steam_pipe_for_velocity"
VELOCITY: Final = "equipment.condensate.steam_velocity_m_s"
DRAIN: Final = "equipment.condensate.condensate_drain"
CONDENSATE_GOES_TO: Final = (
    "a vented receiver, then waste or make-up; back to the boiler only past a conductivity monitor that dumps it,"
    " as a pinhole lets liquor in"
)


@dataclass(frozen=True)
class _SteamSide:
    """Ratings and sizes from which the figures are written."""

    coil: SteamCoilPart
    greatest: SteamCoilRating  # at full output, of the season with the most steam
    greatest_season: str
    governing: SteamCoilRating  # at full output in the governing season
    cold: SteamCoilRating
    cold_start_K: float
    pipe: SteamPipe
    modulated: bool
    drain: CondensateDrain
    outlet_above_floor_m: float


def steam_section(answer: UnitAnswer) -> Section:
    """Steam, steam pipe, trap and drain of a unit whose heat source is a steam coil.

    Raises: InputError where it is not; OutOfRange from pipe, drain and levels.
    """
    side = _solve(answer)
    figures = (
        *_steam_figures(answer, side),
        *_trap_figures(answer, side),
        *_piping_figures(answer, side),
        *_flooding_figures(answer, side),
        *_flash_figures(side),
    )
    return Section(KEY, TITLE, figures, _notices(answer, side), (CONDENSATE_CAUTION,))


def _coil_rating(heat: HeatRating) -> SteamCoilRating:
    assert isinstance(heat.detail, SteamCoilRating)
    return heat.detail


def _solve(answer: UnitAnswer) -> _SteamSide:
    unit, job = answer.unit, answer.job
    coil = unit.heat_source
    if not isinstance(coil, SteamCoilPart):
        raise InputError("unit", "heat_source", f"{coil.part_id} is no steam coil", "a steam coil")
    ratings = {season: _coil_rating(result.heat) for season, result in answer.seasons.items()}
    season = max(ratings, key=lambda name: ratings[name].steam_flow_kg_s)
    governing = answer.seasons[answer.governing]
    start_K = answer.warm_up.start_K
    cold = _coil_rating(rate_heat(coil, governing.conditions.heat_site, start_K))
    modulated = job.text("choices.steam_control") == MODULATED
    levels = levels_of(answer)
    return _SteamSide(
        coil=coil,
        greatest=ratings[season],
        greatest_season=season,
        governing=ratings[answer.governing],
        cold=cold,
        cold_start_K=start_K,
        pipe=_pipe(ratings[season], cold),
        modulated=modulated,
        drain=condensate_drain(
            condensate_flow_kg_s=ratings[season].condensate_flow_kg_s,
            coil_pressure_Pa=ratings[answer.governing].coil_pressure_Pa,
            bath_temperature_K=governing.settling_temperature_K,
            trap_factor=unit.practice.trap_factor,
            drain_leg_m=unit.practice.trap_drain_leg_m,
            lift_m=job.number("utilities.condensate_lift"),
            modulated=modulated,
            vacuum_breaker=True,
            returned=False,
            site_pressure_Pa=job.pressure_Pa,
        ),
        outlet_above_floor_m=unit.tank.standing_height_m + levels.mark("heater bottom").height_m,
    )


def _pipe(running: SteamCoilRating, cold: SteamCoilRating) -> SteamPipe:
    """The larger of what full output and the cold start ask for."""
    pipes = [
        steam_pipe_for_velocity(
            steam_flow_kg_s=rating.steam_flow_kg_s,
            pressure_Pa=rating.coil_pressure_Pa,
            highest_velocity_m_s=velocity_m_s,
        )
        for rating, velocity_m_s in ((running, RUNNING_VELOCITY_m_s), (cold, COLD_START_VELOCITY_m_s))
    ]
    return max(pipes, key=lambda pipe: pipe.inner_diameter_m)


def _pipe_text(pipe: SteamPipe) -> str:
    whole, rest = divmod(Fraction(pipe.nominal_in), 1)
    size = " ".join(str(part) for part in (whole, rest) if part)
    return f"{size} in, schedule 40"


def _velocity_m_s(rating: SteamCoilRating, pipe: SteamPipe) -> float:
    return steam_velocity_m_s(
        steam_flow_kg_s=rating.steam_flow_kg_s,
        pressure_Pa=rating.coil_pressure_Pa,
        inner_diameter_m=pipe.inner_diameter_m,
    )


def _steam_figures(answer: UnitAnswer, side: _SteamSide) -> tuple[Figure, ...]:
    supply = Input("utilities.steam_pressure", answer.job.number("utilities.steam_pressure"), "gauge pressure")
    site = Input("air pressure at the site", answer.job.pressure_Pa, "absolute pressure")
    full, cold = side.greatest, side.cold
    bath_K = answer.seasons[side.greatest_season].settling_temperature_K
    heat = Input(f"heat at full output, {side.greatest_season}", full.heat_W, "heat")
    return (
        Figure(
            "steam_flow_kg_s",
            full.steam_flow_kg_s,
            "mass flow",
            "heat at full output / latent heat at the coil's pressure, greatest over the seasons; dry saturated steam",
            (heat, Input(f"tank, {side.greatest_season}", bath_K, "temperature"), supply),
            (COIL,),
            "steam at full output",
        ),
        Figure(
            "cold_start_steam_kg_s",
            cold.steam_flow_kg_s,
            "mass flow",
            "the same coil with its valve open in the cold tank",
            (Input("tank at the start", side.cold_start_K, "temperature"), supply),
            (COIL,),
            "steam at a cold start",
        ),
        Figure(
            "steam_gauge_Pa",
            side.governing.coil_pressure_Pa - answer.job.pressure_Pa,
            "gauge pressure",
            "as supplied; lower where the site's steam is short",
            (supply, site),
            (COIL,),
            "steam pressure at the coil, full output",
        ),
        Figure(
            "coil_limit_gauge_Pa",
            side.coil.highest_gauge_pressure_Pa,
            "gauge pressure",
            "of the catalogue; a relief valve behind a reducing valve opens no higher",
            label="the coil bears at most",
        ),
        Figure(
            "coil_temperature_K",
            side.governing.coil_temperature_K,
            "temperature",
            "saturation temperature at the coil's pressure",
            (
                Input(
                    "steam.steam_gauge_Pa", side.governing.coil_pressure_Pa - answer.job.pressure_Pa, "gauge pressure"
                ),
            ),
            (COIL, "properties.water.saturation_temperature_K"),
            "coil temperature, full output",
        ),
        *_pipe_figures(side),
    )


def _pipe_figures(side: _SteamSide) -> tuple[Figure, ...]:
    running = Input("steam.steam_flow_kg_s", side.greatest.steam_flow_kg_s, "mass flow")
    cold = Input("steam.cold_start_steam_kg_s", side.cold.steam_flow_kg_s, "mass flow")
    bore = Input("bore", side.pipe.inner_diameter_m, "short length")
    law = "4 x flow x specific volume of saturated steam / (pi x bore^2)"
    return (
        Figure(
            "steam_pipe",
            _pipe_text(side.pipe),
            "text",
            "smallest stocked size for both velocities (common practice, no source); a long line goes by its drop",
            (
                running,
                Input("most at full output", RUNNING_VELOCITY_m_s, "velocity"),
                cold,
                Input("most at a cold start", COLD_START_VELOCITY_m_s, "velocity"),
            ),
            (PIPE,),
            "steam pipe at the coil",
        ),
        Figure(
            "steam_velocity_m_s",
            _velocity_m_s(side.greatest, side.pipe),
            "velocity",
            law,
            (running, bore),
            (VELOCITY,),
            "steam velocity in it, full output",
        ),
        Figure(
            "cold_start_velocity_m_s",
            _velocity_m_s(side.cold, side.pipe),
            "velocity",
            law,
            (cold, bore),
            (VELOCITY,),
            "steam velocity in it, cold start",
        ),
    )


def _trap_figures(answer: UnitAnswer, side: _SteamSide) -> tuple[Figure, ...]:
    practice, drain = answer.unit.practice, side.drain
    leg = Input("practice.trap_drain_leg_m", practice.trap_drain_leg_m, "short length")
    coil = Input("steam.coil_temperature_K", side.governing.coil_temperature_K, "temperature")
    lift = Input("utilities.condensate_lift", answer.job.number("utilities.condensate_lift"), "length")
    condensate = Input("steam.condensate_flow_kg_s", side.greatest.condensate_flow_kg_s, "mass flow")
    sized_for = (
        "low load: drain leg - opening pressure of the vacuum breaker - lift"
        if side.modulated
        else "full pressure: coil + drain leg - site - lift"
    )
    return (
        Figure(
            "condensate_flow_kg_s",
            side.greatest.condensate_flow_kg_s,
            "mass flow",
            "all steam at full output condenses",
            (Input("steam.steam_flow_kg_s", side.greatest.steam_flow_kg_s, "mass flow"),),
            (COIL,),
            "condensate at full output",
        ),
        Figure(
            "trap_load_kg_s",
            drain.trap_load_kg_s,
            "mass flow",
            "condensate at full output x trap factor",
            (condensate, Input("practice.trap_factor", practice.trap_factor, "ratio")),
            (DRAIN,),
            "trap passes at least",
        ),
        Figure(
            "trap_difference_Pa",
            drain.trap_difference_Pa if drain.trap_difference_Pa > 0.0 else None,
            "pressure",
            sized_for,
            (leg, coil, lift),
            (DRAIN,),
            "at a pressure difference of",
            "none left: it can't be sized as piped",
        ),
    )


def _piping_figures(answer: UnitAnswer, side: _SteamSide) -> tuple[Figure, ...]:
    drain, leg_m = side.drain, answer.unit.practice.trap_drain_leg_m
    leg = Input("practice.trap_drain_leg_m", leg_m, "short length")
    coil = Input("steam.coil_temperature_K", side.governing.coil_temperature_K, "temperature")
    control = Input("choices.steam_control", answer.job.text("choices.steam_control"), "text")
    lift_m = answer.job.number("utilities.condensate_lift")
    why = "steam throttled to part load" if side.modulated else "each stop of the steam"
    return (
        Figure(
            "drain_leg_m",
            leg_m,
            "short length",
            "coil outlet down to the trap; the shop's setting",
            (leg,),
            label="drain leg down to the trap",
        ),
        Figure(
            "coil_outlet_above_floor_m",
            side.outlet_above_floor_m,
            "short length",
            "tank's low corner above the floor + bottom of the coil above the low corner",
            (Input("tank's low corner above the floor", answer.unit.tank.standing_height_m, "short length"),),
            ("equipment.level_rods.level_stack",),
            "coil outlet above the floor",
        ),
        Figure(
            "vacuum_breaker",
            "needed, close to the coil's inlet",
            "text",
            f"{why} pulls a vacuum that holds condensate back and sucks liquor in through a pinhole",
            (control,),
            (DRAIN,),
            "vacuum breaker",
        ),
        Figure(
            "highest_lift_m",
            drain.highest_lift_m if drain.highest_lift_m > 0.0 else None,
            "length",
            "(coil pressure + drain leg - site) / (density of cold condensate x g), at full pressure only",
            (coil,),
            (DRAIN,),
            "highest lift at full pressure",
            "not even a level line drains",
        ),
        Figure(
            "lift_wanted_m",
            lift_m,
            "length",
            "of the job; 0 where condensate runs down to a vented receiver",
            (Input("utilities.condensate_lift", lift_m, "length"),),
            label="lift wanted",
        ),
    )


def _flooding_figures(answer: UnitAnswer, side: _SteamSide) -> tuple[Figure, ...]:
    drain = side.drain
    inputs = (
        Input("steam.coil_temperature_K", side.governing.coil_temperature_K, "temperature"),
        Input(
            f"capacity.{answer.governing}.settling_temperature_K",
            answer.seasons[answer.governing].settling_temperature_K,
            "temperature",
        ),
        Input("choices.steam_control", answer.job.text("choices.steam_control"), "text"),
    )
    return (
        Figure(
            "flooding_load_share",
            1.0 if not drain.drains_at_full_load else drain.stalls_below_load,
            "fraction",
            "(steam temperature at which nothing pushes the condensate out - tank) / (coil - tank)",
            inputs,
            (DRAIN,),
            "the coil floods below a load of",
            "never: its drain leg empties it" if side.modulated else "never while steam is on",
        ),
        Figure(
            "atmospheric_load_share",
            drain.atmospheric_below_load,
            "fraction",
            "(boiling point at the site - tank) / (coil - tank)",
            inputs,
            (DRAIN,),
            "the coil is below atmospheric pressure under a load of",
            "never" if side.modulated else "never while steam is on",
        ),
    )


def _flash_figures(side: _SteamSide) -> tuple[Figure, ...]:
    drain = side.drain
    coil = Input("steam.coil_temperature_K", side.governing.coil_temperature_K, "temperature")
    return (
        Figure(
            "flash_steam_kg_s",
            drain.flash_steam_kg_s,
            "mass flow",
            "condensate x (liquid enthalpy at the coil - at the site's pressure) / latent heat there",
            (Input("steam.condensate_flow_kg_s", side.greatest.condensate_flow_kg_s, "mass flow"), coil),
            ("equipment.condensate.flash_steam_share",),
            "flash steam at the receiver's vent",
        ),
        Figure(
            "condensate_goes_to",
            CONDENSATE_GOES_TO,
            "text",
            "practice with coils in waste liquor",
            (),
            (DRAIN,),
            "condensate goes to",
        ),
    )


def _notices(answer: UnitAnswer, side: _SteamSide) -> tuple[Notice, ...]:
    drain, cold, leg_m = side.drain, side.cold, answer.unit.practice.trap_drain_leg_m
    lift_m = answer.job.number("utilities.condensate_lift")
    found = list(drain.warnings)
    if not side.modulated and lift_m > 0.0:
        text = (
            "Condensate lift of {0} behind an on/off valve: nothing lifts it while the steam is off, it runs back and"
            " hammers at the next start. Drain by gravity to a vented receiver and pump from there."
        )
        found.append(Notice("lift behind an on/off valve", text, ((lift_m, "length"),)))
    if side.outlet_above_floor_m < leg_m:
        text = (
            "The coil's outlet stands {0} above the floor, too low for a drain leg of {1}: stand the tank higher or put"
            " the trap in a pit. No lift over the tank's rim."
        )
        figures = ((side.outlet_above_floor_m, "short length"), (leg_m, "short length"))
        found.append(Notice("no room for the drain leg", text, figures))
    if cold.condensate_flow_kg_s > drain.trap_load_kg_s:
        text = "A cold tank condenses {0}, more than the {1} for which the trap is sized: a larger trap factor."
        figures = ((cold.condensate_flow_kg_s, "mass flow"), (drain.trap_load_kg_s, "mass flow"))
        found.append(Notice("trap too small for a cold start", text, figures))
    if cold.limit == STEAM_SUPPLY:
        text = (
            "During warm-up the coil takes all {0} of steam that the site can spare and its pressure falls to {1}: open"
            " the valve slowly, other users of that steam would feel it."
        )
        figures = ((cold.steam_flow_kg_s, "mass flow"), (cold.coil_pressure_Pa, "absolute pressure"))
        found.append(Notice("steam short at a cold start", text, figures))
    stall = drain.stalls_below_load
    flooded = [result for result in answer.seasons.values() if stall is not None and result.load < stall]
    if flooded:
        least = min(flooded, key=lambda result: result.load)
        text = "The unit itself asks for {0} of the coil's full heat: it floods in service."
        seasons = tuple(result.season for result in flooded)
        found.append(Notice("coil floods in service", text, ((least.load, "fraction"),), seasons))
    return tuple(found)

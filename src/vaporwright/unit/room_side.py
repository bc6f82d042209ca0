"""What a unit takes out of the room: make-up air, the heat and money to warm it, and how far the room is pulled down.

The blower's air comes from the room or from outdoors, as the job says; the burner's from the room unless its
combustion is sealed. The burner is forced-draft: no dilution air of a draft hood is counted. Other fans in the
building, wind and the room's own warmth are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from vaporwright.equipment.gas_burner import GasBurnerRating
from vaporwright.equipment.room_air import (
    ROOM_AIR_CAUTION,
    FlueSpillage,
    MakeUpAir,
    SeasonalAirHeat,
    combustion_dry_air_kg_s,
    flue_spillage,
    make_up_air,
    opening_area_m2,
    opening_pressure_Pa,
    seasonal_air_heat,
)
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.foundation.notice import Notice
from vaporwright.properties.moist_air import density_kg_m3
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.assembly import WATER_DENSITY_kg_m3
from vaporwright.unit.balance import SeasonResult
from vaporwright.unit.figures import Figure, Input, Section
from vaporwright.unit.job import SEASONS

KEY: Final = "room"
TITLE: Final = "Room air"
# Common practice, no source, until a year of weather is computed.
HEATING_SHARE_OF_YEAR: Final = 0.5  # of the running hours
HOUR_s: Final = 3600.0
LEAST_ALLOWED_Pa: Final = 0.1  # below it no opening is large enough to reckon with
_ROOM_AIR: Final = "equipment.room_air."


@dataclass(frozen=True)
class _Taken:
    """Dry air out of the room in one season, heat full on, and the outdoor air that replaces it."""

    blower_kg_s: float
    burner_kg_s: float
    mean_burner_kg_s: float  # over the heat source's cycles
    make_up: MakeUpAir
    density_kg_m3: float  # of the outdoor air

    def area_m2(self, pressure_Pa: float) -> float:
        """Free opening that lets it in at this depressurisation."""
        return opening_area_m2(
            flow_m3_s=self.make_up.outdoor_volume_m3_s,
            allowed_pressure_Pa=pressure_Pa,
            density_kg_m3=self.density_kg_m3,
        )

    def pressure_Pa(self, area_m2: float) -> float:
        """Depressurisation that draws it through this opening."""
        return opening_pressure_Pa(
            flow_m3_s=self.make_up.outdoor_volume_m3_s, free_area_m2=area_m2, density_kg_m3=self.density_kg_m3
        )


def room_section(answer: UnitAnswer, flue_draft_Pa: float | None, flue_loss_Pa: float | None) -> Section:
    """Make-up air of a unit, what it costs to warm, and what it does to the room and its flue.

    Args:
        flue_draft_Pa, flue_loss_Pa [Pa]: of the burner's natural-draft flue; None without one.
    Raises: OutOfRange where an opening is too small for the blower, InputError for a draft without its loss.
    """
    if (flue_draft_Pa is None) != (flue_loss_Pa is None):
        raise InputError("room air", "flue_draft_Pa, flue_loss_Pa", "one without the other", "both, or neither")
    taken = {season: _taken(answer, answer.seasons[season]) for season in SEASONS}
    depressurisation_Pa = _depressurisation_Pa(answer, taken)
    spillage = None
    if flue_draft_Pa is not None and flue_loss_Pa is not None:
        spillage = flue_spillage(
            kind="natural draft",
            depressurisation_Pa=depressurisation_Pa or 0.0,
            flue_draft_Pa=flue_draft_Pa,
            flue_loss_Pa=flue_loss_Pa,
        )
    return Section(
        key=KEY,
        title=TITLE,
        figures=(
            *_air_figures(answer, taken),
            *_heat_figures(answer, taken["winter"]),
            *_pressure_figures(answer, taken, depressurisation_Pa),
            *_flue_figures(answer, spillage, flue_draft_Pa, flue_loss_Pa),
        ),
        notices=_notices(answer, taken, depressurisation_Pa, spillage),
        cautions=(ROOM_AIR_CAUTION,),
    )


def _taken(answer: UnitAnswer, result: SeasonResult) -> _Taken:
    job, air = answer.job, result.conditions.air
    blower_kg_s = burner_kg_s = 0.0
    if job.text("site.air_supply") == "room":
        blower_kg_s = answer.unit.towers * result.operation.tower.dry_air_flow_kg_s
    detail = result.heat.detail
    if isinstance(detail, GasBurnerRating) and job.text("choices.flue") != "sealed":
        burner_kg_s = combustion_dry_air_kg_s(detail.combustion, detail.gross_input_W)
    make_up = make_up_air(
        blower_dry_air_kg_s=blower_kg_s,
        burner_dry_air_kg_s=burner_kg_s,
        dilution_dry_air_kg_s=0.0,
        room_temperature_K=job.number("site.room_winter_temperature"),
        outdoor_temperature_K=air.outdoor_temperature_K,
        outdoor_humidity_ratio_kg_kg=air.humidity_ratio_kg_kg,
        pressure_Pa=job.pressure_Pa,
    )
    density = density_kg_m3(air.outdoor_temperature_K, air.humidity_ratio_kg_kg, job.pressure_Pa)
    return _Taken(blower_kg_s, burner_kg_s, burner_kg_s * result.load, make_up, density)


def _depressurisation_Pa(answer: UnitAnswer, taken: dict[str, _Taken]) -> float | None:
    """The greatest over the seasons; None where the opening is not known."""
    area_m2 = answer.job.optional("site.make_up_opening")
    if area_m2 is None:
        return None
    worst = max(taken, key=lambda season: taken[season].pressure_Pa(area_m2))
    pressure_Pa = taken[worst].pressure_Pa(area_m2)
    most_Pa = answer.seasons[worst].operation.tower.blower_static_pressure_Pa
    if pressure_Pa > most_Pa:
        raise OutOfRange(
            "site.make_up_opening, m2",
            area_m2,
            taken[worst].area_m2(most_Pa),
            None,
            "through less, the blower's whole static pressure would not draw the unit's air into the room",
        )
    return pressure_Pa


def _input(answer: UnitAnswer, key: str, quantity: str) -> Input:
    return Input(key, answer.job.text(key) if quantity == "text" else answer.job.number(key), quantity)


def _air_figures(answer: UnitAnswer, taken: dict[str, _Taken]) -> tuple[Figure, ...]:
    winter, summer = taken["winter"], taken["summer"]
    worst = max(taken.values(), key=lambda entry: entry.make_up.outdoor_volume_m3_s)
    takers = [name for name, flow in (("blower", worst.blower_kg_s), ("burner", worst.burner_kg_s)) if flow > 0.0]
    given = (_input(answer, "site.air_supply", "text"), _input(answer, "choices.flue", "text"))
    functions = (_ROOM_AIR + "make_up_air", _ROOM_AIR + "combustion_dry_air_kg_s")

    def flow(season: str, entry: _Taken, label: str) -> Figure:
        air = answer.seasons[season].conditions.air
        return Figure(
            f"make_up_air_{season}_m3_s",
            entry.make_up.outdoor_volume_m3_s,
            "air flow",
            "(blower's dry air, all towers + burner's dry air) x volume of the outdoor air; exhaust that is drawn in"
            " again comes in with it",
            (
                Input("blower's dry air", entry.blower_kg_s, "mass flow"),
                Input("burner's dry air", entry.burner_kg_s, "mass flow"),
                Input(f"site.{season}.air_temperature", air.outdoor_temperature_K, "temperature"),
            ),
            functions,
            label,
        )

    return (
        Figure(
            "air_taken_by",
            " and ".join(takers) or "nothing",
            "text",
            "the blower where it draws from the room; a gas burner unless sealed, forced-draft, without dilution air",
            given,
            label="what takes air from the room",
        ),
        Figure(
            "make_up_air_m3_s",
            worst.make_up.outdoor_volume_m3_s,
            "air flow",
            "the greatest of all seasons, as it passes the opening, heat full on",
            (
                Input("room.make_up_air_winter_m3_s", winter.make_up.outdoor_volume_m3_s, "air flow"),
                Input("room.make_up_air_summer_m3_s", summer.make_up.outdoor_volume_m3_s, "air flow"),
            ),
            functions,
            "make-up air from outdoors",
        ),
        flow("winter", winter, "in winter, cold"),
        flow("summer", summer, "in summer"),
    )


def _heating_season(answer: UnitAnswer, winter: _Taken) -> tuple[SeasonalAirHeat, float, float]:
    """Heat of the heating season, its hours in seconds, its mean outdoor temperature."""
    job = answer.job
    cold, mean = job.air["winter"], job.air["average"]
    time_s = HEATING_SHARE_OF_YEAR * job.duty.hours_per_year * HOUR_s
    outdoor_K = 0.5 * (cold.outdoor_temperature_K + mean.outdoor_temperature_K)
    found = seasonal_air_heat(
        dry_air_kg_s=winter.blower_kg_s + winter.mean_burner_kg_s,
        running_time_s=time_s,
        room_temperature_K=job.number("site.room_winter_temperature"),
        mean_outdoor_temperature_K=outdoor_K,
        mean_outdoor_humidity_ratio_kg_kg=0.5 * (cold.humidity_ratio_kg_kg + mean.humidity_ratio_kg_kg),
        pressure_Pa=job.pressure_Pa,
        heater_efficiency=job.number("site.heating_efficiency"),
        energy_price_USD_J=job.optional("utilities.fuel_price"),
    )
    return found, time_s, outdoor_K


def _heat_figures(answer: UnitAnswer, winter: _Taken) -> tuple[Figure, ...]:
    season, time_s, outdoor_K = _heating_season(answer, winter)
    room = _input(answer, "site.room_winter_temperature", "temperature")
    return (
        Figure(
            "make_up_heat_W",
            winter.make_up.heating_W,
            "heat",
            "dry air x [h(heated room, W) - h(outdoor, W)], W that of the outdoor air; the heater's own losses on top",
            (
                Input("room.make_up_air_winter_m3_s", winter.make_up.outdoor_volume_m3_s, "air flow"),
                room,
                Input("site.winter.air_temperature", answer.job.air["winter"].outdoor_temperature_K, "temperature"),
            ),
            (_ROOM_AIR + "make_up_air",),
            "heat to warm it, winter design",
        ),
        Figure(
            "heating_season_s",
            time_s,
            "duration",
            "half of the running hours a year: common practice, no source, until a year of weather is computed",
            (Input("duty, running hours a year", answer.job.duty.hours_per_year * HOUR_s, "duration"),),
            label="running hours in the heating season",
        ),
        Figure(
            "heating_season_heat_W",
            season.mean_heat_W,
            "heat",
            "dry air x [h(heated room, W) - h(mean outdoor, W)], outdoors midway between the average and the winter"
            " design temperature: common practice, no source",
            (room, Input("mean outdoor temperature", outdoor_K, "temperature")),
            (_ROOM_AIR + "seasonal_air_heat",),
            "heat to warm it, mean of those hours",
        ),
        *_yearly_figures(answer, season, time_s),
    )


def _yearly_figures(answer: UnitAnswer, season: SeasonalAirHeat, time_s: float) -> tuple[Figure, ...]:
    # Over the year's running hours the unit evaporates what it does in the average season.
    evaporation_kg_s = answer.seasons["average"].evaporation_kg_s
    evaporated_m3 = evaporation_kg_s / WATER_DENSITY_kg_m3 * answer.job.duty.hours_per_year * HOUR_s
    cost_USD = season.cost_USD
    price_USD_J = answer.job.optional("utilities.fuel_price")
    price = Input("utilities.fuel_price", "not given", "text")
    if price_USD_J is not None:
        price = Input("utilities.fuel_price", price_USD_J, "energy price")
    heat = (
        Input("room.heating_season_heat_W", season.mean_heat_W, "heat"),
        Input("room.heating_season_s", time_s, "duration"),
    )
    evaporation = Input("evaporation, average season", evaporation_kg_s, "evaporation")
    cost = (*heat, _input(answer, "site.heating_efficiency", "fraction"), price)
    functions = (_ROOM_AIR + "seasonal_air_heat",)
    return (
        Figure(
            "make_up_heat_J_m3",
            season.heat_J / evaporated_m3,
            "heat per volume",
            "heat of the heating season / volume evaporated in a year's running hours",
            (*heat, evaporation),
            functions,
            "heat to warm it, per volume evaporated",
        ),
        Figure(
            "make_up_yearly_cost_USD",
            cost_USD,
            "money",
            "heat of the heating season / efficiency of the room's heater x price of fuel",
            cost,
            functions,
            "cost of warming it in a year",
            "no price",
        ),
        Figure(
            "make_up_cost_USD_m3",
            None if cost_USD is None else cost_USD / evaporated_m3,
            "volume price",
            "cost of a heating season / volume evaporated in a year's running hours",
            (*cost, evaporation),
            functions,
            "cost of warming it, per volume evaporated",
            "no price",
        ),
    )


def _pressure_figures(
    answer: UnitAnswer, taken: dict[str, _Taken], depressurisation_Pa: float | None
) -> tuple[Figure, ...]:
    allowed_Pa = answer.unit.practice.room_depressurisation_Pa
    flow_m3_s = max(entry.make_up.outdoor_volume_m3_s for entry in taken.values())
    air = Input("room.make_up_air_m3_s", flow_m3_s, "air flow")
    opening_m2 = answer.job.optional("site.make_up_opening")
    opening = Input("site.make_up_opening", "not given", "text")
    if opening_m2 is not None:
        opening = Input("site.make_up_opening", opening_m2, "area")
    return (
        Figure(
            "opening_area_m2",
            _least_area_m2(taken, allowed_Pa),
            "area",
            "flow / (0.6 sqrt(2 dp / density of outdoor air)), the season that asks for most; free area, louvres pass"
            " less than their face; besides what the burner's code asks for",
            (air, Input("practice.room_depressurisation_Pa", allowed_Pa, "pressure")),
            (_ROOM_AIR + "opening_area_m2",),
            "free opening that keeps the room near outdoor pressure",
        ),
        Figure(
            "depressurisation_Pa",
            depressurisation_Pa,
            "pressure",
            "density / 2 x [flow / (0.6 x free area)]^2, the worst season; wind and stack effect come on top",
            (air, opening),
            (_ROOM_AIR + "opening_pressure_Pa",),
            "room below outdoors",
            "opening not given",
        ),
    )


def _least_area_m2(taken: dict[str, _Taken], pressure_Pa: float) -> float:
    return max(entry.area_m2(pressure_Pa) for entry in taken.values())


def _flue_figures(
    answer: UnitAnswer, spillage: FlueSpillage | None, flue_draft_Pa: float | None, flue_loss_Pa: float | None
) -> tuple[Figure, ...]:
    if spillage is None or spillage.limit_Pa is None or flue_draft_Pa is None or flue_loss_Pa is None:
        return ()
    inputs = (
        _input(answer, "choices.flue", "text"),
        Input("draft of the flue", flue_draft_Pa, "pressure"),
        Input("loss of the flue", flue_loss_Pa, "pressure"),
    )
    functions = (_ROOM_AIR + "flue_spillage",)
    verdict = None
    if answer.job.optional("site.make_up_opening") is not None or spillage.spills:
        verdict = "spills" if spillage.spills else "keeps its draft"
    return (
        Figure(
            "flue_limit_Pa",
            spillage.limit_Pa,
            "pressure",
            "the lesser of 0.02 in. w.c. (4.98 Pa) and draft - loss of the flue",
            inputs,
            functions,
            "room below outdoors that the flue bears",
        ),
        Figure(
            "flue_verdict",
            verdict,
            "text",
            "it spills where the room is pulled down to the flue's limit or below; calculation, no proof",
            (*inputs, Input("room below outdoors", spillage.depressurisation_Pa, "pressure")),
            functions,
            "natural-draft flue",
            "opening not given",
        ),
    )


def _notices(
    answer: UnitAnswer, taken: dict[str, _Taken], depressurisation_Pa: float | None, spillage: FlueSpillage | None
) -> tuple[Notice, ...]:
    found = spillage.warnings if spillage is not None else ()
    if all(entry.make_up.outdoor_volume_m3_s == 0.0 for entry in taken.values()):
        return found
    if depressurisation_Pa is not None:
        return (*found, *_pulled_down(answer, taken, depressurisation_Pa))
    return (*found, *_opening_wanted(answer, taken, spillage))


def _pulled_down(answer: UnitAnswer, taken: dict[str, _Taken], depressurisation_Pa: float) -> tuple[Notice, ...]:
    allowed_Pa = answer.unit.practice.room_depressurisation_Pa
    if depressurisation_Pa <= allowed_Pa:
        return ()
    return (
        Notice(
            "room pulled down",
            "Through {0} of opening the room stands {1} below outdoors, more than the {2} that spares flues: every"
            " natural-draft flue in the building may spill, and the blower moves less than counted. Open at least {3},"
            " or bring the air in with a fan, interlocked with the blower.",
            (
                (answer.job.number("site.make_up_opening"), "area"),
                (depressurisation_Pa, "pressure"),
                (allowed_Pa, "pressure"),
                (_least_area_m2(taken, allowed_Pa), "area"),
            ),
        ),
    )


def _opening_wanted(answer: UnitAnswer, taken: dict[str, _Taken], spillage: FlueSpillage | None) -> tuple[Notice, ...]:
    allowed_Pa = answer.unit.practice.room_depressurisation_Pa
    flow_m3_s = max(entry.make_up.outdoor_volume_m3_s for entry in taken.values())
    wanted = Notice(
        "make-up air",
        "{0} of outdoor air must reach the room: free openings of {1} at least, or a make-up fan, interlocked with the"
        " blower. How it gets in is not stated.",
        ((flow_m3_s, "air flow"), (_least_area_m2(taken, allowed_Pa), "area")),
    )
    limit_Pa = spillage.limit_Pa if spillage is not None else None
    if limit_Pa is None or not LEAST_ALLOWED_Pa <= limit_Pa < allowed_Pa:
        return (wanted,)
    weak = Notice(
        "weak flue",
        "The flue bears only {0} of depressurisation, less than the {1} that the opening is sized for: with this flue"
        " it takes more than {2}.",
        ((limit_Pa, "pressure"), (allowed_Pa, "pressure"), (_least_area_m2(taken, limit_Pa), "area")),
    )
    return (wanted, weak)

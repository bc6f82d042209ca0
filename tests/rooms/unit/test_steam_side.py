"""Steam, pipe, trap and drain of a sized unit against arithmetic with printed steam tables; notices where they belong.

Sea level and 15 psi gauge, 204.7 kPa. Steam tables (from memory): 121.0 degC, latent heat 945.6 Btu/lb = 2.1995 MJ/kg,
steam 13.88 ft3/lb = 0.8665 m3/kg, liquid 58.8 lb/ft3 = 942 kg/m3 and 218.2 Btu/lb; at the atmosphere 212 degF,
180.2 Btu/lb, latent heat 970.3 Btu/lb.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented_unit import FOOT, INCH, TANK, unit
from vaporwright.display_units import QUANTITIES, show
from vaporwright.equipment.steam_coil import rate_steam_coil
from vaporwright.foundation.errors import InputError
from vaporwright.foundation.register import citations
from vaporwright.unit.answer import UnitAnswer, answer_for
from vaporwright.unit.catalogue import SteamCoilPart
from vaporwright.unit.figures import Section
from vaporwright.unit.job import build_job
from vaporwright.unit.practice import ShopPractice
from vaporwright.unit.steam_side import steam_section

PSI_Pa = 6894.757
SITE_Pa = 101325.0
COIL_K = 273.15 + 121.0
STEAM_m3_kg = 0.8665
LATENT_J_kg = 2.1995e6
LEG_Pa = 942.0 * 9.80665 * 14.0 * INCH
BORES_mm = {"1": 26.6, "1 1/4": 35.1, "1 1/2": 40.9, "2": 52.5, "2 1/2": 62.7, "3": 77.9, "4": 102.3}  # schedule 40
COIL = SteamCoilPart(
    part_id="S",
    name="coil",
    material="316 stainless",
    height_m=12.0 * INCH,
    tube_outer_diameter_m=1.05 * INCH,
    tube_wall_thickness_m=0.083 * INCH,
    wall_conductivity_W_mK=16.0,
    tube_length_m=70.0 * FOOT,
    parallel_tubes=4,
    highest_gauge_pressure_Pa=100.0 * PSI_Pa,
    mass_kg=30.0,
)


def answered(parts: dict[str, Any] | None = None, **given: Any) -> UnitAnswer:
    values = {key.replace("__", "."): value for key, value in given.items()}
    job = build_job({"duty.volume": 8.6e-6, "site.elevation": 0.0, **values})
    return answer_for(job, unit(**{"heat_source": COIL, **(parts or {})}))


def number(section: Section, name: str) -> float:
    value = section.value(name)
    assert isinstance(value, float), name
    return value


def names(section: Section) -> list[str]:
    return [notice.name for notice in section.notices]


def test_steam_trap_and_drain_by_hand() -> None:
    answer = answered()
    section = steam_section(answer)
    greatest_W = max(result.heat.heat_W for result in answer.seasons.values())
    flow = number(section, "steam_flow_kg_s")
    assert flow == pytest.approx(greatest_W / LATENT_J_kg, rel=1e-3)
    assert number(section, "condensate_flow_kg_s") == flow
    assert number(section, "trap_load_kg_s") == pytest.approx(3.0 * flow)  # the shop's usual factor
    assert number(section, "steam_gauge_Pa") == pytest.approx(15.0 * PSI_Pa, rel=1e-4)
    assert number(section, "coil_temperature_K") == pytest.approx(COIL_K, abs=0.1)
    assert section.value("steam_pipe") == "2 in, schedule 40"
    area_m2 = 3.14159265 / 4.0 * (BORES_mm["2"] / 1000.0) ** 2
    assert number(section, "steam_velocity_m_s") == pytest.approx(flow * STEAM_m3_kg / area_m2, rel=3e-3)
    # a modulated coil: 14 in of leg less 1/4 in of mercury, whatever the pressure of the steam
    assert number(section, "trap_difference_Pa") == pytest.approx(LEG_Pa - 846.6, rel=3e-3)
    assert number(section, "highest_lift_m") == pytest.approx((15.0 * PSI_Pa + LEG_Pa) / 9806.65, rel=2e-3)
    bath_K = answer.seasons[answer.governing].settling_temperature_K
    share = (373.12 - bath_K) / (COIL_K - bath_K)
    assert number(section, "atmospheric_load_share") == pytest.approx(share, abs=2e-3)
    assert number(section, "flash_steam_kg_s") == pytest.approx(flow * (218.2 - 180.2) / 970.3, rel=0.01)
    assert section.value("flooding_load_share") is None
    assert "needed" in str(section.value("vacuum_breaker"))
    assert "conductivity monitor" in str(section.value("condensate_goes_to"))


def test_a_cold_tank_condenses_more() -> None:
    answer = answered(liquid__feed_temperature=283.15)
    section = steam_section(answer)
    cold = rate_steam_coil(
        bath_temperature_K=283.15,
        steam_pressure_Pa=SITE_Pa + answer.job.number("utilities.steam_pressure"),
        tube_outer_diameter_m=COIL.tube_outer_diameter_m,
        tube_wall_thickness_m=COIL.tube_wall_thickness_m,
        wall_conductivity_W_mK=16.0,
        tube_length_m=COIL.tube_length_m,
        parallel_tubes=4,
        fouling_resistance_m2K_W=answer.job.number("choices.scale_resistance"),
    )
    assert number(section, "cold_start_steam_kg_s") == pytest.approx(cold.steam_flow_kg_s, rel=1e-6)
    assert number(section, "cold_start_steam_kg_s") > 1.2 * number(section, "steam_flow_kg_s")


@pytest.mark.parametrize(
    ("length_ft", "feed_K", "size", "fits_a_size_less"),
    # Cold feed: the cold start decides, or both do. Warm feed: full output decides alone.
    [
        (30.0, 288.7, "1 1/4", (False, False)),
        (60.0, 288.7, "2", (True, False)),
        (70.0, 288.7, "2", (False, False)),
        (66.0, 318.15, "2", (False, True)),
    ],
)
def test_the_pipe_keeps_both_velocities_and_a_size_less_does_not(
    length_ft: float, feed_K: float, size: str, fits_a_size_less: tuple[bool, bool]
) -> None:
    coil = replace(COIL, tube_length_m=length_ft * FOOT)
    section = steam_section(answered({"heat_source": coil}, liquid__feed_temperature=feed_K))
    assert section.value("steam_pipe") == f"{size} in, schedule 40"
    flows = (number(section, "steam_flow_kg_s"), number(section, "cold_start_steam_kg_s"))
    sizes, fits = list(BORES_mm), []
    for name in (size, sizes[sizes.index(size) - 1]):
        per_area = STEAM_m3_kg / (3.14159265 / 4.0 * (BORES_mm[name] / 1000.0) ** 2)
        # most 30 m/s at full output and 40 at a cold start: common practice, no source
        fits.append((flows[0] * per_area <= 30.0, flows[1] * per_area <= 40.0))
    assert fits == [(True, True), fits_a_size_less]


def test_on_off_steam_drains_by_pressure_and_lifts_nothing_while_it_is_off() -> None:
    lifted = steam_section(answered(choices__steam_control="on/off", utilities__condensate_lift=3.0))
    expected_Pa = 15.0 * PSI_Pa + LEG_Pa - 3.0 * 9806.65
    assert number(lifted, "trap_difference_Pa") == pytest.approx(expected_Pa, rel=2e-3)
    assert lifted.value("flooding_load_share") is None
    assert lifted.value("atmospheric_load_share") is None
    assert "lift behind an on/off valve" in names(lifted)
    assert "needed" in str(lifted.value("vacuum_breaker"))
    level = steam_section(answered(choices__steam_control="on/off"))
    assert "lift behind an on/off valve" not in names(level)


def test_a_modulated_coil_with_a_lift_floods() -> None:
    answer = answered(utilities__condensate_lift=3.0)
    section = steam_section(answer)
    # It takes the site's pressure, 3 m of cold water less the leg: 127.5 kPa, 106.5 degC by the tables (125 kPa:
    # 105.97, 150 kPa: 111.35)
    bath_K = answer.seasons[answer.governing].settling_temperature_K
    share = (273.15 + 106.5 - bath_K) / (COIL_K - bath_K)
    assert number(section, "flooding_load_share") == pytest.approx(share, abs=4e-3)
    assert section.value("trap_difference_Pa") is None
    raised = names(section)
    for name in ("lift behind a modulated coil", "coil floods at part load", "no pressure left for the trap"):
        assert name in raised
    assert "coil floods in service" not in raised  # it runs at full output


def test_a_unit_that_runs_below_the_flooding_load_is_named() -> None:
    answer = answered(utilities__condensate_lift=8.0, choices__set_point=313.15)
    section = steam_section(answer)
    loads = {season: result.load for season, result in answer.seasons.items()}
    notice = next(notice for notice in section.notices if notice.name == "coil floods in service")
    assert notice.figures == ((min(loads.values()), "fraction"),)
    flooding = number(section, "flooding_load_share")
    assert notice.seasons == tuple(season for season, load in loads.items() if load < flooding)


def test_a_lift_beyond_the_steams_pressure_floods_at_every_load() -> None:
    section = steam_section(answered(utilities__condensate_lift=12.0))
    assert section.value("flooding_load_share") == 1.0
    assert "coil floods at full load" in names(section)


def test_steam_that_is_short_at_a_cold_start_is_named() -> None:
    plenty = steam_section(answered())
    assert "steam short at a cold start" not in names(plenty)
    limit = 0.5 * (number(plenty, "steam_flow_kg_s") + number(plenty, "cold_start_steam_kg_s"))
    short = steam_section(answered(utilities__steam_limit=limit))
    notice = next(notice for notice in short.notices if notice.name == "steam short at a cold start")
    assert notice.figures[0] == (pytest.approx(limit, rel=1e-6), "mass flow")
    assert notice.figures[1][0] < SITE_Pa + 15.0 * PSI_Pa
    assert number(short, "cold_start_steam_kg_s") == pytest.approx(limit, rel=1e-6)


def test_the_drain_leg_needs_room_over_the_floor() -> None:
    low, high = (
        steam_section(answered({"tank": replace(TANK, standing_height_m=height_m)})) for height_m in (0.1, 0.35)
    )
    gap_m = number(high, "coil_outlet_above_floor_m") - number(low, "coil_outlet_above_floor_m")
    assert gap_m == pytest.approx(0.25)
    # at the least over the sludge allowance of the job, 2 in, on which the coil stands
    assert number(low, "coil_outlet_above_floor_m") >= 0.1 + 2.0 * INCH
    assert "no room for the drain leg" in names(low)
    assert "no room for the drain leg" not in names(high)


def test_a_trap_smaller_than_the_cold_start_is_named() -> None:
    assert "trap too small for a cold start" not in names(steam_section(answered()))
    answer = answered()
    scant = replace(answer, unit=replace(answer.unit, practice=ShopPractice(trap_factor=1.2, trap_drain_leg_m=0.2)))
    raised = names(steam_section(scant))
    for name in ("trap too small for a cold start", "small trap factor", "short drain leg"):
        assert name in raised


def test_thin_air_moves_coil_and_lift_but_not_the_gauge() -> None:
    high = answered(site__elevation=2000.0)
    section = steam_section(high)
    assert number(section, "steam_gauge_Pa") == pytest.approx(15.0 * PSI_Pa, rel=1e-4)
    # 79.5 kPa by the standard atmosphere: 182.9 kPa absolute, 117.4 degC by the tables (175 kPa: 116.04, 200: 120.21)
    assert high.job.pressure_Pa == pytest.approx(79.5e3, rel=2e-3)
    assert number(section, "coil_temperature_K") == pytest.approx(273.15 + 117.4, abs=0.15)
    assert number(section, "highest_lift_m") == pytest.approx(
        number(steam_section(answered()), "highest_lift_m"), rel=2e-3
    )


def test_another_heat_source_has_no_steam_side() -> None:
    with pytest.raises(InputError, match="no steam coil"):
        steam_section(answer_for(build_job({"duty.volume": 8.6e-6}), unit()))


def test_figures_are_named_sourced_and_printable() -> None:
    section = steam_section(answered(utilities__condensate_lift=3.0))
    known = {citation.function for citation in citations()}
    suffixes = ("_kg_s", "_Pa", "_K", "_m", "_m_s", "_share")
    for figure in section.figures:
        assert figure.label, figure.name
        assert figure.equation, figure.name
        assert isinstance(figure.value, str) or figure.name.endswith(suffixes), figure.name
        assert (figure.quantity == "text") == isinstance(figure.value, str), figure.name
        assert all(function in known for function in figure.functions), figure
        for quantity in (figure.quantity, *(given.quantity for given in figure.inputs)):
            assert quantity in QUANTITIES or quantity == "text"
    for notice in section.notices:
        assert "{" not in notice.words(lambda value, quantity: show(value, quantity, "US"))
    assert section.key == "steam"
    assert "licensed trades" in section.cautions[0]

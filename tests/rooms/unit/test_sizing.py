"""Choosing a unit: the smallest that meets the duty from the middle of its range, and the few to weigh against it."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import pytest

from invented_unit import FOOT, GALLON, fahrenheit
from vaporwright.display_units import show
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.foundation.errors import InputError, OutOfRange
from vaporwright.unit.answer import answer_for, required_kg_s
from vaporwright.unit.assembly import AssembledUnit, rated_spray_flow_m3_s
from vaporwright.unit.balance import conditions_of, settle
from vaporwright.unit.candidates import Criteria, heater_fits
from vaporwright.unit.catalogue import Catalogue, SteamCoilPart
from vaporwright.unit.heat import kind_of
from vaporwright.unit.hydraulics import hydraulics_for, tower_gauge_Pa
from vaporwright.unit.job import Job, build_job
from vaporwright.unit.levels import stack_for
from vaporwright.unit.practice import ShopPractice
from vaporwright.unit.sizing import Sizing, size_unit

CATALOGUE = read_catalogue_file(None)
MOST_SHARE = CATALOGUE.practice.most_share_of_capacity
GALLON_PER_MONTH = GALLON / (365.25 / 12.0 * 86400.0)


def job_of(gallons_a_month: float = 6000.0, **given: Any) -> Job:
    values = {key.replace("__", "."): value for key, value in given.items()}
    return build_job({"duty.volume": gallons_a_month * GALLON_PER_MONTH, **values})


def sized(gallons_a_month: float = 6000.0, catalogue: Catalogue = CATALOGUE, **given: Any) -> Sizing:
    return size_unit(job_of(gallons_a_month, **given), catalogue)


def only(**part_ids: str) -> Catalogue:
    """The demo catalogue cut down to the parts named, by kind."""
    kept: dict[str, Any] = {
        kind: {key: getattr(CATALOGUE, kind)[key] for key in ids.split()} for kind, ids in part_ids.items()
    }
    return replace(CATALOGUE, **kept)


def with_practice(catalogue: Catalogue = CATALOGUE, **settings: Any) -> Catalogue:
    return replace(catalogue, practice=replace(catalogue.practice, **settings))


def ids(unit: AssembledUnit) -> tuple[int, str, str, str, str]:
    return (unit.towers, unit.tower.part_id, unit.tank.part_id, unit.heat_source.part_id, unit.pump.part_id)


def measures(criteria: Criteria) -> tuple[float, ...]:
    """All that is weighed, less is better."""
    return (
        criteria.installed_input_W,
        criteria.towers,
        criteria.power_W,
        criteria.floor_area_m2,
        criteria.heat_per_volume_J_m3,
        -criteria.below_clamp_difference_K,
        criteria.share_of_capacity,
    )


@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
def test_the_duty_sits_inside_the_range_of_the_chosen_unit(kind: str) -> None:
    found = sized(2500.0, choices__heat_source=kind)
    answer = found.answer
    assert kind_of(answer.unit.heat_source) == kind
    assert answer.meets_duty
    assert answer.share_of_capacity <= MOST_SHARE
    assert answer.share_of_capacity == pytest.approx(required_kg_s(answer.job) / answer.capacity_kg_s)
    for result in answer.seasons.values():
        assert result.settling_temperature_K < result.clamp_K - 1.0
    chosen = [candidate for candidate in found.tried if candidate.verdict.startswith("chosen")]
    assert chosen == [found.shown[0]]
    assert chosen[0].unit == answer.unit


# ---- the whole catalogue by brute force


SMALL = only(towers="T2 T6", tanks="K8-316 K10-316", heat_sources="G250 G350", pumps="P75 P100")


@dataclass(frozen=True)
class Row:
    unit: AssembledUnit
    capacity_kg_s: float
    below_clamp_K: float
    power_W: float
    floor_m2: float
    input_W: float
    spray_time_s: float
    spray_share: float


@cache
def every_row() -> tuple[Row, ...]:
    """Every combination of the small catalogue's parts that can be built, settled from scratch in every season."""
    job, rows = job_of(), []
    for source, tower, count, tank, pump in itertools.product(
        SMALL.heat_sources.values(),
        SMALL.towers.values(),
        (1, 2, 3, 4),
        SMALL.tanks.values(),
        SMALL.pumps.values(),
    ):
        spray = rated_spray_flow_m3_s(tower, count)
        unit = AssembledUnit(tower, count, SMALL.blowers[tower.blower_id], tank, source, pump, spray)
        stack = stack_for(job, unit)
        if spray > pump.flow_m3_s or not heater_fits(source, tank) or stack.conflicts:
            continue
        answer = answer_for(job, unit)
        water = hydraulics_for(job, unit, stack, tower_gauge_Pa(answer))
        if not water.reaches_spray or min(water.flows.npsh_margin_m, water.submergence.margin_m) <= 0.0:
            continue
        if water.motor_size_W > 1.001 * pump.motor_rating_W:
            continue
        summer, least = answer.seasons["summer"], answer.seasons[answer.governing]
        row = Row(
            unit,
            answer.capacity_kg_s,
            summer.clamp_K - summer.settling_temperature_K,
            least.blower_power_W + least.pump_power_W,
            tank.length_m * tank.width_m + count * tower.floor_area_m2,
            source.gross_input_W,  # type: ignore[union-attr]
            tank.length_m * tank.width_m * tank.working_depth_m / spray,
            spray / pump.flow_m3_s,
        )
        rows.append(row)
    return tuple(rows)


def brute_choice(job: Job, practice: ShopPractice) -> AssembledUnit:
    """The order of choice over all rows, written down a second time."""
    left = [
        row
        for row in every_row()
        if row.spray_time_s >= practice.least_spray_time_s and row.spray_share <= practice.spray_share + 1e-6
    ]

    def least(rows: list[Row], measure: Callable[[Row], float], tie: float = 0.0) -> list[Row]:
        return [row for row in rows if measure(row) <= (1.0 + tie) * min(map(measure, rows))]

    def alike(row: Row) -> tuple[float, int, str]:
        return (row.input_W, row.unit.towers, row.unit.tower.part_id)

    groups = [list(group) for _, group in itertools.groupby(sorted(left, key=alike), key=alike)]
    left = [row for group in groups for row in least(group, lambda row: row.floor_m2)]  # the smallest tank
    left = [row for row in left if row.below_clamp_K >= practice.clear_of_clamp_difference_K]
    burners = [[row for row in left if row.input_W == input_W] for input_W in {row.input_W for row in left}]
    left = [row for group in burners for row in least(group, lambda row: row.unit.towers)]
    wanted_kg_s = required_kg_s(job)
    left = [row for row in left if wanted_kg_s <= practice.most_share_of_capacity * row.capacity_kg_s]
    left = least(least(left, lambda row: row.input_W), lambda row: row.unit.towers)
    left = least(least(left, lambda row: row.power_W, 0.01), lambda row: row.floor_m2, 0.01)
    return min(left, key=lambda row: ids(row.unit)).unit


CASES: list[tuple[float, dict[str, float]]] = [
    (2500.0, {}),
    (6000.0, {}),  # G250 would be full
    (4500.0, {"most_share_of_capacity": 0.65}),
    (4500.0, {"clear_of_clamp_difference_K": 0.5}),  # one small tower carries G250
    (4500.0, {"least_spray_time_s": 800.0}),
    (4500.0, {"spray_share": 0.55}),
]


@pytest.mark.parametrize(("gallons", "settings"), CASES)
def test_brute_force_over_a_small_catalogue_chooses_the_same(gallons: float, settings: dict[str, float]) -> None:
    catalogue = with_practice(SMALL, **settings)
    assert ids(sized(gallons, catalogue).answer.unit) == ids(brute_choice(job_of(gallons), catalogue.practice))


def test_the_brute_force_cases_choose_many_units() -> None:
    chosen = {
        ids(brute_choice(job_of(gallons), with_practice(SMALL, **settings).practice)) for gallons, settings in CASES
    }
    assert len(chosen) >= 4
    assert {part for unit in chosen for part in unit[1:]} >= {"T2", "T6", "G250", "G350", "P75", "P100"}


def test_as_many_towers_as_the_heat_takes_and_no_more() -> None:
    catalogue = only(towers="T2", heat_sources="G350")
    found = sized(6000.0, catalogue)
    assert found.answer.unit.towers == 2
    assert {candidate.unit.towers for candidate in found.tried} == {1, 2}
    assert found.shown[0].criteria is not None
    assert found.shown[0].criteria.floor_area_m2 == pytest.approx((8.0 * 4.0 + 2.0 * 3.0) * FOOT**2)  # K8-316, two T2
    one = answer_for(found.answer.job, replace(found.answer.unit, towers=1, spray_flow_m3_s=16.0 * GALLON / 60.0))
    summer = one.seasons["summer"]
    assert summer.clamp_K - summer.settling_temperature_K < 2.0


def test_no_smaller_burner_of_the_catalogue_would_do() -> None:
    found = sized(6000.0)
    chosen = found.answer.unit.heat_source
    inputs = {part.part_id: part.gross_input_W for part in CATALOGUE.heat_sources.values() if kind_of(part) == "gas"}  # type: ignore[union-attr]
    smaller = [CATALOGUE.heat_sources[key] for key, input_W in inputs.items() if input_W < inputs[chosen.part_id]]
    assert smaller
    for part in smaller:
        assert answer_for(found.answer.job, replace(found.answer.unit, heat_source=part)).share_of_capacity > MOST_SHARE


def test_a_larger_duty_never_gets_a_smaller_unit() -> None:
    capacities = [sized(gallons).answer.capacity_kg_s for gallons in (500.0, 2000.0, 6000.0, 12000.0)]
    assert capacities == sorted(capacities)


# ---- settings move the choice


def test_a_wider_margin_asks_for_a_larger_unit() -> None:
    usual, wary = sized(6000.0), sized(6000.0, with_practice(most_share_of_capacity=0.6))
    assert usual.answer.share_of_capacity > 0.6
    assert wary.answer.share_of_capacity <= 0.6
    assert wary.answer.unit.heat_source.gross_input_W > usual.answer.unit.heat_source.gross_input_W  # type: ignore[union-attr]


def test_a_shop_that_sizes_to_the_end_takes_a_smaller_unit() -> None:
    bold = sized(6000.0, with_practice(most_share_of_capacity=0.995))
    assert 0.9 < bold.answer.share_of_capacity <= 0.995
    assert bold.answer.unit.heat_source.part_id == "G250"
    assert bold.shown[0].verdict == "chosen: the smallest that meets the duty"


def test_a_shop_that_stays_clearer_of_the_clamp_takes_a_larger_tower() -> None:
    usual, wary = sized(6000.0), sized(6000.0, with_practice(clear_of_clamp_difference_K=14.0))
    summer = usual.answer.seasons["summer"]
    assert summer.clamp_K - summer.settling_temperature_K < 14.0
    summer = wary.answer.seasons["summer"]
    assert summer.clamp_K - summer.settling_temperature_K >= 14.0
    assert wary.answer.unit.tower.fill.area_m2 > usual.answer.unit.tower.fill.area_m2


def test_a_longer_spray_time_takes_a_larger_tank() -> None:
    usual, slow = sized(2000.0), sized(2000.0, with_practice(least_spray_time_s=480.0))
    assert usual.answer.unit.tank.part_id == "K4-316"  # 135 gal at 16 gal/min: 8.4 min
    assert slow.answer.unit.tank.part_id == "K4-316"
    slower = sized(2000.0, with_practice(least_spray_time_s=840.0))
    assert slower.answer.unit.tank.part_id == "K5-316"  # 230 gal, 14.4 min


def test_the_practice_of_the_catalogue_goes_with_the_unit() -> None:
    catalogue = with_practice(bottom_slope=0.02)
    assert sized(6000.0, catalogue).answer.unit.practice == catalogue.practice


# ---- tank and pump


def test_a_tank_too_low_for_its_heater_is_not_chosen_although_it_is_smaller() -> None:
    usual = CATALOGUE.tanks["K8-316"]
    low = replace(usual, part_id="LOW", width_m=usual.width_m - 0.01, height_m=2.0 * FOOT, working_depth_m=1.5 * FOOT)
    tall = replace(low, part_id="TALL", height_m=usual.height_m)
    for tank, chosen in ((low, "K8-316"), (tall, "TALL")):
        catalogue = replace(CATALOGUE, tanks={tank.part_id: tank, usual.part_id: usual})
        assert sized(6000.0, catalogue, unit__heat_source="G350").answer.unit.tank.part_id == chosen
    alone = sized(6000.0, replace(CATALOGUE, tanks={"LOW": low}), unit__heat_source="G350")
    assert "levels of LOW conflict (rim against overflow)" in alone.shown[0].verdict
    assert alone.shown[0].conflicts


def test_a_pump_too_weak_for_a_high_header_is_not_chosen() -> None:
    usual = CATALOGUE.pumps["P75"]
    curve = replace(usual.curve, head_m=tuple(0.6 * head for head in usual.curve.head_m))
    weak = replace(usual, part_id="WEAK", flow_m3_s=0.9 * usual.flow_m3_s, curve=curve)
    catalogue = replace(CATALOGUE, pumps={"WEAK": weak, "P75": usual})
    low, high = (sized(6000.0, catalogue, choices__header_height=feet * FOOT) for feet in (7.0, 14.0))
    assert low.answer.unit.pump.part_id == "WEAK"
    assert high.answer.unit.pump.part_id == "P75"
    named = {"choices__header_height": 14.0 * FOOT, "unit__heat_source": "G350", "unit__tower": "T4"}
    alone = sized(6000.0, replace(CATALOGUE, pumps={"WEAK": weak}), **named)
    assert alone.answer.unit.pump.part_id == "WEAK"
    assert "WEAK does not reach the wanted spray" in alone.shown[0].verdict
    why = alone.shown[0].why
    assert why is not None
    assert "Against it: WEAK does not reach the wanted spray." in why.text


def test_a_pump_without_suction_head_or_with_a_small_motor_is_not_chosen() -> None:
    usual = CATALOGUE.pumps["P75"]
    greedy = replace(usual.curve, npsh_required_m=tuple(12.0 for _ in usual.curve.npsh_required_m))
    thirsty = replace(usual, part_id="A", curve=greedy)
    small = replace(usual, part_id="B", motor_rating_W=0.5 * usual.motor_rating_W)
    catalogue = replace(CATALOGUE, pumps={"A": thirsty, "B": small, "P75": usual})
    assert sized(6000.0, catalogue).answer.unit.pump.part_id == "P75"
    for pump, what in ((thirsty, "A has no NPSH margin"), (small, "B overloads its motor")):
        alone = sized(
            6000.0, replace(CATALOGUE, pumps={pump.part_id: pump}), unit__tower="T4", unit__heat_source="G350"
        )
        assert what in "; ".join(alone.shown[0].conflicts)


def test_what_stands_against_a_named_tank_is_said() -> None:
    found = sized(6000.0, unit__tank="K4-316", unit__heat_source="G350")
    assert "the tube of G350 does not fit K4-316" in found.shown[0].conflicts
    assert found.answer.unit.tank.part_id == "K4-316"
    assert found.shown[0].verdict.startswith("chosen: would meet the duty, but something stands against building it")


def test_an_immersion_tube_must_fit_its_tank() -> None:
    burner, small = CATALOGUE.heat_sources["G800"], CATALOGUE.tanks["K4-316"]
    assert not heater_fits(burner, small)  # 58 ft of 8 in. tube in 4 x 2.5 ft
    assert heater_fits(CATALOGUE.heat_sources["G120"], CATALOGUE.tanks["K8-316"])
    assert heater_fits(CATALOGUE.heat_sources["E90"], small)
    assert heater_fits(sized(6000.0).answer.unit.heat_source, sized(6000.0).answer.unit.tank)


# ---- what is shown beside the chosen one


@pytest.mark.parametrize("kind", ["gas", "electric", "steam"])
@pytest.mark.parametrize("gallons", [1000.0, 2500.0, 6000.0])
def test_no_unit_shown_is_beaten_in_everything_and_each_is_better_in_something(kind: str, gallons: float) -> None:
    found = sized(gallons, choices__heat_source=kind)
    shown = [measures(one.criteria) for one in found.shown if one.criteria]
    rated = [measures(one.criteria) for one in found.tried if one.criteria and not one.conflicts]
    assert len(shown) == len(found.shown) <= 4
    for one in shown:
        for other in rated:
            beaten = all(b <= a for a, b in zip(one, other, strict=True))
            apart = max(abs(a - b) / abs(a) for a, b in zip(one, other, strict=True))
            assert not beaten or apart < 2e-3
    chosen, *others = shown
    for other in others:
        leads = [a - b for a, b in zip(chosen[2:], other[2:], strict=True)]
        assert leads[4 - 1] >= 3.0 or leads[4] >= 0.05 or max(leads[i] / chosen[2 + i] for i in range(3)) >= 0.02
    for one, other in itertools.combinations(shown, 2):
        assert max(abs(a - b) / abs(a) for a, b in zip(one, other, strict=True)) > 0.02  # no twins


def test_criteria_are_the_answers_own_figures() -> None:
    found = sized(6000.0)
    answer, criteria = found.answer, found.shown[0].criteria
    assert criteria is not None
    least, average, summer = answer.seasons[answer.governing], answer.seasons["average"], answer.seasons["summer"]
    assert criteria.governing == answer.governing
    assert criteria.capacity_kg_s == pytest.approx(answer.capacity_kg_s, rel=1e-3)
    assert criteria.share_of_capacity == pytest.approx(answer.share_of_capacity, rel=1e-3)
    assert criteria.settling_temperature_K == pytest.approx(summer.settling_temperature_K, abs=0.03)
    assert criteria.below_clamp_difference_K == pytest.approx(summer.clamp_K - summer.settling_temperature_K, abs=0.03)
    assert criteria.power_W == pytest.approx(least.blower_power_W + least.pump_power_W, rel=1e-3)
    assert criteria.floor_area_m2 == pytest.approx((8.0 * 4.0 + 6.0) * FOOT**2)  # K8-316 and one T4
    assert criteria.installed_input_W == pytest.approx(350e3 * 0.29307107)
    # Room air: 52 degF on average outdoors (the mean of summer and winter) becomes 65 degF.
    air = answer.job.air["average"]
    warmed_K = fahrenheit(65.0) - air.outdoor_temperature_K
    assert warmed_K > 3.0
    room_W = average.operation.tower.dry_air_flow_kg_s * (1006.0 + 1860.0 * air.humidity_ratio_kg_kg) * warmed_K
    drawn = (average.fuel_or_power_W + room_W) / average.evaporation_kg_s * 998.2
    assert criteria.heat_per_volume_J_m3 == pytest.approx(drawn, rel=3e-3)
    outdoors = sized(6000.0, site__air_supply="outdoors")
    average, criteria = outdoors.answer.seasons["average"], outdoors.shown[0].criteria
    assert criteria is not None
    assert criteria.heat_per_volume_J_m3 == pytest.approx(
        average.fuel_or_power_W / average.evaporation_kg_s * 998.2, rel=1e-3
    )


def test_why_tells_gain_and_price_with_their_figures() -> None:
    found = sized(6000.0)
    chosen, cooler = found.shown[0], next(one for one in found.shown if one.unit.tower.part_id == "T6")
    assert chosen.criteria is not None
    assert cooler.criteria is not None
    assert cooler.why is not None
    words = cooler.why.words(lambda value, quantity: show(value, quantity, "SI"))
    colder_K = chosen.criteria.settling_temperature_K - cooler.criteria.settling_temperature_K
    power = cooler.criteria.power_W / chosen.criteria.power_W - 1.0
    floor_m2 = 2.0 * FOOT**2  # T6 on 8, T4 on 6 square feet, one tank
    gained, paid = words.split(", for ")
    assert gained == f"A tank {colder_K:.1f} K further below its clamp in summer"
    assert f"{show(power, 'fraction', 'SI')} more electric power" in paid
    assert f"{show(floor_m2, 'area', 'SI')} more floor" in paid
    assert "more fuel and room heat per volume evaporated" in paid
    assert chosen.why is not None
    assert chosen.why.text.startswith("The smallest that meets the duty: the duty takes {0} of it in winter")
    assert chosen.why.figures[0] == (chosen.criteria.share_of_capacity, "fraction")


def test_the_shop_says_how_many_are_shown() -> None:
    one, two, all_of_them = (sized(6000.0, with_practice(candidates_shown=count)) for count in (1.0, 2.0, 4.0))
    assert len(one.shown) == 1
    assert [(ids(one.unit), one.why) for one in two.shown] == [
        (ids(one.unit), one.why) for one in all_of_them.shown[:2]
    ]
    assert len(all_of_them.shown) > 2
    assert ids(one.answer.unit) == ids(two.answer.unit) == ids(all_of_them.answer.unit)


def test_twins_go_by_part_number_not_by_place_in_the_file_and_only_one_is_shown() -> None:
    tower = CATALOGUE.towers["T4"]
    twin = replace(tower, part_id="A4")
    for towers in ((tower, twin), (twin, tower)):
        found = sized(6000.0, replace(CATALOGUE, towers={part.part_id: part for part in towers}))
        assert found.answer.unit.tower.part_id == "A4"
        assert [one.unit.tower.part_id for one in found.shown if one.unit.heat_source.part_id == "G350"] == ["A4"]


@pytest.mark.parametrize(
    ("stand", "more_power", "chosen"),
    [
        (0.5, 0.005, "A4"),  # half a percent more power is none: the narrower stand counts
        (0.5, 0.10, "T4"),  # power comes before floor
        (1.0, 0.005, "T4"),  # worse in something, better in nothing, although it comes first by its number
    ],
)
def test_power_comes_before_floor_but_for_a_hundredth(stand: float, more_power: float, chosen: str) -> None:
    tower = CATALOGUE.towers["T4"]
    blower = CATALOGUE.blowers[tower.blower_id]
    worse = replace(blower, part_id="WORSE", motor_efficiency=blower.motor_efficiency / (1.0 + 2.45 * more_power))
    other = replace(tower, part_id="A4", floor_area_m2=stand * tower.floor_area_m2, blower_id="WORSE")
    catalogue = replace(CATALOGUE, blowers={**CATALOGUE.blowers, "WORSE": worse}, towers={"T4": tower, "A4": other})
    found = sized(6000.0, catalogue)
    power_W = {one.unit.tower.part_id: one.criteria.power_W for one in found.tried if one.criteria}
    assert power_W["A4"] / power_W["T4"] - 1.0 == pytest.approx(more_power, rel=0.1)  # blower and pump
    assert found.answer.unit.tower.part_id == chosen


def test_everything_tried_is_listed_with_its_reason() -> None:
    found = sized(6000.0)
    tried = {(one.unit.heat_source.part_id, one.unit.tower.part_id): one for one in found.tried}
    assert len(tried) == len(found.tried)
    assert {key[1] for key in tried if key[0] == "G350"} == set(CATALOGUE.towers)
    assert "the duty would take 99% of it" in tried["G250", "T4"].verdict
    assert tried["G350", "T2"].verdict == "tower too small: the tank does not stay clear of its clamp (set point)"
    assert tried["G350", "T12"].verdict == "meets the duty; later in the order of choice"
    assert all(one.verdict for one in found.tried)
    assert all(one in found.tried for one in found.shown)


# ---- where nothing is clean


def test_the_nearest_miss_answers_a_duty_beyond_the_catalogue() -> None:
    found = sized(150_000.0)
    answer = found.answer
    assert not answer.meets_duty
    assert answer.share_of_capacity > 1.0
    largest = max(part.gross_input_W for part in CATALOGUE.heat_sources.values() if kind_of(part) == "gas")  # type: ignore[union-attr]
    assert answer.unit.heat_source.gross_input_W == largest  # type: ignore[union-attr]
    assert len(found.shown) == 1
    assert "the nearest miss; no unit of the catalogue meets the duty" in found.shown[0].verdict


def test_the_nearest_miss_is_the_largest_there_is() -> None:
    found = sized(9000.0, only(heat_sources="G250 G350"))
    capacities = [one.evaporation_kg_s for one in found.tried if one.evaporation_kg_s]
    assert len({one.unit.heat_source.part_id for one in found.tried}) > 1
    assert found.answer.share_of_capacity > 1.0
    assert found.answer.capacity_kg_s > 0.98 * max(capacities)
    assert found.answer.unit.heat_source.part_id == "G350"


def test_each_number_of_towers_is_settled_for_itself() -> None:
    catalogue = with_practice(only(towers="T2", heat_sources="G350"), clear_of_clamp_difference_K=60.0)
    found = sized(3000.0, catalogue, unit__pump="P130")
    assert [one.unit.towers for one in found.tried] == [1, 2, 3, 4]
    settled = [one.settling_temperature_K or 0.0 for one in found.tried]
    assert all(after < before - 3.0 for before, after in itertools.pairwise(settled))


def test_a_duty_between_the_shops_margin_and_the_end_is_met_and_said_to_be_tight() -> None:
    found = sized(6000.0, only(heat_sources="G250 G120"))
    assert MOST_SHARE < found.answer.share_of_capacity <= 1.0
    assert found.shown[0].verdict == "chosen: meets the duty, but not with the shop's margin"


def test_where_no_tower_holds_the_clamp_the_unit_cycles_and_says_so() -> None:
    found = sized(3000.0, only(towers="T2", heat_sources="G350"), unit__towers=1.0)
    summer = found.answer.seasons["summer"]
    assert summer.clamp_K - summer.settling_temperature_K < 2.0
    assert found.answer.share_of_capacity <= MOST_SHARE
    assert "in summer its tower does not hold the tank clear of its clamp" in found.shown[0].verdict


def test_a_spray_flow_outside_what_the_fill_takes_is_said() -> None:
    found = sized(6000.0, unit__tower="T9", unit__spray_flow=20.0 * GALLON / 60.0)  # 2.2 gal/min on a square foot
    assert "water loading below what wets the fill" in found.shown[0].conflicts
    flood = {"unit__tower": "T4", "unit__spray_flow": 60.0 * GALLON / 60.0}
    found = sized(6000.0, unit__towers=1.0, **flood)  # 15 on a square foot
    assert "water loading above what the fill takes" in found.shown[0].conflicts
    found = sized(6000.0, **flood)
    assert found.answer.unit.towers == 2  # 7.5 each
    assert not found.shown[0].conflicts


# ---- sites, kinds and named parts


def test_one_part_that_does_not_suit_the_site_does_not_stop_the_others() -> None:
    # 50 psi is more than the fluoropolymer coil bears; metal coils bear it.
    pressure_Pa = 50.0 * 6894.757
    answer = sized(6000.0, choices__heat_source="steam", utilities__steam_pressure=pressure_Pa).answer
    assert isinstance(answer.unit.heat_source, SteamCoilPart)
    assert answer.unit.heat_source.highest_gauge_pressure_Pa >= pressure_Pa
    with pytest.raises(InputError, match="is above what S-FP120 bears"):
        sized(choices__heat_source="steam", utilities__steam_pressure=pressure_Pa, unit__heat_source="S-FP120")


def test_where_no_part_suits_the_site_the_reason_is_given() -> None:
    with pytest.raises(InputError, match="'none' does not fire"):
        sized(utilities__fuel="none")
    with pytest.raises(OutOfRange, match="supply_voltage_V = 690"):
        sized(choices__heat_source="electric", utilities__supply_voltage=690.0)


def test_plastic_coils_go_with_plastic_tanks_only() -> None:
    metal = sized(2000.0, choices__heat_source="steam")
    plastic = sized(2000.0, choices__heat_source="steam", choices__tank_material="polypropylene").answer.unit
    assert metal.answer.unit.heat_source.material != "fluoropolymer"  # type: ignore[union-attr]
    assert all(one.unit.heat_source.material != "fluoropolymer" for one in metal.shown)  # type: ignore[union-attr]
    assert plastic.tank.material == "polypropylene"


def test_named_parts_are_kept() -> None:
    unit = sized(
        3000.0, unit__tower="T9", unit__tank="K10-316", unit__pump="P130", unit__heat_source="G500"
    ).answer.unit
    assert ids(unit) == (1, "T9", "K10-316", "G500", "P130")
    assert sized(3000.0, unit__towers=2.0).answer.unit.towers == 2
    spray = 30.0 * GALLON / 60.0
    assert sized(3000.0, unit__spray_flow=spray).answer.unit.spray_flow_m3_s == spray


@pytest.mark.parametrize("key", ["unit.tower", "unit.tank", "unit.heat_source", "unit.pump"])
def test_unknown_parts_name_key_and_choices(key: str) -> None:
    with pytest.raises(InputError, match="'X99' is not in the catalogue") as caught:
        size_unit(build_job({"duty.volume": 8.6e-6, key: "X99"}), CATALOGUE)
    assert caught.value.key == key
    assert caught.value.allowed


def test_a_catalogue_without_the_kind_or_material_asked_for_says_so() -> None:
    gas_only = replace(
        CATALOGUE, heat_sources={key: part for key, part in CATALOGUE.heat_sources.items() if kind_of(part) == "gas"}
    )
    with pytest.raises(InputError, match="none of the kind 'steam'"):
        sized(catalogue=gas_only, choices__heat_source="steam")
    no_steel = replace(
        CATALOGUE, tanks={key: tank for key, tank in CATALOGUE.tanks.items() if tank.material != "carbon steel"}
    )
    with pytest.raises(InputError, match="no tank of 'carbon steel'") as caught:
        sized(catalogue=no_steel, choices__tank_material="carbon steel")
    assert "polypropylene" in caught.value.allowed
    with pytest.raises(InputError, match="no tower"):
        sized(catalogue=replace(CATALOGUE, towers={}))
    with pytest.raises(InputError, match="no pump"):
        sized(catalogue=replace(CATALOGUE, pumps={}))


def test_the_governing_season_is_the_weakest_or_a_tie_with_it() -> None:
    answer = sized(6000.0).answer
    least = min(result.evaporation_kg_s for result in answer.seasons.values())
    assert answer.capacity_kg_s == pytest.approx(least, rel=0.01)
    assert answer.end_of_batch.evaporation_kg_s <= answer.capacity_kg_s


def test_the_tower_is_dropped_where_settling_finds_it_too_small_and_only_there() -> None:
    job = job_of(6000.0)
    for candidate in size_unit(job, CATALOGUE).tried:
        summer = settle(candidate.unit, conditions_of(job, "summer"))
        clear = summer.clamp_K - summer.settling_temperature_K >= CATALOGUE.practice.clear_of_clamp_difference_K
        assert clear == candidate.clear_of_clamp, candidate.verdict

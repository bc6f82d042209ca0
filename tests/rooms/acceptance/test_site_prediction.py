"""What a performance run says of the site: planted factors come back, and intervals know what was measured."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from example_rigs import example_answer
from site_runs import as_tested
from vaporwright.acceptance.guarantee import site_prediction
from vaporwright.acceptance.guarantee.site_prediction import SitePrediction, predict_site, predict_site_by_monte_carlo
from vaporwright.acceptance.run.log import Measured, SteadyReadings
from vaporwright.foundation.errors import InputError
from vaporwright.unit.answer import held_at
from vaporwright.unit.as_found import AsFound, as_found
from vaporwright.unit.balance import Conditions, settle
from vaporwright.unit.heat import rate_heat

KINDS = ("gas", "electric", "steam")
PLANTED = {
    "gas": AsFound(merkel_factor=0.8, air_factor=1.06, spray_factor=0.95, input_factor=0.96, heat_factor=1.04),
    "electric": AsFound(merkel_factor=1.25, air_factor=0.92, spray_factor=1.05, input_factor=1.03),
    "steam": AsFound(merkel_factor=0.85, air_factor=1.05, spray_factor=0.96, heat_factor=0.8),
}


def predicted(kind: str, found: AsFound | None = None, *, scale: float = 1.0, **changed: object) -> SitePrediction:
    answer = example_answer(kind)
    readings, conditions, _ = as_tested(answer, found or PLANTED[kind], scale=scale)
    return predict_site(replace(readings, **changed), conditions, answer)  # type: ignore[arg-type]


def factor(prediction: SitePrediction, name: str) -> float:
    return next(entry.value for entry in prediction.factors if entry.name == name)


@pytest.mark.parametrize("kind", KINDS)
def test_planted_factors_come_back(kind: str) -> None:
    prediction = predicted(kind, scale=0.1)
    planted = PLANTED[kind]
    for name, within in (("merkel", 0.015), ("air", 0.01), ("spray", 0.005), ("input", 0.005), ("heat", 0.012)):
        if kind == "steam" and name == "input":
            assert all(entry.name != "input" for entry in prediction.factors)
            continue
        assert factor(prediction, name) == pytest.approx(getattr(planted, f"{name}_factor"), rel=within), name


@pytest.mark.parametrize("kind", KINDS)
def test_exact_readings_predict_what_the_unit_does_at_the_site(kind: str) -> None:
    answer = example_answer(kind)
    prediction = predicted(kind, scale=0.1)
    for season, entry in prediction.seasons.items():
        unit, conditions = as_found(answer.unit, answer.seasons[season].conditions, PLANTED[kind])
        true = settle(unit, conditions)
        assert entry.capacity_kg_s.value == pytest.approx(true.evaporation_kg_s, rel=0.006)
        assert entry.settling_temperature_K.value == pytest.approx(true.settling_temperature_K, abs=0.3)
        per_drawn = true.evaporation_kg_s / true.fuel_or_power_W
        assert entry.evaporation_per_drawn_kg_J.value == pytest.approx(per_drawn, rel=0.006)
        assert entry.limit == true.limit


@pytest.mark.parametrize("kind", KINDS)
def test_a_unit_as_designed_is_predicted_at_its_guarantee(kind: str) -> None:
    prediction = predicted(kind, AsFound())
    assert prediction.capability_percent == pytest.approx(100.0, abs=0.25)
    assert prediction.guarantee_kg_s == example_answer(kind).capacity_kg_s
    assert prediction.misfit < 0.0
    low, high = prediction.interval_percent
    assert low < 100.0 < high
    assert prediction.half_width_percent == pytest.approx(1.96 * prediction.standard_uncertainty_percent, rel=1e-3)
    assert 1.0 < prediction.half_width_percent < 8.0


def test_a_stated_guarantee_is_what_the_percentage_is_of() -> None:
    answer = example_answer("electric")
    readings, conditions, _ = as_tested(answer, AsFound())
    half = predict_site(
        readings, conditions, answer, guarantee_kg_s=2.0 * answer.capacity_kg_s, departures=("wet bulb",)
    )
    assert half.capability_percent == pytest.approx(50.0, abs=0.2)
    assert half.departures == ("wet bulb",)
    with pytest.raises(InputError, match="guarantee_kg_s"):
        predict_site(readings, conditions, answer, guarantee_kg_s=0.0)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_better_instruments_make_a_narrower_interval(kind: str) -> None:
    wide, usual, narrow = (predicted(kind, scale=scale).half_width_percent for scale in (4.0, 1.0, 0.25))
    assert narrow < usual < wide
    rate_kg_s = as_tested(example_answer(kind), PLANTED[kind])[2].evaporation_kg_s
    coarse = predicted(kind, evaporation_kg_s=Measured(rate_kg_s, rate_kg_s))
    assert coarse.half_width_percent > usual


def test_contributions_add_up_and_name_the_largest_first() -> None:
    prediction = predicted("gas")
    assert math.fsum(entry.share for entry in prediction.contributions) == pytest.approx(1.0)
    squares = math.fsum(entry.standard_uncertainty_percent**2 for entry in prediction.contributions)
    assert math.sqrt(squares) == pytest.approx(prediction.standard_uncertainty_percent)
    shares = [entry.share for entry in prediction.contributions]
    assert shares == sorted(shares, reverse=True)
    half = prediction.half_of_it
    assert sum(entry.share for entry in half) >= 0.5 > sum(entry.share for entry in half[:-1])


def test_the_reading_that_is_worst_is_named() -> None:
    readings, conditions, result = as_tested(example_answer("electric"), AsFound())
    blind = replace(readings, evaporation_kg_s=Measured(result.evaporation_kg_s, 0.05 * result.evaporation_kg_s))
    blind = replace(blind, heat_drawn_W=Measured(result.fuel_or_power_W, 0.08 * result.fuel_or_power_W))
    blind = replace(blind, return_temperature_K=None, air_flow_m3_s=None, spray_flow_m3_s=None)
    prediction = predict_site(blind, conditions, example_answer("electric"))
    assert prediction.half_of_it[0].key in ("input", "evaporation_kg_s")


def test_heat_limited_rate_alone_says_nothing_of_the_fill() -> None:
    answer = example_answer("gas")
    readings, conditions, result = as_tested(answer, PLANTED["gas"])
    rate_alone = replace(
        readings,
        tank_temperature_K=Measured(result.settling_temperature_K, 15.0),
        return_temperature_K=None,
        air_flow_m3_s=None,
        exhaust_temperature_K=None,
        exhaust_wet_bulb_K=None,
    )
    prediction = predict_site(rate_alone, conditions, answer)
    merkel = next(entry for entry in prediction.factors if entry.name == "merkel")
    assert not merkel.told
    assert merkel.standard_uncertainty > 0.8 * 0.25 * merkel.value
    assert {"fill not told", "air not measured"} <= {notice.name for notice in prediction.notices}
    whole = predict_site(readings, conditions, answer)
    assert next(entry for entry in whole.factors if entry.name == "merkel").told
    assert not {"fill not told", "air not measured", "fill and air alike"} & {notice.name for notice in whole.notices}
    assert prediction.half_width_percent > whole.half_width_percent


def test_without_air_and_exhaust_fill_and_air_are_not_told_apart() -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, PLANTED["gas"])
    blind = replace(readings, air_flow_m3_s=None, exhaust_temperature_K=None, exhaust_wet_bulb_K=None)
    prediction = predict_site(blind, conditions, answer)
    by_name = {entry.name: entry for entry in prediction.factors}
    assert not by_name["merkel"].apart
    assert not by_name["air"].apart
    assert by_name["merkel"].told  # but the settling temperature tells of both together
    seen = {entry.name: entry for entry in predict_site(readings, conditions, answer).factors}
    assert seen["merkel"].standard_uncertainty < 0.7 * by_name["merkel"].standard_uncertainty


def test_a_tank_at_its_clamp_says_nothing_of_full_heat() -> None:
    answer = example_answer("electric")
    found = AsFound(merkel_factor=0.45)
    readings, conditions, result = as_tested(answer, found)
    assert result.limit == "tower"
    prediction = predict_site(readings, conditions, answer)
    assert "full heat not seen" in {notice.name for notice in prediction.notices}
    assert factor(prediction, "merkel") == pytest.approx(0.45, rel=0.03)
    unit, site = as_found(answer.unit, answer.seasons[answer.governing].conditions, found)
    true = settle(unit, site).evaporation_kg_s
    percent = 100.0 * true / answer.capacity_kg_s
    assert prediction.interval_percent[0] < percent < prediction.interval_percent[1]
    tight = predicted("electric", AsFound())
    assert prediction.half_width_percent > tight.half_width_percent


def test_a_tank_at_its_clamp_says_how_much_heat_there_is_at_least() -> None:
    answer = example_answer("steam")
    readings, conditions, result = as_tested(answer, AsFound(merkel_factor=0.7, heat_factor=1.5))
    assert result.limit == "tower"
    least = 1.5 * result.load  # what the tank took at its clamp, over what the coil as designed gives there
    assert least > 1.1
    heat = next(entry for entry in predict_site(readings, conditions, answer).factors if entry.name == "heat")
    assert least < heat.value < 1.5
    assert heat.standard_uncertainty < 0.8 * 0.2 * heat.value


# What is planted of the heat, and how well it is known once it was clocked
CLOCKED = {"gas": ("input", 1.06, 0.012), "electric": ("input", 1.06, 0.01), "steam": ("heat", 1.15, 0.02)}


def with_full_heat(kind: str, readings: SteadyReadings, conditions: Conditions, factor: float) -> SteadyReadings:
    """Ten minutes of full heat as the unit gives it, in a tank well under its set point."""
    bath_K = conditions.set_point_K - 9.0
    full_W = factor * rate_heat(example_answer(kind).unit.heat_source, conditions.heat_site, bath_K).drawn_W
    bath = Measured(bath_K, 1.0) if kind == "steam" else None
    return replace(readings, full_heat_W=Measured(full_W, 0.008 * full_W), full_heat_bath_K=bath)


@pytest.mark.parametrize("kind", KINDS)
def test_full_heat_clocked_apart_tells_what_a_tank_at_its_clamp_does_not(kind: str) -> None:
    answer = example_answer(kind)
    name, planted, known = CLOCKED[kind]
    found = AsFound(merkel_factor=0.4, **{f"{name}_factor": planted})
    readings, conditions, result = as_tested(answer, found)
    assert result.limit == "tower"
    unit, site = as_found(answer.unit, answer.seasons[answer.governing].conditions, found)
    true = 100.0 * settle(unit, site).evaporation_kg_s / answer.capacity_kg_s
    blind = predict_site(readings, conditions, answer, seasons=())
    clocked = with_full_heat(kind, readings, conditions, planted)
    seen = predict_site(clocked, conditions, answer, seasons=())
    factors = {entry.name: entry for entry in seen.factors}
    assert factors[name].value == pytest.approx(planted, rel=known)
    assert factors[name].standard_uncertainty < known * planted
    before = next(entry for entry in blind.factors if entry.name == name)
    assert factors[name].standard_uncertainty < 0.6 * before.standard_uncertainty
    assert seen.capability_percent == pytest.approx(true, abs=1.5)
    # Where the tower limits the site as well, heat hardly matters, and slopes are taken over another stretch.
    assert seen.half_width_percent < 1.02 * blind.half_width_percent
    assert {"full heat not seen"} & {notice.name for notice in blind.notices}
    assert {"heat cycled"} & {notice.name for notice in seen.notices}
    # Where the run itself saw full heat, the same meter clocked once more says nothing new.
    plain, conditions, _ = as_tested(answer, AsFound())
    again = replace(plain, full_heat_W=clocked.full_heat_W, full_heat_bath_K=clocked.full_heat_bath_K)
    assert predict_site(plain, conditions, answer, seasons=()) == predict_site(again, conditions, answer, seasons=())


def test_a_coil_weighed_at_its_clamp_is_known_as_well_as_one_that_settles_under_it() -> None:
    answer = example_answer("steam")
    readings, conditions, result = as_tested(answer, AsFound(merkel_factor=0.7, heat_factor=1.3))
    assert result.limit == "tower"
    wide = predict_site(readings, conditions, answer, seasons=()).half_width_percent
    clocked = with_full_heat("steam", readings, conditions, 1.3)
    narrow = predict_site(clocked, conditions, answer, seasons=())
    settled = predict_site(as_tested(answer, AsFound())[0], conditions, answer, seasons=())
    assert wide > 2.0 * narrow.half_width_percent
    relative = [entry.half_width_percent / entry.capability_percent for entry in (narrow, settled)]
    assert relative[0] < 1.3 * relative[1]


@pytest.mark.parametrize("kind", KINDS)
def test_a_lowered_set_point_that_is_known_is_no_fault_of_the_heat(kind: str) -> None:
    answer = example_answer(kind)
    held_K = as_tested(answer, AsFound())[2].settling_temperature_K - 7.0
    planted = PLANTED[kind]
    low = replace(planted, set_point_K=held_K)
    readings, conditions, result = as_tested(answer, low, scale=0.1)
    assert result.limit == "tower"
    drawn = planted.heat_factor if kind == "steam" else planted.input_factor
    readings = with_full_heat(kind, readings, conditions, drawn)
    known, held = replace(conditions, set_point_K=held_K), held_at(answer, held_K)
    prediction = predict_site(readings, known, held, guarantee_kg_s=answer.capacity_kg_s)
    for name in ("merkel", "air", "spray"):
        assert factor(prediction, name) == pytest.approx(getattr(planted, f"{name}_factor"), rel=0.015), name
    for season, entry in prediction.seasons.items():
        true = settle(*as_found(answer.unit, answer.seasons[season].conditions, low))
        assert entry.limit == true.limit
        assert entry.settling_temperature_K.value == pytest.approx(true.settling_temperature_K, abs=0.5)
        assert entry.capacity_kg_s.value == pytest.approx(true.evaporation_kg_s, rel=0.02)
    assert prediction.seasons["summer"].limit == "tower"
    assert prediction.guarantee_kg_s == answer.capacity_kg_s
    held_there = held.seasons[held.governing].limit == "tower"
    assert ("set point low" in {notice.name for notice in prediction.notices}) == held_there


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_both_ways_of_uncertainty_agree(kind: str) -> None:
    answer = example_answer(kind)
    readings, conditions, _ = as_tested(answer, PLANTED[kind])
    linear = predict_site(readings, conditions, answer, seasons=())
    drawn = predict_site_by_monte_carlo(readings, conditions, answer, draws=200, seed=3)
    assert linear.seasons.keys() == {answer.governing}
    assert drawn.capability_percent == pytest.approx(
        linear.capability_percent, abs=0.35 * linear.standard_uncertainty_percent
    )
    # 200 draws leave a standard deviation uncertain by 5 %
    assert drawn.standard_uncertainty_percent == pytest.approx(linear.standard_uncertainty_percent, rel=0.2)
    again = predict_site_by_monte_carlo(readings, conditions, answer, draws=200, seed=3)
    assert again.interval_percent == drawn.interval_percent
    with pytest.raises(InputError, match="draws"):
        predict_site_by_monte_carlo(readings, conditions, answer, draws=20)


NONSENSE = (
    ("evaporation_kg_s", 0.0, "0 is no reading"),
    ("evaporation_kg_s", math.nan, "is no reading"),
    ("evaporation_kg_s", 0.002, "standard deviations from"),
    ("tank_temperature_K", 285.0, "not above the wet bulb"),
    ("inlet_wet_bulb_K", 299.0, "above the air's"),
    ("return_temperature_K", 300.0, "standard deviations from"),
    ("air_flow_m3_s", 0.25, "standard deviations from"),
    ("heat_drawn_W", 1.0e6, "standard deviations from|no unit of this kind"),
    ("pressure_Pa", 3.0e5, "."),
    ("flue_oxygen", 0.30, "."),
)


@pytest.mark.parametrize(("name", "value", "words"), NONSENSE)
def test_nonsense_is_one_clear_error(name: str, value: float, words: str) -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, AsFound())
    usual: Measured = getattr(readings, name)
    changed = replace(readings, **{name: Measured(value, usual.standard_uncertainty)})  # type: ignore[arg-type]
    with pytest.raises(InputError, match=words) as raised:
        predict_site(changed, conditions, answer)
    assert raised.value.where == "performance run"
    assert raised.value.allowed


def test_an_exact_instrument_is_no_instrument() -> None:
    answer = example_answer("gas")
    readings, conditions, result = as_tested(answer, AsFound())
    exact = replace(readings, evaporation_kg_s=Measured(result.evaporation_kg_s, 0.0))
    with pytest.raises(InputError, match=r"evaporation_kg_s.*no instrument is exact"):
        predict_site(exact, conditions, answer)


def test_a_reading_off_by_four_of_its_deviations_is_pointed_at() -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, AsFound())
    assert readings.return_temperature_K is not None
    off = replace(readings, return_temperature_K=Measured(readings.return_temperature_K.value - 1.4, 0.14))
    prediction: SitePrediction = predict_site(off, conditions, answer)
    assert prediction.far_off[0][0] == "return temperature"
    assert abs(prediction.far_off[0][1]) > 3.0


def test_fewer_readings_still_predict() -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, AsFound())
    bare = SteadyReadings(
        readings.evaporation_kg_s,
        readings.tank_temperature_K,
        readings.inlet_air_temperature_K,
        readings.inlet_wet_bulb_K,
        readings.pressure_Pa,
        readings.feed_temperature_K,
    )
    prediction = predict_site(bare, conditions, answer)
    assert prediction.capability_percent == pytest.approx(100.0, abs=1.0)
    assert any(entry.key == "drift_kg_s" for entry in prediction.contributions)
    assert prediction.half_width_percent > predict_site(readings, conditions, answer).half_width_percent


def test_exhaust_drawn_in_again_is_in_the_air_that_was_read() -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, AsFound())
    drawn_in = replace(conditions, intake=replace(conditions.intake, recirculated_share=0.1))
    expected = predict_site(readings, conditions, answer, seasons=())
    assert predict_site(readings, drawn_in, answer, seasons=()) == expected


@pytest.mark.parametrize("kind", KINDS)
def test_losses_cost_capacity_and_are_drawn_as_well(kind: str) -> None:
    answer = example_answer(kind)
    site = site_prediction._Site(answer, answer.governing)
    terms = dict.fromkeys(("merkel", "air", "spray", "input", "heat", "losses", "vapour"), 0.0)
    usual, lossy = site.at(terms), site.at(terms | {"losses": math.log(1.5)})
    losses_W = answer.seasons[answer.governing].operation.energy
    lost = 0.5 * (losses_W.walls_W + losses_W.piping_W + losses_W.surface_dry_W) / losses_W.heat_source_W
    # Heat that the losses take evaporates nothing; the tank, a little cooler, gives a little less of it as vapour.
    assert usual.capacity - lossy.capacity == pytest.approx(lost, rel=0.25)
    fell = usual.per_drawn - lossy.per_drawn
    more_drawn = fell - (usual.capacity - lossy.capacity)
    if kind == "steam":  # a coil in a cooler tank condenses more
        assert 0.0 < more_drawn < 0.4 * lost
    else:
        assert more_drawn == pytest.approx(0.0, abs=2e-4)


def test_what_evaporates_for_the_heat_carries_over() -> None:
    answer = example_answer("gas")
    site = site_prediction._Site(answer, answer.governing)
    terms = dict.fromkeys(("merkel", "air", "spray", "input", "heat", "losses", "vapour"), 0.0)
    usual, more = site.at(terms), site.at(terms | {"vapour": 0.01})
    assert more.capacity - usual.capacity == pytest.approx(0.01)
    assert more.per_drawn - usual.per_drawn == pytest.approx(0.01)


def test_no_instrument_tells_what_changes_from_shop_to_site() -> None:
    # Gas: input within 1 %, heat within 0.7 % (unit_terms), both nearly in proportion.
    assert predicted("gas", AsFound(), scale=0.02).standard_uncertainty_percent > 0.9 * 100.0 * math.hypot(0.01, 0.007)
    assert predicted("steam", AsFound(), scale=0.02).standard_uncertainty_percent > 0.7 * 3.0


def test_readings_that_all_disagree_a_little_fit_badly() -> None:
    answer = example_answer("gas")
    readings, conditions, _ = as_tested(answer, AsFound())
    pushed = {
        "return_temperature_K": -2.5,
        "air_flow_m3_s": 2.5,
        "spray_flow_m3_s": -2.5,
        "evaporation_kg_s": 2.5,
        "heat_drawn_W": -2.5,
        "exhaust_temperature_K": 10.0,
        "exhaust_wet_bulb_K": -5.0,
        "stack_temperature_K": 2.5,
    }
    changed = {}
    for name, deviates in pushed.items():
        usual: Measured = getattr(readings, name)
        value = usual.value + deviates * usual.standard_uncertainty
        changed[name] = Measured(value, usual.standard_uncertainty)
    pulled = predict_site(replace(readings, **changed), conditions, answer, seasons=())  # type: ignore[arg-type]
    assert pulled.misfit > 0.0 > predict_site(readings, conditions, answer, seasons=()).misfit
    # Nothing but its thermometer tells of the make-up: it is not blamed.
    assert dict(pulled.far_off)["make-up temperature"] == 0.0

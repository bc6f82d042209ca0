"""Laws of the gas line: the three forms of one equation agree, each moves the right way, and no figure is forced."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.equipment.gas_piping import (
    TABLE_MARGIN,
    HIGHEST_LOW_PRESSURE_Pa,
    combustion_air_openings,
    gas_line,
    gas_pipe_capacity_standard_m3_s,
    gas_pipe_diameter_m,
    gas_pipe_pressure_drop_Pa,
    smallest_gas_pipe,
    spitzglass_capacity_standard_m3_s,
)
from vaporwright.foundation.errors import InputError, OutOfRange

gases = st.sampled_from(["natural gas", "propane"])
bores = st.floats(0.01, 0.15)
lengths = st.floats(1.0, 300.0)
drops = st.floats(10.0, 3000.0)
factors = st.floats(1.01, 2.0)
VALUES_J_m3 = {"natural gas": 3.8e7, "propane": 9.4e7}


@given(gases, bores, lengths, drops)
def test_three_forms_of_one_equation(gas: str, bore: float, length: float, drop: float) -> None:
    run = {"gas": gas, "length_m": length}
    flow = gas_pipe_capacity_standard_m3_s(**run, inner_diameter_m=bore, pressure_drop_Pa=drop)
    back = gas_pipe_diameter_m(**run, flow_standard_m3_s=flow, pressure_drop_Pa=drop)
    assert back == pytest.approx(bore, rel=1e-9)
    back = gas_pipe_pressure_drop_Pa(**run, inner_diameter_m=bore, flow_standard_m3_s=flow)
    assert back == pytest.approx(drop, rel=1e-9)


@given(gases, bores, lengths, drops, factors)
def test_capacity_moves_the_right_way(gas: str, bore: float, length: float, drop: float, factor: float) -> None:
    for of in (
        lambda **run: gas_pipe_capacity_standard_m3_s(gas=gas, **run),
        lambda **run: spitzglass_capacity_standard_m3_s(specific_gravity=0.6, **run),
    ):
        flow = of(inner_diameter_m=bore, length_m=length, pressure_drop_Pa=drop)
        assert of(inner_diameter_m=bore * factor**0.1, length_m=length, pressure_drop_Pa=drop) > flow
        assert of(inner_diameter_m=bore, length_m=length * factor, pressure_drop_Pa=drop) < flow
        assert of(inner_diameter_m=bore, length_m=length, pressure_drop_Pa=drop * factor) > flow
        # only drop per length counts
        same = of(inner_diameter_m=bore, length_m=length * factor, pressure_drop_Pa=drop * factor)
        assert same == pytest.approx(flow, rel=1e-9)


@given(gases, st.floats(1e4, 1e6), lengths, drops)
def test_smallest_pipe_carries_the_load_and_no_smaller_one_does(
    gas: str, heat_W: float, length: float, drop: float
) -> None:
    load = {"gas": gas, "heat_input_W": heat_W, "heating_value_J_standard_m3": VALUES_J_m3[gas], "length_m": length}
    flow = TABLE_MARGIN * heat_W / VALUES_J_m3[gas]
    needed = gas_pipe_diameter_m(gas=gas, flow_standard_m3_s=flow, length_m=length, pressure_drop_Pa=drop)
    bores = [inch * 0.0254 for inch in (0.622, 0.824, 1.049, 1.38, 1.61, 2.067, 2.469, 3.068, 4.026)]
    enough = [bore for bore in bores if bore >= needed]
    if not enough:
        with pytest.raises(OutOfRange, match="heat_input_W") as caught:
            smallest_gas_pipe(**load, pressure_drop_Pa=drop)
        assert caught.value.high is not None
        assert caught.value.high < heat_W
        return
    pipe = smallest_gas_pipe(**load, pressure_drop_Pa=drop)
    assert pipe.inner_diameter_m == pytest.approx(enough[0], abs=1e-9)
    assert pipe.capacity_standard_m3_s > pipe.flow_standard_m3_s
    assert pipe.pressure_drop_Pa < drop


@given(gases, st.floats(1e4, 3e5), st.floats(1.0, 60.0), st.floats(500.0, 3000.0), st.floats(20.0, 400.0))
def test_the_train_gets_what_it_needs(gas: str, heat_W: float, length: float, lowest: float, spare: float) -> None:
    line = gas_line(
        gas=gas,
        heat_input_W=heat_W,
        heating_value_J_standard_m3=VALUES_J_m3[gas],
        length_m=length,
        most_drop_Pa=125.0,
        site_pressure_Pa=101325.0,
        site_lowest_gauge_Pa=lowest + spare,
        site_highest_gauge_Pa=2.0 * (lowest + spare),
        train_lowest_gauge_Pa=lowest,
        train_highest_gauge_Pa=3000.0,
    )
    assert line.train_inlet_gauge_Pa >= lowest - 1e-6
    assert line.pipe.pressure_drop_Pa <= min(125.0, spare) + 1e-6
    names = {notice.name for notice in line.notices}
    assert ("gas pressure at rest" in names) == (2.0 * (lowest + spare) > 3000.0)
    assert ("little pressure for the gas line" in names) == (spare < 125.0 * (1.0 - 1e-12))
    assert "train inlet below its lowest" not in names


@given(gases, st.floats(1e4, 3e5), st.floats(1.0, 60.0), st.floats(60e3, 101e3))
def test_thin_air_costs_pressure(gas: str, heat_W: float, length: float, site_Pa: float) -> None:
    load = {"gas": gas, "heat_input_W": heat_W, "heating_value_J_standard_m3": VALUES_J_m3[gas], "length_m": length}
    line = gas_line(**(LINE | load | {"site_pressure_Pa": site_Pa}))
    low = gas_line(**(LINE | load))
    assert line.pipe.inner_diameter_m >= low.pipe.inner_diameter_m
    assert line.pipe.pressure_drop_Pa <= line.allowed_drop_Pa
    if line.pipe.nominal_size == low.pipe.nominal_size:
        assert line.pipe.pressure_drop_Pa == pytest.approx(low.pipe.pressure_drop_Pa * 101325.0 / site_Pa, rel=1e-9)
    below_sea = gas_line(**(LINE | load | {"site_pressure_Pa": 105e3}))
    assert below_sea.pipe == low.pipe  # never less than the code's own


def test_a_site_that_gives_the_train_too_little_is_named() -> None:
    line = gas_line(**(LINE | {"site_lowest_gauge_Pa": 1100.0}))
    (notice,) = line.notices
    assert notice.name == "train inlet below its lowest"
    assert notice.figures == ((line.train_inlet_gauge_Pa, "pressure"), (1250.0, "pressure"))
    assert line.allowed_drop_Pa == 125.0
    assert gas_line(**LINE).notices == ()


@given(st.floats(1e3, 1e6), factors)
def test_more_fire_needs_no_less_air(heat_W: float, factor: float) -> None:
    less, more = combustion_air_openings(heat_W), combustion_air_openings(heat_W * factor)
    assert more.two_to_outdoors_each_m2 == pytest.approx(factor * less.two_to_outdoors_each_m2)
    assert more.two_by_horizontal_ducts_each_m2 == pytest.approx(2.0 * more.two_to_outdoors_each_m2)
    assert more.one_to_outdoors_m2 < 2.0 * more.two_to_outdoors_each_m2  # one opening, but less than both
    assert more.two_to_indoors_each_m2 >= less.two_to_indoors_each_m2 >= 100.0 * 0.0254**2


LINE = {
    "gas": "natural gas",
    "heat_input_W": 150_000.0,
    "heating_value_J_standard_m3": 3.8e7,
    "length_m": 20.0,
    "most_drop_Pa": 125.0,
    "site_pressure_Pa": 101325.0,
    "site_lowest_gauge_Pa": 1750.0,
    "site_highest_gauge_Pa": 2500.0,
    "train_lowest_gauge_Pa": 1250.0,
    "train_highest_gauge_Pa": 3500.0,
}


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"site_lowest_gauge_Pa": 50.0}, r"site_lowest_gauge_Pa = 50: allowed 100 to 10342"),
        ({"site_pressure_Pa": 101.3}, r"site_pressure_Pa = 101\.3: allowed 60000 to 110000"),
        ({"site_highest_gauge_Pa": 14_000.0}, r"site_highest_gauge_Pa = 14000: allowed 1750 to 10342.*line regulator"),
        ({"site_highest_gauge_Pa": 1700.0}, r"site_highest_gauge_Pa = 1700: allowed 1750"),
        ({"train_highest_gauge_Pa": 1000.0}, r"train_lowest_gauge_Pa = 1250: allowed 0 to 1000"),
        ({"most_drop_Pa": 0.0}, r"most_drop_Pa = 0: allowed 1"),
        ({"heat_input_W": float("nan")}, r"heat_input_W = nan"),
        ({"heat_input_W": 5e6}, r"heat_input_W = 5e\+06: allowed at most .*4 in\. pipe"),
        ({"heating_value_J_standard_m3": 1000.0}, r"heating_value_J_standard_m3 = 1000: allowed"),
        ({"length_m": 0.0}, r"length_m = 0: allowed 0\.3"),
    ],
)
def test_a_line_that_cannot_be_is_refused(changed: dict[str, float], message: str) -> None:
    assert gas_line(**LINE).pipe.nominal_size
    with pytest.raises(OutOfRange, match=message):
        gas_line(**(LINE | changed))


def test_only_gases_of_the_code() -> None:
    with pytest.raises(InputError, match=r"gas line: gas: 'biogas' has no factor.*natural gas, propane"):
        gas_pipe_diameter_m(gas="biogas", flow_standard_m3_s=0.01, length_m=10.0, pressure_drop_Pa=100.0)


@given(gases, st.floats(0.011, 0.02))
def test_no_drop_beyond_low_pressure(gas: str, bore: float) -> None:
    with pytest.raises(OutOfRange, match="pressure_drop_Pa"):
        gas_pipe_pressure_drop_Pa(gas=gas, inner_diameter_m=bore, length_m=300.0, flow_standard_m3_s=0.1)
    with pytest.raises(OutOfRange, match="pressure_drop_Pa"):
        gas_pipe_capacity_standard_m3_s(
            gas=gas, inner_diameter_m=bore, length_m=10.0, pressure_drop_Pa=HIGHEST_LOW_PRESSURE_Pa + 1.0
        )

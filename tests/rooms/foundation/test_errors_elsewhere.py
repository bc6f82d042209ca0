"""Errors come back whole from other processes: a worker whose error cannot be made again takes its whole pool down."""

from __future__ import annotations

import pickle

import pytest

from vaporwright.actions.job_book import NoSuchJob
from vaporwright.actions.live_size import OtherHeat
from vaporwright.foundation.errors import InputError, LiquidRefused, NotConverged, OutOfRange, VaporwrightError


@pytest.mark.parametrize(
    "error",
    [
        InputError("job.toml", "duty.volume", "is missing", "a volume"),
        OutOfRange("temperature_K", 1.0, 273.15, None, "ice"),
        LiquidRefused("not sized"),
        NotConverged("temperature"),
        NoSuchJob("x"),
        OtherHeat("gas", "steam"),
    ],
)
def test_an_error_comes_back_whole(error: VaporwrightError) -> None:
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert vars(again) == vars(error)

"""Masks of quality: what each flags and what it must leave alone."""

from __future__ import annotations

import numpy as np
import pytest

from samples import challenge, labels, named
from steadfeed.analysis.quality import frozen, gaps, missing, off_the_pipe, out_of_range, spikes

T = np.arange(0.0, 600.0)
NOISE = np.random.default_rng(5).normal(0.0, 500.0, 600)


def test_masks_never_change_the_readings() -> None:
    values = 9e5 + NOISE
    before = values.copy()
    for mask in (missing(values), out_of_range("suction_pressure", values), spikes(values), frozen(T, values)):
        assert mask.shape == values.shape
        assert mask.dtype == np.bool_
    np.testing.assert_array_equal(values, before)


def test_a_spike_is_flagged_and_a_step_is_not() -> None:
    values = 9e5 + NOISE
    values[300:] += 2e5
    values[100] += 1e5
    assert np.flatnonzero(spikes(values)).tolist() == [100]


def test_missing_and_impossible_readings() -> None:
    values = np.array([300.0, np.nan, 150.0, 500.0])
    assert missing(values).tolist() == [False, True, False, False]
    assert out_of_range("suction_line_temperature", values).tolist() == [False, False, True, True]


def test_a_repeated_value_is_frozen_only_when_it_lasts() -> None:
    values = 9e5 + NOISE
    values[50:80] = values[50]
    values[200:400] = values[200]
    flagged = frozen(T, values)
    assert not flagged[:200].any()
    assert flagged[200:400].all()
    assert not flagged[400:].any()


def test_gaps_are_marked_where_they_end() -> None:
    time = np.r_[np.arange(0.0, 60.0, 2.0), np.arange(120.0, 180.0, 2.0)]
    assert np.flatnonzero(gaps(time)).tolist() == [30]


def test_a_clamp_at_air_temperature_is_off_the_pipe() -> None:
    air = np.full(600, 305.0)
    pipe = np.full(600, 315.0)
    pipe[400:] = 305.0 + 10.0 * np.exp(-(T[400:] - 400.0) / 20.0)
    flagged = off_the_pipe(pipe, air)
    assert not flagged[:410].any()
    assert flagged[460:].all()
    assert not off_the_pipe(np.full(600, 306.0), air).any()  # it was never apart: a pipe near the air is no fault


@pytest.mark.parametrize("name", named("regulating"))
def test_a_living_log_is_hardly_flagged(name: str) -> None:
    recording, _ = challenge(name)
    for channel in ("suction_pressure", "liquid_pressure"):
        values = recording.channels[channel].values
        assert not frozen(recording.time, values).any()
        assert spikes(values).mean() < 0.01


def test_frozen_gauges_of_the_samples_are_flagged() -> None:
    found = 0
    for name, row in labels().items():
        recording, system = challenge(name)
        if system.instruments.sampling == "by hand":
            continue
        for reason, channel in (
            ("suction gauge not alive", "suction_pressure"),
            ("head gauge not alive", "liquid_pressure"),
        ):
            if reason in row["reasons"]:
                assert frozen(recording.time, recording.channels[channel].values).any(), name
                found += 1
    assert found >= 2

"""Prescribed time past the compressive angle, worked by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exercise import CompressionThreshold, Exercise, Tempo
from imu_rom.dose.prescription import (
    minimum_jerk_time_past_s,
    prescribed_time_per_set,
    ramp_time_past_s,
    window_ends_deg,
)

HEEL_DROP = Exercise(
    name="heeldrop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    sets=3,
    repetitions=15,
    tempo=Tempo(eccentric_s=2.5, end_range_hold_s=2.0, concentric_s=1.5),
    start_deg=-25.0,
    end_range_deg=(5.0, 15.0),
    limit_deg=18.0,
    compression_threshold=CompressionThreshold(4.0, "clinician"),
)


def test_the_trapezoid_repetition():
    # -30 to +10 deg in 3 s each way: a quarter of the way lies past 0, an eighth past 5
    assert ramp_time_past_s(3.0, -30.0, 10.0, 0.0) == pytest.approx(0.75)
    assert 2 * ramp_time_past_s(3.0, -30.0, 10.0, 5.0) + 2.0 == pytest.approx(2.75)


def test_minimum_jerk_at_shares_of_the_way_that_are_known_exactly():
    # s(1/2) = 1/2; s(1/4) = 10/64 - 15/256 + 6/1024 = 106/1024; s(3/4) = 1 - s(1/4)
    assert minimum_jerk_time_past_s(4.0, 0.0, 10.0, 5.0) == pytest.approx(2.0)
    assert minimum_jerk_time_past_s(4.0, 0.0, 1024.0, 106.0) == pytest.approx(3.0)
    assert minimum_jerk_time_past_s(4.0, 0.0, 1024.0, 918.0) == pytest.approx(1.0)


@pytest.mark.parametrize("time_past_s", [ramp_time_past_s, minimum_jerk_time_past_s])
def test_before_the_start_all_of_it_and_from_the_end_none(time_past_s):
    assert time_past_s(4.0, -25.0, 10.0, -30.0) == pytest.approx(4.0)
    assert time_past_s(4.0, -25.0, 10.0, 10.0) == pytest.approx(0.0, abs=1e-9)
    assert time_past_s(4.0, -25.0, 10.0, 12.0) == pytest.approx(0.0, abs=1e-9)


@given(start=st.floats(-60, -1), end=st.floats(1, 40), share=st.floats(0.01, 0.99))
def test_minimum_jerk_agrees_with_counting_samples(start, end, share):
    threshold = start + share * (end - start)
    t = np.linspace(0, 1, 20_001)
    angle = start + (end - start) * (10 * t**3 - 15 * t**4 + 6 * t**5)
    counted = np.mean(angle > threshold)
    assert minimum_jerk_time_past_s(1.0, start, end, threshold) == pytest.approx(counted, abs=2e-4)


def test_hold_and_tempo_give_the_example():
    low_s, high_s, derived = prescribed_time_per_set(HEEL_DROP)
    assert derived
    # to 5 deg: 1/30 of each ramp lies past 4 deg; 15 x (2 + 4/30)
    assert low_s == pytest.approx(15 * (2 + 4 / 30))
    # to 15 deg: share 29/40 of the way; s(0.6254...) = 0.725 by a table of the polynomial
    t = np.linspace(0, 1, 2_000_001)
    past = t[np.searchsorted(10 * t**3 - 15 * t**4 + 6 * t**5, 29 / 40)]
    assert high_s == pytest.approx(15 * (2 + 4 * (1 - past)), abs=1e-4)


def test_what_the_plan_gives_is_not_derived():
    given_s = replace(HEEL_DROP, past_threshold_s_per_set=(20.0, 60.0))
    assert prescribed_time_per_set(given_s) == (20.0, 60.0, False)


@pytest.mark.parametrize(
    "left_out",
    [
        {"start_deg": None},
        {"end_range_deg": None},
        {"compression_threshold": None},
        {"tempo": Tempo(end_range_hold_s=2.0)},
        {"tempo": Tempo(eccentric_s=2.5, concentric_s=1.5)},
        {"tempo": Tempo(eccentric_s=2.5, end_range_hold_s=2.0)},
    ],
)
def test_without_tempo_hold_start_or_angles_nothing_is_prescribed(left_out):
    assert prescribed_time_per_set(replace(HEEL_DROP, **left_out)) is None


def test_an_open_window_reaches_to_the_limit_or_else_stays_at_its_edge():
    open_window = replace(HEEL_DROP, end_range_deg=(5.0, math.inf))
    assert window_ends_deg(open_window) == (5.0, 18.0)
    edge_only = replace(open_window, limit_deg=None)
    assert window_ends_deg(edge_only) == (5.0, 5.0)
    low_s, high_s, _ = prescribed_time_per_set(edge_only)
    assert low_s == pytest.approx(15 * (2 + 4 / 30))
    # even at one depth the shape of the ramps leaves a width
    assert high_s == pytest.approx(15 * (2 + minimum_jerk_time_past_s(4.0, -25.0, 5.0, 4.0)))
    assert high_s > low_s


def test_below_the_middle_of_the_way_linear_ramps_spend_the_most():
    # a quarter of the way: linear 3/4 of the time past it; minimum jerk less, since it starts slowly
    shallow = replace(
        HEEL_DROP,
        end_range_deg=(15.0, math.inf),
        limit_deg=None,
        compression_threshold=CompressionThreshold(-15, "clinician"),
    )
    low_s, high_s, _ = prescribed_time_per_set(shallow)
    assert high_s == pytest.approx(15 * (2 + 4 * 0.75))
    assert low_s == pytest.approx(15 * (2 + minimum_jerk_time_past_s(4.0, -25.0, 15.0, -15.0)))
    assert low_s < high_s


def test_a_hold_at_the_angle_itself_is_not_past_it():
    at_edge = replace(HEEL_DROP, compression_threshold=CompressionThreshold(5.0, "clinician"))
    low_s, high_s, _ = prescribed_time_per_set(at_edge)
    assert low_s == pytest.approx(0.0, abs=1e-6)
    assert high_s > 15 * 2.0


def test_stopping_at_neutral_is_not_prescribed_in_seconds():
    floor = replace(
        HEEL_DROP,
        end_range_deg=(-4.0, 2.0),
        limit_deg=2.0,
        compression_threshold=CompressionThreshold(0.0, "neutral by convention"),
    )
    assert prescribed_time_per_set(floor) is None


@given(
    low=st.floats(-10, 10),
    width=st.floats(0.1, 20),
    threshold=st.floats(-24, 20),
)
def test_the_derived_window_is_never_upside_down(low, width, threshold):
    prescribed = prescribed_time_per_set(
        replace(
            HEEL_DROP,
            end_range_deg=(low, low + width),
            limit_deg=None,
            compression_threshold=CompressionThreshold(threshold, "clinician"),
        )
    )
    if prescribed is not None:
        assert 0 <= prescribed[0] <= prescribed[1] <= 15 * 6.0

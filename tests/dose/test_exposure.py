import csv
import importlib.util
import itertools
import math
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from imu_rom.dose.angle_path import angle_path
from imu_rom.dose.exposure import (
    excess,
    exposure_curve,
    longest_past,
    time_past,
    time_past_interval,
    total_curve,
)

REFERENCES = Path(__file__).parents[1] / "references"


def reference_table(name):
    with (REFERENCES / name).open(encoding="utf-8") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


def reference_script(name):
    spec = importlib.util.spec_from_file_location(name, REFERENCES / f"{name}.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    return script


def trapezoid(bottom=10.0, top=-30.0, ramp_s=3.0, hold_s=2.0, repetitions=1, rate_hz=100.0):
    corner_s = np.cumsum([0.0, ramp_s, hold_s, ramp_s])
    at = np.arange(round((corner_s[-1]) * rate_hz * repetitions) + 1) / rate_hz
    return np.interp(np.mod(at, corner_s[-1]), corner_s, [top, bottom, bottom, top])


# angles on quarters of a degree: sums and shifts of them are exact, and plateaus and steps coincide often
quarters = st.integers(-160, 160).map(lambda n: n / 4)
angles = st.lists(quarters, min_size=2, max_size=60).map(np.array)
rates = st.sampled_from([16.0, 50.0, 100.0, 256.0])


@pytest.mark.parametrize("row", reference_table("sinusoid_exposure.csv"))
def test_sinusoid_exposure_agrees_with_its_closed_form(row):
    at = np.arange(90 * 100 + 1) / 100
    path = angle_path(100.0, -10 + 20 * np.sin(2 * np.pi * at / 6))
    assert time_past(path, row["threshold_deg"]) == pytest.approx(row["time_past_s"], abs=2e-3)
    assert excess(path, row["threshold_deg"]) == pytest.approx(row["excess_deg_s"], abs=0.03)

    curve = exposure_curve(path)
    assert curve.time_past(row["threshold_deg"]) == pytest.approx(row["time_past_s"], abs=2e-3)
    slope = (curve.time_past(row["threshold_deg"] + 0.1) - curve.time_past(row["threshold_deg"] - 0.1)) / 0.2
    assert slope / 90 == pytest.approx(row["slope_per_deg"], rel=1e-3)

    # the mean over an error N(0, 2.7) of the zero
    delta = np.linspace(-8 * 2.7, 8 * 2.7, 4001)
    weight = np.exp(-0.5 * (delta / 2.7) ** 2)
    mean = (curve.time_past(row["threshold_deg"] - delta) * weight).sum() / weight.sum()
    assert mean / 90 == pytest.approx(row["softened_share"], abs=5e-5)


@pytest.mark.parametrize("row", reference_table("trapezoid_exposure.csv"))
def test_trapezoid_exposure_agrees_with_its_closed_form(row):
    threshold = row["threshold_deg"]
    once = angle_path(100.0, trapezoid())
    assert time_past(once, threshold) == pytest.approx(row["time_past_s"], abs=1e-9)
    assert excess(once, threshold) == pytest.approx(row["excess_deg_s"], abs=1e-9)
    assert longest_past(once, threshold) == pytest.approx(row["time_past_s"], abs=1e-9)

    eight = angle_path(100.0, trapezoid(repetitions=8))
    assert time_past(eight, threshold) == pytest.approx(8 * row["time_past_s"], abs=1e-9)
    assert excess(eight, threshold) == pytest.approx(8 * row["excess_deg_s"], abs=1e-9)
    assert longest_past(eight, threshold) == pytest.approx(row["time_past_s"], abs=1e-9)


@pytest.mark.parametrize("row", reference_table("floor_repetition.csv"))
def test_a_hold_on_the_threshold_is_not_past_it(row):
    angle = trapezoid(bottom=0.0)
    assert time_past(angle_path(100.0, angle + row["offset_deg"]), 0.0) == pytest.approx(row["time_past_s"], abs=1e-9)
    # the same by moving the threshold instead, and from the curve
    assert time_past(angle_path(100.0, angle), -row["offset_deg"]) == pytest.approx(row["time_past_s"], abs=1e-9)
    curve = exposure_curve(angle_path(100.0, angle))
    assert curve.time_past(-row["offset_deg"]) == pytest.approx(row["time_past_s"], abs=1e-9)


def test_the_interval_of_a_floor_repetition_spans_nothing_to_the_whole_hold():
    # trade value: mean 1.2154 s, 95 % interval [0, 3.06] s; linear propagation would say 0 +- 0
    path = angle_path(100.0, trapezoid(bottom=0.0))
    past, low, high = time_past_interval(path, 0.0, 2.7)
    assert past == low == 0
    assert high == pytest.approx(3.06, abs=0.005)
    delta = np.random.default_rng(7).normal(0, 2.7, 200_000)
    times = exposure_curve(path).time_past(-delta)
    # the curve spreads the jump of the whole hold over one step: 0.05 deg of bias, 0.015 s of the mean
    assert times.mean() == pytest.approx(reference_script("exposure_values").floor_mean_s(), abs=0.02)
    assert np.quantile(times, 0.975) == pytest.approx(high, abs=0.01)


def test_reference_tables_are_what_their_script_writes():
    for name, rows in reference_script("exposure_values").tables().items():
        for written, computed in zip(reference_table(name), rows, strict=True):
            assert written == pytest.approx(computed, rel=1e-8)


@given(angles, rates, quarters, st.floats(0, 1))
def test_parts_add_up_to_the_whole(angle, rate_hz, threshold, share):
    stop_s = (len(angle) - 1) / rate_hz
    cut_s = share * stop_s
    whole = angle_path(rate_hz, angle)
    parts = [angle_path(rate_hz, angle, 0, cut_s), angle_path(rate_hz, angle, cut_s, stop_s)]
    assert sum(time_past(part, threshold) for part in parts) == pytest.approx(time_past(whole, threshold), abs=1e-9)
    assert sum(excess(part, threshold) for part in parts) == pytest.approx(excess(whole, threshold), abs=1e-9)
    added = total_curve([exposure_curve(part) for part in parts])
    at = np.arange(-500, 500) / 10
    assert added.total_s == pytest.approx(stop_s, abs=1e-9)
    assert added.time_past(at) == pytest.approx(exposure_curve(whole).time_past(at), abs=1e-9)


@given(angles, rates)
def test_the_curve_is_exact_on_its_steps_and_never_rises(angle, rate_hz):
    path = angle_path(rate_hz, angle)
    curve = exposure_curve(path)
    assert curve.time_past_s[-1] == 0
    assert curve.total_s == pytest.approx((len(angle) - 1) / rate_hz)
    assert (np.diff(curve.time_past_s) <= 0).all()
    direct = [time_past(path, threshold) for threshold in curve.angle_deg]
    assert curve.time_past_s == pytest.approx(direct, abs=1e-9)
    assert curve.time_past(angle.min() - 1) == pytest.approx(curve.total_s)
    assert curve.time_past(angle.max() + 0.1) == 0


@given(angles, rates, quarters)
def test_time_past_agrees_with_fine_sampling(angle, rate_hz, threshold):
    path = angle_path(rate_hz, angle)
    fine = 2000
    between = (np.arange((len(angle) - 1) * fine) + 0.5) / fine  # middles of small steps
    values = np.interp(between, np.arange(len(angle)), angle)
    step_s = 1 / rate_hz / fine
    tolerance_s = len(angle) * step_s
    assert time_past(path, threshold) == pytest.approx((values > threshold).sum() * step_s, abs=tolerance_s)
    above = np.maximum(values - threshold, 0).sum() * step_s
    assert excess(path, threshold) == pytest.approx(above, abs=80 * tolerance_s)


@given(angles, rates, quarters, quarters)
def test_shifting_angle_and_threshold_together_changes_nothing(angle, rate_hz, threshold, shift):
    here, there = angle_path(rate_hz, angle), angle_path(rate_hz, angle + shift)
    for figure in (time_past, excess, longest_past):
        assert figure(there, threshold + shift) == pytest.approx(figure(here, threshold), abs=1e-9)


@given(angles, rates, quarters, st.floats(0, 8))
def test_the_interval_holds_the_value_and_widens_with_the_uncertainty(angle, rate_hz, threshold, uncertainty):
    path = angle_path(rate_hz, angle)
    past, low, high = time_past_interval(path, threshold, uncertainty)
    assert past == time_past(path, threshold)
    _, wide_low, wide_high = time_past_interval(path, threshold, uncertainty + 1)
    assert 0 <= wide_low <= low <= past <= high <= wide_high <= (len(angle) - 0.999) / rate_hz
    assert time_past_interval(path, threshold, 0.0) == (past,) * 3


@given(angles, rates, quarters)
def test_excess_is_the_area_under_the_exposure_curve(angle, rate_hz, threshold):
    path = angle_path(rate_hz, angle)
    # time past is straight between quarter degrees, except for jumps at them: the middle of each is exact
    levels = np.arange(threshold, angle.max() + 0.25, 0.25) + 0.125
    area = sum(time_past(path, level) for level in levels) * 0.25
    assert excess(path, threshold) == pytest.approx(area, abs=1e-6)


@given(angles, rates, quarters)
def test_the_longest_stretch_is_that_of_a_walk_along_the_path(angle, rate_hz, threshold):
    longest = running = 0.0
    for before, after in itertools.pairwise(angle):
        if before > threshold and after > threshold:
            running += 1 / rate_hz
        elif before > threshold:
            longest = max(longest, running + (before - threshold) / (before - after) / rate_hz)
            running = 0.0
        elif after > threshold:
            running = (after - threshold) / (after - before) / rate_hz
    path = angle_path(rate_hz, angle)
    assert longest_past(path, threshold) == pytest.approx(max(longest, running), abs=1e-9)
    assert longest_past(path, threshold) <= time_past(path, threshold) + 1e-9


@given(angles, rates, st.floats(0.001, 1.2))
def test_levels_invert_the_curve(angle, rate_hz, share):
    curve = exposure_curve(angle_path(rate_hz, angle))
    asked_s = share * curve.total_s
    above, below = curve.level_above(asked_s), curve.level_below(asked_s)
    assert above <= below or share > 1
    for level, side, holds in (
        (above, -1, lambda past: past > asked_s),
        (above, 1, lambda past: past <= asked_s + 1e-9),
        (below, 1, lambda past: past < asked_s),
        (below, -1, lambda past: past >= asked_s - 1e-9),
    ):
        if math.isfinite(level):
            assert holds(curve.time_past(level + side * 1e-3))
    assert math.isinf(above) == (asked_s >= curve.total_s)
    assert math.isinf(below) == (asked_s > curve.total_s)


def test_levels_at_the_ends():
    curve = exposure_curve(angle_path(10.0, np.array([0.0, 1.0])))
    assert curve.level_above(-1.0) == math.inf
    assert curve.level_above(curve.total_s) == -math.inf
    assert curve.level_below(0.0) == math.inf
    assert curve.level_below(2 * curve.total_s) == -math.inf
    assert curve.level_above(curve.total_s / 2) == pytest.approx(0.5)
    assert curve.level_below(curve.total_s / 2) == pytest.approx(0.5)


@given(angles, rates, quarters, st.floats(0, 1), st.floats(0, 1))
def test_a_gap_counts_in_the_high_end_only(angle, rate_hz, threshold, one, other):
    stop_s = (len(angle) - 1) / rate_hz
    gap = (min(one, other) * stop_s, max(one, other) * stop_s)
    assume(gap[1] - gap[0] > 1e-6)
    path = angle_path(rate_hz, angle, without_data=[gap])
    gap_s = gap[1] - gap[0]
    assert path.unseen_s == pytest.approx(gap_s, abs=1e-9)
    assert exposure_curve(path).unseen_s == path.unseen_s
    assert exposure_curve(path).total_s == pytest.approx(stop_s - gap_s, abs=1e-9)
    hidden = time_past(angle_path(rate_hz, angle, *gap), threshold)
    seen = time_past(path, threshold)
    assert seen == pytest.approx(time_past(angle_path(rate_hz, angle), threshold) - hidden, abs=1e-9)
    past, low, high = time_past_interval(path, threshold, 0.0)
    assert past == low == seen
    assert high == pytest.approx(seen + gap_s, abs=1e-9)


def test_a_gap_breaks_a_stretch_and_only_its_part_in_the_window_counts():
    angle = np.full(1001, 10.0)
    assert longest_past(angle_path(100.0, angle, without_data=[(3, 4), (3.5, 4.5)]), 0.0) == pytest.approx(5.5)
    path = angle_path(100.0, angle, 2.0, 3.25, without_data=[(3, 4), (8, 9)], left_out=[(2.0, 2.5)])
    assert path.unseen_s == pytest.approx(0.25)
    assert time_past(path, 0.0) == pytest.approx(0.5)


def test_what_is_left_out_is_neither_past_nor_unseen():
    angle = np.full(1001, 10.0)
    path = angle_path(100.0, angle, left_out=[(1, 3), (2, 5)], without_data=[(4, 6)])
    assert path.unseen_s == pytest.approx(1)
    assert time_past(path, 0.0) == pytest.approx(10 - 4 - 1)


@settings(max_examples=20)
@given(st.lists(angles, min_size=1, max_size=5), rates)
def test_added_curves_are_the_sum_at_every_step(list_of_angles, rate_hz):
    curves = [exposure_curve(angle_path(rate_hz, angle)) for angle in list_of_angles]
    added = total_curve(curves)
    at = np.arange(-450, 450) / 10
    assert added.time_past(at) == pytest.approx(sum(curve.time_past(at) for curve in curves), abs=1e-9)


def test_an_hour_at_100_hz_takes_one_short_pass():
    at = np.arange(360_000) / 100
    angle = -10 + 20 * np.sin(at) + np.random.default_rng(3).normal(0, 0.3, len(at))
    began = time.thread_time()
    curve = exposure_curve(angle_path(100.0, angle))
    took_s = time.thread_time() - began
    assert took_s < 0.5  # of the processor, about 0.03 s; a loop over thresholds or samples takes seconds
    assert curve.time_past(4.0) == pytest.approx(time_past(angle_path(100.0, angle), 4.0), abs=1e-9)


def test_levels_lie_at_the_two_ends_of_angles_that_were_never_held():
    # 1 s at -10 and 1 s at 10 degrees, nothing between: more than 1 s only below -10, less than 1 s only above 10
    angle = np.concatenate((np.full(65, -10.0), np.full(65, 10.0)))  # 64 Hz: sums are exact
    curve = exposure_curve(angle_path(64.0, angle, without_data=[(1.0, 65 / 64)]))
    assert curve.time_past(np.array([-9.9, 0.0, 9.9])) == pytest.approx([1, 1, 1])
    assert curve.level_above(1.0) == pytest.approx(-10, abs=0.11)
    assert curve.level_below(1.0) == pytest.approx(10, abs=0.11)

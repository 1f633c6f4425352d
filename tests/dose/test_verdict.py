import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.angle_path import angle_path
from imu_rom.dose.exercise import Decide
from imu_rom.dose.exposure import exposure_curve
from imu_rom.dose.verdict import (
    JointProbability,
    joint_reached,
    joint_time,
    joint_within_limit,
    needed_repetitions,
    set_verdict,
)

DECIDE = Decide()  # 0.80, 0.95, 0.80
YES, NO, OPEN = (JointProbability(p, p, p) for p in (0.99, 0.01, 0.5))


@pytest.mark.parametrize(
    ("within_limit", "reached", "above", "below", "expected"),
    [
        (YES, YES, NO, NO, "met"),
        (NO, YES, NO, NO, "over"),
        (NO, NO, YES, YES, "over"),
        (OPEN, NO, YES, YES, "undecided"),
        (YES, NO, YES, NO, "short"),
        (YES, OPEN, YES, NO, "undecided"),
        (YES, YES, YES, NO, "over"),
        (YES, YES, NO, YES, "short"),
        (YES, YES, OPEN, NO, "undecided"),
        (YES, YES, NO, OPEN, "undecided"),
        (None, YES, None, None, "met"),
        (None, NO, None, None, "short"),
        (YES, None, None, None, "met"),
        (None, None, NO, YES, "short"),
        (None, None, None, None, "not prescribed"),
    ],
)
def test_the_first_question_not_answered_well_decides(within_limit, reached, above, below, expected):
    assert set_verdict(within_limit, reached, above, below, DECIDE) == expected


def test_the_limit_has_its_own_decide_value():
    p = JointProbability(0.9, 0.9, 0.9)
    assert set_verdict(p, None, None, None, DECIDE) == "undecided"
    assert set_verdict(None, p, None, None, DECIDE) == "met"


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0.51, 1))
def test_an_answer_over_a_range_holds_at_both_ends_or_is_undecided(one, other, decide):
    low, high = sorted((one, other))
    given_answer = JointProbability(low, low, high).answer(decide)
    if given_answer == "yes":
        assert low >= decide
    elif given_answer == "no":
        assert high <= 1 - decide + 1e-9
    else:
        assert low < decide
        assert high > 1 - decide


@pytest.mark.parametrize(
    ("share", "prescribed", "complete", "needed"),
    [(0.8, 15, 15, 12), (0.8, 15, 10, 12), (0.8, 15, 20, 16), (0.8, 3, 3, 3), (1.0, 15, 15, 15), (0.7, 10, 4, 7)],
)
def test_missing_repetitions_count_in_the_share(share, prescribed, complete, needed):
    assert needed_repetitions(share, prescribed, complete) == needed


def drawn(values, own, common, draws=200_000, seed=5):
    """True angles by the error model, drawn independently of the code under test."""
    draw = np.random.default_rng(seed)
    return np.array(values) + draw.normal(0, common, (draws, 1)) + draw.normal(0, own, (draws, len(values)))


VALUES = [6.0, 5.5, 7.0, 4.2, 6.5, 5.1, 8.0, 6.2]
ALL = np.ones(len(VALUES), dtype=bool)


@pytest.mark.parametrize("needed", [1, 4, 7, 8])
@pytest.mark.parametrize(("own", "common"), [(0.3, 2.2), (1.5, 0.5), (0.0, 1.0)])
def test_reached_agrees_with_drawing_the_error_model(needed, own, common):
    owns = np.full(len(VALUES), own)
    joint = joint_reached(np.array(VALUES), owns, 5.0, needed, common, judged=ALL, could_count=0)
    expected = ((drawn(VALUES, own, common) >= 5).sum(axis=1) >= needed).mean()
    assert joint.measured == joint.low == joint.high == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("own", "common"), [(0.3, 2.2), (1.5, 0.5), (0.0, 1.0)])
def test_the_limit_agrees_with_drawing_the_error_model(own, common):
    owns = np.full(len(VALUES), own)
    joint = joint_within_limit(np.array(VALUES), owns, 9.0, common, judged=ALL, more_unseen=False)
    expected = (drawn(VALUES, own, common) <= 9).all(axis=1).mean()
    assert joint.measured == joint.low == joint.high == pytest.approx(expected, abs=0.005)


def test_a_shared_error_does_not_shrink_with_repetitions():
    # fifteen equal repetitions, one error: as sure as one of them, where fifteen errors would be hopeless
    one = joint_within_limit(np.array([6.0]), np.zeros(1), 9.0, 2.0, judged=np.ones(1, bool), more_unseen=False)
    many = joint_within_limit(np.full(15, 6.0), np.zeros(15), 9.0, 2.0, judged=np.ones(15, bool), more_unseen=False)
    assert many.measured == pytest.approx(one.measured, abs=1e-9)
    assert many.measured > 0.93
    assert one.measured**15 < 0.4


def test_what_could_not_be_judged_spans_both_outcomes():
    judged = ALL.copy()
    judged[[0, 3]] = False
    values, owns = np.array(VALUES), np.full(len(VALUES), 0.3)
    for needed in (5, 6, 7, 8):
        joint = joint_reached(values, owns, 5.0, needed, 1.0, judged=judged, could_count=2)
        worst, best = values.copy(), values.copy()
        worst[~judged], best[~judged] = -99.0, 99.0
        for bound, ends in ((joint.low, worst), (joint.high, best)):
            exact = joint_reached(ends, owns, 5.0, needed, 1.0, judged=ALL, could_count=0)
            assert bound == pytest.approx(exact.measured, abs=1e-9)
        assert joint.low <= joint.measured <= joint.high
    limit = joint_within_limit(values, owns, 9.0, 1.0, judged=judged, more_unseen=False)
    assert limit.low == 0
    assert limit.low < limit.measured < limit.high < 1
    assert joint_within_limit(values, owns, 9.0, 1.0, judged=ALL, more_unseen=True).low == 0


def test_a_level_that_was_never_kept_keeps_the_limit():
    joint = joint_within_limit(np.array([-math.inf]), np.zeros(1), 9.0, 2.0, judged=np.ones(1, bool), more_unseen=False)
    assert joint.measured == 1


def curve_and_angle():
    at = np.arange(0, 60.01, 0.02)
    angle = np.interp(np.mod(at, 6), [0, 2.5, 4.5, 6], [-25, 10, 10, -25])
    return exposure_curve(angle_path(50.0, angle)), angle


@pytest.mark.parametrize("window_s", [(20.0, 24.0), (24.0, 27.0), (0.0, 22.0), (26.0, math.inf), (0.0, 0.0)])
@pytest.mark.parametrize("threshold_deg", [4.0, 9.95, 12.0])
def test_time_agrees_with_drawing_the_error_model(window_s, threshold_deg):
    curve, angle = curve_and_angle()
    above, below = joint_time(curve, threshold_deg, window_s, 1.5)
    deltas = np.random.default_rng(8).normal(0, 1.5, 4_000)
    # counted on fine samples, not by the curve
    low, high = np.minimum(angle[:-1], angle[1:]), np.maximum(angle[:-1], angle[1:])
    levels = threshold_deg - deltas
    share = np.empty(len(levels))
    for start in range(0, len(levels), 500):
        level = levels[start : start + 500, None]
        span = np.where(high > low, high - low, 1.0)
        part = np.where(high > low, np.clip((high - level) / span, 0, 1), (low > level).astype(float))
        share[start : start + 500] = part.sum(axis=1)
    times = share * 0.02
    # 0.02 of the count, and the curve's 0.1 degree around the hold
    assert above.measured == pytest.approx((times > window_s[1]).mean(), abs=0.03)
    assert below.measured == pytest.approx((times < window_s[0]).mean(), abs=0.03)
    assert above == JointProbability(above.measured, above.measured, above.measured)


def test_time_without_uncertainty_is_a_plain_comparison_with_the_window_closed():
    curve, _ = curve_and_angle()
    time_s = float(curve.time_past(4.0))
    for window_s, expected in (
        ((time_s, time_s), (0, 0)),
        ((time_s - 1, time_s - 0.1), (1, 0)),
        ((time_s + 0.1, math.inf), (0, 1)),
    ):
        above, below = joint_time(curve, 4.0, window_s, 0.0)
        assert (above.measured, below.measured) == expected


def test_time_without_data_opens_the_range_to_one_side():
    curve, _ = curve_and_angle()
    gapped = replace(curve, unseen_s=3.0)
    for low_s, high_s in itertools.pairwise((18.0, 20.0, 24.0, 27.0)):
        above, below = joint_time(gapped, 4.0, (low_s, high_s), 1.5)
        full, empty = joint_time(curve, 4.0, (low_s - 3, high_s - 3), 1.5), joint_time(curve, 4.0, (low_s, high_s), 1.5)
        assert (above.low, above.high) == (empty[0].measured, full[0].measured)
        assert (below.low, below.high) == (full[1].measured, empty[1].measured)
        assert above.measured == above.low
        assert below.measured == below.high

"""The line through the evidence of two clocks: exact data, what evidence shares, outliers, and the skew beforehand."""

import numpy as np
import pytest

from imu_rom.recording.clock_fit import SHARED_S, WANDER, ClockEvidence, ClockFit, fit_clock

OWN_S = 0.001


def evidence(times_s, lags_s, kind="motion", own_s=OWN_S):
    return [
        ClockEvidence(kind, float(time_s), float(lag_s), own_s, 0.95)
        for time_s, lag_s in zip(times_s, lags_s, strict=True)
    ]


def fit_of(line, found, start_s=0.0):
    return ClockFit(
        reference="shank",
        other="foot",
        offset_s=0.0,
        skew=0.0,
        start_s=start_s,
        pivot_s=line.pivot_s,
        pivot_standard_uncertainty_s=line.lag_uncertainty_s,
        skew_standard_uncertainty=line.slope_uncertainty,
        evidence=tuple(found),
        contradicting=0,
        spread=line.spread,
    )


def test_lags_on_a_line_give_that_line():
    times_s = np.arange(0, 3600, 60.0)
    line = fit_clock(evidence(times_s, 0.02 + 150e-6 * (times_s - 600)), 0.0, 1.0)
    assert line.at(np.array([600.0]))[0] == pytest.approx(0.02, abs=1e-6)
    assert line.slope == pytest.approx(150e-6, abs=1e-9)
    assert line.kept.all()


def test_uncertainty_is_that_of_least_squares_where_nothing_is_shared():
    """JCGM 100:2008, H.3.3: variances of intercept at the mean and of slope, from memory."""
    times_s = np.arange(40) * 50.0
    lags_s = np.random.default_rng(0).normal(0, 20 * OWN_S, 40)
    line = fit_clock(evidence(times_s, lags_s, "held together", 20 * OWN_S), 0.0, 1.0)
    off_s = times_s - times_s.mean()
    own_s = 20 * OWN_S * line.spread
    assert line.pivot_s == pytest.approx(times_s.mean())
    expected_s = np.hypot(own_s / np.sqrt(40), SHARED_S["held together"])
    assert line.lag_uncertainty_s == pytest.approx(expected_s, rel=1e-3)
    assert line.slope_uncertainty == pytest.approx(own_s / np.sqrt((off_s**2).sum()), rel=1e-3)


def test_what_a_kind_shares_is_not_averaged_out():
    line = fit_clock(evidence(np.arange(300) * 10.0, np.zeros(300)), 0.0, 1.0)
    assert line.lag_uncertainty_s == pytest.approx(SHARED_S["motion"], rel=0.02)
    with_knocks = [*evidence(np.arange(300) * 10.0, np.zeros(300)), *evidence([5.0], [0.0], "held together", 1e-4)]
    assert fit_clock(with_knocks, 0.0, 1.0).lag_uncertainty_s < 0.6 * SHARED_S["motion"]


def test_a_stretch_that_says_otherwise_is_left_out():
    times_s = np.arange(20) * 30.0
    lags_s = np.zeros(20)
    lags_s[7] = 0.05
    line = fit_clock(evidence(times_s, lags_s), 0.0, 1.0)
    assert np.flatnonzero(~line.kept).tolist() == [7]
    assert np.abs(line.at(times_s)).max() < 1e-6


def test_one_event_leaves_the_skew_as_known_beforehand():
    line = fit_clock(evidence([100.0], [0.004], "held together", 1e-4), 30e-6, 1e-4)
    assert line.slope_uncertainty == pytest.approx(1e-4)
    # the lags are counted from a skew of 30 ppm, and 0 is what clocks have on the average
    assert line.slope == pytest.approx(-30e-6)
    assert line.at(np.array([100.0]))[0] == pytest.approx(0.004, abs=1e-6)


def test_lags_that_scatter_by_more_than_they_claim_widen_the_uncertainty():
    times_s = np.arange(50) * 20.0
    noise = np.random.default_rng(1).normal(0, 8 * OWN_S, 50)
    assert fit_clock(evidence(times_s, noise), 0.0, 1.0).spread == pytest.approx(8, rel=0.3)
    assert fit_clock(evidence(times_s, noise / 80), 0.0, 1.0).spread == 1.0


def test_uncertainty_grows_away_from_the_evidence():
    found = [*evidence([10.0, 20.0], [0.0, 0.0], "held together"), *evidence([900.0], [0.0], "held together")]
    fit = fit_of(fit_clock(found, 0.0, 1e-4), found, start_s=5.0)
    near_s, middle_s, far_s = fit.standard_uncertainty_s(np.array([10.0, 455.0, 3000.0]))
    straight_s = np.hypot(fit.pivot_standard_uncertainty_s, (460 - fit.pivot_s) * fit.skew_standard_uncertainty)
    assert middle_s == pytest.approx(np.hypot(straight_s, WANDER * 440.0))
    assert far_s > middle_s
    assert near_s < far_s


def test_what_is_left_is_weighted_by_what_each_is_worth():
    found = [*evidence([0.0, 10.0], [0.001, -0.001], own_s=0.001), *evidence([5.0], [0.1], own_s=1.0)]
    fit = fit_of(fit_clock(found, 0.0, 1.0), found)
    assert fit.residual_s == pytest.approx(0.001, rel=0.01)
    assert fit.found_by == ("motion",)

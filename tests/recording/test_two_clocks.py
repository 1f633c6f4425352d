"""Offset and skew of two separately started sensors, against the simulation's truth; what can't be told is refused."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from imu_rom.errors import CannotAnswerError
from imu_rom.recording.clock_search import SensorMotion, clock_candidates
from imu_rom.recording.two_clocks import compare_clocks
from imu_rom.settings import ReadingSettings

READING = ReadingSettings()


@pytest.fixture(scope="module")
def knocked(two_sensors):
    return two_sensors.Session.simulated(3, shared_jolts="knocks")


@pytest.fixture(scope="module")
def plain(two_sensors):
    return two_sensors.Session.simulated(4)


def compare(first, second, settings=READING):
    return compare_clocks(("shank", first), ("foot", second), settings, where="shank.csv, foot.csv")


def error_and_uncertainty_s(fit, first, true_offset_s, true_skew):
    """At a hundred times of what both recorded."""
    at_s = np.linspace(max(0.0, true_offset_s), (len(first.missing) - 1) / first.rate_hz, 100)
    stamp_s = (at_s - true_offset_s) / (1 + true_skew)
    return fit.offset_s + (1 + fit.skew) * stamp_s - at_s, fit.standard_uncertainty_s(at_s - fit.start_s)


# ------------------------------------------------------------------------------------------------- offset and skew


@hypothesis_settings(deadline=None, max_examples=8, suppress_health_check=list(HealthCheck))
@given(
    st.booleans(),
    st.floats(0, 40),
    st.floats(-1000, 1000),
    st.sampled_from([(100.0, 100.0), (100.0, 52.0), (52.0, 200.0), (50.0, 50.0), (104.0, 26.0)]),
)
def test_both_clocks_agree_to_half_a_sample_throughout(knocked, plain, knocks, offset_s, skew_ppm, rates_hz):
    first, second, true_offset_s, true_skew = (knocked if knocks else plain).pair(offset_s, skew_ppm, rates_hz)
    fit = compare(first, second)
    error_s, uncertainty_s = error_and_uncertainty_s(fit, first, true_offset_s, true_skew)
    assert np.abs(error_s).max() < 0.5 / max(rates_hz)
    assert (np.abs(error_s) < 3 * uncertainty_s).all()
    assert uncertainty_s.max() < 0.5 / min(rates_hz)
    assert (fit.reference, fit.other) == ("shank", "foot")
    assert fit.found_by[0] == ("held together" if knocks and offset_s < 3 else fit.found_by[0])


@pytest.mark.parametrize("seed", [11, 12, 13])
@pytest.mark.parametrize("shared_jolts", ["none", "knocks", "toe taps"])
def test_the_stated_uncertainty_holds(two_sensors, seed, shared_jolts):
    session = two_sensors.Session.simulated(seed, sets=1, repetitions=4, shared_jolts=shared_jolts)
    first, second, *truth = session.pair(12.3, -150.0)
    error_s, uncertainty_s = error_and_uncertainty_s(compare(first, second), first, *truth)
    assert (np.abs(error_s) < 2 * uncertainty_s).all()


def test_the_other_sensor_may_have_been_started_first(plain):
    first, second, offset_s, skew = plain.pair(15.0, 50.0)
    fit = compare(second, first)
    assert fit.offset_s == pytest.approx(-offset_s / (1 + skew), abs=0.005)
    assert fit.skew == pytest.approx(-skew, abs=1e-5)


def test_one_recording_may_be_much_longer(two_sensors, knocked):
    first, second, offset_s, _ = knocked.pair(0.0, 0.0)
    piece = two_sensors.part(second, 100.0, 200.0)
    fit = compare(first, piece)
    assert fit.offset_s == pytest.approx(offset_s + 100.0, abs=0.005)


def test_knocks_alone_tell_where_everything_else_is_missing(two_sensors, knocked):
    first, second, offset_s, skew = knocked.pair(2.0, 120.0)
    held = knocked.course.intervals["held together"]
    span = held[0].stop_s + 0.5, held[1].start_s - 0.5
    fit = compare(two_sensors.without(first, *span), two_sensors.without(second, *(each - 2.0 for each in span)))
    assert fit.found_by == ("held together",)
    error_s, uncertainty_s = error_and_uncertainty_s(fit, first, offset_s, skew)
    assert np.abs(error_s).max() < 0.002
    assert uncertainty_s.max() < 0.003


def test_knocks_at_one_end_leave_the_skew_to_what_clocks_are_like(two_sensors, knocked):
    first, second, offset_s, skew = knocked.pair(2.0, 60.0)
    stop_s = knocked.course.intervals["held together"][0].stop_s + 0.5
    fit = compare(two_sensors.without(first, stop_s, 1e4), two_sensors.without(second, stop_s - 2.0, 1e4))
    error_s, uncertainty_s = error_and_uncertainty_s(fit, first, offset_s, skew)
    assert fit.skew_standard_uncertainty == pytest.approx(1e-4, rel=0.1)
    assert uncertainty_s[0] < 0.003
    # 100 ppm of the time that went by since
    assert uncertainty_s[-1] == pytest.approx(1e-4 * (knocked.duration_s - stop_s), rel=0.15)
    assert (np.abs(error_s) < 2 * uncertainty_s).all()


def test_knocks_cut_off_at_full_scale_still_tell(knocked):
    first, second, *truth = knocked.pair(2.0, 30.0, full_scale_m_s2=20.0)
    error_s, _ = error_and_uncertainty_s(compare(first, second), first, *truth)
    assert np.abs(error_s).max() < 0.005


def test_toe_taps_alone_tell_to_tens_of_milliseconds(two_sensors):
    session = two_sensors.Session.simulated(5, shared_jolts="toe taps")
    first, second, offset_s, _ = session.pair(2.0, 0.0)
    taps = [time_s for time_s, _ in session.course.taps]
    span = taps[2] + 1.0, taps[3] - 1.0
    pair = two_sensors.without(first, *span), two_sensors.without(second, *(each - 2.0 for each in span))
    # before and after, hands that tape and untape shake the sensors by themselves
    ends = taps[0] - 1.0, taps[-1] + 1.0
    fit = compare(two_sensors.part(pair[0], *ends), two_sensors.part(pair[1], *(each - 2.0 for each in ends)))
    assert fit.found_by == ("jolt",)
    assert fit.offset_s == pytest.approx(offset_s - 2.0, abs=0.02)
    assert 0.005 < fit.pivot_standard_uncertainty_s < 0.02


# ------------------------------------------------------------------------------------------------------- refusals


def refused(first, second):
    with pytest.raises(CannotAnswerError) as caught:
        compare(first, second)
    sentence = str(caught.value)
    assert sentence.startswith("shank.csv, foot.csv: ")
    return sentence


def test_sensors_of_different_people_are_refused_and_told_how_to_knock(knocked, plain):
    sentence = refused(knocked.pair()[0], plain.pair()[1])
    assert "no movement or jolt that both felt was found" in sentence
    assert "hold them together in one hand and knock three times on a table" in sentence


def test_sensors_that_lie_still_are_refused(two_sensors, plain):
    first, second, *_ = plain.pair()
    assert "no movement or jolt" in refused(two_sensors.part(first, 0.0, 5.0), two_sensors.part(second, 0.0, 5.0))


def test_movement_that_repeats_itself_evenly_is_undecided():
    time_s = np.arange(12_000) / 100
    rate = np.column_stack([2 * np.sin(2 * np.pi * time_s / 1.2), np.cos(2 * np.pi * time_s / 1.2), 0 * time_s])
    force = np.column_stack([3 * np.sin(2 * np.pi * time_s / 1.2), 0 * time_s, 9.8 + np.cos(2 * np.pi * time_s / 0.6)])
    noise = np.random.default_rng(1).normal(0, 0.01, (2, 2, 12_000, 3))
    pair = [SensorMotion(0.0, 100.0, force + each[0], rate + each[1], np.zeros(12_000, dtype=bool)) for each in noise]
    assert "fit nearly alike" in refused(*pair)


@pytest.mark.parametrize(("samples", "at_share"), [(4, 0.5), (20, 0.5), (50, 0.4), (300, 0.5)])
def test_a_clock_that_jumps_is_refused(two_sensors, knocked, samples, at_share):
    first, second, *_ = knocked.pair(2.0, 40.0)
    sentence = refused(first, two_sensors.lost(second, at_share * knocked.duration_s, samples))
    assert "as when one clock jumps; cut both files there" in sentence


def test_coarse_search_finds_the_place_among_all_overlaps(plain):
    first, second, offset_s, skew = plain.pair(25.0, 700.0)
    candidates = clock_candidates(first, second, 1e-3)
    middle_s = plain.duration_s / 2
    best = candidates[0]
    found_s = best.offset_s + (1 + best.skew) * (middle_s - offset_s) / (1 + skew)
    assert found_s == pytest.approx(middle_s, abs=0.2)
    assert best.score > 1.5 * candidates[1].score

"""The worn part of a recording, on made-up disagreement of two sensors."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.motion.wearing import worn_part

RATE_HZ = 25.0
# half of the window that is looked at
LOOSE_S = 1.6


def scene(worn, duration_s=400.0, *, seed=1, heading=0.4, drift_deg_s=0.05, tilt_deg=0.6, flatness=0.95):
    """Tilt and heading disagreement: settled while worn, any while a sensor is handled."""
    draw = np.random.default_rng(seed)
    count = round(duration_s * RATE_HZ)
    time_s = np.arange(count) / RATE_HZ
    inside = np.zeros(count, dtype=bool)
    for start_s, stop_s in worn:
        inside |= (time_s >= start_s) & (time_s < stop_s)
    # what is handled goes from one direction to another every few seconds
    knots = np.arange(0, duration_s + 4, 4)
    handled_tilt = np.interp(time_s, knots, draw.uniform(-1.2, 1.2, len(knots)))
    handled_heading = np.interp(time_s, knots, np.cumsum(draw.uniform(-1.5, 1.5, len(knots))))
    tilt = np.where(inside, np.radians(tilt_deg) * draw.normal(size=count), handled_tilt)
    turned = heading + np.radians(drift_deg_s) * time_s + np.radians(3) * draw.normal(size=count)
    heading = np.angle(np.exp(1j * np.where(inside, turned, handled_heading)))
    return [tilt, heading, np.full(count, flatness), np.zeros(count, dtype=bool)]


def test_all_of_it_where_both_are_worn_from_beginning_to_end():
    assert worn_part(*scene([(0, 400)]), RATE_HZ) == (0.0, pytest.approx(400.0))


@pytest.mark.parametrize(("turned_deg", "worn_s"), [(12.0, (0.0, 30.0)), (25.0, (0.0, 14.5))])
def test_sensors_that_lean_on_foam_are_worn_and_one_that_is_taken_off_is_not(turned_deg, worn_s):
    """In the second half of 30 s, upside down: foam gives way by several degrees on either side, a hand by far more."""
    tilt, heading, flatness, missing = scene([(0, 30)], 30.0)
    tilt[round(14.5 * RATE_HZ) :] += np.radians(turned_deg)
    assert worn_part(tilt, heading, flatness, missing, RATE_HZ) == pytest.approx(worn_s, abs=LOOSE_S)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 1000), st.floats(25, 120), st.floats(280, 360))
def test_it_begins_when_the_second_sensor_is_on_and_ends_when_the_first_comes_off(seed, start_s, stop_s):
    found = worn_part(*scene([(start_s, stop_s)], seed=seed), RATE_HZ)
    assert found == (pytest.approx(start_s, abs=LOOSE_S), pytest.approx(stop_s, abs=LOOSE_S))


def test_headings_that_drift_past_the_circle_stay_worn():
    """A degree a second: the difference of two biased gyroscopes without a magnetometer may go there."""
    found = worn_part(*scene([(60, 380)], heading=3.0, drift_deg_s=1.0), RATE_HZ)
    assert found == (pytest.approx(60, abs=LOOSE_S), pytest.approx(380, abs=LOOSE_S))


def test_a_short_slip_such_as_a_step_ends_nothing():
    tilt, heading, flatness, missing = scene([(50, 380)])
    for start_s in (100, 150, 151.5, 220):
        tilt[round(start_s * RATE_HZ) : round((start_s + 1.0) * RATE_HZ)] = np.radians(25)
    found = worn_part(tilt, heading, flatness, missing, RATE_HZ)
    assert found == (pytest.approx(50, abs=LOOSE_S), pytest.approx(380, abs=LOOSE_S))


@pytest.mark.parametrize("moved", ["tilt", "heading"])
def test_a_sensor_that_is_put_on_anew_ends_the_part(moved):
    """The mounting after it is another one; the longer part is taken."""
    tilt, heading, flatness, missing = scene([(20, 390)])
    after = slice(round(150 * RATE_HZ), None)
    if moved == "tilt":
        tilt[after] += np.radians(40)
    else:
        heading[after] += np.radians(70)
    begin_s, end_s = worn_part(tilt, heading, flatness, missing, RATE_HZ)
    if moved == "heading":
        assert begin_s == pytest.approx(150, abs=LOOSE_S)
        assert end_s == pytest.approx(390, abs=LOOSE_S)
    else:
        # of the two mountings the axis was fitted to the first
        assert begin_s == pytest.approx(20, abs=LOOSE_S)
        assert end_s == pytest.approx(150, abs=LOOSE_S)


@pytest.mark.parametrize("slips_deg", [(12.0,), (-7.0, 15.0)])
def test_a_sensor_that_slips_is_still_worn(slips_deg):
    """The tilt stays at another level behind each slip; on a table nothing would wobble any more."""
    tilt, heading, flatness, missing = scene([(20, 380)])
    for number, size_deg in enumerate(slips_deg):
        tilt[round((120 + 110 * number) * RATE_HZ) : round(380 * RATE_HZ)] += np.radians(size_deg)
    found = worn_part(tilt, heading, flatness, missing, RATE_HZ)
    assert found == (pytest.approx(20, abs=LOOSE_S), pytest.approx(380, abs=LOOSE_S))
    table = slice(round(120 * RATE_HZ), None)
    tilt[table], heading[table] = np.radians(12), heading[table.start]
    assert worn_part(tilt, heading, flatness, missing, RATE_HZ)[1] == pytest.approx(120, abs=LOOSE_S)


def test_an_upright_axis_shows_no_heading_and_ends_nothing():
    tilt, heading, flatness, missing = scene([(30, 390)])
    lying = slice(round(120 * RATE_HZ), round(200 * RATE_HZ))
    flatness[lying] = 0.02
    heading[lying] = np.random.default_rng(2).uniform(-3, 3, lying.stop - lying.start)
    found = worn_part(tilt, heading, flatness, missing, RATE_HZ)
    assert found == (pytest.approx(30, abs=LOOSE_S), pytest.approx(390, abs=LOOSE_S))


def test_a_gap_ends_nothing_whatever_the_headings_are_behind_it():
    """For 3 s nothing is known, then for some seconds the inclinations are found again; the heading is another one."""
    tilt, heading, flatness, missing = scene([(40, 390)])
    gone = slice(round(200 * RATE_HZ), round(203 * RATE_HZ))
    missing[gone] = True
    tilt[gone] = np.radians(30)
    heading[gone.start :] = np.angle(np.exp(1j * (heading[gone.start :] + 2.0)))
    found = worn_part(tilt, heading, flatness, missing, RATE_HZ)
    assert found == (pytest.approx(40, abs=LOOSE_S), pytest.approx(390, abs=LOOSE_S))


def test_looser_joints_have_wider_bounds_of_their_own():
    found = worn_part(*scene([(60, 380)], tilt_deg=3.0), RATE_HZ)
    assert found == (pytest.approx(60, abs=LOOSE_S + 1), pytest.approx(380, abs=LOOSE_S + 1))


def test_where_nothing_fits_all_is_returned():
    """Who asks finds no pose and no movement there, and says so."""
    count = 2000
    assert worn_part(np.full(count, 0.9), np.zeros(count), np.ones(count), np.zeros(count, dtype=bool), RATE_HZ) == (
        0.0,
        count / RATE_HZ,
    )


@pytest.mark.parametrize("seconds", [0.2, 1.0, 4.0])
def test_very_short_recordings_are_no_trouble(seconds):
    count = round(seconds * RATE_HZ)
    begin_s, end_s = worn_part(np.zeros(count), np.zeros(count), np.ones(count), np.zeros(count, dtype=bool), RATE_HZ)
    assert (begin_s, end_s) == (0.0, pytest.approx(count / RATE_HZ))


@pytest.mark.parametrize("gap_s", [4.95, 8.0])
def test_a_gap_is_no_worn_part_where_little_is_known_beside_it(gap_s):
    """What lies in a gap fits by chance, and behind it the inclinations are still to be found."""
    tilt, heading, flatness, missing = scene([(0, 10)], 10.0, tilt_deg=10.0)
    missing[: round(gap_s * RATE_HZ)] = True
    tilt[missing] = 0.0
    tilt[~missing] = np.radians(20.0)
    assert worn_part(tilt, heading, flatness, missing, RATE_HZ) == (0.0, 10.0)


def test_one_look_that_fits_is_no_worn_part():
    """Both ends of a look of 3 s, which together are half of it, and of no other."""
    count, look = 500, 75
    tilt = np.full(count, np.radians(30.0))
    start = int(np.linspace(0, count - look, 40)[20])
    for first in (start, start + look - 19):
        tilt[first : first + 19] = 0.0
    found = worn_part(tilt, np.zeros(count), np.zeros(count), np.zeros(count, dtype=bool), RATE_HZ)
    assert found == (0.0, 20.0)

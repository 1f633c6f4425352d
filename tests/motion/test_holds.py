"""Holds in a joint angle: found on either side of neutral, timed at their ends, shaking and sag told apart."""

import numpy as np
import pytest

from imu_rom.motion.holds import find_holds, steadiness

RATE_HZ = 25.0


def way(seconds, first, last):
    part = np.arange(round(seconds * RATE_HZ)) / round(seconds * RATE_HZ)
    return first + (last - first) * (10 * part**3 - 15 * part**4 + 6 * part**5)


def session(holds, level_deg=60.0, sag_deg=0.0, rest_deg=0.0, seed=0):
    """Angle over time with holds of so many seconds, and the true start and stop of each."""
    noise = np.random.default_rng(seed)
    pieces, spans = [np.full(250, rest_deg)], []
    for hold_s in holds:
        pieces.append(way(2.0, rest_deg, level_deg))
        start = sum(map(len, pieces))
        pieces.append(np.linspace(level_deg, level_deg + sag_deg, round(hold_s * RATE_HZ)))
        spans.append((start / RATE_HZ, (start + len(pieces[-1])) / RATE_HZ))
        pieces.append(way(1.5, level_deg + sag_deg, rest_deg))
        pieces.append(np.full(round(20 * RATE_HZ), rest_deg))
    angle = np.concatenate(pieces)
    sway = np.convolve(noise.normal(0, 1, len(angle)), np.ones(25) / 25, mode="same")
    return angle + sway, spans


def found_in(angle, between_deg=(45.0, 75.0), eligible=None, **named):
    limits = {"shortest_s": 5.0, "longest_s": 100.0, "smallest_excursion_deg": 8.0} | named
    allowed = np.ones(len(angle), dtype=bool) if eligible is None else eligible
    return find_holds(angle, allowed, RATE_HZ, between_deg=between_deg, **limits)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("level_deg", [60.0, -20.0])
def test_holds_are_found_and_timed_on_both_sides_of_neutral(seed, level_deg):
    angle, spans = session((45.0, 30.0, 12.0), level_deg, seed=seed)
    found = found_in(angle, (level_deg - 15, level_deg + 15))
    assert len(found) == 3
    for hold, (start_s, stop_s) in zip(found, spans, strict=True):
        assert hold.hold_start_s == pytest.approx(start_s, abs=0.5)
        assert hold.hold_stop_s == pytest.approx(stop_s, abs=0.5)
        assert hold.start_s == pytest.approx(start_s - 2.0, abs=0.6)
        assert hold.stop_s == pytest.approx(stop_s + 1.5, abs=0.6)
        assert hold.held_deg == pytest.approx(level_deg, abs=0.5)
        assert hold.start_deg == pytest.approx(0.0, abs=1.5)


def test_a_shift_of_the_zero_moves_no_time():
    angle, _ = session((45.0, 30.0))
    one, other = found_in(angle), found_in(angle + 4.0)
    assert [each.hold_s for each in one] == pytest.approx([each.hold_s for each in other])


def test_sagging_does_not_end_a_hold_and_a_short_slip_is_part_of_it():
    angle, spans = session((45.0,), sag_deg=8.0)
    middle = round(sum(spans[0]) / 2 * RATE_HZ)
    angle[middle : middle + 15] -= 15.0 * np.hanning(15)
    (hold,) = found_in(angle)
    assert hold.hold_s == pytest.approx(45.0, abs=1.0)


def test_no_hold_where_nothing_moves_in_and_out_or_the_person_walks():
    angle, spans = session((45.0,))
    assert found_in(np.full(2000, 60.0)) == []
    standing, _ = session((45.0,), level_deg=3.0)
    assert found_in(standing, (-12.0, 18.0)) == []
    walks = np.ones(len(angle), dtype=bool)
    walks[round(spans[0][0] * RATE_HZ) : round(spans[0][1] * RATE_HZ)] = False
    assert found_in(angle, eligible=walks) == []
    assert found_in(angle, longest_s=40.0) == []
    assert found_in(angle, (80.0, 90.0)) == []


def test_shaking_and_sag_are_told_apart():
    time_s = np.arange(0, 60, 0.01)
    angle = 40.0 + 0.1 * time_s + 1.5 * np.sqrt(2) * np.sin(2 * np.pi * 6.0 * time_s)
    steady = steadiness(angle, 100.0, 10.0, 50.0)
    assert steady.shaking_deg == pytest.approx(1.5, rel=0.03)
    assert steady.sag_deg == pytest.approx(4.0, abs=0.2)
    assert steadiness(40.0 + 0.1 * time_s, 100.0, 10.0, 50.0).shaking_deg < 0.05


def test_the_sags_uncertainty_holds_over_many_slow_wobbles():
    z = []
    for seed in range(60):
        noise = np.random.default_rng(seed).normal(0, 1, 3000)
        wobble = np.convolve(noise, np.ones(50) / 7, mode="same")
        steady = steadiness(wobble, 50.0, 5.0, 50.0)
        z.append(steady.sag_deg / steady.sag_uncertainty_deg)
    assert 0.6 < np.std(z) < 1.4

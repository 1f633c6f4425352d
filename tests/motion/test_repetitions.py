"""Repetitions and sets found in made-up angles whose repetitions are known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.motion.repetitions import Repetition, RepetitionSet, find_sets, join_interrupted, regrouped
from imu_rom.settings import RepetitionSettings

RATE_HZ = 25.0
SETTINGS = RepetitionSettings()
START_DEG, END_DEG = -25.0, 10.0


def way(seconds, first, last, rate_hz=RATE_HZ):
    share = np.arange(1, max(2, round(seconds * rate_hz)) + 1) / max(2, round(seconds * rate_hz))
    return first + (last - first) * share**3 * (10 - 15 * share + 6 * share**2)


def stay(seconds, angle, rate_hz=RATE_HZ):
    return np.full(round(seconds * rate_hz), float(angle))


def session(sets, *, down_s=2.5, hold_s=2.0, up_s=1.5, top_s=0.6, rest_s=40.0, rate_hz=RATE_HZ, noise_deg=0.0, seed=1):
    """Angle of a session and per set the windows (start, hold start, hold stop, stop, depth) of its repetitions.

    ``sets`` holds the depths of each set; between the sets the person stands about neutral and shifts weight.
    """
    draw = np.random.default_rng(seed)
    pieces, windows = [stay(6, 0, rate_hz)], []

    def at_s():
        return sum(len(each) for each in pieces) / rate_hz

    for number, depths in enumerate(sets):
        pieces.append(way(1.5, 0, START_DEG, rate_hz))
        windows.append([])
        for depth in depths:
            pieces.append(stay(top_s, START_DEG, rate_hz))
            start_s = at_s()
            pieces.append(way(down_s, START_DEG, depth, rate_hz))
            hold_start_s = at_s()
            pieces.append(stay(hold_s, depth, rate_hz))
            hold_stop_s = at_s()
            pieces.append(way(up_s, depth, START_DEG, rate_hz))
            windows[-1].append((start_s, hold_start_s, hold_stop_s, at_s(), depth))
        pieces += [stay(1, START_DEG, rate_hz), way(1.5, START_DEG, 0, rate_hz)]
        if number < len(sets) - 1:
            pieces += [stay(rest_s / 2, 0, rate_hz), way(0.8, 0, 5, rate_hz), way(0.8, 5, 0, rate_hz)]
        pieces.append(stay(rest_s / 2, 0, rate_hz))
    angle = np.concatenate(pieces)
    return angle + noise_deg * draw.normal(size=len(angle)), windows


def found_in(angle, *, eligible=None, rate_hz=RATE_HZ, first_s=0.0, settings=SETTINGS):
    everywhere = np.ones(len(angle), dtype=bool) if eligible is None else eligible
    return find_sets(angle, everywhere, rate_hz, settings, first_s)


def counts(sets):
    return [(each.complete_count, len(each.repetitions) - each.complete_count) for each in sets]


def windows_of(sets):
    return np.array(
        [
            (each.start_s, each.hold_start_s, each.end_range_s, each.hold_stop_s, each.stop_s)
            for one in sets
            for each in one.repetitions
        ]
    )


TEMPOS = {
    "1.5 s": {"down_s": 0.65, "hold_s": 0.1, "up_s": 0.6, "top_s": 0.15},
    "slow": {"down_s": 2.5, "hold_s": 2.0, "up_s": 1.5, "top_s": 0.6},
    "heavy and slow": {"down_s": 3.0, "hold_s": 2.0, "up_s": 3.0, "top_s": 0.5},
    "no pause at either end": {"down_s": 3.0, "hold_s": 0.0, "up_s": 3.0, "top_s": 0.0},
    "30 s with a hold of 20 s": {"down_s": 5.0, "hold_s": 20.0, "up_s": 4.0, "top_s": 1.0},
}


@pytest.mark.parametrize("tempo", TEMPOS)
@pytest.mark.parametrize("noise_deg", [0.0, 0.5])
def test_repetitions_are_counted_from_fast_ones_to_long_holds(tempo, noise_deg):
    angle, windows = session([[END_DEG] * 6] * 3, noise_deg=noise_deg, **TEMPOS[tempo])
    found = found_in(angle)
    assert counts(found) == [(6, 0)] * 3
    for one, truth in zip(found, windows, strict=True):
        for each, (start_s, hold_start_s, hold_stop_s, stop_s, depth) in zip(one.repetitions, truth, strict=True):
            ramp_s = hold_start_s - start_s
            assert each.start_s == pytest.approx(start_s, abs=0.2 + 0.2 * ramp_s)
            assert each.stop_s == pytest.approx(stop_s, abs=0.2 + 0.2 * ramp_s)
            assert hold_start_s - 0.5 <= each.end_range_s <= hold_stop_s + 0.5
            assert each.end_range_deg == pytest.approx(depth, abs=1.3)
            assert each.start_deg == pytest.approx(START_DEG, abs=2.0)


@pytest.mark.parametrize(("back_to_deg", "partial"), [(-30.0, 0), (-20.0, 0), (-10.0, 10)])
def test_an_ankle_that_hangs_free_on_the_way_up_makes_no_complete_repetition_of_it(back_to_deg, partial):
    """Up on the other leg the foot falls to -32 degrees and swings back; only a swing nearly as large would count."""
    swing = [
        way(1.0, END_DEG, -32),
        way(0.5, -32, back_to_deg),
        stay(0.3, back_to_deg),
        way(0.5, back_to_deg, START_DEG),
    ]
    one = np.concatenate([stay(0.6, START_DEG), way(2.5, START_DEG, END_DEG), stay(2, END_DEG), *swing])
    done = [way(1.5, 0, START_DEG), *[one] * 10, stay(1, START_DEG), way(1.5, START_DEG, 0), stay(40, 0)]
    assert counts(found_in(np.concatenate([stay(6, 0), *done, *done]))) == [(10, partial)] * 2


def test_phases_of_smooth_movements_take_the_time_that_they_take():
    """Minimum-jerk ways without noise: whole ramps are found from their middle parts."""
    angle, _ = session([[END_DEG] * 6] * 2)
    repetitions = [each for one in found_in(angle) for each in one.repetitions]
    assert np.mean([each.eccentric_s for each in repetitions]) == pytest.approx(2.5, abs=0.4)
    assert np.mean([each.hold_s for each in repetitions]) == pytest.approx(2.0, abs=0.6)
    assert np.mean([each.concentric_s for each in repetitions]) == pytest.approx(1.5, abs=0.3)
    for each in repetitions:
        assert each.eccentric_s + each.hold_s + each.concentric_s == pytest.approx(each.stop_s - each.start_s)
        assert each.start_s <= each.hold_start_s <= each.hold_stop_s <= each.stop_s
        assert each.start_s <= each.end_range_s <= each.stop_s


def test_a_last_repetition_after_which_the_person_stays_has_no_way_back():
    """To the floor, and the set is over: a way back that never came is no way back of no time."""
    angle, windows = session([[0.0] * 6], rest_s=30.0)
    hold_stop_s = windows[0][-1][2]
    angle[round(hold_stop_s * RATE_HZ) :] = 0.0
    (found,) = found_in(angle)
    assert counts([found]) == [(6, 0)]
    times_s = [each.concentric_s for each in found.repetitions]
    assert times_s[-1] is None
    assert found.repetitions[-1].stays
    assert times_s[:-1] == pytest.approx([1.5] * 5, abs=0.3)


@settings(max_examples=30, deadline=None)
@given(st.floats(-8, 8))
def test_a_shift_of_the_zero_moves_no_repetition(shift):
    """The neutral pose may be off by N(0, 2) degrees, or more; windows must not know."""
    angle, _ = session([[END_DEG] * 5, [END_DEG, 9.0, 8.0, 12.0, 6.0]], noise_deg=0.3)
    plain, shifted = found_in(angle), found_in(angle + shift)
    assert counts(shifted) == counts(plain) == [(5, 0)] * 2
    assert windows_of(shifted) == pytest.approx(windows_of(plain), abs=1e-6)
    ends = [[each.end_range_deg for one in sets for each in one.repetitions] for sets in (plain, shifted)]
    assert np.array(ends[1]) - shift == pytest.approx(np.array(ends[0]))


@settings(max_examples=15, deadline=None)
@given(st.floats(0.6, 2.5))
def test_slower_movement_stretches_all_windows(stretch):
    """Twice as slow, twice the times: no window knows an absolute tempo."""
    tempo = {"down_s": 2.0, "hold_s": 2.0, "up_s": 2.0, "top_s": 0.6}
    plain, _ = session([[END_DEG] * 5], **tempo)
    slower, _ = session([[END_DEG] * 5], **{name: stretch * each for name, each in tempo.items()})
    (one,), (other,) = found_in(plain), found_in(slower)
    assert counts([other]) == [(5, 0)]
    for name in ("eccentric_s", "hold_s", "concentric_s"):
        means = [np.mean([getattr(each, name) for each in found.repetitions]) for found in (one, other)]
        assert means[1] == pytest.approx(stretch * means[0], rel=0.12, abs=0.1)


def test_the_rate_of_the_samples_makes_no_difference():
    results = []
    for rate_hz in (20.0, 25.0, 50.0):
        angle, _ = session([[END_DEG] * 5] * 2, rate_hz=rate_hz)
        results.append(windows_of(found_in(angle, rate_hz=rate_hz)))
    assert results[1] == pytest.approx(results[0], abs=0.12)
    assert results[2] == pytest.approx(results[0], abs=0.12)


def test_times_count_from_the_recordings_start():
    angle, _ = session([[END_DEG] * 4])
    assert windows_of(found_in(angle, first_s=3.25)) == pytest.approx(windows_of(found_in(angle)) + 3.25)


def test_partial_repetitions_are_counted_apart():
    """Complete from 70 per cent of the set's median excursion; 40 and 55 per cent are partial ones."""
    forty, fifty_five, eighty = (START_DEG + share * (END_DEG - START_DEG) for share in (0.40, 0.55, 0.80))
    angle, _ = session([[END_DEG, END_DEG, forty, END_DEG, END_DEG, fifty_five, END_DEG, eighty]], noise_deg=0.2)
    (one,) = found_in(angle)
    assert [each.complete for each in one.repetitions] == [True, True, False, True, True, False, True, True]


@pytest.mark.parametrize("place", range(5))
@pytest.mark.parametrize("depth", [-4.0, -1.0, 0.0, 1.0, 4.0])
def test_a_repetition_that_stops_near_neutral_is_one_all_the_same(place, depth):
    """Among others that go to 10 degrees it is the one that fell short, wherever in the set: never a rest."""
    depths = [END_DEG] * 5
    depths[place] = depth
    (one,) = found_in(session([depths])[0])
    assert len(one.repetitions) == 5
    assert one.repetitions[place].end_range_deg == pytest.approx(depth, abs=0.5)


def test_rests_split_sets_and_short_breaths_do_not():
    angle, _ = session([[END_DEG] * 5] * 3, top_s=2.5, rest_s=15.0)
    assert counts(found_in(angle)) == [(5, 0)] * 3


def test_where_no_repetition_can_be_none_is_found():
    angle, windows = session([[END_DEG] * 5] * 3)
    eligible = np.ones(len(angle), dtype=bool)
    eligible[: round((windows[0][-1][3] + 3) * RATE_HZ)] = False
    assert counts(found_in(angle, eligible=eligible)) == [(5, 0)] * 2
    assert found_in(angle, eligible=np.zeros(len(angle), dtype=bool)) == []


@pytest.mark.parametrize(
    "angle",
    [
        np.zeros(2000),
        0.5 * np.random.default_rng(1).normal(size=2000),
        3.0 * np.sin(np.arange(2000) / 12),
        np.linspace(0, 40, 2000),
    ],
    ids=["still", "noise", "small swings", "one way"],
)
def test_nothing_that_goes_back_and_forth_by_8_degrees_is_no_repetition(angle):
    assert found_in(angle) == []


def one_repetition(start_s, depth, complete=True):
    return Repetition(
        start_s, start_s + 2, start_s + 4, start_s + 1.5, start_s + 2.5, depth, 0.3, None, -25.0, complete
    )


def made_set(start_s, count, depth=10.0):
    return RepetitionSet(tuple(one_repetition(start_s + 5.0 * place, depth) for place in range(count)))


def joined(*pieces, sets=3, repetitions=15):
    """Sets of the given (start, count) after joining; as (complete, number of interruptions)."""
    found = join_interrupted([made_set(*each) for each in pieces], [repetitions] * sets, SETTINGS)
    return [(each.complete_count, len(each.interruptions)) for each in found]


def test_neighbours_are_joined_where_they_make_one_prescribed_set():
    """8 and 7 across a pause of 20 s are the fifteen; the sets that are whole stay as they are."""
    assert joined((0, 8), (59, 7), (200, 15), (400, 15)) == [(15, 1), (15, 0), (15, 0)]


def test_one_more_than_prescribed_may_be_joined_and_two_may_not():
    assert joined((0, 8), (60, 8), (200, 15), (400, 15))[0] == (16, 1)
    assert joined((0, 8), (60, 9), (200, 15), (400, 15))[0] == (8, 0)


def test_nothing_is_joined_across_a_minute():
    assert joined((0, 8), (39 + 59, 7), (300, 15), (500, 15))[0] == (15, 1)
    assert joined((0, 8), (39 + 61, 7), (300, 15), (500, 15))[0] == (8, 0)


def test_nothing_is_joined_where_there_are_no_more_sets_than_prescribed():
    assert joined((0, 5), (45, 5), (90, 5)) == [(5, 0)] * 3
    # a session of four short sets instead of three: the nearest two
    assert joined((0, 5), (45, 5), (90, 5), (130, 5)) == [(5, 0), (5, 0), (10, 1)]


def test_a_set_may_be_interrupted_twice():
    found = join_interrupted([made_set(0, 5), made_set(40, 5), made_set(80, 5)], [15], SETTINGS)
    assert counts(found) == [(15, 0)]
    assert found[0].interruptions == ((24.0, 40.0), (64.0, 80.0))


@given(
    st.lists(st.tuples(st.integers(1, 16), st.floats(5, 90)), min_size=1, max_size=8),
    st.integers(1, 4),
    st.integers(1, 16),
)
def test_joining_never_loses_or_invents_a_repetition(pieces, sets, repetitions):
    start_s, made = 0.0, []
    for count, pause_s in pieces:
        made.append(made_set(start_s, count))
        start_s = made[-1].stop_s + pause_s
    found = join_interrupted(made, [repetitions] * sets, SETTINGS)
    before, after = ([each for one in group for each in one.repetitions] for group in (made, found))
    assert before == after
    for one in found:
        assert not one.interruptions or one.complete_count <= repetitions + 1
        assert all(stop_s - start_s < 60 for start_s, stop_s in one.interruptions)
    assert len(found) == len(made) - sum(len(one.interruptions) for one in found)


@given(st.lists(st.floats(-20, 20), min_size=1, max_size=12), st.floats(0.3, 1.0))
def test_completeness_is_judged_against_the_sets_median_excursion(depths, share):
    made = regrouped([one_repetition(5.0 * place, depth) for place, depth in enumerate(depths)], (), share)
    limit = share * np.median([depth + 25.0 for depth in depths])
    assert [each.complete for each in made.repetitions] == [depth + 25.0 >= limit for depth in depths]
    assert made.complete_count == sum(each.complete for each in made.repetitions) >= 1
    assert (made.start_s, made.stop_s) == (made.repetitions[0].start_s, made.repetitions[-1].stop_s)


def test_settings_are_followed():
    small, _ = session([[START_DEG + 12.0] * 5])
    assert counts(found_in(small)) == [(5, 0)]
    assert found_in(small, settings=replace(SETTINGS, smallest_excursion_deg=30.0)) == []
    two_thirds = START_DEG + 0.66 * (END_DEG - START_DEG)
    angle, _ = session([[END_DEG] * 4 + [two_thirds]])
    assert counts(found_in(angle)) == [(4, 1)]
    assert counts(found_in(angle, settings=replace(SETTINGS, complete_share=0.6))) == [(5, 0)]


def test_sets_of_different_lengths_are_joined_each_to_its_own():
    pieces = [made_set(0, 4), made_set(40, 4), made_set(80, 15)]
    joined = join_interrupted(pieces, [8, 15], SETTINGS)
    assert [each.complete_count for each in joined] == [8, 15]

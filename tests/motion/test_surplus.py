"""Standing that looks like a repetition, taken out where there is one more than prescribed."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.motion.repetitions import Repetition, regrouped
from imu_rom.motion.surplus import parted_where_stood, without_surplus

SHARE = 0.70


def one(start_s, end_deg, hold_s=2.0, there_s=2.5):
    """From -25 degrees and back, 2.5 s there and 1.5 s back."""
    held = start_s + there_s, start_s + there_s + hold_s
    return Repetition(start_s, held[0] + 0.5, held[1] + 1.5, *held, end_deg, 0.3, end_deg, -25.0, complete=True)


def made(*kinds, usual_deg=10.0):
    """A set: the number of repetitions, or ("stand", degrees, seconds), one after the other."""
    repetitions, time_s, swing = [], 0.0, itertools.cycle([-1.0, 0.5, 1.2, -0.4, 0.0])
    for kind in kinds:
        more = [(usual_deg + next(swing), 2.0) for _ in range(kind)] if isinstance(kind, int) else [kind[1:]]
        for each in more:
            repetitions.append(one(time_s, *each))
            time_s = repetitions[-1].stop_s + 0.6
    return regrouped(repetitions, (), SHARE)


def counted(done, prescribed):
    return [(each.complete_count, len(each.interruptions)) for each in parted_where_stood([done], prescribed, SHARE)]


STAND = ("stand", -0.5, 4.0)


@pytest.mark.parametrize("usual_deg", [10.0, 5.0])
def test_two_sets_with_a_stand_between_are_two_sets(usual_deg):
    assert counted(made(15, STAND, 15, usual_deg=usual_deg), 15) == [(15, 0), (15, 0)]


def test_a_stand_within_a_set_is_a_pause_that_is_named():
    (found,) = parted_where_stood([made(7, STAND, 8)], 15, SHARE)
    assert found.complete_count == 15
    assert found.interruptions == ((found.repetitions[6].stop_s, found.repetitions[7].start_s),)
    # two pauses, and weight shifted in one of them
    assert counted(made(4, STAND, ("stand", 2.0, 1.0), 6, STAND, 5), 15) == [(15, 2)]


def test_of_several_the_longest_stands_are_the_rests():
    short = ("stand", 1.0, 2.6)
    found = parted_where_stood([made(7, short, 7, ("stand", -1.0, 5.0), 15)], 15, SHARE)
    assert [each.complete_count for each in found] == [15, 15]
    assert sum(abs(each.end_range_deg) < 2 for one in found for each in one.repetitions) == 1


@pytest.mark.parametrize(
    "done",
    [
        made(16),
        made(7, STAND, 7),
        made(7, ("stand", 0.5, 2.3), 8),
        made(7, ("stand", 8.0, 5.0), 8),
        made(7, ("stand", -9.0, 5.0), 8),
        made(7, STAND, 8, usual_deg=2.0),
    ],
    ids=["one more", "no more than prescribed", "no longer than the others", "as deep", "a part of the way", "at 0"],
)
def test_what_may_well_be_a_repetition_stays_one(done):
    assert parted_where_stood([done], 15, SHARE) == [done]


@pytest.mark.parametrize("pieces", [(15, STAND), (STAND, 15)])
def test_a_stand_at_a_sets_end_is_left_out_where_it_is_one_too_many(pieces):
    assert [each.complete_count for each in without_surplus([made(*pieces, usual_deg=5.0)], 15)] == [15]
    assert [each.complete_count for each in without_surplus([made(*pieces, usual_deg=5.0)], 16)] == [16]


@pytest.mark.parametrize(("there_s", "left"), [(1.4, 15), (2.5, 16)])
def test_a_stand_within_the_spread_shows_by_haste(there_s, left):
    """At 3 degrees where the others end at 5 with a spread of 2: a repetition may, but not in half the time."""
    ends = [5.0, 3.0, 7.0, 4.0, 6.5] * 3
    pieces = [("rep", each, 2.0) for each in ends]
    done = made(*pieces, ("stand", 3.0, 2.4, there_s))
    assert [each.complete_count for each in without_surplus([done], 15)] == [left]


@given(st.lists(st.one_of(st.integers(1, 9), st.just(STAND)), min_size=1, max_size=7), st.integers(1, 16))
def test_parting_takes_out_nothing_but_stands(kinds, prescribed):
    done = made(*kinds)
    found = parted_where_stood([done], prescribed, SHARE)
    kept = [each.start_s for one in found for each in one.repetitions]
    assert kept == sorted(kept)
    assert all(one.repetitions for one in found)
    missing = [each for each in done.repetitions if each.start_s not in kept]
    assert {each.end_range_deg for each in missing} <= {STAND[1]}
    assert not missing or done.complete_count > prescribed

"""Excursions of made-up angles, and which of them are repetitions."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from imu_rom.motion.excursion_shape import gaussian_smooth
from imu_rom.motion.excursions import find_excursion_groups
from imu_rom.settings import RepetitionSettings

RATE_HZ = 25.0
SETTINGS = RepetitionSettings()
START_DEG, END_DEG = -25.0, 10.0


def way(seconds, first, last):
    count = max(2, round(seconds * RATE_HZ))
    share = np.arange(1, count + 1) / count
    return first + (last - first) * share**3 * (10 - 15 * share + 6 * share**2)


def stay(seconds, angle):
    return np.full(round(seconds * RATE_HZ), float(angle))


def drop(depth=END_DEG, hold_s=2.0, down_s=2.5, up_s=1.5):
    return [
        stay(0.6, START_DEG), way(down_s, START_DEG, depth), stay(hold_s, depth), way(up_s, depth, START_DEG),
    ]  # fmt: skip


def on_and_off(pieces):
    """Pieces between standing about neutral, 4 s before and after."""
    return [stay(4, 0), way(1.5, 0, START_DEG), *pieces, stay(0.6, START_DEG), way(1.5, START_DEG, 0), stay(4, 0)]


def groups_in(pieces, walking=()):
    """Excursions in the pieces joined; ``walking`` holds the places of those that are walked."""
    angle = np.concatenate(pieces)
    eligible = np.ones(len(angle), dtype=bool)
    ends = np.cumsum([len(each) for each in pieces])
    for place in walking:
        eligible[ends[place] - len(pieces[place]) : ends[place]] = False
    return find_excursion_groups(gaussian_smooth(angle, 0.08 * RATE_HZ), eligible, RATE_HZ, SETTINGS)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 200), st.floats(0.5, 8), st.integers(0, 1000))
def test_smoothing_is_that_of_scipy(count, width, seed):
    values = np.random.default_rng(seed).normal(size=count)
    half = max(1, round(3 * width))
    theirs = gaussian_filter1d(values, width, mode="nearest", radius=half)
    assert gaussian_smooth(values, width) == pytest.approx(theirs, abs=1e-9)


def test_an_excursion_says_where_it_rises_stays_and_falls():
    pieces = on_and_off([*drop(), *drop(), *drop()])
    (group,) = groups_in(pieces)
    assert len(group) == 3
    start_s = (4 + 1.5 + 0.6) + np.arange(3) * (0.6 + 2.5 + 2.0 + 1.5)
    for each, begin_s in zip(group, start_s, strict=True):
        assert (each.rise, each.fall, each.size) == (pytest.approx(35, abs=0.5),) * 3
        assert each.level == pytest.approx(END_DEG, abs=0.3)
        assert each.start_level == pytest.approx(START_DEG, abs=0.3)
        assert each.low < each.up[0] < each.up[1] < each.up[2] < each.up[3] < each.high
        assert each.high < each.down[3] < each.down[2] < each.down[1] < each.down[0] < each.next_low
        # 10 and 90 per cent of a minimum-jerk way of 2.5 s lie 0.507 of it apart, its middle at the middle
        assert (each.up[3] - each.up[0]) / RATE_HZ == pytest.approx(0.507 * 2.5, abs=0.06)
        assert (each.up[3] + each.up[0]) / 2 / RATE_HZ == pytest.approx(begin_s + 1.25, abs=0.06)
        assert each.dwell_s == pytest.approx(2.0 + (2.5 + 1.5) * 0.2465, abs=0.1)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.floats(6.0, 14.0), min_size=2, max_size=10), st.floats(0.5, 5.0))
def test_every_drop_is_found_once(depths, hold_s):
    pieces = on_and_off([piece for depth in depths for piece in drop(depth, hold_s)])
    groups = groups_in(pieces)
    assert [len(group) for group in groups] == [len(depths)]
    assert [each.level for each in groups[0]] == pytest.approx(depths, abs=0.5)


def test_walking_between_ends_a_group_and_is_none_of_it():
    """Strides that bend the joint by 30 degrees back and forth, where it is known that they are walked."""
    stride = np.concatenate([way(0.5, 0, 12), way(0.3, 12, -18), way(0.4, -18, 0)])
    pieces = [*on_and_off(drop() * 4), *[stride] * 6, *on_and_off(drop() * 4)]
    walked = [place for place, each in enumerate(pieces) if each is stride]
    assert [len(group) for group in groups_in(pieces, walked)] == [4, 4]


def test_standing_between_two_sets_is_no_repetition():
    """From the heels' highest to standing and back up it goes by 25 degrees, but it stays there for 10 s."""
    pieces = [*on_and_off(drop() * 4), stay(2, 0), *on_and_off(drop() * 4)]
    assert [len(group) for group in groups_in(pieces)] == [4, 4]


def test_fidgets_are_no_repetitions():
    fidget = [way(0.4, 0, -9), stay(0.3, -9), way(0.4, -9, 0), stay(2, 0), way(0.6, 0, 8), way(0.6, 8, 0), stay(3, 0)]
    pieces = [stay(4, 0), *fidget, *on_and_off(drop() * 5), *fidget]
    assert [len(group) for group in groups_in(pieces)] == [5]


def test_last_lowering_to_the_floor_counts_though_nobody_comes_back():
    """Rise and lower: the fifth time down the foot stays on the floor, and the set is over."""
    lowering = [stay(0.6, START_DEG), way(2.5, START_DEG, 0), stay(2, 0), way(1.5, 0, START_DEG)]
    pieces = [stay(6, 0), way(1.5, 0, START_DEG), *lowering * 4, *lowering[:2], stay(15, 0)]
    (group,) = groups_in(pieces)
    assert len(group) == 5
    last = group[-1]
    assert last.fall == 0.0
    assert last.level == pytest.approx(0.0, abs=0.3)
    # it stays as long as the others did, not until the end of the file
    assert last.dwell_s == pytest.approx(np.median([each.dwell_s for each in group[:-1]]))
    assert last.next_low == pytest.approx(round(last.up[3] + last.dwell_s * RATE_HZ), abs=1)


@pytest.mark.parametrize("angle", [np.zeros(500), np.full(3, 4.0), np.linspace(0, 30, 500)])
def test_nothing_is_found_where_nothing_comes_back(angle):
    assert find_excursion_groups(angle, np.ones(len(angle), dtype=bool), RATE_HZ, SETTINGS) == []


def test_a_set_may_begin_straight_after_the_pose_with_a_slow_repetition():
    """Nothing is looked for within the pose, but nobody steps on or off there either."""
    pieces = [stay(8, START_DEG), *drop(down_s=4.0, up_s=2.6), *drop() * 6, stay(8, START_DEG)]
    angle = np.concatenate(pieces)
    eligible = np.ones(len(angle), dtype=bool)
    eligible[: round(7.5 * RATE_HZ)] = False
    smooth, nowhere = gaussian_smooth(angle, 0.08 * RATE_HZ), np.zeros(len(angle), dtype=bool)
    (group,) = find_excursion_groups(smooth, eligible, RATE_HZ, SETTINGS, nowhere)
    assert len(group) == 7
    # beside walking it would be a step on
    (group,) = find_excursion_groups(smooth, eligible, RATE_HZ, SETTINGS, ~eligible)
    assert len(group) == 6

"""How often patterns are seen: seldom where nothing of the kind goes on, mostly where it does, never of too few days.

The courses are drawn (``made_courses.py``); `tests/benchmarks/course_patterns.py` asks the same of many more.
"""

import sys
from collections import Counter
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from imu_rom.dose.session_by_chance import session_by_chance
from imu_rom.settings import CourseSettings

sys.path.append(str(Path(__file__).parent))

import made_courses as made

FALSE_ALARM = CourseSettings().false_alarm
SEEDS = 200


def answers(of, seeds):
    """How often each pattern got each answer."""
    counted: dict[tuple, Counter] = {}
    for seed in range(seeds):
        for key, pattern in of(seed).items():
            counted.setdefault(key, Counter())[pattern.answer] += 1
    return counted


def too_often(seen, courses):
    """Whether so many can't be called at most the false alarm."""
    return binomtest(seen, courses, FALSE_ALARM, alternative="greater").pvalue < 0.01


@pytest.mark.long
def test_where_nothing_goes_on_no_pattern_is_seen_more_often_than_by_chance():
    found = answers(lambda seed: made.course(seed, made.NOTHING), SEEDS)
    names = {name for name, *_ in found}
    assert len(names) == 10  # all but the morning's pain
    assert {key: counts["seen"] for key, counts in found.items() if too_often(counts["seen"], SEEDS)} == {}


@pytest.fixture(scope="module")
def plain():
    return answers(lambda seed: made.course(seed, made.PLAIN), 40)


@pytest.mark.parametrize(
    "key",
    [
        ("stops short", "heeldrop", "left"),
        ("complete but shallow", "heeldrop", "left"),
        ("tempo shorter", "heeldrop", "left"),
        ("holds shorter", "heeldrop", "left"),
        ("fatigue within a set", "heeldrop", "right"),
        ("stops short", "stopped", "left"),
        ("stops short and shrinking", "stopped", "left"),
        ("past the limit", "limited", "left"),
        ("side difference", "heeldrop, heeldrop", None),
    ],
)
def test_what_plainly_goes_on_is_seen_in_most_courses(plain, key):
    assert plain[key]["seen"] >= 32


@pytest.mark.parametrize(
    "key",
    [
        ("stops short", "heeldrop", "right"),
        ("past the limit", "heeldrop", "left"),
        ("tempo shorter", "heeldrop", "right"),
        ("fatigue within a set", "heeldrop", "left"),
        ("more than prescribed", "heeldrop", "left"),
        ("gap in recordings", None, None),
    ],
)
def test_what_plainly_does_not_go_on_is_said_not_to(plain, key):
    assert plain[key]["not seen"] >= 38


def test_of_a_few_sessions_nothing_of_the_movement_is_told():
    found = made.course(0, made.PLAIN, days=8)
    told = {key for key, each in found.items() if each.answer != "undecided"}
    assert {name for name, *_ in told} <= {"more than prescribed", "gap in recordings", "fatigue within a set"}
    short = found["stops short", "heeldrop", "left"]
    assert (short.why_undecided, short.numbers["sessions"]) == ("too few", 4)


def test_extra_sessions_and_a_missing_week_are_seen():
    way = replace(made.EDGE, end_deg=10.0)
    rng = np.random.default_rng(4)
    days = [made.FIRST + timedelta(days=i) for i in range(28) if not 9 <= i < 18]
    recorded = [made.recorded_session(rng, made.LEFT, day, way) for day in days]
    found = made.found_patterns([made.LEFT], recorded, ())
    assert found["more than prescribed", "heeldrop", "left"].answer == "seen"
    gap = found["gap in recordings", None, None]
    assert (gap.answer, gap.numbers["gap_days"]) == ("seen", 9)


@pytest.mark.long
@pytest.mark.parametrize(
    "going",
    [
        {},
        {"days": 28},
        {"memory": 0.9, "exposure_memory": 0.9},
    ],
)
def test_pain_that_goes_its_own_way_is_seldom_seen_to_rise_with_exposure(going):
    found = Counter(made.painful_course(seed, **going).answer for seed in range(SEEDS))
    assert not too_often(found["seen"], SEEDS)


def test_pain_that_goes_with_exposure_is_seen():
    found = Counter(made.painful_course(seed, coupling=1.2).answer for seed in range(40))
    assert found["seen"] >= 32


def test_eight_days_of_pain_are_not_enough_and_it_says_so():
    found = [made.painful_course(seed, days=8, coupling=3.0) for seed in range(20)]
    assert {(each.answer, each.why_undecided) for each in found} == {("undecided", "too few")}
    assert (found[0].numbers["days"], found[0].numbers["days_asked"]) == (8, 20)
    assert "correlation" not in found[0].numbers


@pytest.mark.parametrize(
    ("u_deg", "sets", "repetitions", "decide", "allowed"),
    [
        ((2.0, 0.8, 0.3), 3, 15, 0.95, 0),
        ((2.0, 0.8, 0.3), 3, 15, 0.80, 9),
        ((0.5, 1.0, 1.0), 2, 8, 0.95, 0),
        ((1.0, 0.0, 0.8), 4, 6, 0.80, 4),
    ],
)
def test_the_chance_of_a_session_is_that_of_drawn_ones(u_deg, sets, repetitions, decide, allowed):
    rng = np.random.default_rng(7)
    shapes = ((20_000, 1, 1), (20_000, sets, 1), (20_000, sets, repetitions))
    error = sum(rng.normal(0, u, shape) for u, shape in zip(u_deg, shapes, strict=True))
    # Phi(1.644854) = 0.95, Phi(0.841621) = 0.80
    wrong = error > {0.95: 1.644854, 0.80: 0.841621}[decide] * np.sqrt(np.square(u_deg).sum())
    drawn = float((wrong.sum(axis=(1, 2)) > allowed).mean())
    assert session_by_chance(u_deg, sets, repetitions, decide=decide, allowed=allowed) == pytest.approx(drawn, abs=0.01)


@pytest.mark.parametrize("decide", [0.6, 0.8, 0.95])
def test_where_only_the_zero_counts_a_session_is_one_repetition(decide):
    found = session_by_chance((2.0, 0.0, 0.0), 3, 15, decide=decide, allowed=9)
    assert found == pytest.approx(1 - decide, abs=0.003)

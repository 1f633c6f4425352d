"""What counts as the last review, and which two days are held against each other since then."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import RecordedExercise, RecordedRepetition, RecordedSet
from imu_rom.dose.plan import CalendarEntry, OwnRange, OwnUncertainty, Plan, Stage
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import CourseError
from imu_rom.recording.model import InputFile

FIRST = date(2026, 12, 1)
LOW = Exercise("low", "ankle", "dorsiflexion", "left", "shank", "foot", sets=1, repetitions=3, end_range_deg=(0, 5))
DEEP = replace(LOW, name="deep", end_range_deg=(5, 10))
PLAN = Plan("Heel", "achilles insertion", (Stage("floor", (LOW,)), Stage("step", (DEEP,))), "floor", from_date=FIRST)


def day(number):
    return FIRST + timedelta(days=number)


def planned(*entries, **changes):
    calendar = tuple(CalendarEntry(day(number), stage) for number, stage in entries)
    return replace(PLAN, calendar=calendar, **changes)


def recorded(number, deg, exercise=LOW, stage="floor", *, doubtful=False):
    one = RecordedRepetition(
        complete=True,
        end_range_deg=deg,
        eccentric_s=3.0,
        hold_s=2.0,
        concentric_s=2.0,
        reached="yes",
        within_limit="yes",
    )
    return RecordedExercise(
        day=day(number),
        started_at=datetime(2026, 12, 1, 8, tzinfo=UTC) + timedelta(days=number),
        session=f"{number}",
        exercise=exercise,
        stage=stage,
        sets=(RecordedSet((one, one, one), "met"),),
        past_threshold_s=None,
        loaded_s=None,
        unloaded_s=None,
        outside_sets_s=None,
        u_shared_deg=2.0,
        u_set_deg=0.0,
        zero_doubtful=doubtful,
        footwear=None,
        source=f"{number}",
    )


def since(plans, sessions, until):
    return follow_up(plans if isinstance(plans, list) else [plans], sessions, [], day(until)).since_review


def test_the_last_review_is_the_latest_day_from_which_the_plan_says_something_new():
    own = OwnRange("left", 31.0, day(20), "knee-to-wall lunge")
    plan = planned((0, "floor"), (10, "step"), (30, "floor"), own_ranges=(own,))
    reviews = {until: since(plan, [], until).review for until in (5, 10, 19, 20, 29, 30)}
    assert [(each.day, each.what) for each in reviews.values()] == [
        (day(0), ("stage", "plan")),
        (day(10), ("stage",)),
        (day(10), ("stage",)),
        (day(20), ("own range",)),
        (day(20), ("own range",)),
        (day(30), ("stage",)),
    ]
    later = replace(planned((0, "floor")), from_date=day(7))
    assert since([PLAN, later], [], 8).review.day == day(7)
    assert since([PLAN, later], [], 6).review.day == day(0)


def test_a_plan_without_days_has_no_review():
    plan = replace(PLAN, from_date=None)
    assert since(plan, [recorded(3, 2.0), recorded(4, 2.0)], 9) is None


def test_after_another_stage_began_the_first_recorded_day_since_is_what_is_compared():
    sessions = [recorded(8, 2.0), recorded(11, 6.0, DEEP, "step"), recorded(14, 7.5, DEEP, "step")]
    found = since(planned((0, "floor"), (10, "step")), sessions, 20)
    (change,) = found.changes
    assert (change.from_day, change.to_day, change.between) == (day(11), day(14), "since the review")
    assert (change.from_deg, change.to_deg, change.change_deg) == (6.0, 7.5, 1.5)
    # 1.96 sqrt 2 of 2 degrees is 5.54 (Weir 2005)
    assert change.detectable.mdc95_deg == pytest.approx(5.5437, abs=1e-4)
    assert change.answer == "not shown"
    assert found.first == ()


def test_where_the_same_was_prescribed_right_up_to_the_review_the_last_before_it_is():
    own = OwnRange("left", 31.0, day(10), "knee-to-wall lunge")
    plan = planned((0, "floor"), own_ranges=(own,))
    (change,) = since(plan, [recorded(2, 1.0), recorded(8, 2.0), recorded(12, 4.0), recorded(15, 5.0)], 20).changes
    assert (change.from_day, change.to_day, change.change_deg) == (day(8), day(15), 3.0)


def test_a_stage_that_was_left_in_between_is_not_what_was_known_at_the_review():
    plan = planned((0, "floor"), (10, "step"), (20, "floor"))
    sessions = [recorded(2, 1.0), recorded(12, 6.0, DEEP, "step"), recorded(21, 3.0), recorded(25, 4.0)]
    (change,) = since(plan, sessions, 30).changes
    assert (change.from_day, change.to_day) == (day(21), day(25))


def test_one_recorded_day_has_nothing_to_compare_with():
    found = since(planned((0, "floor"), (10, "step")), [recorded(8, 2.0), recorded(11, 6.0, DEEP, "step")], 20)
    assert found.changes == ()
    assert [(each.exercise, each.side, each.day) for each in found.first] == [("deep", "left", day(11))]
    # and nothing since the review is neither
    before = since(planned((0, "floor"), (10, "step")), [recorded(8, 2.0)], 20)
    assert (before.changes, before.first) == ((), ())


def test_what_is_past_a_lower_bound_or_of_a_doubtful_zero_is_undecided_and_a_check_decides():
    sessions = [recorded(2, 0.0), recorded(9, 8.0)]
    assert since(PLAN, sessions, 20).changes[0].answer == "undecided"
    own = OwnUncertainty(
        {"own_standing_deg": 1.0}, {"own_standing_deg": "a check of 2026"}, ("c.json",), (InputFile("c.json", "a"),)
    )
    assert since(replace(PLAN, own_uncertainty=own), sessions, 20).changes[0].answer == "real"
    doubtful = [recorded(2, 0.0), recorded(9, 8.0, doubtful=True)]
    assert since(replace(PLAN, own_uncertainty=own), doubtful, 20).changes[0].answer == "undecided"


def test_a_day_before_the_course_is_refused_as_ever():
    with pytest.raises(CourseError):
        since(PLAN, [], -1)

"""Plan files with stages, a calendar, criteria and own ranges: every field read, every contradiction one sentence."""

import math
from datetime import date, time

import pytest

from imu_rom.dose.criteria import Criteria, LoadTest
from imu_rom.dose.own_range import own_range_for, with_own_range
from imu_rom.dose.plan import CalendarEntry, OwnRange, Protocol
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.errors import PlanError

COURSE = """\
[plan]
format = 1
patient = "P-0009"
tendon_site = "achilles insertion"
from = 2026-12-01
irritability = "high"
settles_within_h = 24
record = "2 sessions a week"
day_starts_at = 03:00:00
time_zone = "Europe/Berlin"
[plan.protocol]
name = "floor-first"
citation = "common practice, no source"
from_memory = "the angles"
[[own_range]]
side = "left"
deg = 32.0
standard_uncertainty_deg = 1.4
on = 2026-12-01
by = "knee-to-wall lunge"
[[own_range]]
side = "left"
deg = 36.04
on = 2027-01-11
by = "knee-to-wall lunge"
[[calendar]]
from = 2026-12-01
stage = "floor level"
why = "start"
[[calendar]]
from = 2026-12-15
stage = "into range"
[[calendar]]
from = 2026-12-22
stage = "floor level"
why = "flare"
[[stage]]
name = "floor level"
goal = "load without compression"
weeks = [1, 2]
[stage.criteria]
share_of_dose = 0.8
pain_during = 5
pain_after = 4
pain_next_morning = 3
no_rise_week_on_week = true
days_stable = 7
load_test = { name = "10 single-leg heel raises", pain = 2 }
side_difference_deg = 5
in_words = ["walks 30 minutes without a limp", "trusts the heel"]
[[stage.exercise]]
name = "floordrop"
in_words = "heel drop, down to the floor"
joint = "ankle"
motion = "dorsiflexion"
side = "left"
proximal = "shank"
distal = "foot"
sets = 3
repetitions = 15
knee = "straight"
repetition_maximum = 15
end_range_deg = "at least -5"
[[stage]]
name = "into range"
[[stage.exercise]]
name = "stepdrop"
joint = "ankle"
motion = "dorsiflexion"
side = "left"
proximal = "shank"
distal = "foot"
sets = 3
repetitions = 15
end_range_deg = "80 % of own range"
"""


def plan_of(text, **how):
    return plan_from_bytes(text.encode(), "plan.toml", **how)


def changed(*pairs, text=COURSE):
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def sentence(text):
    with pytest.raises(PlanError) as caught:
        plan_of(text)
    said = str(caught.value)
    assert "\n" not in said
    assert said.endswith(".")
    return said


def test_every_field_of_a_course_is_read():
    plan = plan_of(COURSE)
    assert plan.from_date == date(2026, 12, 1)
    assert (plan.irritability, plan.settles_within_h, plan.sessions_recorded_per_week) == ("high", 24, 2)
    assert (plan.day_starts_at, plan.time_zone) == (time(3), "Europe/Berlin")
    assert plan.protocol == Protocol("floor-first", "common practice, no source", "the angles")
    assert plan.own_ranges == (
        OwnRange("left", 32.0, date(2026, 12, 1), "knee-to-wall lunge", 1.4),
        OwnRange("left", 36.04, date(2027, 1, 11), "knee-to-wall lunge"),
    )
    assert plan.calendar == (
        CalendarEntry(date(2026, 12, 1), "floor level", "start"),
        CalendarEntry(date(2026, 12, 15), "into range"),
        CalendarEntry(date(2026, 12, 22), "floor level", "flare"),
    )
    floor, deeper = plan.stages
    assert (floor.goal, floor.weeks) == ("load without compression", (1, 2))
    assert floor.criteria == Criteria(
        share_of_dose=0.8,
        pain_during_at_most=5,
        pain_after_at_most=4,
        pain_next_morning_at_most=3,
        no_rise_week_on_week=True,
        days_stable=7,
        load_test=LoadTest("10 single-leg heel raises", 2),
        side_difference_deg_at_most=5,
        in_words=("walks 30 minutes without a limp", "trusts the heel"),
    )
    assert deeper.criteria == Criteria()
    drop = floor.exercises[0]
    assert (drop.in_words, drop.knee, drop.repetition_maximum) == ("heel drop, down to the floor", "straight", 15)
    assert (drop.end_range_deg, drop.end_range_reference, drop.share_of_own_range) == ((-5, math.inf), "neutral", None)


def test_without_a_stage_the_calendars_last_entry_applies():
    plan = plan_of(COURSE)
    assert plan.current_stage == "floor level"
    assert plan_of(
        changed(('[[calendar]]\nfrom = 2026-12-22\nstage = "floor level"\nwhy = "flare"\n', ""))
    ).current_stage == ("into range")
    assert [plan.stage_on(date(2026, 12, day)) and plan.stage_on(date(2026, 12, day)).name for day in (14, 15, 22)] == [
        "floor level",
        "into range",
        "floor level",
    ]
    assert plan.stage_on(date(2026, 11, 30)) is None


@pytest.mark.parametrize(
    ("words", "shares", "angles"),
    [
        # 0.8 x 36.04 = 28.832, 0.75 x 36.04 = 27.03
        ('"80 % of own range"', (0.8, math.inf), (28.8, math.inf)),
        ('"at least 80% of own range"', (0.8, math.inf), (28.8, math.inf)),
        ('"75 to 100 % of own range"', (0.75, 1.0), (27.0, 36.0)),
        ('"75 % to 100 % of own range"', (0.75, 1.0), (27.0, 36.0)),
        ('"at least 12.5 deg"', None, (12.5, math.inf)),
        ("[5, 15]", None, (5, 15)),
    ],
)
def test_a_window_in_words_becomes_angles_by_the_range_last_measured(words, shares, angles):
    drop = plan_of(changed(('"80 % of own range"', words))).stages[1].exercises[0]
    assert drop.share_of_own_range == shares
    assert drop.end_range_deg == angles
    assert drop.end_range_reference == ("neutral" if shares is None else "own range")


def test_the_own_range_of_a_day_is_what_was_measured_last_by_then():
    plan = plan_of(COURSE)
    drop = plan.stages[1].exercises[0]
    # 0.8 x 32 = 25.6; before the first measurement there is nothing better than that
    for day, own, low in (
        (date(2026, 12, 20), 32, 25.6),
        (date(2027, 1, 11), 36.04, 28.8),
        (date(2026, 1, 1), 32, 25.6),
    ):
        assert own_range_for(plan, drop, day).own_range_deg == own
        assert with_own_range(plan, day).stages[1].exercises[0].end_range_deg == (low, math.inf)


@pytest.mark.parametrize(
    "other",
    ['side = "right"', 'side = "left"\njoint = "knee"\nmotion = "flexion"'],
)
def test_the_own_range_of_another_side_or_joint_is_not_taken(other):
    text = COURSE.replace('[[own_range]]\nside = "left"', f"[[own_range]]\n{other}")
    said = sentence(text)
    assert "field stage.exercise.end_range_deg: must be in degrees as long as the own range of left ankle dors" in said
    assert said.endswith("measure it and add [[own_range]] with side, deg, on and by.")


def test_a_published_programme_is_nobodys_yet_so_its_shares_stay_without_angles():
    text = COURSE[: COURSE.index("[[own_range]]")] + COURSE[COURSE.index("[[calendar]]") :]
    assert "add [[own_range]]" in sentence(text)
    drop = plan_of(text, published=True).stages[1].exercises[0]
    assert (drop.share_of_own_range, drop.end_range_deg, drop.asks_end_range) == ((0.8, math.inf), None, False)


def test_own_ranges_may_be_written_in_any_order():
    first = COURSE.index("[[own_range]]")
    second = COURSE.index("[[own_range]]", first + 1)
    last = COURSE.index("[[calendar]]")
    text = COURSE[:first] + COURSE[second:last] + COURSE[first:second] + COURSE[last:]
    assert plan_of(text) == plan_of(COURSE)


DATED = COURSE[: COURSE.index("[[calendar]]")] + COURSE[COURSE.index("[[stage]]") :]


def dated(first, second):
    return changed(
        ('name = "floor level"\n', f'name = "floor level"\n{first}\n'),
        ('name = "into range"\n', f'name = "into range"\n{second}\n'),
        text=DATED,
    )


def test_stages_may_follow_each_other_by_their_own_dates():
    plan = plan_of(dated("from = 2026-12-01\nuntil = 2026-12-14", "from = 2026-12-15"))
    assert [each.from_date for each in plan.stages] == [date(2026, 12, 1), date(2026, 12, 15)]
    assert plan.stages[0].until_date == date(2026, 12, 14)
    assert plan.stage_on(date(2026, 12, 15)).name == "into range"


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (
            "from = 2026-12-15",
            "from = 2026-12-15",
            "stage.from: must come after the first day of stage 'floor level' (20",
        ),
        (
            "from = 2026-12-15",
            "from = 2026-12-01",
            "stage.from: must come after the first day of stage 'floor level' (20",
        ),
        (
            "from = 2026-12-01\nuntil = 2026-12-15",
            "from = 2026-12-15",
            "stage.from: must come after the last day of stage 'floor level' (2026-12-15), or the stages overlap",
        ),
        (
            "from = 2026-12-02\nuntil = 2026-12-01",
            "",
            "stage.until: must not lie before from (2026-12-02), got 2026-12-01",
        ),
        ("until = 2026-12-01", "", "stage.until: must come with from, the stage's first day, got 2026-12-01"),
    ],
)
def test_dates_that_contradict_each_other(first, second, expected):
    assert f"field {expected}" in sentence(dated(first, second))


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "from = 2026-12-15",
            "from = 2026-11-15",
            "calendar.from: must come after the entry before it (after 2026-12-01), g",
        ),
        (
            "from = 2026-12-15",
            "from = 2026-12-01",
            "calendar.from: must come after the entry before it (after 2026-12-01), g",
        ),
        (
            'stage = "into range"',
            'stage = "in range"',
            "calendar.stage: must be the name of a stage of the plan (floor level, into range), got 'in range';",
        ),
        (
            'name = "into range"',
            'name = "into range"\nfrom = 2026-12-15',
            "stage.from: must be left out where there is a [[calendar]], which says when each stage applied, got",
        ),
        (
            'patient = "P-0009"',
            'stage = "third"',
            "plan.stage: must be the name of a stage of the plan (floor level, into range), got 'third'",
        ),
        (
            "weeks = [1, 2]",
            "weeks = [2, 1]",
            "stage.weeks: must be [first, last] with first not after last, got [2, 1]",
        ),
        ("weeks = [1, 2]", "weeks = [1]", "stage.weeks: must be [low, high], got [1]"),
        (
            "on = 2027-01-11",
            "on = 2026-12-01",
            "own_range.on: must differ from one own_range to the next of the same side, joint and motion, got 20",
        ),
        (
            "deg = 32.0",
            "deg = 82.0",
            "own_range.deg: must lie in what ankle dorsiflexion can reach, -80 to 50 deg, got 82",
        ),
        ("deg = 32.0", 'deg = "32"', "own_range.deg: must be a number, got '32'"),
        (
            "deg = 32.0",
            'deg = 32.0\njoint = "knee"',
            "own_range.motion: must be given where the other of joint and motion is",
        ),
        (
            "deg = 32.0",
            'deg = 32.0\njoint = "toe"\nmotion = "flexion"',
            "own_range.joint: must be one of ankle, knee, ",
        ),
        (
            "deg = 32.0",
            'deg = 32.0\njoint = "knee"\nmotion = "inversion"',
            "own_range.motion: must be a motion of the knee (flexion or extension), got 'inversion'",
        ),
        (
            "deg = 36.04",
            "deg = -3",
            "stage.exercise.end_range_deg: must be in degrees where the own range is not above 0 deg",
        ),
        (
            '"80 % of own range"',
            '"0 % of own range"',
            "stage.exercise.end_range_deg: must be a share of more than 0 % and",
        ),
        (
            '"80 % of own range"',
            '"90 to 80 % of own range"',
            "stage.exercise.end_range_deg: must be a share of more than",
        ),
        (
            '"80 % of own range"',
            '"140 % of own range"',
            "stage.exercise.end_range_deg: must lie in what ankle dorsiflexion",
        ),
        (
            '"80 % of own range"',
            '"deep"',
            "stage.exercise.end_range_deg: must be [low, high], 'at least 5', '80 % of own range' or '80 to 100",
        ),
        (
            '"80 % of own range"',
            "true",
            "stage.exercise.end_range_deg: must be [low, high], 'at least 5', '80 % of own ra",
        ),
        (
            '"80 % of own range"',
            '[-5, 0]\nend_range_reference = "own range"',
            "stage.exercise.end_range_reference: must be 'neutral' where end_range_deg is in degrees, got 'own r",
        ),
        (
            '"80 % of own range"',
            '"80 % of own range"\nend_range_reference = "neutral"',
            "stage.exercise.end_range_reference: must be 'own range', or left out, where end_range_deg is a shar",
        ),
        (
            '"80 % of own range"',
            '"80 % of own range"\nzero = "own standing"',
            "stage.exercise.zero: must be the joint's own zero where end_range_deg is a share of the own range,",
        ),
        ("pain_during = 5", "pain_during = 11", "stage.criteria.pain_during: must be at most 10, got 11"),
        ("pain_after = 4", "pain_after = -1", "stage.criteria.pain_after: must be at least 0, got -1"),
        ("share_of_dose = 0.8", "share_of_dose = 80", "stage.criteria.share_of_dose: must be at most 1, got 80"),
        ("days_stable = 7", "days_stable = 0", "stage.criteria.days_stable: must be at least 1, got 0"),
        (
            "no_rise_week_on_week = true",
            'no_rise_week_on_week = "yes"',
            "stage.criteria.no_rise_week_on_week: must be true or",
        ),
        (
            '{ name = "10 single-leg heel raises", pain = 2 }',
            "{ pain = 2 }",
            "stage.criteria.load_test.name: must be given",
        ),
        (
            '{ name = "10 single-leg heel raises", pain = 2 }',
            '{ name = "" , pain = 2 }',
            "stage.criteria.load_test.name: mu",
        ),
        ('"2 sessions a week"', '"twice"', "plan.record: must be '2 sessions a week' or 'every session', got 'twice'"),
        ('"2 sessions a week"', "2", "plan.record: must be '2 sessions a week' or 'every session', got 2"),
        (
            '"2 sessions a week"',
            '"0 sessions a week"',
            "plan.record: must be '2 sessions a week' or 'every session', got",
        ),
        (
            "03:00:00",
            '"03:00"',
            "plan.day_starts_at: must be a time of day such as 03:00:00, without quotes, got '03:00'",
        ),
        (
            "03:00:00",
            "13:00:00",
            "plan.day_starts_at: must lie before noon, as what comes before it belongs to the evening",
        ),
        (
            '"Europe/Berlin"',
            '"Berlin"',
            "plan.time_zone: must be a time zone's name such as 'Europe/Berlin', got 'Berlin'; per",
        ),
        (
            '"Europe/Berlin"',
            '"Europe"',
            "plan.time_zone: must be a time zone's name such as 'Europe/Berlin', got 'Europe'",
        ),
        (
            '"Europe/Berlin"',
            '"../etc/passwd"',
            "plan.time_zone: must be a time zone's name such as 'Europe/Berlin', got '..",
        ),
        ("settles_within_h = 24", "settles_within_h = 0", "plan.settles_within_h: must be more than 0 h, got 0"),
        ('"high"', '"very"', "plan.irritability: must be 'low', 'moderate' or 'high', got 'very'"),
        (
            '"floor-first"',
            '"Floor first"',
            "plan.protocol.name: must be small letters and digits, joined by hyphens, got",
        ),
        ('knee = "straight"', 'knee = "bnt"', "stage.exercise.knee: must be 'straight' or 'bent', got 'bnt'"),
        (
            "repetition_maximum = 15",
            "repetition_maximum = 0",
            "stage.exercise.repetition_maximum: must be at least 1, got 0",
        ),
        (
            "[[calendar]]",
            "[[calender]]",
            "calender: must be one of plan, uncertainty, own_range, calendar, study, stage, got unk",
        ),
    ],
)
def test_what_a_course_cant_mean_is_one_sentence(old, new, expected):
    assert f"field {expected}" in sentence(changed((old, new)))


def test_a_stage_that_the_calendar_never_names_cant_be_the_current_one():
    text = changed(
        ('patient = "P-0009"', 'stage = "into range"'),
        ('[[calendar]]\nfrom = 2026-12-15\nstage = "into range"\n', ""),
    )
    said = sentence(text)
    assert said.startswith(
        "plan.toml:3:9: field plan.stage: must be a stage of the calendar, which says when each applied"
    )
    assert said.endswith("add a [[calendar]] entry for it, or leave stage out.")


def test_the_place_of_a_mistake_in_a_calendar_is_its_line():
    line = COURSE[: COURSE.index("from = 2026-12-22")].count("\n") + 1
    assert sentence(changed(("from = 2026-12-22", "from = 2026-12-10"))).startswith(
        f"plan.toml:{line}:8: field calendar.from"
    )


def test_the_knees_own_angle_is_measured_and_not_declared():
    text = changed(("achilles insertion", "patellar"))
    text = text.replace('joint = "ankle"\nmotion = "dorsiflexion"', 'joint = "knee"\nmotion = "flexion"')
    assert "field stage.exercise.knee: must be left out for the knee, whose angle is measured, got 'straight'" in (
        sentence(text)
    )


def test_every_session_is_recorded_where_the_plan_says_nothing_else():
    assert plan_of(changed(('"2 sessions a week"', '"every session"'))).sessions_recorded_per_week is None
    assert plan_of(changed(('"2 sessions a week"', '"1 session a week"'))).sessions_recorded_per_week == 1
    assert plan_of(changed(('record = "2 sessions a week"\n', ""))).sessions_recorded_per_week is None

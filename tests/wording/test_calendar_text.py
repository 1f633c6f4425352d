"""The calendar in words: all that the plan prescribes is said, with its numbers, and nothing that it does not."""

import re
from dataclasses import replace
from datetime import date, time

import pytest

from imu_rom.dose.criteria import Criteria, LoadTest
from imu_rom.dose.exercise import CompressionThreshold, Exercise, Load, Tempo
from imu_rom.dose.plan import CalendarEntry, OwnRange, Plan, Stage
from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol
from imu_rom.wording.calendar_text import calendar_lines
from imu_rom.wording.cautions import stage_cautions
from imu_rom.wording.criteria_text import criteria_in_words

FLOOR = Exercise(
    name="floordrop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    sets=3,
    repetitions=15,
    tempo=Tempo(3.0, None, 3.0),
    end_range="floor",
    surface="floor",
    knee="straight",
    footwear="trainers",
    heel_lift_mm=12,
    load=Load("both legs", "both legs"),
    compression_threshold=CompressionThreshold(0.0, "neutral by convention"),
    per_day=2,
    days_per_week=7,
)
DROP = replace(
    FLOOR,
    name="drop",
    knee="bent",
    repetitions=10,
    repetition_maximum=12,
    rest_s=90,
    start_deg=-25.0,
    end_range="angle",
    share_of_own_range=(0.5, 0.8),
    limit_deg=32.0,
    surface="step",
    step_height_mm=100,
    heel_lift_mm=0,
    compression_threshold=CompressionThreshold(4.0, "first pain"),
    past_threshold_s_per_set=(20.0, 60.0),
    load=Load("single leg", "other leg", 0.8, 5.0),
)
HOLD = replace(
    DROP, name="stay", kind="hold", sets=5, repetitions=1, tempo=Tempo(end_range_hold_s=45.0), per_day=1, limit_deg=None
)
PLAN = Plan(
    title="Left heel",
    tendon_site="achilles insertion",
    stages=(
        Stage(
            "floor",
            (FLOOR,),
            goal="load without dorsiflexion",
            weeks=(1, 2),
            criteria=Criteria(share_of_dose=0.8, pain_during_at_most=5, days_stable=3, in_words=("ready",)),
        ),
        Stage("range", (DROP, HOLD)),
        Stage("later", (replace(FLOOR, per_day=None, days_per_week=None),)),
    ),
    current_stage="range",
    patient="P-0017",
    from_date=date(2026, 12, 5),
    calendar=(
        CalendarEntry(date(2026, 12, 1), "floor"),
        CalendarEntry(date(2026, 12, 15), "range"),
        CalendarEntry(date(2026, 12, 19), "floor", "flare after a long walk"),
        CalendarEntry(date(2026, 12, 29), "range"),
    ),
    own_ranges=(
        OwnRange("left", 30.0, date(2026, 11, 28), "knee-to-wall lunge", 1.4),
        OwnRange("left", 36.0, date(2026, 12, 20), "knee-to-wall lunge"),
    ),
    irritability="moderate",
    settles_within_h=24,
    sessions_recorded_per_week=2,
    day_starts_at=time(3),
    time_zone="Europe/Berlin",
)


def said(plan=PLAN, day=None, width=1000):
    return "\n".join(" ".join(line.split()) for line in calendar_lines(plan, width, 7, day))


def block(text, heading):
    return next(part for part in text.split("\nStage ") if part.startswith(heading))


def test_the_calendar_says_dates_steps_back_reasons_and_open_ends():
    lines = said().split("\n")
    start = lines.index("Calendar")
    assert lines[start + 1 : start + 6] == [
        "2026-12-01 to 2026-12-14 'floor', 14 days",
        "2026-12-15 to 2026-12-18 'range', 4 days",
        "2026-12-19 to 2026-12-28 'floor', 10 days, a step back (flare after a long walk)",
        "from 2026-12-29 'range', no end set",
        "no date yet 'later'",
    ]


def test_the_head_says_what_holds_for_all_stages():
    head = said().partition("\nCalendar\n")[0]
    for words in (
        "Left heel, for P-0017",
        "tendon achilles insertion, compressed by ankle dorsiflexion",
        "applies from 2026-12-05; before that another version",
        "irritability moderate; pain should settle within 24 h",
        "2 sessions a week, with sensors; the rest is ticked in the diary",
        "begin at 03:00",
        "time zone Europe/Berlin",
        "left ankle dorsiflexion 30 deg (knee-to-wall lunge, 2026-11-28, standard uncertainty 1.4 deg)",
    ):
        assert words in head
    assert "every session, with sensors" in said(replace(PLAN, sessions_recorded_per_week=None))


def test_a_stage_says_dates_dose_surroundings_totals_and_criteria():
    floor = block(said(), "1 of 3: 'floor'")
    for words in (
        "dates 2026-12-01 to 2026-12-14\n2026-12-19 to 2026-12-28",
        "goal load without dorsiflexion",
        "weeks 1 to 2 of the programme; the calendar gives it 24 days",
        "floordrop: left ankle dorsiflexion",
        "dose 3 sets of 15 repetitions, twice a day, 7 days a week",
        "depth end with the foot back on the floor, flat to within 3 deg",
        "compressed past 0 deg (basis: neutral by convention)",
        "on both legs throughout; knee straight; on the floor; footwear trainers; heel lift of 12 mm",
        "not prescribed rest, start angle, limit",
        # 45 of 6 s twice a day, 24 days long
        (
            "45 repetitions a session, 90 a day, 630 a week, 2160 in its 24 days; "
            "under tension 270 s a session, 540 s a day, 63 min a week, 216 min in its 24 days"
        ),
        (
            "to move on all of this, over the last 3 days\nat least 80 % of the prescribed repetitions done\n"
            "pain of at most 5 of 10 during the exercises\nfor the clinician to answer: ready"
        ),
    ):
        assert words in floor


def test_windows_by_the_own_range_say_which_range():
    text = block(said(day=date(2026, 12, 16)), "2 of 3: 'range' (holds on 2026-12-16)")
    assert "from -25 deg, end between 15 and 24 deg, 50 to 80 % of the own range (30 deg on 2026-11-28)" in text
    text = block(said(day=date(2026, 12, 30)), "2 of 3: 'range' (holds on 2026-12-30)")
    assert "end between 18 and 28.8 deg, 50 to 80 % of the own range (36 deg on 2026-12-20)" in text


def test_depth_load_and_weight_are_said():
    text = block(said(day=date(2026, 12, 30)), "2 of 3: 'range'")
    for words in (
        "with a weight that can be moved 12 times and no more",
        "tempo 3 s into the end range, 3 s back; 90 s rest between sets",
        "limit 32 deg, not to be passed",
        "past 4 deg (basis: first pain); each set should spend 20 to 60 s past it",
        (
            "on one leg into the end range, back on the other leg; 80 % of body weight; 5 kg added; "
            "knee bent; on a step, 100 mm high; footwear trainers; no heel lift"
        ),
    ):
        assert words in text


def test_holds_are_called_holds():
    text = block(said(day=date(2026, 12, 30)), "2 of 3: 'range'").partition("stay: ")[2].partition("to move on")[0]
    assert "5 sets of 1 hold, once a day" in text
    assert "lie between 18 and 28.8 deg" in text
    assert "repetition" not in text
    assert "adds up to 5 holds a session, 35 a week; held 225 s a session, 26.2 min a week" in said()


def test_exercises_of_one_side_and_kind_are_added_up_together():
    both = replace(PLAN, stages=(Stage("both", (FLOOR, replace(FLOOR, name="other"), HOLD)),), calendar=())
    text = said(replace(both, current_stage="both"))
    assert text.count("adds up to 45 repetitions a session, 90 a day, 630 a week; under tension 270 s a session") == 2
    assert "Together\nrepetitions 90 repetitions a session, 180 a day, 1260 a week; under tension 540 s a" in text
    sides = replace(both, stages=(Stage("both", (FLOOR, DROP, replace(FLOOR, name="other", side="right"))),))
    text = said(replace(sides, current_stage="both"))
    assert "Together\nrepetitions left side, 75 repetitions a session, 150 a day" in text
    assert "Together" not in said()
    seldom = Stage("both", (FLOOR, replace(FLOOR, name="other", days_per_week=3.5)))
    text = said(replace(both, stages=(seldom,), current_stage="both"))
    assert "repetitions 945 repetitions a week; under tension 94.5 min a week; not all in one session" in text
    third = replace(FLOOR, per_day=1, days_per_week=2.3)
    text = said(replace(both, stages=(Stage("both", (third,)),), current_stage="both"))
    assert "45 repetitions a session, 103.5 a week on average; under tension" in text


def test_what_is_not_prescribed_is_not_made_up():
    later = block(said(), "3 of 3: 'later'")
    assert "dates none yet" in later
    assert "45 repetitions a session; under tension 270 s a session; how often is not prescribed" in later
    assert "to finish no criteria are set" in later
    for each in ("None", "nan", "inf "):
        assert each not in said()


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (
            date(2026, 12, 4),
            "2026-12-04: this version of the plan applies from 2026-12-05 only; look into the one before it.",
        ),
        (date(2026, 12, 20), "2026-12-20: 'floor' holds, day 2 of 10."),
        (date(2027, 2, 1), "2027-02-01: 'range' holds, day 35."),
    ],
)
def test_the_stage_of_a_day_is_marked_once(day, words):
    text = said(day=day)
    assert words in text
    assert text.count("(holds on ") == ("version" not in words)
    assert "(holds on" not in said()


def test_a_day_between_two_stages_has_none():
    floor, ranged, _ = PLAN.stages
    stages = (
        replace(floor, from_date=date(2026, 12, 1), until_date=date(2026, 12, 7)),
        replace(ranged, from_date=date(2026, 12, 14), until_date=date(2026, 12, 20)),
    )
    plan = replace(PLAN, calendar=(), from_date=None, stages=stages)
    assert "no stage holds; 'floor' begins on 2026-12-01." in said(plan, date(2026, 11, 1))
    assert "no stage holds; 'floor' ends on 2026-12-07 and 'range' begins on 2026-12-14." in said(
        plan, date(2026, 12, 9)
    )
    assert "no stage holds; 'range' ends on 2026-12-20." in said(plan, date(2027, 1, 1))
    undated = replace(plan, stages=(floor, ranged))
    assert "No stage has dates. The plan names 'range' as the one that holds." in said(undated)
    assert "2026-11-01: 'range' holds." in said(undated, date(2026, 11, 1))
    assert "7560 in the programme's 12 weeks" in said(
        replace(undated, stages=(replace(floor, weeks=(1, 12)),), current_stage="floor")
    )


def test_the_cautions_come_last():
    text = said()
    assert text.endswith(stage_cautions()[-1])
    for each in stage_cautions():
        assert each in text


@pytest.mark.parametrize("width", [60, 85, 120])
@pytest.mark.parametrize("name", protocol_names())
def test_lines_are_as_wide_as_the_terminal_and_labels_stand_apart(name, width):
    lines = calendar_lines(read_protocol(name), width, 7)
    # a citation's address is longer than a narrow terminal
    assert all(len(line) <= width or " doi:" in f" {line.strip()}" for line in lines)
    labels = "not prescribed|as declared|repetitions|to move on|to finish|programme|irritability"
    assert not [line for line in lines if re.match(rf" {{2,4}}(?! )(?:{labels})(?!  )", line)]


def test_every_criterion_is_said():
    words = criteria_in_words(
        Criteria(
            share_of_dose=0.9,
            pain_during_at_most=5,
            pain_after_at_most=4,
            pain_next_morning_at_most=3,
            no_rise_week_on_week=True,
            load_test=LoadTest("10 single-leg heel raises", 2),
            side_difference_deg_at_most=5,
            in_words=("sleeps well",),
        ),
        7,
    )
    assert words == [
        "all of this, over the last 7 days (the usual; days_stable is not set)",
        "at least 90 % of the prescribed repetitions done",
        "pain of at most 5 of 10 during the exercises",
        "pain of at most 4 of 10 straight after",
        "pain of at most 3 of 10 next morning, at the first steps",
        "morning pain and stiffness not rising from one week to the next",
        "load test passed: 10 single-leg heel raises, pain of at most 2 of 10",
        "end range within 5 deg of the other side's",
        "for the clinician to answer: sleeps well",
    ]
    assert criteria_in_words(Criteria(days_stable=7), 7) == []

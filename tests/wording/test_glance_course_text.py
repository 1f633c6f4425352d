"""Pain and the change since the last review, as the first screen of a session says them."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from imu_rom.dose.criteria import Criteria
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure_answer import DetectableChange, EndRangeChange
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.since_review import FirstRecorded, Review, SinceReview
from imu_rom.dose.weeks import follow_up
from imu_rom.wording.glance_course_text import change_line, pain_line, unknown_line
from imu_rom.wording.review_text import review_sentences

FIRST = date(2026, 12, 1)
DROP = Exercise("heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15)
ASKED = Criteria(pain_during_at_most=5, pain_after_at_most=5, pain_next_morning_at_most=3)
PLAN = Plan("Heel", "achilles insertion", (Stage("step", (DROP,), FIRST, criteria=ASKED),), "step")
REVIEW = Review(FIRST, ("stage",))


def course(*lines, plan=PLAN, until=FIRST):
    return follow_up([plan], [], [DiaryEntry(FIRST, **each) for each in lines], until)


def test_pain_is_told_with_what_the_stage_asks():
    line = pain_line(
        course(
            {"pain_during": 4.0, "pain_after": 2.0},
            {"pain_during": 3.0},
            {"pain_next_morning": 2.0, "stiffness_min": 10.0},
        )
    )
    assert (line.answer, line.sign) == ("4, morning 2", "well")
    assert line.sentence == (
        "Highest of 2026-12-01, of 10: during 4 (asked at most 5), after 2 (asked at most 5), next morning 2 (asked at "
        "most 3); stiff for 10 min."
    )


@pytest.mark.parametrize(
    ("said", "answer", "sign"),
    [
        ({"pain_during": 4.0}, "4, morning ?", "open"),
        ({"pain_next_morning": 2.0}, "?, morning 2", "open"),
        ({"pain_during": 2.0, "pain_next_morning": 4.0}, "2, morning 4", "look"),
        ({"pain_during": 6.0, "pain_next_morning": 2.0}, "6, morning 2", "look"),
        ({"pain_during": 1.0, "pain_next_morning": 1.0, "red_flags": ("pop",)}, "1, morning 1", "look"),
        ({"done": "yes"}, "not noted", "open"),
    ],
)
def test_what_is_unknown_is_open_and_what_is_beyond_is_to_look_at(said, answer, sign):
    line = pain_line(course(said))
    assert (line.answer, line.sign) == (answer, sign)


def test_without_criteria_nothing_is_called_well():
    plan = replace(PLAN, stages=(Stage("step", (DROP,), FIRST),))
    line = pain_line(course({"pain_during": 1.0, "pain_next_morning": 1.0}, plan=plan))
    assert (line.answer, line.sign) == ("1, morning 1", "none")
    # and more than the pain-monitoring model's 5 is to look at all the same
    assert pain_line(course({"pain_during": 6.0, "pain_next_morning": 1.0}, plan=plan)).sign == "look"


def changed(change, answer, basis="own check", to_day=FIRST + timedelta(days=9), from_day=FIRST):
    detectable = DetectableChange(1.0, 2.7719, basis, "a check")
    one = EndRangeChange(
        "heeldrop", "left", from_day, to_day, "since the review", 6.0, 6.0 + change, change, detectable, answer
    )
    return replace(course(until=FIRST + timedelta(days=9)), since_review=SinceReview(REVIEW, (one,), ()))


@pytest.mark.parametrize(
    ("change", "answer", "basis", "sign", "told"),
    [
        (
            -3.0,
            "real",
            "own check",
            "look",
            "-3.0 deg, a change, more than measuring again gives (detectable: 2.8 deg)",
        ),
        (1.0, "not shown", "own check", "none", "+1.0 deg, no change shown, as measuring again may give as much"),
        (4.0, "undecided", "lower bound", "open", "can't be told (detectable: over 2.8 deg; how one person varies"),
        (1.0, "undecided", "own check", "open", "the zero of one of these days is in doubt"),
    ],
)
def test_a_change_is_beyond_the_detectable_one_or_not(change, answer, basis, sign, told):
    line = change_line(DROP, changed(change, answer, basis))
    assert (line.answer, line.sign) == (f"{change:+.1f} deg", sign)
    assert told in line.sentence
    assert "the first recorded since the last review (2026-12-01: a stage began)" in line.sentence
    # the course's page says the same
    assert told in review_sentences(changed(change, answer, basis))[0]


def test_what_was_last_known_at_the_review_is_told_from_what_came_after():
    line = change_line(DROP, changed(1.0, "not shown", from_day=FIRST - timedelta(days=2)))
    assert "on 2026-11-29, the last recorded before the last review" in line.sentence


def test_what_cannot_be_compared_says_why():
    last = FIRST + timedelta(days=9)
    nothing = course(until=last)
    first = replace(nothing, since_review=SinceReview(REVIEW, (), (FirstRecorded("heeldrop", "left", last),)))
    assert change_line(DROP, first).answer == "first since"
    assert "nothing to compare yet" in change_line(DROP, first).sentence
    assert "2026-12-10 is the one recorded day" in review_sentences(first)[0]
    # another exercise, or another day, is not this session's
    assert change_line(replace(DROP, side="right"), changed(1.0, "not shown")).answer == "not known"
    assert change_line(DROP, changed(1.0, "not shown", to_day=last - timedelta(days=1))).answer == "not known"
    assert change_line(DROP, replace(nothing, since_review=None)).answer == "not known"
    assert "no day of a review is known" in review_sentences(replace(nothing, since_review=None))[0]
    assert review_sentences(nothing) == (
        "Nothing with an angle was recorded since the last review (2026-12-01: a stage began).",
    )


def test_without_a_course_one_sentence_says_so():
    line = unknown_line()
    assert (line.answer, line.sign) == ("not known", "none")
    assert line.sentence.count(".") == 1
    assert "--course" in line.sentence

"""A course in words: each fact with its figures, urgent things first, and never a cause or a decision."""

from dataclasses import replace
from datetime import date, timedelta
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.case_answer import CaseFor, CriterionAnswer, CriterionName, Missing, Pattern, PatternName, Reason
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure_answer import DetectableChange, EndRangeChange, Trend
from imu_rom.dose.follow_up import Interval
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.weeks import follow_up
from imu_rom.wording.case_text import case_sentences, criteria_table, criterion_name, missing_sentences
from imu_rom.wording.change_text import _trend, change_sentences, change_table, detectable_sentence
from imu_rom.wording.course_figures import days_in_words, percent
from imu_rom.wording.pattern_text import pattern_sentences

FIRST = date(2026, 12, 1)

NUMBERS = {
    "stops short": {
        "sessions": 9.0, "sessions_short": 7.0, "sessions_reached": 1.0, "sessions_zero_doubtful": 2.0,
        "probability_by_chance": 0.0002, "end_range_median_deg": 2.34, "window_low_deg": 5.0,
    },
    "past the limit": {
        "sessions": 9.0, "sessions_past": 3.0, "sessions_within": 6.0, "sessions_zero_doubtful": 0.0,
        "repetitions_past": 14.0, "limit_deg": 18.0, "probability_by_chance": 0.0084,
    },
    "tempo shorter": {
        "sessions": 8.0, "eccentric_s": 1.24, "eccentric_prescribed_s": 3.0, "eccentric_least_s": 2.25,
        "eccentric_sessions_shorter": 8.0, "eccentric_probability_by_chance": 0.004, "concentric_s": 3.0,
        "concentric_prescribed_s": 3.0, "concentric_least_s": 2.25, "concentric_sessions_shorter": 0.0,
        "concentric_probability_by_chance": 1.0,
    },
    "holds shorter": {
        "sessions": 8.0, "hold_s": 9.0, "hold_prescribed_s": 15.0, "hold_least_s": 11.25,
        "hold_sessions_shorter": 7.0, "hold_probability_by_chance": 0.035,
    },
    "fatigue within a set": {
        "sets": 24.0, "end_range_change_deg": -2.1, "end_range_change_probability_by_chance": 0.001,
        "eccentric_change_share": -0.12, "concentric_change_share": 0.2,
    },
    "more than prescribed": {
        "weeks": 4.0, "weeks_more": 1.0, "sessions": 8.0, "sessions_more": 2.0, "largest_share": 1.34,
    },
    "side difference": {
        "difference_deg": -6.2, "low_deg": -9.0, "high_deg": -3.4, "left_sessions": 6.0, "right_sessions": 5.0,
    },
    "morning pain rises with exposure": {
        "days": 31.0, "days_asked": 20.0, "days_with_ticks": 4.0, "correlation": 0.61, "correlation_low": 0.21,
        "correlation_high": 0.83,
    },
    "gap in recordings": {
        "days_recorded": 9.0, "weeks": 6.0, "weeks_without_recording": 1.0, "gap_days": 11.0,
        "planned_days_apart": 3.5, "gap_from_days": 7.0,
    },
}  # fmt: skip
SHRINKING = {"slope_deg_per_week": -1.5, "slope_low_deg_per_week": -2.6, "slope_high_deg_per_week": -0.4}
NUMBERS["stops short and shrinking"] = NUMBERS["stops short"] | SHRINKING
NUMBERS["complete but shallow"] = NUMBERS["stops short"] | {"share_of_repetitions": 1.0}


@pytest.fixture
def course():
    drop = Exercise("heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15, per_day=2)
    plan = Plan("Heel", "achilles insertion", (Stage("early", (drop,), FIRST),), "early")
    return follow_up([plan], [], [], FIRST)


def pattern(name, answer="seen", **changes):
    return replace(
        Pattern(name, "heeldrop", "left", answer, FIRST, FIRST + timedelta(days=20), NUMBERS[name], "", (FIRST,)),
        **changes,
    )


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("stops short", "In 7 of 9 recorded sessions, 2026-12-01 to 2026-12-21; chance alone gives that in under 0.1"),
        ("stops short", "The median end range is 2.3 deg, the window begins at 5 deg. 2 more sessions with a doubtful"),
        ("stops short and shrinking", "goes by -1.5 deg a week (95 % interval -2.6 to -0.4)"),
        ("complete but shallow", "have 100 % of the prescribed repetitions"),
        ("past the limit", "The limit of 18 deg was passed in 3 of 9 recorded sessions, in 14 repetitions (2026-"),
        ("past the limit", "(2026-12-01); chance alone gives that in 0.8 %"),
        ("tempo shorter", "Into the end range a median of 1.2 s of 3 s prescribed, under 2.25 s in 8 of 8"),
        ("holds shorter", "Held there a median of 9.0 s of 15 s prescribed, under 11.2 s in 7 of 8"),
        ("fatigue within a set", "over 24 sets: end range -2.1 deg, time into the end range -12 %, time back +20 %"),
        ("more than prescribed", "In 1 of 4 weeks, up to 134 % of the prescribed repetitions and in 2 of 8 recorded"),
        ("side difference", "Left less right is -6.2 deg (95 % interval -9.0 to -3.4), of 6 left and 5 right sessions"),
        ("morning pain rises with exposure", "Rank correlation 0.61, the course of time taken out (95 % interval 0.21"),
        ("morning pain rises with exposure", "31 days). That both go together says nothing of the cause. On 4 of"),
        ("gap in recordings", "11 days, 2026-12-01 to 2026-12-21, where a recording was planned about every 3.5 days."),
        ("gap in recordings", "3.5 days. Missing is not zero"),
    ],
)  # fmt: skip
def test_a_pattern_that_is_seen_says_its_evidence(name, said):
    first = pattern_sentences([pattern(name)])[0]
    assert first.startswith("Seen: heeldrop, left: ")
    assert said in first


def test_every_pattern_has_words():
    for name in get_args(PatternName):
        assert (
            pattern_sentences([pattern(name, "not seen")]) == ()
            or "Looked for" in pattern_sentences([pattern(name, "not seen")])[0]
        )


def test_stopping_short_asks_for_the_zero_first_and_names_fear_as_a_question_only():
    sentences = pattern_sentences([pattern("stops short"), pattern("complete but shallow")])
    assert sentences[2].startswith("Check the zero first.")
    assert "is something to ask" in sentences[2]
    every = " ".join(pattern_sentences([pattern(each) for each in get_args(PatternName)]))
    assert "fear" not in every
    assert "avoid" not in every


def test_an_undecided_pattern_says_why():
    few = pattern("past the limit", "undecided", why_undecided="too few", numbers={"sessions": 3.0})
    assert pattern_sentences([few]) == ("Undecided: heeldrop, left: goes past the limit. Too few recordings.",)
    between = [
        pattern(each, "undecided", why_undecided="between", numbers={"sessions": 9.0, "sessions_past": 1.0})
        for each in ("past the limit", "holds shorter")
    ]
    (sentence,) = pattern_sentences(between)
    assert sentence.startswith("Undecided: heeldrop, left: goes past the limit; heeldrop, left: holds shorter than")
    assert sentence.endswith(" prescribed. The recordings fit both (9 sessions judged, 1 past it).")
    eight = pattern(
        "morning pain rises with exposure",
        "undecided",
        why_undecided="too few",
        numbers={"days": 8.0, "days_asked": 20.0, "days_with_ticks": 0.0},
    )
    assert pattern_sentences([eight])[0].endswith(
        "Only 8 days have both a recording and an answer of the morning after; fewer than 20 tell nothing of it."
    )
    # forms of stopping short say nothing of their own while that itself is open; what is not prescribed is not missed
    for left_out in (
        pattern("stops short and shrinking", "undecided", why_undecided="too few"),
        pattern("holds shorter", "undecided", why_undecided="not prescribed"),
    ):
        assert pattern_sentences([left_out]) == ()


def criterion(name, answer="met", **changes):
    week = FIRST + timedelta(days=6)
    return replace(CriterionAnswer(name, 4.0, answer, FIRST, week, 2.0, 7, 6), **changes)


CRITERIA = {
    "share of dose": criterion(
        "share of dose",
        asked=0.8,
        found=0.833,
        detail="heeldrop",
        numbers={
            "repetitions_recorded": 135.0,
            "repetitions_ticked": 390.0,
            "sessions_ticked_in_part": 1.0,
            "repetitions_prescribed": 630.0,
        },
    ),
    "pain during": criterion("pain during", "not met", found=6.0, days_against=(FIRST,)),
    "no rise of morning pain": criterion(
        "no rise of morning pain",
        asked=None,
        numbers={
            "mean_before": 1.0,
            "mean_now": 1.2,
            "difference_low": -0.5,
            "difference_high": 0.9,
            "smallest_rise": 0.5,
        },
    ),
    "load test": criterion("load test", detail="10 heel raises", numbers={"days_ago": 3.0}),
    "side difference": criterion(
        "side difference", numbers={"difference_deg": -3.0, "low_deg": -5.0, "high_deg": -1.0}
    ),
    "in words": criterion("in words", "for the clinician", asked="walks 30 minutes", from_day=None, to_day=None),
}


def test_criteria_say_the_numbers_behind_the_answer():
    table = criteria_table("into range", tuple(CRITERIA.values()))
    assert all(len(row) == len(table.headings) for row in table.rows)
    rows = {row[1]: (row[0], row[2]) for row in table.rows}
    week = "2026-12-01 to 2026-12-07"
    assert rows == {
        "80 % of the repetitions of heeldrop done": (
            "met",
            f"83 %: 135 recorded and 390 ticked of 630; 1 more sessions ticked in part; {week}, 6 of 7 days answered",
        ),
        "pain during at most 4 of 10": ("not met", f"highest 6, on 2026-12-01; {week}, 6 of 7 days answered"),
        "no rise of morning pain": (
            "met",
            f"mean 1.0 before, 1.2 now (difference -0.5 to 0.9); a rise counts from 0.5; {week}, 6 answers, 7 needed",
        ),
        "load test (10 heel raises) with pain at most 4 of 10": ("met", f"pain 2, 3 days before the last; {week}"),
        "sides differ by at most 4 deg": ("met", f"left less right -3.0 deg (-5.0 to -1.0); {week}"),
        "walks 30 minutes": ("for the clinician", "answered by the clinician alone"),
    }


def test_every_criterion_has_words_without_data_too():
    for name in get_args(CriterionName):
        one = criterion(
            name, "not enough data", found=None, detail="x", numbers=CRITERIA.get(name, CRITERIA["pain during"]).numbers
        )
        assert criterion_name(one)
        assert criteria_table("x", [one]).rows[0][2]


def test_the_case_lists_reasons_and_decides_nothing():
    flare = Reason("flare", days=(FIRST,))
    case = CaseFor((Reason("criterion", CRITERIA["share of dose"]),), (flare, Reason("no criteria")), (), True, ())
    sentences = case_sentences(case)
    assert sentences[0] == "To progress: 80 % of the repetitions of heeldrop done: met."
    assert sentences[1] == "To stay: flare on 2026-12-01; the stage has no criteria."
    assert sentences[2] == "To step back: nothing that is known."
    assert "holds progression back, whatever the dose" in sentences[3]
    assert sentences[-1].startswith("The clinician decides")


def test_all_that_may_be_missing_has_words():
    for what in get_args(Missing.__annotations__["what"]):
        (sentence,) = missing_sentences([Missing(what, "heeldrop", 1.0, 4.0, (FIRST,))])
        assert sentence.startswith("Missing, and would help: ")
        assert "{" not in sentence
        assert "None" not in sentence
    assert missing_sentences([]) == ()


@pytest.mark.parametrize(
    ("answer", "basis", "change_deg", "said"),
    [
        ("real", "own check", 6.0, ("+6.0", "4.2", "real: more than measuring again gives")),
        ("not shown", "own check", -3.0, ("-3.0", "4.2", "no change shown: measuring again may give as much")),
        ("undecided", "lower bound", 6.0, ("+6.0", "over 4.2", "undecided: past what is only a lower bound")),
        ("undecided", "own check", 6.0, ("+6.0", "4.2", "undecided: the zero of one of the days is in doubt")),
    ],
)
def test_a_change_is_held_against_what_measuring_again_gives(course, answer, basis, change_deg, said):
    detectable = DetectableChange(1.515, 4.2, basis, "re-taping check of 2026-11-01")
    later = FIRST + timedelta(days=20)
    change = EndRangeChange(
        "heeldrop", "left", FIRST, later, "last two", 4.0, 4.0 + change_deg, change_deg, detectable, answer
    )
    (row,) = change_table(replace(course, changes=(change,))).rows
    assert row[:2] == ("heeldrop, left", "last two: 2026-12-01, 2026-12-21")
    assert row[3:] == said
    sentence = detectable_sentence(detectable)
    assert "MDC95 = 1.96 x sqrt 2 x SEM, SEM 1.5 deg" in sentence
    assert ("at least 4.2 deg" in sentence) == (basis == "lower bound")


def test_lower_bounds_are_said_once_by_the_largest(course):
    bounds = [DetectableChange(each / 2.77, each, "lower bound", "") for each in (5.76, 5.79, 5.77)]
    own = DetectableChange(1.0, 2.8, "own check", "a check")
    said = change_sentences(replace(course, detectable=(*bounds, own), trends=(), weeks=()))
    assert [each.split(" deg")[0] for each in said] == [
        "Detectable change between two days: 2.8",
        "Detectable change between two days: at least 5.8",
    ]


def test_a_trend_says_its_interval_or_that_there_is_none():
    trend = Trend("heeldrop", "left", "into range", FIRST, FIRST, 2, 2, None, "undecided")
    assert "too few sessions for a trend (2 recorded sessions on 2 days)" in _trend(trend)
    falling = replace(trend, slope_deg_per_week=Interval(-1.2, -2.0, -0.4), answer="falling")
    assert "the end range is falling, -1.2 deg a week (95 % interval -2.0 to -0.4;" in _trend(falling)


@given(days=st.lists(st.dates(FIRST, FIRST + timedelta(days=40)), max_size=30))
def test_days_in_words_lose_no_day(days):
    words = days_in_words(days)
    listed, _, before = words.partition(" and ")
    count = int(before.split()[0]) if before else 0
    for part in filter(None, listed.split(", ")):
        first, _, last = part.partition(" to ")
        count += (date.fromisoformat(last or first) - date.fromisoformat(first)).days + 1
    assert count == len(set(days))


@given(share=st.floats(0, 3))
def test_per_cent_never_rounds_to_all_or_nothing(share):
    assert (percent(share) == "0") == (share == 0)
    assert int(percent(share)) < 100 or share >= 1

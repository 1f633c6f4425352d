"""Who needs a look first: each reason with its figure, undecided sessions no reason, a look ends what it has seen."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from imu_rom.course.folder import read_course
from imu_rom.dose.attention_facts import AskedRecordings, AttentionFacts, SessionFact, attention_facts
from imu_rom.dose.attention_reasons import LEVELS, AttentionReason, Upload, attention_reasons
from imu_rom.dose.case_answer import Flare, StopDay
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.weeks import follow_up
from imu_rom.settings import PainSettings
from imu_rom.wording.clinic_attention_text import RED_FLAG_URGENCIES, reason_sentence

TODAY = date(2026, 12, 10)  # a Thursday
STAGE_SINCE = date(2026, 11, 2)
SAMPLE_COURSE = Path(__file__).parents[2] / "sample_recordings" / "course"


def day(before: int) -> date:
    return TODAY - timedelta(days=before)


def session(before: int, **changes: object) -> SessionFact:
    usual = SessionFact(
        day=day(before),
        session=f"s{before}",
        exercise="heeldrop",
        side="left",
        reached="yes",
        within_limit="yes",
        complete=30,
        short=0,
        past_limit=0,
        end_range_median_deg=12.0,
        end_range_largest_deg=15.0,
        window_low_deg=10.0,
        limit_deg=20.0,
        zero_doubtful=False,
    )
    return replace(usual, **changes)


def facts(*sessions: SessionFact, **changes: object) -> AttentionFacts:
    usual = AttentionFacts(
        until=TODAY,
        stage="one",
        stage_since=STAGE_SINCE,
        sessions=tuple(sorted(sessions, key=lambda each: each.day)),
        asked=(),
        flares=(),
        criteria_met=0,
        criteria_not_met=0,
        criteria_open=0,
    )
    return replace(usual, **changes)


def reasons(
    known: AttentionFacts | None = None,
    diary: tuple[DiaryEntry, ...] = (),
    uploads: tuple[Upload, ...] = (),
    seen: frozenset[str] = frozenset(),
    today: date = TODAY,
) -> tuple[AttentionReason, ...]:
    return attention_reasons(
        known, diary, uploads, today, seen=seen, urgencies=RED_FLAG_URGENCIES, settings=PainSettings()
    )


def kinds(found: tuple[AttentionReason, ...]) -> list[str]:
    return [each.kind for each in found]


def test_nothing_known_is_no_reason() -> None:
    assert reasons() == ()


def test_undecided_sessions_alone_are_no_reason() -> None:
    undecided = [session(each, reached="undecided", within_limit="undecided") for each in range(7)]
    assert reasons(facts(*undecided)) == ()


def test_a_week_of_short_sessions_is_a_reason_with_its_figures() -> None:
    short = [session(each, reached="no", short=28, end_range_median_deg=6.1) for each in (0, 2, 5)]
    found = reasons(facts(*short, session(4, reached="undecided")))
    assert reason_sentence(found[0]) == (
        "heeldrop, left: stopped short of 10 deg in 3 of 4 sessions of the last 7 days and reached it in none "
        "(84 of 90 repetitions short, a median of 6.1 deg in the newest)."
    )
    assert found[0].level == "this week"


def test_one_session_that_reached_it_or_one_day_alone_is_no_short_week() -> None:
    short = [session(each, reached="no") for each in (0, 2, 5)]
    assert reasons(facts(*short, session(3))) == ()
    assert reasons(facts(short[0], replace(short[0], session="evening"))) == ()
    # a zero in doubt can't tell short from badly stood
    assert reasons(facts(*(replace(each, zero_doubtful=True) for each in short))) == ()
    # and what is over a week old is no longer this week's
    assert reasons(facts(*(session(each, reached="no") for each in (7, 9, 12)))) == ()


def test_past_the_limit_names_limit_and_farthest_angle() -> None:
    found = reasons(facts(session(1, within_limit="no", past_limit=3, end_range_largest_deg=24.12)))
    assert [reason_sentence(each) for each in found] == [
        "heeldrop, left: 3 repetitions past the limit of 20 deg, as far as 24.1 deg, on 2026-12-09."
    ]
    assert found[0].level == "today"


def test_red_flag_comes_before_all_else_and_the_most_urgent_first() -> None:
    diary = (
        DiaryEntry(day(2), red_flags=("fever",), pain_during=8.0),
        DiaryEntry(day(1), red_flags=("breathless",)),
    )
    found = reasons(facts(session(1, within_limit="no", past_limit=1)), diary)
    assert kinds(found) == ["red flag", "pain above the band", "past the limit"]
    assert found[0].words == ("breathless", "fever")
    assert "the emergency number" in reason_sentence(found[0])
    assert reason_sentence(found[1]) == ("Pain of 8 of 10 during the exercises on 2026-12-08, above the band of 5.")


def test_red_flag_stays_until_somebody_has_looked() -> None:
    diary = (DiaryEntry(day(90), red_flags=("pop",)),)
    (flag,) = reasons(diary=diary)
    assert flag.kind == "red flag"
    assert reasons(diary=diary, seen=frozenset(flag.keys)) == ()
    # a new one is another
    more = (*diary, DiaryEntry(day(0), red_flags=("pop",)))
    assert kinds(reasons(diary=more, seen=frozenset(flag.keys))) == ["red flag"]


def test_pain_at_the_bound_is_within_the_band() -> None:
    assert reasons(diary=(DiaryEntry(day(0), pain_during=5.0, pain_next_morning=5.0),)) == ()
    assert kinds(reasons(diary=(DiaryEntry(day(0), pain_next_morning=6.0),))) == ["pain above the band"]


def test_pain_that_was_changed_to_more_is_looked_at_again() -> None:
    (first,) = reasons(diary=(DiaryEntry(day(0), pain_after=6.0),))
    assert kinds(reasons(diary=(DiaryEntry(day(0), pain_after=9.0),), seen=frozenset(first.keys)))


def test_pain_of_the_course_and_of_the_diary_is_one_evidence() -> None:
    stops = (StopDay(day(3), "pain after", 6.0, 5.0), StopDay(day(3), "stiffness", 80.0, 60.0))
    diary = (DiaryEntry(day(3), pain_after=6.0), DiaryEntry(day(1), pain_next_morning=7.0))
    both, stiff = reasons(facts(stops=stops), diary)
    assert (stiff.kind, stiff.days) == ("stiff for long", (day(3),))
    assert len(both.keys) == 2
    assert reason_sentence(both) == (
        "Pain of 7 of 10 next morning on 2026-12-09, above the band of 5; above it on 2 days nobody has looked at."
    )
    # what was seen in the one is not new in the other
    (of_diary,) = reasons(diary=diary[:1])
    assert reasons(facts(stops=stops), seen=frozenset((*of_diary.keys, *stiff.keys))) == ()


def test_flare_that_did_not_settle_is_told_with_its_baseline() -> None:
    known = facts(flares=(Flare(day(2), ("not settled",), 4.0, 1.0), Flare(day(3), ("during",), 6.0, None)))
    assert [reason_sentence(each) for each in reasons(known)] == [
        "Pain did not settle in time after 2026-12-08: up to 4 of 10, where 1 was the baseline."
    ]


def test_two_unreadable_uploads_in_a_row_are_a_reason_and_one_is_none() -> None:
    bad = [Upload(name, day(each), "unusable", "no pose was found.") for name, each in (("a", 3), ("b", 2))]
    assert reasons(uploads=(bad[0],)) == ()
    assert reasons(uploads=(bad[0], Upload("c", day(2), "usable"), bad[1])) == ()
    # one that is still waiting says nothing
    found = reasons(uploads=(*bad, Upload("c", day(0), "waiting")))
    assert [reason_sentence(each) for each in found] == [
        "The last 2 uploads can't be used, the newest because: no pose was found."
    ]
    third = Upload("d", day(0), "unusable", "empty")
    assert kinds(reasons(uploads=(*bad, third), seen=frozenset(found[0].keys))) == ["unreadable"]


def test_given_up_analysis_is_a_reason_of_its_own() -> None:
    found = reasons(uploads=(Upload("a", day(0), "not analysed", "it took longer than 120 s"),))
    assert [reason_sentence(each) for each in found] == ["1 upload could not be analysed: it took longer than 120 s."]


def test_long_stiffness_is_a_reason_once_however_it_is_known() -> None:
    bound_min = PainSettings().stiffness_stop_above_min
    noted = DiaryEntry(day(1), stiffness_min=bound_min + 15)
    known = facts(stops=(StopDay(day(1), "stiffness", bound_min + 15, bound_min),))
    (found,) = reasons(known, (noted,))
    assert (found.kind, found.level, found.days) == ("stiff for long", "today", (day(1),))
    assert reason_sentence(found) == "Stiff for 75 min in the morning after 2026-12-09, above 60 min."
    assert reasons(known, (noted,), seen=frozenset(found.keys)) == ()
    # up to the bound is none
    assert reasons(None, (DiaryEntry(day(1), stiffness_min=bound_min),)) == ()


def test_what_only_the_clinic_can_say_is_a_reason_from_the_first_time_on_and_not_the_patients_fault() -> None:
    open_ones = tuple(
        Upload(each, day(0), "unusable", "a.csv: no unit; add --rate HZ.", left_open=True) for each in "ab"
    )
    (found,) = reasons(uploads=open_ones)
    assert (found.kind, found.uploads) == ("left open", ("a", "b"))
    assert "2 sessions" in reason_sentence(found)
    assert "--rate HZ." in reason_sentence(found)
    assert reasons(uploads=open_ones, seen=frozenset(found.keys)) == ()


ASKED = (AskedRecordings("heeldrop", "left", 3.0, STAGE_SINCE),)


def test_fewer_recordings_are_judged_over_the_week_that_is_over() -> None:
    # Monday to Sunday before: 30 November to 6 December
    found = reasons(facts(session(1), session(5), session(8), asked=ASKED))
    assert [reason_sentence(each) for each in found] == [
        "heeldrop, left: 2 of 3 recordings that the plan asks a week came in, 2026-11-30 to 2026-12-06."
    ]
    assert reasons(facts(session(1), session(5), session(8), session(10), asked=ASKED)) == ()
    assert reasons(facts(session(1), session(5), session(8))) == ()


def test_no_recording_for_seven_days_does_not_wait_for_the_week_to_end() -> None:
    found = reasons(facts(session(8), session(9), session(10), asked=ASKED))
    assert found[0].days == (day(7), day(1))
    assert found[0].numbers == {"recorded": 0.0, "asked": 3.0}
    # a stage that has just begun is not judged
    since = (AskedRecordings("heeldrop", "left", 3.0, day(6)),)
    assert reasons(facts(asked=since)) == ()


def test_a_seen_week_comes_back_with_the_next_one() -> None:
    known = facts(asked=ASKED)
    (first,) = reasons(known)
    assert reasons(known, seen=frozenset(first.keys)) == ()
    assert kinds(reasons(known, seen=frozenset(first.keys), today=TODAY + timedelta(days=7))) == ["fewer recordings"]


OUTCOMES = st.sampled_from(["yes", "no", "undecided", None])


@given(
    st.lists(st.tuples(st.integers(0, 34), OUTCOMES, OUTCOMES, st.booleans()), max_size=12),
    st.lists(st.tuples(st.integers(0, 60), st.floats(0, 10), st.sampled_from(sorted(RED_FLAG_URGENCIES))), max_size=4),
)
def test_looking_at_all_reasons_leaves_none_and_they_come_in_order(
    recorded: list[tuple[int, str | None, str | None, bool]], noted: list[tuple[int, float, str]]
) -> None:
    known = facts(
        *(
            session(
                before,
                session=str(i),
                reached=reached,
                within_limit=within,
                zero_doubtful=doubt,
                short=30 if reached == "no" else 0,
                past_limit=1 if within == "no" else 0,
            )
            for i, (before, reached, within, doubt) in enumerate(recorded)
        ),
        asked=ASKED,
    )
    diary = tuple(DiaryEntry(day(before), pain_during=pain, red_flags=(word,)) for before, pain, word in noted)
    found = reasons(known, diary)
    order = list(LEVELS)
    assert [order.index(each) for each in kinds(found)] == sorted(order.index(each) for each in kinds(found))
    for each in found:
        sentence = reason_sentence(each)
        assert any(letter.isdigit() for letter in sentence), sentence
        assert sentence.endswith(".")
        assert ".." not in sentence
    assert reasons(known, diary, seen=frozenset(key for each in found for key in each.keys)) == ()


def test_facts_of_a_course_add_up_to_its_answer() -> None:
    course = read_course(SAMPLE_COURSE, analyse=False)
    assert course.last_day is not None
    answer = follow_up(course.plans.plans, course.recorded, course.diary.entries, course.last_day)
    known = attention_facts(answer, course.recorded)
    lately = [each for each in answer.days if each.day > answer.until - timedelta(days=35)]
    doses = [dose for each in lately for dose in each.doses]
    assert len(known.sessions) == sum(each.sessions_recorded for each in doses) > 0
    assert sum(each.complete for each in known.sessions) == sum(each.repetitions_recorded for each in doses)
    assert sum(each.short for each in known.sessions) == sum(each.repetitions_short for each in doses)
    assert sum(each.past_limit for each in known.sessions) == sum(each.repetitions_past_limit for each in doses)
    assert {each.a_week for each in known.asked} == {2.0}
    assert known.stage == "to +10 deg"
    assert known.criteria_met + known.criteria_not_met + known.criteria_open == len(answer.criteria)

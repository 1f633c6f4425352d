"""The patient's page of a course: the same from the same, plain words, the careful thing first, no scores."""

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import chain

import pytest
import textstat

from imu_rom.dose.criteria import Criteria
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import SettingError
from imu_rom.report.patient_course_page import patient_course_page, patient_course_page_bytes
from imu_rom.wording.language import languages

FIRST = date(2026, 12, 1)
DROP = Exercise(
    "heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15, end_range_deg=(5, 15),
    limit_deg=18, per_day=2, days_per_week=7, in_words="down over the step",
)  # fmt: skip
PLAN = Plan("Left heel", "achilles insertion", (Stage("step", (DROP,), FIRST),), "step", patient="P-0009")
HOSTILE = "<script>document.title='taken'</script> \N{RIGHT-TO-LEFT OVERRIDE}=1+1 " + "W" * 200
FLESCH = textstat.flesch_kincaid_grade
WIENER = lambda text: textstat.wiener_sachtextformel(text, 1)  # noqa: E731
# as for the page of a session, where the formulas and what they are held against have their sources
LARGEST_GRADE, READABILITY = 5.0, {"en": ("en_US", FLESCH), "de": ("de_DE", WIENER)}


def ticked(*days, **said):
    return [
        DiaryEntry(FIRST + timedelta(days=day), exercise="heeldrop", side="left", done="yes", line=line, **said)
        for line, day in enumerate(days, start=1)
    ]


def course(lines=(), until=13, plan=PLAN):
    return follow_up([plan], [], lines, FIRST + timedelta(days=until))


CASES = {
    "as planned": course(ticked(*sorted([*range(14)] * 2), pain_during=2.0, pain_next_morning=1.0)),
    "few": course(ticked(0, 3, 8)),
    "nothing": course(),
    "more": course(ticked(*sorted([*range(14)] * 3))),
    "sore": course(ticked(12, pain_during=7.0)),
    "red flag": course([*ticked(0), DiaryEntry(FIRST + timedelta(days=13), red_flags=("breathless", "fever"))]),
    "earlier red flag": course([DiaryEntry(FIRST, red_flags=("pop",))], until=40),
    "stiff": course([DiaryEntry(FIRST + timedelta(days=12), stiffness_min=90.0)]),
    "several": course(
        plan=replace(PLAN, stages=(Stage("step", (DROP, replace(DROP, side="right", kind="hold")), FIRST),))
    ),
    "no stage": course(plan=replace(PLAN, from_date=FIRST, stages=(Stage("step", (DROP,), FIRST + timedelta(30)),))),
}


def said_on(page):
    for each in (page.words.first, page.words.done, page.words.weeks, page.words.pain, page.words.keep):
        yield from each
    yield from page.words.change
    for each in page.exercises:
        yield from chain(each.planned, [each.picture_words.caption], (words for _, words in each.picture_words.key))
    yield page.stop_first
    for rule in page.stop_rules:
        yield from (rule.what, *rule.signs)
    yield from (each.question for each in page.pain_questions)
    yield from (*page.about, *page.labels.values())


def words_of(kind):
    return patient_course_page(CASES[kind]).words


@pytest.fixture(scope="module")
def sample(course_document, course_until):
    return {"sample": course_document.answer, "sample when sore": course_until(date(2027, 1, 2)).answer}


@pytest.mark.parametrize("kind", [*CASES, "sample", "sample when sore"])
@pytest.mark.parametrize("language", languages())
def test_a_child_of_eleven_can_read_it(sample, kind, language):
    dialect, grade = READABILITY[language]
    textstat.set_lang(dialect)
    page = patient_course_page({**CASES, **sample}[kind], language)
    text = " ".join(re.sub(r"[^.?!]$", r"\g<0>.", each.rstrip(":")) for each in said_on(page))
    assert len(text.split()) > 150
    assert grade(text) <= LARGEST_GRADE
    assert max(len(each.split()) for each in re.split(r"(?<=[.?!:]) ", text)) <= 20


@pytest.mark.parametrize("language", languages())
def test_the_same_course_gives_the_same_bytes_without_script_score_or_other_place(course_document, language):
    page = patient_course_page_bytes(patient_course_page(course_document.answer, language))
    assert patient_course_page_bytes(patient_course_page(course_document.answer, language)) == page
    assert f'<html lang="{language}">'.encode() in page
    assert b"script" not in page
    assert not re.search(rb"https?:|src=|@import|url\((?!#)", page)
    text = re.sub(r"(?s)<style>.*?</style>|<[^>]*>", " ", page.decode())
    assert "%" not in text
    assert not re.search(r"probab|likel|score|verdict|undecided|criteri|met\b", text, re.IGNORECASE)


def test_weeks_are_told_in_numbers_of_times(course_document):
    page = patient_course_page(course_document.answer)
    assert page.title == "Your exercises from 30 November 2026 to 21 February 2027"
    assert page.words.weeks[-1] == (
        "From 15 February to 21 February: halfdrop 13 times. 1 of these was in part. The plan asks for 14 times."
    )
    assert len(page.words.weeks) == 4
    assert page.words.done[:3] == (
        "This page is about 84 days.",
        "On 23 days the sensors were on.",
        "On 50 other days you wrote down how it went.",
    )
    assert "halfdrop: in the week from 15 February you went to about 10 degrees most times." in page.words.done[3]
    assert page.words.pain[1] == "In the week from 15 February the worst pain during the exercises was 2 of 10."
    assert page.exercises[0].planned == (
        "2 sets of 10.",
        "2 times a day.",
        "Each day of the week.",
        "The planned part: from 5 to 10 degrees.",
    )


def test_what_to_change_follows_the_numbers():
    assert words_of("as planned").change == ("Nothing for now.",)
    assert words_of("few").change == ("Aim for the number in your plan. If it is too much, tell your clinician.",)
    assert words_of("more").change == ("You did more than planned. Do not do more than your plan says.",)
    # the stage's own share of the dose is what is asked
    some = ticked(*sorted([*range(14)] * 2)[:-4])
    asks = replace(PLAN, stages=(Stage("step", (DROP,), FIRST, criteria=Criteria(share_of_dose=0.5)),))
    assert patient_course_page(course(some, plan=asks)).words.change == ("Nothing for now.",)
    assert words_of("nothing").done[-1] == "We know of no exercises yet."
    assert "we know of no time" in words_of("nothing").weeks[0]


def test_signs_and_pain_at_which_to_stop_come_first_and_nobody_is_told_to_go_on():
    first = words_of("red flag").first
    assert first[0].startswith("Call the emergency number now")
    assert first[2] == "It is hard to breathe, or your chest hurts."
    assert "You have a fever." in first
    assert words_of("sore").first == ("Your pain was above 5 of 10. Stop, and call your clinician.",)
    assert words_of("stiff").first == (
        "You were stiff for a long time in the morning. Tell your clinician before you go on.",
    )
    earlier = words_of("earlier red flag").first
    assert earlier[0].startswith("Some time ago you wrote this down.")
    for kind in ("red flag", "sore", "stiff", "earlier red flag"):
        assert words_of(kind).keep == ("Keep writing down your pain.",)
        assert words_of(kind).change == ("Do what is said at the top of this page before you go on.",)
        page = patient_course_page_bytes(patient_course_page(CASES[kind])).decode()
        assert page.index("First of all") < page.index("Your weeks")
    assert words_of("as planned").first == ()


def test_it_says_that_it_could_not_tell_and_that_this_is_about_the_recording(course_document):
    told = " ".join(patient_course_page(course_document.answer).words.done)
    question = r"\d+ times in the last two weeks: did you go as far as planned\?"
    assert re.search(f"{question} We couldn't tell; that is about the recording, not about you\\.", told)


def test_going_past_the_end_of_the_planned_part_is_where_to_stop(course_document):
    answer = course_document.answer
    days = [
        replace(
            day,
            doses=tuple(replace(each, repetitions_past_limit=2 * (each.sessions_recorded > 0)) for each in day.doses),
        )
        for day in answer.days
    ]
    change = patient_course_page(replace(answer, days=tuple(days))).words.change
    assert re.fullmatch(r"halfdrop: you went further than planned \d+ times in the last two weeks\.", change[0])
    assert change[1] == "Stop at 10 degrees, and tell your clinician. The picture shows where."


def test_names_are_text():
    stage = Stage("step", (replace(DROP, in_words=HOSTILE),), FIRST)
    page = patient_course_page_bytes(
        patient_course_page(course(plan=replace(PLAN, title=HOSTILE, patient=HOSTILE, stages=(stage,))))
    ).decode()
    assert "<script" not in page
    assert page.count("<bdi>&lt;script&gt;") == 3


def test_no_stage_no_plan_and_an_unknown_language_is_one_sentence():
    assert patient_course_page(CASES["no stage"]).exercises == ()
    assert patient_course_page_bytes(patient_course_page(CASES["no stage"]))
    with pytest.raises(SettingError, match=r"^language must be one of en, de, got 'xx'"):
        patient_course_page(CASES["few"], "xx")

"""Which sentence a patient reads when, in every language, and how easy it is to read."""

import re
from dataclasses import replace
from gettext import NullTranslations
from itertools import chain

import pytest
import textstat

from imu_rom.report.patient_page import patient_page
from imu_rom.wording.language import ENGLISH, languages, speech
from imu_rom.wording.patient_angles import about, planned_part, planned_words, span, stop_deg
from imu_rom.wording.patient_text import exercise_words, set_kind

COULD_NOT_TELL = "We couldn't tell; that is about the recording, not about you."
# school years, at the end of which a child is about 11: grade 5 in the USA, fifth class in Austria.
# Flesch-Kincaid: Kincaid et al., Naval Technical Training Command report 8-75, 1975; Wiener Sachtextformel 1:
# Bamberger and Vanecek, 1984 (both as textstat has them, from memory)
LARGEST_GRADE = 5.0
READABILITY = {
    "en": ("en_US", textstat.flesch_kincaid_grade),
    "de": ("de_DE", lambda text: textstat.wiener_sachtextformel(text, 1)),
}
KINDS = (
    "as planned",
    "past the limit",
    "too few",
    "a set missing",
    "more",
    "not far enough",
    "too long",
    "too short",
    "limit undecided",
    "depth undecided",
    "undecided",
    "floor",
    "hold",
    "angle unknown",
    "not prescribed",
    "several",
    "whose",
    "nothing found",
)


def sentences(page):
    """All sentences of the page that the catalogue has, those of the plan left out."""
    for each in page.exercises:
        yield from chain(each.words.done, each.words.keep, each.words.change)
        yield each.picture_words.caption
        yield from (words for _, words in each.picture_words.key)
    yield page.stop_first
    for rule in page.stop_rules:
        yield from (rule.what, *rule.signs)
    yield from (each.question for each in page.pain_questions)
    yield from page.about
    yield from page.labels.values()


def words_of(answer):
    return exercise_words(answer.exercise, answer.comparison, answer.allotment, speech(ENGLISH))


def told(document):
    words = words_of(document.exercises[0])
    return " ".join(words.done), " ".join(words.keep), " ".join(words.change)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("language", languages())
def test_a_child_of_eleven_can_read_it(patient_documents, kind, language):
    dialect, grade = READABILITY[language]
    textstat.set_lang(dialect)
    ended = [
        re.sub(r"[^.?!]$", r"\g<0>.", each.rstrip(":"))
        for each in sentences(patient_page(patient_documents[kind], language))
    ]
    text = " ".join(ended)
    assert len(text.split()) > 200
    assert grade(text) <= LARGEST_GRADE
    # and no sentence is long, since a mean hides it
    assert max(len(each.split()) for each in re.split(r"(?<=[.?!:]) ", text)) <= 20


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("language", [each for each in languages() if each != ENGLISH])
def test_nothing_stays_in_english(patient_documents, kind, language, monkeypatch):
    class Refusing(NullTranslations):
        def refuse(self, *message):
            raise AssertionError(message)

        gettext = ngettext = pgettext = refuse

    def strict(code):
        to = speech(code)
        to.translations.add_fallback(Refusing())
        return to

    monkeypatch.setattr("imu_rom.report.patient_page.speech", strict)
    assert patient_page(patient_documents[kind], language).language == language


@pytest.mark.parametrize("kind", KINDS)
def test_a_patient_gets_no_decision_of_the_clinician(patient_documents, kind):
    done, keep, change = told(patient_documents[kind])
    everything = f"{done} {keep} {change}".lower()
    for word in ("progress", "next stage", "next step", "increase", "more weight", "deeper"):
        assert word not in everything
    assert "your clinician" in everything
    assert change


def test_as_planned_is_to_go_on_as_planned(patient_documents):
    done, keep, change = told(patient_documents["as planned"])
    assert done.startswith(
        "We counted 45 times. That was in 3 sets. The plan asks for 45 times, in 3 sets. As planned."
    )
    assert keep == "Go on as planned. Your clinician looks at it with you."
    assert change == "Nothing for now."


def test_past_the_limit_is_where_to_stop_and_to_tell(patient_documents):
    done, keep, change = told(patient_documents["past the limit"])
    assert "Set 1: 15 of 15. As planned. Set 2: 15 of 15. You went further than planned." in done
    assert (
        change == "You went further than planned. Stop at 15 degrees, and tell your clinician. The picture shows where."
    )
    assert "Go on" not in keep


def test_fewer_is_lower_than_planned(patient_documents):
    done, keep, change = told(patient_documents["too few"])
    assert "We counted 18 times. That was in 3 sets. The plan asks for 45 times, in 3 sets. Lower than planned." in done
    assert change == "Aim for the number in your plan. If it is too much, tell your clinician."
    assert "Keep the number" not in keep
    assert "Lower than planned: some sets are missing." in told(patient_documents["a set missing"])[0]


def test_a_bit_past_the_planned_part_is_said_as_what_it_looks_like(patient_documents, make_session, heeldrop):
    from imu_rom.exchange.document import result_document

    wide = replace(heeldrop, limit_deg=30.0, past_threshold_s_per_set=None)
    done, _, change = told(result_document(make_session(((17.0,) + (10.0,) * 14,) * 3, wide)))
    assert "As planned. It looks as if you went a bit past the planned part 3 times." in done
    assert change == "Stop at 15 degrees. The picture shows where."


def test_more_is_not_praised(patient_documents):
    _, keep, change = told(patient_documents["more"])
    assert change == "You did more than planned. Do not do more than your plan says."
    assert "as planned" not in keep


def test_lower_is_never_said_of_depth(patient_documents):
    done, _, change = told(patient_documents["not far enough"])
    assert "Not as far as planned." in done
    assert "lower" not in done.lower()
    assert "Do not push into more pain." in change


@pytest.mark.parametrize(
    ("kind", "question"),
    [
        ("limit undecided", "Did you go further than planned?"),
        ("depth undecided", "Did you go as far as planned?"),
        ("undecided", "Was it as planned?"),
        ("angle unknown", "How far did you go?"),
        ("whose", "Which exercise was this?"),
        ("nothing found", "How often did you move?"),
    ],
)
def test_undecided_is_about_the_recording(patient_documents, kind, question):
    done, keep, change = told(patient_documents[kind])
    assert f"{question} {COULD_NOT_TELL}" in done
    assert f"{question} As planned" not in done
    assert "It looks as if" not in done
    assert keep.startswith("Go on with your plan. Your clinician looks at it with you.")
    assert "further than planned. Stop" not in change


@pytest.mark.parametrize("kind", ["limit undecided", "undecided", "angle unknown", "whose"])
def test_where_a_limit_may_have_been_passed_the_careful_thing_is_said(patient_documents, kind):
    change = told(patient_documents[kind])[2]
    assert change.startswith("To be safe, stop at 15 degrees, and tell your clinician.")


def test_the_floor_is_no_angle(patient_documents):
    answer = patient_documents["floor"].exercises[0]
    done, _, _ = told(patient_documents["floor"])
    assert "The plan asks you to come back to the floor each time." in done
    assert planned_part(answer.exercise) is None
    passed = replace(answer.exercise, limit_deg=-10.0)
    over = replace(answer.comparison.sets[0], verdict="over", probability_within_limit=0.0)
    told_over = words_of(replace(answer, exercise=passed, comparison=replace(answer.comparison, sets=(over,))))
    assert told_over.change[0] == (
        "You went further than planned. Stop when your foot is flat on the floor, and tell your clinician."
    )


def test_holds_are_counted_and_timed(patient_documents):
    done, _, _ = told(patient_documents["hold"])
    assert "We counted 15 holds." in done
    assert "Each time you held it for about 2 seconds. The plan asks for 2 seconds each time." in done


@pytest.mark.parametrize(
    ("kind", "expected"),
    [(each, each) for each in ("as planned", "too few", "not far enough", "too long", "too short", "limit undecided",
                               "depth undecided", "undecided", "angle unknown", "not prescribed")],
)  # fmt: skip
def test_the_kind_is_that_of_the_verdict(patient_documents, kind, expected):
    answer = patient_documents[kind].exercises[0]
    assert expected in {set_kind(answer.exercise, each) for each in answer.comparison.sets}


def test_an_interval_is_never_made_narrower(patient_documents):
    done, _, _ = told(patient_documents["as planned"])
    answer = patient_documents["as planned"].exercises[0]
    low, high = map(int, re.search(r"may be from (\d+) to (\d+) degrees", done).groups())
    repetition = answer.comparison.sets[0].repetitions[0]
    half = repetition.end_range_high_deg - repetition.repetition.end_range_deg
    assert low <= repetition.repetition.held_deg - half
    assert high >= repetition.repetition.held_deg + half
    low_s, high_s = map(int, re.search(r"in all\. It may be (\d+) to (\d+)\.", done).groups())
    assert low_s <= answer.comparison.exposure.past_threshold_low_s
    assert high_s >= answer.comparison.exposure.past_threshold_high_s


def test_angles_before_zero_have_no_minus_sign():
    english, german = speech("en"), speech("de")
    assert about(-2.5, english) == "2.5 degrees before 0"
    assert about(-2.5, german) == "2,5 Grad vor 0"
    assert about(1.0, english) == "1 degree"
    assert about(-0.04, english) == "0 degrees"
    assert span(-7, 3, english) == "from 7 degrees before 0 to 3 degrees"
    assert span(4, 14, german) == "von 4 bis 14 Grad"


def test_the_planned_part_ends_at_the_limit(heeldrop):
    english = speech("en")
    beyond = replace(heeldrop, end_range_deg=(5.0, float("inf")), limit_deg=18.0)
    assert planned_words(planned_part(beyond), english) == "from 5 to 18 degrees"
    assert stop_deg(beyond) == 18.0
    assert planned_words(planned_part(replace(beyond, limit_deg=None)), english) == "at least 5 degrees"
    assert stop_deg(replace(beyond, limit_deg=None)) is None
    assert planned_words(planned_part(replace(beyond, end_range_deg=None)), english) == "up to 18 degrees"
    assert planned_part(replace(beyond, end_range_deg=None, limit_deg=None)) is None

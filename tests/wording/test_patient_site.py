"""What patients read on the clinic's pages: easy enough, complete in every language, and clear about what is urgent."""

import re
from dataclasses import replace
from datetime import date

import pytest
import textstat

from imu_rom.dose.exercise import Load, Tempo
from imu_rom.motion.soft_tissue import PLACEMENTS
from imu_rom.wording import patient_diary, patient_history, patient_preparing
from imu_rom.wording.cautions import RED_FLAGS
from imu_rom.wording.clinic_patient_text import made_words
from imu_rom.wording.language import languages, preferred_language, speech
from imu_rom.wording.patient_care import stop_rules
from imu_rom.wording.patient_consent import consent_text
from imu_rom.wording.patient_diary import diary_words, sign_questions, urgent_words
from imu_rom.wording.patient_entry import entry_words, passphrase_problem
from imu_rom.wording.patient_history import (
    agreed_words,
    arrived_words,
    asked_words,
    data_words,
    history_words,
    state_words,
)
from imu_rom.wording.patient_plan import plan_sentences, today_words
from imu_rom.wording.patient_preparing import before_you_start, steps
from imu_rom.wording.patient_sending import WHY, sending_words, state_told
from imu_rom.wording.patient_site import site_words, trouble

# as in test_patient_text.py, which has the sources
LARGEST_GRADE = 5.0
READABILITY = {
    "en": ("en_US", textstat.flesch_kincaid_grade),
    "de": ("de_DE", lambda text: textstat.wiener_sachtextformel(text, 1)),
}
TROUBLES = ("missing", "broken", "busy", "too large", "full", "refused")


def every_plan_sentence(exercise, to):
    yield from plan_sentences(exercise, to)
    full = replace(
        exercise,
        tempo=Tempo(3.0, 2.0, 3.0, 1.0),
        load=Load("single leg", "other leg", 1.0, 5.0),
        rest_s=120.0,
        per_day=2,
        days_per_week=7,
        knee="bent",
        footwear="trainers",
        heel_lift_mm=10.0,
    )
    yield from plan_sentences(full, to)
    for surface, kind in (("floor", "hold"), (None, "repetitions"), ("wedge", "repetitions")):
        yield from plan_sentences(replace(full, surface=surface, kind=kind, knee="straight"), to)


def pages(exercise, language):
    """All that the pages say, page by page."""
    to = speech(language)
    yield "around", [*site_words(to).values(), *(one for kind in TROUBLES for one in trouble(to, kind).sentences)]
    yield "door", [*entry_words(to, "Clinic by the Park").values(), passphrase_problem(to, 12)]
    yield "consent", consent_text(to).as_text().splitlines()
    yield "plan", [*today_words(to).values(), *every_plan_sentence(exercise, to), *before_you_start([exercise], to)]
    knee = replace(exercise, joint="knee", motion="flexion", proximal="thigh", distal="shank")
    knee = replace(knee, calibration_movement="flexion")
    prepared = [*steps(exercise, to), *steps(knee, to), *steps(replace(exercise, sensors="distal only"), to)]
    arm = replace(exercise, joint="shoulder", motion="flexion", proximal="thorax", distal="upper arm", zero=None)
    arm = replace(arm, calibration_movement=None)
    turned = replace(arm, motion="internal rotation")
    bent = replace(arm, joint="elbow", proximal="upper arm", distal="forearm")
    others = (arm, turned, bent, replace(bent, joint="wrist", proximal="forearm", distal="hand"))
    prepared += [step for each in others for step in steps(each, to) if step.name in {"tape", "stand"}]
    said = [said for step in prepared for said in (step.heading, *step.sentences)]
    seen = [to.say(each) for each in (*patient_preparing.SEEN.values(), *patient_preparing.DRAWN.values())]
    yield "preparing", [*said, *seen]
    states = [(each, None) for each in ("waiting", "usable", "withdrawn", "not analysed", "unusable")]
    told = [state_told(*each, to) for each in [*states, *(("unusable", code) for code in WHY)]]
    told = [said for heading, sentences in told for said in (heading, *sentences)]
    yield "sending", [*sending_words(to).values(), *told]
    yield "diary", [*diary_words(to).values(), *(sign for _, sign in sign_questions(to))]
    yield "diary of an arm", [*diary_words(to, {"wrist"}).values(), *before_you_start([bent], to)]
    urgent = [urgent_words((each.word,), to) for each in RED_FLAGS]
    yield "urgent", [said for each in urgent for said in (each.heading, *each.sentences)]
    yield (
        "history",
        [
            *history_words(to).values(),
            *data_words(to).values(),
            *(each(date(2026, 12, 3), to) for each in (agreed_words, arrived_words, asked_words)),
            *(state_words(each, to) for each in patient_history.STATES),
        ],
    )


@pytest.mark.parametrize("language", languages())
def test_a_child_of_eleven_can_read_every_page(heeldrop, language):
    dialect, grade = READABILITY[language]
    textstat.set_lang(dialect)
    for name, said in pages(heeldrop, language):
        text = " ".join(re.sub(r"[^.?!]$", r"\g<0>.", each.rstrip(":")) for each in said)
        assert grade(text) <= LARGEST_GRADE, (name, grade(text))
        longest = max((each for each in re.split(r"(?<=[.?!:]) ", text)), key=lambda each: len(each.split()))
        assert len(longest.split()) <= 20, longest


LEGS = {
    "en": r"\b(leg|heel|calf|foot|feet|shoe|toe|step)s?\b",
    "de": r"Bein|Ferse|Wade|Fuß|Füße|Schuh|Zehe|Schritt|Treppe",
}


@pytest.mark.parametrize("language", languages())
def test_an_arms_patient_is_asked_for_no_sign_of_a_leg_and_for_all_others(heeldrop, language):
    to = speech(language)
    arm = replace(heeldrop, joint="shoulder", motion="flexion", surface=None)
    of_legs = {each.word for each in RED_FLAGS if each.of_legs}
    assert of_legs == {"calf swelling", "push-off lost"}
    asked = dict(sign_questions(to, {"shoulder"}))
    _, rules = stop_rules(to, {"shoulder"})
    assert list(asked) == [each.word for each in RED_FLAGS if not each.of_legs]
    assert [sign for each in rules for sign in each.signs] == list(asked.values())
    said = [*asked.values(), diary_words(to, {"shoulder"})["morning"], *before_you_start([arm], to)]
    assert not re.search(LEGS[language], " ".join(said))
    # of a plan for both, and where none is known, all are asked
    for joints in ((), {"ankle"}, {"shoulder", "knee"}):
        assert [word for word, _ in sign_questions(to, joints)] == [each.word for each in RED_FLAGS]


def test_what_is_urgent_goes_by_the_most_urgent_sign():
    to = speech("en")
    assert urgent_words((), to) is None
    everything = tuple(each.word for each in reversed(RED_FLAGS))
    assert urgent_words(everything, to).urgency == "emergency"
    assert len(urgent_words(everything, to).signs) == len(RED_FLAGS)
    assert urgent_words(("fever", "long stiffness"), to).urgency == "today"
    assert urgent_words(("steroid injection",), to).urgency == "before the next session"
    for each in RED_FLAGS:
        sentences = urgent_words((each.word,), to).sentences
        assert any("Do no exercises" in one for one in sentences)
    assert set(patient_diary.ACTIONS) == {each.urgency for each in RED_FLAGS}


def test_the_plan_is_said_as_it_is(heeldrop):
    said = plan_sentences(heeldrop, speech("en"))
    assert said[0] == "Do it 15 times. That is one set. Do 3 sets."
    assert "How far to go: from 5 to 15 degrees. The picture shows it." in said
    assert "Go no further than 15 degrees." in said
    # what the plan leaves out is not spoken of
    bare = replace(
        heeldrop, tempo=Tempo(), load=Load(), rest_s=None, surface=None, footwear=None, end_range_deg=None,
        limit_deg=None, knee=None, heel_lift_mm=None, per_day=None, days_per_week=None,
    )  # fmt: skip
    assert plan_sentences(bare, speech("en")) == said[:1]


def test_lowering_is_down_and_other_movements_are_there_and_back(heeldrop):
    to = speech("en")
    timed = replace(heeldrop, tempo=Tempo(3.0, None, 1.0, None), surface="step")
    assert "On the way down: 3 seconds." in plan_sentences(replace(timed, load=Load()), to)
    assert "On the way up: 1 second." in plan_sentences(replace(timed, load=Load()), to)
    halves = replace(timed, load=Load("single leg", "other leg"))
    assert "On the way down: this leg alone. Take your time: 3 seconds." in plan_sentences(halves, to)
    assert "On the way up: the other leg does the work. Take your time: 1 second." in plan_sentences(halves, to)
    knee = replace(timed, joint="knee", motion="flexion", proximal="thigh", distal="shank")
    assert "On the way there: 3 seconds." in plan_sentences(replace(knee, load=Load()), to)


def test_a_step_is_spoken_of_only_where_one_is_stood_on(heeldrop):
    to, step = speech("en"), "Is the step dry? Does it stand still?"
    assert step in before_you_start([replace(heeldrop, surface="floor"), replace(heeldrop, surface="step")], to)
    assert step not in before_you_start([replace(heeldrop, surface="floor"), replace(heeldrop, surface=None)], to)


def test_no_time_is_shown_to_clinicians_that_nobody_told():
    assert made_words("2026-11-29T12:00:00+01:00", "2026-11-29") == "2026-11-29"
    assert made_words("2026-11-29T12:00:00+01:00", "2026-11-29T12:00") == "2026-11-29 12:00"
    # what the files say wins over the day that was chosen
    assert made_words("2026-11-28T18:02:11+01:00", "2026-11-29") == "2026-11-28 18:02"
    assert made_words(None, "2026-11-29") == "2026-11-29"
    assert made_words(None, None) == ""


def test_sensors_go_where_they_are_worn(heeldrop):
    to = speech("en")
    said = {step.name: " ".join(step.sentences) for step in steps(heeldrop, to)}
    assert "shin bone" in said["tape"]
    assert "heel of the shoe" in said["tape"]
    assert "Go up on your toes" in said["raise"]
    midfoot = replace(heeldrop, placement={"foot": "midfoot, over the laces"})
    assert "top of the foot" in " ".join(each for step in steps(midfoot, to) for each in step.sentences)
    other = replace(heeldrop, proximal="s1")
    assert "where your clinic showed you" in " ".join(each for step in steps(other, to) for each in step.sentences)
    belt = replace(heeldrop, joint="hip", motion="flexion", proximal="pelvis", distal="thigh")
    belt = replace(belt, calibration_movement=None)
    assert "A belt holds it." in " ".join(each for step in steps(belt, to) for each in step.sentences)
    assert set(patient_preparing.PLACES) == set(patient_preparing.DRAWN)
    assert set(patient_preparing.PLACES) < set(PLACEMENTS)


def test_the_arm_hangs_as_the_zero_has_it_where_the_arm_is_measured(heeldrop):
    arm = replace(heeldrop, joint="elbow", motion="flexion", proximal="upper arm", distal="forearm", zero=None)
    arm = replace(arm, calibration_movement="flexion")
    stood = {step.name: step.sentences for step in steps(arm, speech("en"))}["stand"]
    assert "Let the arm hang, the elbow straight. The thumb points ahead." in stood
    # with a declared mounting no slow moves are needed, and none are asked for by half a sentence
    assert "raise" in {step.name for step in steps(arm, speech("en"))}
    assert "raise" not in {step.name for step in steps(replace(arm, calibration_movement=None), speech("en"))}
    # where angles count from how the person stands, no other pose is asked for
    own = {step.name: step.sentences for step in steps(replace(arm, zero="own standing"), speech("en"))}["stand"]
    assert len(own) == len(stood) - 1


@pytest.mark.parametrize(
    ("wanted", "language"),
    [("de-AT,de;q=0.9,en;q=0.5", "de"), ("fr,en;q=0.8,de;q=0.2", "en"), ("", "en"), ("xx;q=;,,", "en"), ("DE", "de")],
)
def test_a_browser_gets_the_language_it_likes_best_of_those_there_are(wanted, language):
    assert preferred_language(wanted) == language

"""Words about sets of which nobody can tell whose they are; all others are said as before."""

from imu_rom.session.result import Allotment
from imu_rom.wording.exercise_text import exercise_heading, set_sentences, total_sentence
from imu_rom.wording.sentences import session_sentence, set_sentence

OPEN = Allotment("order", ("heeldrop", "heeldropbent"), "4 sets were found where the plan asks for 2 and 3")


def test_nobody_can_tell_is_said_with_the_reason_and_what_to_do(made_session):
    answer = made_session.exercises[0]
    exercise, done = answer.exercise, answer.comparison
    assert exercise_heading(exercise, OPEN).startswith(
        "Nobody can tell which exercise these sets belong to: heeldrop, "
    )
    first = set_sentences(exercise, done, 2.0, OPEN)[0]
    assert "is undecided: 15 repetitions to a median of 9.9 deg" in first
    assert "planned" not in first
    total = total_sentence(exercise, done, OPEN)
    assert total.startswith("4 sets were found where the plan asks for 2 and 3, so nobody can tell")
    assert "_events.tsv" in total
    assert "--exercise NAME@START:STOP" in total


def test_known_sets_are_said_as_ever(made_session):
    answer = made_session.exercises[0]
    exercise, done = answer.exercise, answer.comparison
    for allotment in (None, Allotment("events")):
        assert exercise_heading(exercise, allotment) == "heeldrop, left ankle dorsiflexion"
        assert set_sentences(exercise, done, 2.0, allotment) == tuple(set_sentence(exercise, x, 2.0) for x in done.sets)
        assert total_sentence(exercise, done, allotment) == session_sentence(exercise, done)

"""The plan as a model: look-ups by name and by subject."""

import pytest

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.errors import PlanError


def exercise(name):
    return Exercise(
        name=name,
        joint="ankle",
        motion="dorsiflexion",
        side="left",
        proximal="shank",
        distal="foot",
        sets=3,
        repetitions=15,
    )


def plan(*names, **fields):
    stages = (
        Stage("floor level", (exercise("floordrop"),)),
        Stage("into range", tuple(exercise(name) for name in names)),
    )
    return Plan(title="Heel", tendon_site="achilles insertion", stages=stages, current_stage="into range", **fields)


def test_an_exercise_is_looked_up_in_the_stage_that_applies():
    both = plan("heeldrop", "bentknee")
    assert both.exercise("bentknee").name == "bentknee"
    with pytest.raises(PlanError) as caught:
        both.exercise("floordrop")
    assert str(caught.value).startswith(
        "exercise must be one of heeldrop, bentknee (stage 'into range'), got 'floordrop', which is in stage 'floor l"
    )
    with pytest.raises(PlanError, match=r"got 'squat'; name one of these, or take the plan that the session was done"):
        both.exercise("squat")


def test_the_only_exercise_needs_no_name_but_one_of_two_does():
    assert plan("heeldrop").exercise().name == "heeldrop"
    with pytest.raises(PlanError, match=r"stage 'into range' has 2 exercises: heeldrop, bentknee; name the one"):
        plan("heeldrop", "bentknee").exercise()


@pytest.mark.parametrize(
    ("fields", "subject", "expected"),
    [
        ({"patient": "P-0017"}, "P0017", True),
        ({"patient": "P-0017"}, "P0018", False),
        ({"patient": "P_00 17."}, "P0017", True),
        ({"patient": "P-0017", "bids_subject": "study3"}, "study3", True),
        ({"patient": "P-0017", "bids_subject": "study3"}, "P0017", False),
        ({"patient": "P-0017"}, None, True),
        ({}, "P0017", True),
    ],
)
def test_a_recording_is_the_persons_when_the_names_agree_but_for_punctuation(fields, subject, expected):
    assert plan("heeldrop", **fields).is_for(subject) is expected

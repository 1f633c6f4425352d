"""A plan for another person or exercise is refused by name."""

from dataclasses import replace
from datetime import date

import pytest

from imu_rom.dose.assignment import exercise_shown, sensors_meant
from imu_rom.dose.exercise import ABSENT
from imu_rom.dose.plan import Plan, Stage
from imu_rom.errors import PlanError


@pytest.fixture(scope="module")
def plan(heeldrop):
    return Plan("t", "achilles insertion", (Stage("now", (heeldrop,)),), "now", patient="P-0017")


@pytest.fixture(scope="module")
def plan_of_two(plan, heeldrop):
    return replace(plan, stages=(Stage("now", (heeldrop, replace(heeldrop, name="kneebend"))),))


def test_the_task_label_names_the_exercise(plan, plan_of_two, heeldrop):
    assert exercise_shown(plan, subject="P0017", task="heeldrop") is heeldrop
    assert exercise_shown(plan_of_two, subject=None, task="kneebend").name == "kneebend"
    assert exercise_shown(plan, subject=None, task=None) is heeldrop


def test_a_named_exercise_goes_before_the_task_label(plan_of_two):
    assert exercise_shown(plan_of_two, subject=None, task="heeldrop", name="kneebend").name == "kneebend"
    assert exercise_shown(plan_of_two, subject=None, task="walking", name="kneebend").name == "kneebend"


def test_another_exercise_is_refused(plan):
    with pytest.raises(
        PlanError, match=r"of the task 'squat', but the plan's stage 'now' has 'heeldrop'; .*--exercise"
    ):
        exercise_shown(plan, subject="P0017", task="squat")


def test_another_person_is_refused_by_name(plan):
    with pytest.raises(PlanError, match=r"for 'P-0017' .*but the recording is of subject 'P0018'"):
        exercise_shown(plan, subject="P0018", task="heeldrop")
    assert exercise_shown(replace(plan, bids_subject="P0018"), subject="P0018", task="heeldrop").name == "heeldrop"


def test_an_unknown_or_missing_name_is_refused(plan, plan_of_two):
    with pytest.raises(PlanError, match="got 'squat'"):
        exercise_shown(plan, subject=None, task="heeldrop", name="squat")
    with pytest.raises(PlanError, match="2 exercises: heeldrop, kneebend"):
        exercise_shown(plan_of_two, subject=None, task=None)


def test_the_sensors_are_known_before_the_day_where_all_stages_agree(plan, heeldrop):
    later = replace(heeldrop, name="squat", proximal="thigh", distal="shank")
    both = replace(
        plan,
        stages=(Stage("now", (heeldrop,), date(2026, 12, 1)), Stage("then", (later,), date(2026, 12, 8))),
    )
    assert sensors_meant(plan, None, None) == (heeldrop.proximal, heeldrop.distal)
    assert sensors_meant(both, None, None) == (None, None)
    assert sensors_meant(both, "then", None) == ("thigh", "shank")
    assert sensors_meant(both, None, "squat") == ("thigh", "shank")
    # without days the current stage holds
    undated = replace(both, stages=tuple(replace(each, from_date=None) for each in both.stages))
    assert sensors_meant(undated, None, None) == (heeldrop.proximal, heeldrop.distal)
    with pytest.raises(PlanError, match="got 'jump'"):
        sensors_meant(both, None, "jump")
    with pytest.raises(PlanError, match="stage must be one of 'now', 'then', got 'them'; perhaps 'then' was meant"):
        sensors_meant(both, "them", None)
    alone = replace(plan, stages=(Stage("now", (replace(heeldrop, distal=ABSENT, sensors="proximal only"),)),))
    assert sensors_meant(alone, None, None) == (heeldrop.proximal, None)

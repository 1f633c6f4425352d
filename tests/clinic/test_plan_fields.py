"""The plan's form: what it shows is what the plan says, what is typed comes out in the plan or is refused by place."""

import re
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.clinic.plan_changes import checked_plan
from imu_rom.clinic.plan_fields import stage_fields, with_fields
from imu_rom.errors import PlanError

SAMPLES = Path(__file__).parents[2] / "sample_recordings"
COURSE = (SAMPLES / "course" / "plan.toml").read_text()
PLANS = {each.stem: each.read_text() for each in sorted((SAMPLES / "plans").glob("*.toml"))} | {"course": COURSE}


def shown(text, number):
    form = stage_fields(text, number)
    fields = [*form.head, *form.criteria, *(each for _, own in form.exercises for each in own)]
    return {each.name: each.value for each in fields}


@pytest.mark.parametrize("name", PLANS)
def test_a_form_sent_back_unchanged_changes_nothing(name):
    text = PLANS[name]
    for number in range(len(checked_plan(text).stages)):
        assert with_fields(text, number, shown(text, number)) == text


def test_fields_show_what_the_plan_says():
    fields = shown(COURSE, 1)
    assert fields["plan.record"] == "2 sessions a week"
    assert fields["exercise.0.end_range_deg"] == "0 to 5"
    assert fields["exercise.0.tempo_s.end_range_hold"] == "2"
    assert fields["criteria.load_test.name"] == "10 single-leg heel raises"
    assert fields["criteria.no_rise_week_on_week"] == "yes"
    assert shown(COURSE, 3)["exercise.0.end_range_deg"] == "60 to 80 % of own range"


def test_an_arms_exercise_has_no_fields_of_legs_and_shoes_but_those_that_the_plan_has():
    legs = {f"exercise.0.{each}" for each in ("load.eccentric", "load.concentric", "footwear", "heel_lift_mm")}
    assert legs < set(shown(COURSE, 1))
    arm = PLANS["P-0001"].replace('joint = "ankle"', 'joint = "shoulder"')
    assert legs < set(shown(arm, 0))
    bare = re.sub(r"(?m)^(load|footwear|heel_lift_mm) = .*\n", "", arm)
    assert not legs & set(shown(bare, 0))
    assert "exercise.0.load.external_kg" in shown(bare, 0)


def test_what_is_typed_comes_out_in_the_plan_and_comments_stay():
    changed = with_fields(
        COURSE,
        1,
        {
            "plan.record": "3 sessions a week",
            "exercise.0.sets": "3",
            "exercise.0.end_range_deg": "0 to 7.5",
            "exercise.0.limit_deg": "12,5",
            "exercise.0.tempo_s.top_pause": "",
            "exercise.0.load.external_kg": "5",
            "criteria.no_rise_week_on_week": "",
            "criteria.load_test.pain": "3",
        },
    )
    plan = checked_plan(changed)
    exercise, criteria = plan.stages[1].exercises[0], plan.stages[1].criteria
    assert (exercise.sets, exercise.end_range_deg, exercise.limit_deg) == (3, (0.0, 7.5), 12.5)
    assert exercise.tempo.top_pause_s is None
    assert exercise.tempo.eccentric_s == 2.5
    assert exercise.load.external_kg == 5
    assert (criteria.no_rise_week_on_week, criteria.load_test.pain_at_most) == (False, 3)
    assert plan.sessions_recorded_per_week == 3
    assert changed.count("#") == COURSE.count("#")
    # nothing else is touched
    assert plan.stages[0] == checked_plan(COURSE).stages[0]


def test_a_stage_without_criteria_gets_them():
    changed = checked_plan(
        with_fields(
            COURSE, 3, {"criteria.pain_during": "4", "criteria.load_test.name": "hop", "criteria.load_test.pain": "2"}
        )
    )
    assert changed.stages[3].criteria.pain_during_at_most == 4
    assert changed.stages[3].criteria.load_test.name == "hop"
    assert len(changed.stages[3].exercises) == 1


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("exercise.0.sets", "many", r"plan.toml:\d+:\d+: field stage.exercise.sets: .*got 'many'"),
        ("exercise.0.sets", "0", r"plan.toml:\d+:\d+: field stage.exercise.sets: .*got 0"),
        ("exercise.0.end_range_deg", "5 to 1", r"plan.toml:\d+:\d+: field stage.exercise.end_range_deg"),
        ("criteria.pain_during", "11", r"plan.toml:\d+:\d+: field stage.criteria.pain_during"),
        ("plan.record", "often", r"plan.toml:\d+:\d+: field plan.record: .*got 'often'"),
    ],
)
def test_what_a_plan_cannot_mean_is_refused_with_its_place(name, typed, said):
    with pytest.raises(PlanError) as refused:
        checked_plan(with_fields(COURSE, 1, {name: typed}))
    assert re.match(said, str(refused.value)), str(refused.value)


@settings(max_examples=40, deadline=None)
@given(st.dictionaries(st.sampled_from(sorted(shown(COURSE, 1))), st.text(max_size=40), max_size=4))
def test_whatever_is_typed_is_a_plan_or_a_sentence(typed):
    changed = with_fields(COURSE, 1, typed)
    with suppress(PlanError):
        checked_plan(changed)

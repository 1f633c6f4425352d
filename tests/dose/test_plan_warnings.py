"""What to look at again in a plan: depth and load together, early compression, steps too fine to be told apart."""

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exercise import CompressionThreshold, Exercise, Load, Tempo
from imu_rom.dose.plan import CalendarEntry, OwnUncertainty, Plan, Stage
from imu_rom.dose.plan_warnings import EarlyCompression, plan_warnings
from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol
from imu_rom.dose.stage_depth import exercise_depth
from imu_rom.recording.model import InputFile

DROP = Exercise(
    name="drop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    sets=3,
    repetitions=15,
    end_range_deg=(0.0, 5.0),
    compression_threshold=CompressionThreshold(0.0, "neutral by convention"),
    load=Load("single leg", "both legs", 1.0, 0.0),
    per_day=2,
    days_per_week=7,
)
FLOOR = replace(DROP, name="floor", end_range="floor", end_range_deg=None, surface="floor")
STEP = replace(DROP, surface="step")
HOLD = replace(DROP, name="stay", kind="hold", sets=5, repetitions=1, tempo=Tempo(end_range_hold_s=45.0))
STRETCH = replace(HOLD, name="stretch", kind="stretch", end_range_deg=None, load=Load("unweighted"))


def plan(*stages, site="achilles insertion", **more):
    made = tuple(Stage(str(i), each if isinstance(each, tuple) else (each,)) for i, each in enumerate(stages))
    return Plan("Heel", site, made, "0", **more)


def rises(*stages, **more):
    return [
        (each.before, each.after, [one.kind for one in each.load])
        for each in plan_warnings(plan(*stages, **more), 2.1).depth_and_load
    ]


def heavier(exercise, **load):
    return replace(exercise, load=replace(exercise.load, **load))


DEEPER = replace(DROP, end_range_deg=(5.0, 15.0))


@pytest.mark.parametrize(
    ("before", "after", "kinds"),
    [
        (DROP, heavier(DEEPER, external_kg=5.0), ["added weight"]),
        (heavier(DROP, share_of_body_weight=0.5), DEEPER, ["share of body weight"]),
        (heavier(DROP, eccentric="both legs"), DEEPER, ["one leg"]),
        (replace(DROP, repetition_maximum=15), replace(DEEPER, repetition_maximum=8), ["repetition maximum"]),
        (DROP, replace(DEEPER, sets=4), ["repetitions a week"]),
        (replace(DROP, days_per_week=3.5), DEEPER, ["repetitions a week"]),
        (HOLD, replace(HOLD, end_range_deg=(5.0, 15.0), sets=6), ["holds a week"]),
        (DROP, (DEEPER, replace(HOLD, end_range_deg=(5.0, 15.0))), ["holds a week"]),
    ],
)
def test_depth_that_rises_with_any_load_is_found(before, after, kinds):
    assert rises(before, after) == [("0", "1", kinds)]
    # neither alone is anything to look at, nor both falling
    assert rises(after, before) == []


@pytest.mark.parametrize(
    ("before", "after"),
    [
        # deeper alone, heavier alone
        (DROP, DEEPER),
        (DROP, heavier(DROP, external_kg=5.0)),
        # one up, the other down
        (DROP, replace(DEEPER, sets=2)),
        (heavier(DROP, external_kg=5.0), DEEPER),
        # what the plan does not say can't be said to rise
        (replace(DROP, per_day=None), replace(DEEPER, sets=4)),
        (heavier(DROP, external_kg=None), heavier(DEEPER, external_kg=10.0)),
        # holds in the place of repetitions, and a stretch without weight, are no more load
        (DROP, replace(HOLD, end_range_deg=(5.0, 15.0))),
        (DROP, (DEEPER, STRETCH)),
        # the other leg's load is no load of this one
        (DROP, (DEEPER, replace(heavier(DROP, external_kg=9.0), name="other", side="right"))),
        # the knee's depth says nothing about the heel
        (replace(DROP, joint="knee", motion="flexion"), replace(DEEPER, joint="knee", motion="flexion", sets=9)),
    ],
)
def test_what_rises_alone_is_not(before, after):
    assert rises(before, after) == []


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (FLOOR, DROP),
        (replace(FLOOR, end_range="angle", limit_deg=-10.0), FLOOR),
        (replace(DROP, end_range_deg=None, limit_deg=5.0), replace(DROP, end_range_deg=None, limit_deg=10.0)),
        (replace(DROP, limit_deg=10.0), replace(DROP, limit_deg=15.0)),
        (replace(DROP, limit_deg=10.0), DROP),
        (replace(DROP, limit_deg=10.0), replace(DROP, end_range_deg=(0.0, math.inf))),
        # off a step, or where there was an end before, nothing said is no end
        (FLOOR, replace(STEP, end_range_deg=None)),
        (DROP, replace(DROP, end_range_deg=None)),
    ],
)
def test_depth_is_the_windows_end_then_the_limit_then_the_floor(before, after):
    more = replace(after, sets=after.sets + 1)
    assert rises(before, more) == [("0", "1", ["repetitions a week"])]
    assert rises(before, replace(before, sets=9)) == []


def test_a_seated_raise_without_a_window_is_not_taken_for_deep():
    seated = replace(DROP, name="seated", end_range_deg=None, surface=None)
    assert exercise_depth(seated) is None
    assert rises(FLOOR, (replace(FLOOR, sets=9), seated)) == []


def test_stages_that_the_calendar_leaves_out_are_passed_over():
    start = date(2026, 12, 1)
    light, deep, heavy = DROP, DEEPER, heavier(DROP, external_kg=5.0)
    both = heavier(DEEPER, external_kg=5.0)
    stages = (light, deep, heavy, both)
    assert rises(*stages) == []
    calendar = tuple(CalendarEntry(start + timedelta(i), name) for i, name in enumerate("0310"))
    assert rises(*stages, calendar=calendar) == [("0", "3", ["added weight"])]


def test_the_compressive_angle_that_is_crossed_is_known():
    (found,) = plan_warnings(plan(FLOOR, replace(DEEPER, sets=4)), 2.1).depth_and_load
    assert (found.depth_before.is_past, found.depth_after.is_past) == (False, True)
    assert exercise_depth(replace(DROP, compression_threshold=None)).is_past is None


@pytest.mark.parametrize(
    ("stages", "found"),
    [
        ((STEP,), [("0", "drop", "drop", 5.0)]),
        ((replace(STEP, end_range_deg=None),), [("0", "drop", "drop", None)]),
        (((FLOOR, STRETCH),), [("0", "stretch", "stretch", None)]),
        (((FLOOR, replace(STRETCH, end_range_deg=(5.0, 10.0))),), [("0", "stretch", "stretch", 10.0)]),
        # the stage before stayed short of neutral, so the second is early still
        ((replace(FLOOR, end_range="angle", limit_deg=-10.0), STEP), [("1", "drop", "drop", 5.0)]),
        # a stage that reached neutral ends the early ones
        ((FLOOR, STEP), []),
        ((FLOOR, STRETCH), []),
        # not past neutral, not over an edge, not this motion
        ((replace(STEP, end_range_deg=(-10.0, 0.0)),), []),
        ((DROP,), []),
        ((replace(STRETCH, end_range_deg=(-10.0, -5.0)),), []),
        ((replace(STEP, joint="knee", motion="flexion"),), []),
    ],
)
def test_a_drop_or_stretch_before_neutral_is_early(stages, found):
    wanted = tuple(EarlyCompression(*each) for each in found)
    assert plan_warnings(plan(*stages), 2.1).early == wanted
    assert plan_warnings(plan(*stages, site="achilles midportion"), 2.1).early == ()


def test_each_leg_has_early_stages_of_its_own():
    (found,) = plan_warnings(plan(FLOOR, (STEP, replace(STEP, name="other", side="right"))), 2.1).early
    assert found.exercise == "other"


def test_steps_finer_than_the_detectable_change_are_found_once_with_what_it_rests_on():
    ladder = plan(replace(DROP, end_range_deg=None, limit_deg=-10.0), FLOOR, DROP, replace(DROP, end_range_deg=(5, 10)))
    found = plan_warnings(ladder, 2.0).fine_steps
    # 1.96 x sqrt(2) x 2.0 deg; the step of 10 deg is coarser
    assert round(found.change.mdc95_deg, 2) == 5.54
    assert found.change.basis == "lower bound"
    assert [(each.from_deg, each.to_deg) for each in found.steps] == [(0, 5), (5, 10)]
    assert plan_warnings(ladder, 1.8).fine_steps is None
    # Konor 2012 by inclinometer: 3.88 deg; by goniometer: 7.76 deg
    assert plan_warnings(ladder, 2.0, "konor-2012-inclinometer").fine_steps is None
    by_study = plan_warnings(ladder, 1.0, "konor-2012-goniometer").fine_steps.change
    assert (by_study.basis, round(by_study.mdc95_deg, 2)) == ("published", 7.76)
    own = OwnUncertainty(
        {"zero_pose_deg": 3.0}, {"zero_pose_deg": "the check a.json"}, (), (InputFile("a.json", "0" * 64, "check"),)
    )
    by_check = plan_warnings(replace(ladder, own_uncertainty=own), 1.0).fine_steps.change
    assert (by_check.basis, round(by_check.mdc95_deg, 2)) == ("own check", 8.32)


def test_the_ladders_steps_are_too_fine_and_so_it_says_itself():
    protocol = read_protocol("insertional-ladder")
    found = plan_warnings(protocol, 2.1).fine_steps
    assert [(each.from_deg, each.to_deg) for each in found.steps] == [(0, 5), (5, 10)]
    assert "finer than the between-day change" in protocol.protocol.from_memory


@pytest.mark.parametrize("name", protocol_names())
def test_programmes_for_the_insertion_begin_without_early_compression(name):
    found = plan_warnings(read_protocol(name), 2.1)
    assert found.early == ()
    # at 1 deg, no step of the programmes is too fine
    assert plan_warnings(read_protocol(name), 1.0).fine_steps is None
    together = {"breda-2021", "goom-2016", "insertional-ladder", "silbernagel-2007"}
    assert bool(found.depth_and_load) == (name in together)


@given(
    depths=st.lists(st.integers(-20, 30), min_size=2, max_size=5),
    sets=st.lists(st.integers(1, 9), min_size=5, max_size=5),
)
def test_there_is_a_warning_just_where_both_rise(depths, sets):
    stages = [replace(DROP, end_range_deg=(-30.0, float(deg)), sets=n) for deg, n in zip(depths, sets, strict=False)]
    expected = [
        (str(i), str(i + 1)) for i in range(len(depths) - 1) if depths[i + 1] > depths[i] and sets[i + 1] > sets[i]
    ]
    assert [(before, after) for before, after, _ in rises(*stages)] == expected

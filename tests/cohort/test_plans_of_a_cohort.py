"""Which plan a recording is compared with, and which files of a dataset are recordings."""

from dataclasses import replace
from datetime import date

import pytest

from imu_rom.cohort.dataset import recordings_among
from imu_rom.cohort.plans import NotPairedError, plan_of, read_cohort_plans
from imu_rom.course.plans import PlanVersion
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.recording.model import InputFile

DROP = Exercise("drop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15)
PLAN = Plan("Heel", "achilles insertion", (Stage("one", (DROP,)),), "one", patient="P-01", time_zone="Europe/Berlin")


def version(name, from_date=None, task="drop"):
    plan = replace(PLAN, from_date=from_date, stages=(Stage("one", (replace(DROP, name=task),)),))
    return PlanVersion(InputFile(name, name * 8, "plan"), plan)


FIRST, SECOND = version("first", date(2026, 12, 1)), version("second", date(2026, 12, 15))


@pytest.mark.parametrize(
    ("versions", "recorded_at", "task", "name"),
    [
        ([version("only")], None, None, "only"),
        ([version("only", date(2026, 12, 1))], None, "another", "only"),
        ([FIRST, SECOND], "2026-12-14T23:30:00+01:00", "drop", "first"),
        # a day of the person's clock, not of UTC's
        ([FIRST, SECOND], "2026-12-14T23:30:00+00:00", "drop", "second"),
        # the later one holds, even where only the earlier has the exercise
        ([FIRST, version("second", date(2026, 12, 15), "raise")], "2026-12-20T10:00:00+01:00", "drop", "second"),
        ([version("left", task="dropleft"), version("right", task="dropright")], None, "dropright", "right"),
    ],
)
def test_the_plan_of_the_day_then_of_the_task_is_taken(versions, recorded_at, task, name):
    assert plan_of(versions, recorded_at, task).file.name == name


@pytest.mark.parametrize(
    ("versions", "recorded_at", "task", "code"),
    [
        ([], "2026-12-14T10:00:00+01:00", "drop", "no-plan"),
        ([FIRST, SECOND], None, "drop", "no-time"),
        ([FIRST, SECOND], "2026-11-30T10:00:00+01:00", "drop", "no-stage"),
        ([version("one"), version("two")], None, "drop", "several-plans"),
        ([version("one"), version("two")], None, "raise", "several-plans"),
        ([version("one"), version("two")], None, None, "several-plans"),
    ],
)
def test_what_can_not_be_paired_says_why(versions, recorded_at, task, code):
    with pytest.raises(NotPairedError) as refused:
        plan_of(versions, recorded_at, task)
    assert refused.value.code == code


def test_plans_that_name_nobody_are_for_whoever_has_none(simulated, tmp_path):
    text = (simulated / "plans" / "A-01.toml").read_text()
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "one.toml").write_text(text)
    (tmp_path / "all.toml").write_text(text.replace('patient = "A-01"\n', ""))
    plans = read_cohort_plans(tmp_path)
    assert [each.file.name for each in plans.of("A01")] == ["deep/one.toml"]
    assert [each.file.name for each in plans.of("Z99")] == ["all.toml"]
    assert [each.file.name for each in plans.of(None)] == ["all.toml"]
    # one file is for everybody, and the analysis refuses another person's recording
    assert len(read_cohort_plans(tmp_path / "deep" / "one.toml").of("Z99")) == 1


def test_recordings_are_the_raw_motion_files_with_what_belongs_to_them():
    motion = "sub-A1/ses-2/motion/sub-A1_ses-2_task-x_tracksys-imu_run-3_motion.tsv"
    beside = motion.replace("_motion.tsv", "_channels.tsv"), motion.replace("_motion.tsv", "_motion.json")
    events = motion.replace("_tracksys-imu", "").replace("_motion.tsv", "_events.tsv")
    optical = motion.replace("imu", "optical")
    others = (
        f"derivatives/old/{motion}",
        f"sourcedata/{motion}",
        f".git/{motion}",
        "sub-A1/ses-2/eeg/sub-A1_ses-2_task-x_eeg.tsv",
    )
    scans = "sub-A1/ses-2/sub-A1_ses-2_scans.tsv"
    found = recordings_among([scans, *others, optical, *beside, events, motion, "sub-A1/ses-3/sub-A1_ses-3_scans.tsv"])
    assert [each.place for each in found] == [motion, optical]
    one, other = found
    assert set(one.files) == {motion, *beside, events, scans}
    assert set(other.files) == {optical, events, scans}
    assert [one.label(each) for each in ("ses", "run", "tracksys", "acq")] == ["2", "3", "imu", None]
    assert one.participant == "A1"


def test_two_recordings_of_one_name_are_told_apart_by_their_place():
    found = recordings_among(["a/sub-1_motion.tsv", "b/sub-1_motion.tsv", "c/sub-2_motion.tsv"])
    assert [each.session for each in found] == ["a/sub-1", "b/sub-1", "sub-2"]

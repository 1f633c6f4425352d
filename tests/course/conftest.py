"""Plans for the tests of courses; nothing here is about a real person."""

from dataclasses import replace
from datetime import date, time

import pytest

from imu_rom.course.plans import CoursePlans, PlanVersion
from imu_rom.course.recorded import fingerprint
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.exchange.document import result_document
from imu_rom.exchange.result import write_result
from imu_rom.recording.model import InputFile

FLOORDROP = Exercise("floordrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15, per_day=2)
HEELDROP = replace(FLOORDROP, name="heeldrop")
PLAN = Plan(
    "Heel",
    "achilles insertion",
    (Stage("floor level", (FLOORDROP,), date(2026, 12, 1)), Stage("into range", (HEELDROP,), date(2026, 12, 15))),
    "floor level",
    patient="P-0009",
    day_starts_at=time(3),
    time_zone="Europe/Berlin",
)


def versions(*plans):
    """Versions as `read_plans` returns them."""
    return CoursePlans(
        tuple(
            PlanVersion(InputFile(f"plans/{number}.toml", f"{number}" * 64, "plan"), plan)
            for number, plan in enumerate(plans)
        )
    )


@pytest.fixture(scope="session")
def plans():
    return versions(PLAN)


COURSE_PLAN = """\
[plan]
format = 1
title = "Left heel, into range"
patient = "P-0017"
tendon_site = "achilles insertion"
stage = "into range"

[[stage]]
name = "into range"
from = 2026-12-01

[[stage.exercise]]
name = "heeldrop"
joint = "ankle"
motion = "dorsiflexion"
side = "left"
proximal = "shank"
distal = "foot"
calibration_movement = "plantarflexion"
sets = 3
repetitions = 15
tempo_s = { eccentric = 2.5, end_range_hold = 2.0, concentric = 1.5, top_pause = 0.6 }
rest_s = 60
start_deg = -25
end_range_deg = [5, 15]
limit_deg = 18
compression_threshold = { deg = 4, basis = "clinician" }
past_threshold_s_per_set = [20, 60]
load = { eccentric = "single leg", concentric = "both legs", share_of_body_weight = 1.0, external_kg = 0 }
surface = "step"
footwear = "trainers"
heel_lift_mm = 0
per_day = 2
days_per_week = 7
"""


@pytest.fixture(scope="session")
def plain_result(make_session):
    """A result by the plan of the course folder."""
    exercise = plan_from_bytes(COURSE_PLAN.encode(), "plan.toml").stage.exercises[0]
    return result_document(make_session(exercise=exercise))


@pytest.fixture
def course_folder(tmp_path, plain_result):
    """A folder with a plan, and a function that puts a result into it."""
    plain = plain_result
    exercise = plain.exercises[0].exercise
    folder = tmp_path / "course"
    (folder / "results").mkdir(parents=True)
    (folder / "plan.toml").write_text(COURSE_PLAN)

    def put(name, recorded_at, exercise_changes=None, **changes):
        recording = replace(
            plain.recording, recorded_at=recorded_at, label=f"sub-P0017_run-{recorded_at}_task-heeldrop"
        )
        answer = replace(plain.exercises[0], exercise=replace(exercise, **(exercise_changes or {})), slips=())
        document = replace(
            plain,
            recording=recording,
            exercises=(answer,),
            inputs=(InputFile("x_motion.tsv", fingerprint(recorded_at)), plain.inputs[1]),
            **changes,
        )
        place = folder / "results" / name
        place.mkdir(parents=True)
        (place / "result.json").write_bytes(write_result(document))
        return place / "result.json"

    return folder, put


@pytest.fixture(scope="session")
def plans_of_course():
    return versions(plan_from_bytes(COURSE_PLAN.encode(), "plan.toml"))

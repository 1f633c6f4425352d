"""Plans for the tests of courses; nothing here is about a real person."""

from dataclasses import replace
from datetime import date, time

import pytest

from imu_rom.course.plans import CoursePlans, PlanVersion
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan, Stage
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

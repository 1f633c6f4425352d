"""Recorded sessions and plans of weeks made by hand: facts only, no files and no analysis."""

from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest

from imu_rom.dose.follow_up import Interval, RecordedExercise, RecordedRepetition, RecordedSet
from imu_rom.dose.plan import Plan, Stage

FIRST = date(2026, 12, 1)


@pytest.fixture(scope="session")
def daily(heeldrop):
    """The heel drop, 3 x 15 twice a day."""
    return replace(heeldrop, per_day=2.0, days_per_week=7.0)


@pytest.fixture(scope="session")
def plan_of():
    """Function that makes a plan: one stage of the given exercises from the first of December."""

    def made(*exercises, criteria=None, **fields):
        more = {} if criteria is None else {"criteria": criteria}
        stages = (Stage("into range", tuple(exercises), from_date=FIRST, **more),)
        given = {"title": "made", "tendon_site": "achilles insertion", "stages": stages, "current_stage": "into range"}
        return Plan(**given | fields)

    return made


@pytest.fixture(scope="session")
def session_of():
    """Function that makes one recorded exercise.

    ``depths`` holds the end ranges set by set; phases default to what the exercise prescribes.
    """

    def made(exercise, day, hour=8, *, depths=None, phases=None, reached="yes", within="yes", past_s=None, **fields):
        at = datetime.combine(day, time(hour), UTC)
        tempo = exercise.tempo
        prescribed = (tempo.eccentric_s or 0.0, tempo.end_range_hold_s or 0.0, tempo.concentric_s or 0.0)
        depths = [[10.0] * exercise.repetitions] * exercise.sets if depths is None else depths
        sets = tuple(
            RecordedSet(
                tuple(
                    RecordedRepetition(True, float(depth), *(prescribed if phases is None else phases), reached, within)
                    for depth in each
                ),
                "met",
            )
            for each in depths
        )
        past = None if past_s is None else Interval(*past_s)
        given = {
            "day": day,
            "started_at": at,
            "session": at.isoformat(),
            "exercise": exercise,
            "stage": "into range",
            "sets": sets,
            "past_threshold_s": past,
            "loaded_s": past,
            "unloaded_s": None if past is None else Interval(0.0, 0.0, 0.0),
            "outside_sets_s": None,
            "u_shared_deg": 2.0,
            "u_set_deg": 0.8,
            "zero_doubtful": False,
            "footwear": exercise.footwear,
            "source": f"{at:%Y%m%d%H}",
        }
        return RecordedExercise(**given | fields)

    return made

"""Rows of the benchmark of sessions: which are simulated, and the plan that asks for them."""

import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

from imu_rom.dose.exercise import CompressionThreshold, Exercise, Load, Tempo
from imu_rom.dose.plan import Plan, Stage
from imu_rom.recording.bids import write_bids_motion
from imu_rom.recording.model import Recording
from imu_rom.recording.reading import read_recording
from imu_rom.settings import Settings
from imu_rom.simulation import (
    SCENARIOS,
    Person,
    Routine,
)

__all__ = ["ROWS", "SHORT_OF_END_RANGE_DEG", "Row", "exercise_for", "plan_of", "routine_of", "through_a_file"]

SHORT_OF_END_RANGE_DEG = 4.0


@dataclass(frozen=True)
class Row:
    """Sessions of one kind: a scenario of the simulator, with changes.

    Parameters
    ----------
    scenario : str
        One of the simulator's.
    meaning : str
        One line for people.
    routine : dict
        Fields of the routine to set otherwise. The person sits on no chair before standing up unless this says so.
    rate_hz : float
        Rate of the recordings.
    share : float
        Share of the seeds that this row takes.
    written : bool
        True: the recording is written as BIDS Motion with 5 digits and read back, as a user's would be.
    """

    scenario: str
    meaning: str
    routine: dict[str, object] = field(default_factory=dict)
    rate_hz: float = 50.0
    share: float = 0.3
    written: bool = False


SQUAT: dict[str, object] = {
    "joint": "knee", "proximal": "thigh", "distal": "shank", "task": "squathold", "sets": 3, "repetitions": 5,
    "start_deg": 8.0, "end_range_deg": 60.0, "eccentric_s": 3.0, "hold_s": 20.0, "concentric_s": 2.5,
    "calibration_sign": 1, "calibration_deg": (35.0, 55.0),
}  # fmt: skip

MOUNTED: dict[str, object] = {"proximal_mounting": "z outward, x up", "distal_mounting": "z up, x forward"}

ROWS = {
    "usual": Row("usual", "3 x 15 heel drops as prescribed", share=1.0),
    "partial": Row("partial", "one repetition in eight goes only part of the way"),
    "fast": Row("fast", "1.5 s a repetition"),
    "long hold": Row("long-hold", "3 x 5, held for 18 s"),
    "floor level": Row("floor", "rise and lower to the floor"),
    "rests of 10 s": Row("short-rests", "standing between the sets"),
    "zero off": Row("zero-off", "neutral pose off by N(3, 4) deg"),
    "soft tissue locked": Row("locked-soft-tissue", "skin follows 5-10 % of the excursion"),
    "chair first": Row("usual", "sits on a chair before standing up", {"sits_before": True}),
    "interrupted": Row("interrupted", "a pause of 5-20 s in every set"),
    "squat hold": Row("usual", "knee, 3 x 5, held for 20 s", SQUAT),
    "mounting declared": Row(
        "usual", "both sensors as the plan says, off by 4 deg about each axis", MOUNTED, share=0.25
    ),
    "100 Hz": Row("usual", "the usual at twice the rate", rate_hz=100.0, share=0.25),
    "100 Hz by file": Row("usual", "the same, written with 5 digits and read", rate_hz=100.0, share=0.05, written=True),
}


def routine_of(row: Row) -> tuple[Routine, Person]:
    """Return what is done in a row and by whom."""
    routine, person = SCENARIOS[row.scenario].apply(Routine(sits_before=False), Person())
    return replace(routine, **row.routine), person


def exercise_for(routine: Routine) -> Exercise:
    """Return the exercise of a plan that asks for the routine, with a threshold 4 deg short of its mean end range."""
    ankle = routine.joint == "ankle"
    return Exercise(
        name=routine.task,
        joint=routine.joint,
        motion="dorsiflexion" if ankle else "flexion",
        side=routine.side,
        proximal=routine.proximal,
        distal=routine.distal,
        calibration_movement="plantarflexion" if ankle else "flexion",
        sets=routine.sets,
        repetitions=routine.repetitions,
        tempo=Tempo(
            eccentric_s=routine.eccentric_s,
            end_range_hold_s=routine.hold_s if routine.hold_s >= 0.3 else None,
            concentric_s=routine.concentric_s,
            top_pause_s=routine.top_pause_s,
        ),
        rest_s=routine.rest_s,
        start_deg=routine.start_deg,
        end_range_deg=(routine.end_range_deg - 5.0, routine.end_range_deg + 5.0),
        limit_deg=routine.end_range_deg + 8.0,
        compression_threshold=CompressionThreshold(routine.end_range_deg - SHORT_OF_END_RANGE_DEG, "clinician"),
        load=Load(eccentric="single leg", concentric="both legs", share_of_body_weight=1.0, external_kg=0.0),
        surface="floor" if routine.on_floor else "step",
        mounting={
            point: words
            for point, words in (
                (routine.proximal, routine.proximal_mounting),
                (routine.distal, routine.distal_mounting),
            )
            if words is not None
        },
        footwear="trainers",
    )


def plan_of(exercise: Exercise) -> Plan:
    """Return a plan of one exercise."""
    site = "achilles insertion" if exercise.joint == "ankle" else "patellar"
    return Plan("Simulated", site, (Stage("only one", (exercise,)),), "only one")


def through_a_file(recording: Recording, routine: Routine) -> Recording:
    """Write the recording as BIDS Motion with 5 digits, and read and check it as a user's."""
    with tempfile.TemporaryDirectory() as folder:
        file = write_bids_motion(
            Path(folder),
            subject="simulated",
            task=routine.task,
            rate_hz=recording.rate_hz,
            sensors=tuple(recording.sensors.values()),
        )
        return read_recording(file, Settings().reading)

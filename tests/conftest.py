"""A session's result made by hand, for the rooms that write and show results; no file and no analysis in it."""

from dataclasses import replace
from datetime import date
from statistics import NormalDist

import numpy as np
import pytest

from imu_rom.dose.angle_path import angle_path
from imu_rom.dose.comparison import RepetitionComparison, SessionComparison, SetComparison
from imu_rom.dose.exposure import Exposure, excess, exposure_curve, longest_past, time_past, total_curve
from imu_rom.dose.plan import CompressionThreshold, Exercise, Load, Plan, Stage, Tempo
from imu_rom.findings import Finding
from imu_rom.motion.repetitions import Repetition
from imu_rom.recording.model import Gap, InputFile, Recording, Sensor
from imu_rom.session import (
    Alignment,
    AngleTrace,
    ExerciseResult,
    Mark,
    SessionResult,
    StillStretch,
    ZeroPose,
)
from imu_rom.settings import Settings

RATE_HZ = 50.0
START_DEG = -25.0
ECCENTRIC_S, HOLD_S, CONCENTRIC_S, TOP_S = 2.5, 2.0, 1.5, 0.6
U_SHARED_DEG, U_SET_DEG = 2.0, 0.8
U_DEG = float(np.hypot(U_SHARED_DEG, U_SET_DEG))

HEELDROP = Exercise(
    name="heeldrop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    calibration_movement="plantarflexion",
    sets=3,
    repetitions=15,
    tempo=Tempo(eccentric_s=2.5, end_range_hold_s=2.0, concentric_s=1.5, top_pause_s=0.6),
    rest_s=60.0,
    start_deg=-25.0,
    end_range_deg=(5.0, 15.0),
    limit_deg=18.0,
    compression_threshold=CompressionThreshold(deg=4.0, basis="clinician"),
    past_threshold_s_per_set=(20.0, 60.0),
    load=Load(eccentric="single leg", concentric="both legs", share_of_body_weight=1.0, external_kg=0.0),
    surface="step",
    footwear="trainers",
    heel_lift_mm=0.0,
)


def smooth(seconds, first, last):
    """Minimum-jerk way from one angle to another."""
    part = np.arange(round(seconds * RATE_HZ)) / round(seconds * RATE_HZ)
    return first + (last - first) * (10 * part**3 - 15 * part**4 + 6 * part**5)


def rest(seconds, angle):
    return np.full(round(seconds * RATE_HZ), angle)


def movement(depths):
    """Angle over time of a whole session, its phases and its repetitions (set, start sample)."""
    pieces, phases, starts = [], [], []

    def add(phase, *arrays):
        for each in arrays:
            pieces.append(each)
            phases.append(np.full(len(each), phase))

    add(0, rest(20, 12.0), smooth(2, 12.0, 0.0))
    add(1, rest(8, 0.0))
    for _ in range(3):
        add(2, smooth(1.5, 0.0, -28.0), smooth(1.5, -28.0, 0.0))
    add(3, smooth(3, 0.0, 8.0), smooth(3, 8.0, -4.0), smooth(3, -4.0, START_DEG))
    for number, depths_of_set in enumerate(depths, start=1):
        for depth in depths_of_set:
            starts.append((number, sum(len(each) for each in pieces), depth))
            add(
                3 + number,
                smooth(ECCENTRIC_S, START_DEG, depth),
                rest(HOLD_S, depth),
                smooth(CONCENTRIC_S, depth, START_DEG),
                rest(TOP_S, START_DEG),
            )
        add(3, smooth(2, START_DEG, 2.0), smooth(6, 2.0, 6.0), smooth(2, 6.0, START_DEG))
    return np.concatenate(pieces), np.concatenate(phases).astype(np.int16), starts


def exposure_of(path, exercise):
    threshold = exercise.compression_threshold.deg
    curve = exposure_curve(path)
    past = time_past(path, threshold)
    return Exposure(
        past_threshold_s=past,
        past_threshold_low_s=float(curve.time_past(threshold + 1.96 * U_DEG)),
        past_threshold_high_s=float(curve.time_past(threshold - 1.96 * U_DEG)) + path.unseen_s,
        excess_deg_s=excess(path, threshold),
        longest_s=longest_past(path, threshold),
        loaded_s=0.6 * past if exercise.load.eccentric else None,
        unloaded_s=0.4 * past if exercise.load.eccentric else None,
    )


def answer(probability, decide):
    if probability is None:
        return "not prescribed"
    return "yes" if probability >= decide else "no" if probability <= 1 - decide else "undecided"


def repetition_of(number, start, depth, angle, exercise):
    start_s = start / RATE_HZ
    hold_start_s = start_s + ECCENTRIC_S
    stop_s = hold_start_s + HOLD_S + CONCENTRIC_S
    done = Repetition(
        start_s=start_s,
        end_range_s=hold_start_s + HOLD_S / 2,
        stop_s=stop_s,
        hold_start_s=hold_start_s,
        hold_stop_s=hold_start_s + HOLD_S,
        end_range_deg=depth,
        end_range_uncertainty_deg=0.3,
        held_deg=depth - 0.123456,
        start_deg=START_DEG,
        complete=depth > START_DEG + 20,
    )
    path = angle_path(RATE_HZ, angle, start_s, stop_s)
    window, limit = exercise.end_range_deg, exercise.limit_deg
    reached = None if window is None else NormalDist().cdf((depth - window[0]) / U_DEG)
    kept = None if limit is None else NormalDist().cdf((limit - depth) / U_DEG)
    return RepetitionComparison(
        number=number,
        repetition=done,
        end_range_low_deg=depth - 1.96 * U_DEG,
        end_range_high_deg=depth + 1.96 * U_DEG,
        exposure=None if exercise.compression_threshold is None else exposure_of(path, exercise),
        curve=exposure_curve(path),
        probability_reached=reached,
        reached=answer(reached, exercise.decide.reached),
        probability_within_limit=kept,
        within_limit=answer(kept, exercise.decide.limit),
        deeper_than_asked=window is not None and depth > window[1],
    )


def set_verdict(exercise, reached, past_limit, undecided, prescribed):
    if exercise.end_range_deg is None and exercise.limit_deg is None:
        return "not prescribed"
    if past_limit:
        return "over"
    if reached >= exercise.decide.share_of_repetitions * prescribed:
        return "met"
    return "undecided" if undecided else "short"


def set_of(number, repetitions, angle, exercise):
    complete = [each for each in repetitions if each.repetition.complete]
    count = {value: sum(each.reached == value for each in complete) for value in ("yes", "no", "undecided")}
    past_limit = sum(each.within_limit == "no" for each in repetitions)
    start_s, stop_s = repetitions[0].repetition.start_s, repetitions[-1].repetition.stop_s
    window = exercise.past_threshold_s_per_set
    return SetComparison(
        number=number,
        start_s=start_s,
        stop_s=stop_s,
        interruptions=(),
        repetitions=tuple(repetitions),
        complete=len(complete),
        partial=len(repetitions) - len(complete),
        prescribed_repetitions=exercise.repetitions,
        reached=count["yes"],
        short=count["no"],
        undecided=count["undecided"],
        past_limit=past_limit,
        hold_s=sum(each.repetition.hold_s for each in complete),
        exposure=None
        if exercise.compression_threshold is None
        else exposure_of(angle_path(RATE_HZ, angle, start_s, stop_s), exercise),
        prescribed_low_s=None if window is None else window[0],
        prescribed_high_s=None if window is None else window[1],
        prescribed_derived=False,
        probability_reached=None if exercise.end_range_deg is None else 0.97,
        probability_within_limit=None if exercise.limit_deg is None else 0.99,
        probability_above_window=None if window is None else 0.01,
        probability_below_window=None if window is None else 0.02,
        verdict=set_verdict(exercise, count["yes"], past_limit, count["undecided"], exercise.repetitions),
    )


def recording_of(samples):
    def sensor(name):
        return Sensor(
            tracked_point=name,
            accelerometer_m_s2=np.tile([0.0, 0.0, 9.81], (samples, 1)),
            gyroscope_rad_s=np.zeros((samples, 3)),
            magnetometer_t=None,
            missing=np.zeros(samples, dtype=bool),
            placement=f"left {name}",
        )

    return Recording(
        rate_hz=RATE_HZ,
        sensors={"shank": sensor("shank"), "foot": sensor("foot")},
        label="sub-P0017_task-heeldrop_tracksys-imu_motion",
        task="heeldrop",
        subject="P0017",
        recorded_at="2026-12-03T18:02:11+01:00",
        recorded_at_source="scans.tsv",
        gaps=(Gap(start_s=70.0, stop_s=70.6, tracked_point="foot"),),
        filled_samples={"shank": 3, "foot": 0},
        files=(InputFile("sub-P0017_task-heeldrop_tracksys-imu_motion.tsv", "a" * 64),),
    )


def build_session(depths=((10.0,) * 15,) * 3, exercise=HEELDROP, findings=None, marks=(), patient="P-0017"):
    """Result of a session with the given end range of each repetition of each set."""
    angle, phase, starts = movement(depths)
    sets = []
    for number in range(1, len(depths) + 1):
        inside = [(start, depth) for each, start, depth in starts if each == number]
        repetitions = [
            repetition_of(index, start, depth, angle, exercise) for index, (start, depth) in enumerate(inside, start=1)
        ]
        sets.append(set_of(number, repetitions, angle, exercise))
    threshold = exercise.compression_threshold
    whole = angle_path(RATE_HZ, angle, 40.0)
    outside = None if threshold is None else time_past(whole, threshold.deg) - sum(
        each.exposure.past_threshold_s for each in sets
    )  # fmt: skip
    total = None
    if threshold is not None:
        curve = total_curve([each.curve for done in sets for each in done.repetitions])
        total = Exposure(
            past_threshold_s=sum(each.exposure.past_threshold_s for each in sets),
            past_threshold_low_s=float(curve.time_past(threshold.deg + 1.96 * U_DEG)),
            past_threshold_high_s=float(curve.time_past(threshold.deg - 1.96 * U_DEG)),
            excess_deg_s=sum(each.exposure.excess_deg_s for each in sets),
            longest_s=max(each.exposure.longest_s for each in sets),
            loaded_s=None if exercise.load.eccentric is None else sum(each.exposure.loaded_s for each in sets),
            unloaded_s=None if exercise.load.eccentric is None else sum(each.exposure.unloaded_s for each in sets),
        )
    comparison = SessionComparison(
        sets=tuple(sets),
        complete=sum(each.complete for each in sets),
        partial=sum(each.partial for each in sets),
        prescribed_sets=exercise.sets,
        prescribed_repetitions=exercise.sets * exercise.repetitions,
        exposure=total,
        outside_sets_s=outside,
        outside_sets_low_s=None if outside is None else 0.5 * outside,
        outside_sets_high_s=None if outside is None else 1.6 * outside,
    )
    answer_of_exercise = ExerciseResult(
        exercise=exercise,
        zero=ZeroPose(
            start_s=22.5,
            stop_s=29.5,
            source="auto",
            candidates=(
                StillStretch(2.0, 19.5, 88.2, 1.3, 12.04, False, False, "does not sway as a standing person does"),
                StillStretch(22.5, 29.5, 4.1, 31.7, 0.0, True, True, ""),
            ),
        ),
        alignment=Alignment(
            method="hinge axis from the movement",
            proximal_axis=(0.0123456, 0.9998, -0.004),
            distal_axis=(0.6, -0.8, 0.0),
            axis_residual_deg=0.41,
            axis_standard_uncertainty_deg=1.2,
            quality=0.93,
            sign_source="calibration movement",
            calibration_start_s=30.0,
            calibration_stop_s=39.0,
        ),
        comparison=comparison,
        u_shared_deg=U_SHARED_DEG,
        u_set_deg=U_SET_DEG,
        budget_deg={"zero pose": 2.0, "soft tissue": 0.6, "filter and heading": 0.5, "axis": 0.2},
        worn_start_s=20.0,
        worn_stop_s=len(angle) / RATE_HZ,
        trace=AngleTrace(
            time_s=np.arange(len(angle)) / RATE_HZ,
            angle_deg=angle,
            standard_uncertainty_deg=np.full(len(angle), U_DEG),
            zero_standard_uncertainty_deg=np.full(len(angle), U_SHARED_DEG),
            phase=phase,
            phase_names=("setup", "neutral", "calibration", "between", *(f"set {each.number}" for each in sets)),
        ),
    )
    if findings is None:
        findings = (
            Finding("gap", "caution", "The foot sensor delivered nothing from 70.0 s to 70.6 s.", 70.0, 70.6, "foot"),
            Finding("filled-gaps", "note", "3 missing samples of the shank sensor were filled.", None, None, "shank"),
        )
    recording = recording_of(len(angle))
    return SessionResult(
        recording=recording,
        plan=Plan(
            title="Left heel, into range",
            tendon_site="achilles insertion",
            stages=(Stage("into range", (exercise,), date(2026, 12, 1)),),
            current_stage="into range",
            patient=patient,
        ),
        inputs=(*recording.files, InputFile("plan.toml", "b" * 64, "plan")),
        settings=Settings(),
        exercises=(answer_of_exercise,),
        marks=marks,
        findings=findings,
    )


@pytest.fixture(scope="session")
def made_session():
    """Three sets of fifteen repetitions to 10 degrees."""
    return build_session()


@pytest.fixture(scope="session")
def make_session():
    """Function that makes a session: ``make_session(depths, exercise, findings, marks)``."""
    return build_session


@pytest.fixture(scope="session")
def heeldrop():
    """The exercise of the made session."""
    return HEELDROP


@pytest.fixture(scope="session")
def unprescribed(heeldrop):
    """The exercise with everything optional left out."""
    return replace(
        heeldrop,
        tempo=Tempo(),
        rest_s=None,
        start_deg=None,
        end_range_deg=None,
        limit_deg=None,
        compression_threshold=None,
        past_threshold_s_per_set=None,
        load=Load(),
        surface=None,
        footwear=None,
        heel_lift_mm=None,
    )


@pytest.fixture(scope="session")
def strike():
    return Mark("strike", 60.0, 61.0, "coughed", "clinician 3", "2026-12-04T09:00:00+01:00")

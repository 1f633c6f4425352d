"""A session's result made by hand, for the rooms that write and show results; no file and no analysis in it."""

import gc
from dataclasses import replace
from datetime import date

import hypothesis
import numpy as np
import pytest

from imu_rom.dose.comparison import compare_session
from imu_rom.dose.exercise import CompressionThreshold, Exercise, Load, Tempo
from imu_rom.dose.floor import FloorReference
from imu_rom.dose.plan import Plan, Stage
from imu_rom.exchange.document import result_document
from imu_rom.findings import Finding
from imu_rom.motion.gyroscope_check import TurnCheck
from imu_rom.motion.repetitions import Repetition, RepetitionSet
from imu_rom.motion.sensor_check import PairPosition, SensorPosition
from imu_rom.motion.small_samples import spread_of
from imu_rom.motion.uncertainty import Budget, Term
from imu_rom.recording.model import Gap, InputFile, Recording, Sensor
from imu_rom.session.result import (
    Alignment,
    Allotment,
    AngleTrace,
    ExerciseResult,
    LaterPose,
    Mark,
    SensorSlip,
    SessionResult,
    StillStretch,
    ZeroPose,
)
from imu_rom.session.sensor_check_result import CheckedPair, CheckedSensor, Position, SensorCheck
from imu_rom.session.taping_check import Taping, TapingCheck
from imu_rom.settings import Settings

RATE_HZ = 50.0
BUDGET = Budget(
    (
        Term("zero_pose", 2.0, "session", "nothing", "practice"),
        Term("soft_tissue_locked", 0.1, "session", "excursion", "practice"),
        Term("soft_tissue_slow", 0.6, "set", "nothing", "practice"),
        Term("attitude", 0.5, "set", "nothing", "practice"),
        Term("axis", 0.2, "set", "excursion", "the fit"),
        Term("soft_tissue_fast", 0.8, "sample", "nothing", "practice"),
    ),
    excursion_deg=10.0,
    rate_deg_s=12.5,
)
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


HELD = {"ended_early": False, "shaking_deg": 0.412, "sag_deg": -1.234, "sag_uncertainty_deg": 0.3}


def repetition_of(start, depth, held=False):
    start_s = start / RATE_HZ
    hold_start_s = start_s + ECCENTRIC_S
    return Repetition(
        start_s=start_s,
        end_range_s=hold_start_s + HOLD_S / 2,
        stop_s=hold_start_s + HOLD_S + CONCENTRIC_S,
        hold_start_s=hold_start_s,
        hold_stop_s=hold_start_s + HOLD_S,
        end_range_deg=depth,
        end_range_uncertainty_deg=0.3,
        held_deg=depth - 0.123456,
        start_deg=START_DEG,
        complete=depth > START_DEG + 20,
        **(HELD if held else {}),
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


def on_the_floor(angle):
    """Foot and shank of a person whose heel is up below 0 degrees, and whose shank leans above."""
    foot = np.minimum(angle, 0.0)[::2]
    return FloorReference(RATE_HZ / 2, 0.0, foot, angle[::2] - foot, 0.9)


def build_session(depths=((10.0,) * 15,) * 3, exercise=HEELDROP, findings=None, marks=(), patient="P-0017", gaps=()):
    """Result of a session with the given end range of each repetition of each set."""
    angle, phase, starts = movement(depths)
    sets = [
        RepetitionSet(
            tuple(repetition_of(start, depth, exercise.is_held) for each, start, depth in starts if each == number)
        )
        for number in range(1, len(depths) + 1)
    ]
    comparison = compare_session(
        exercise,
        sets,
        RATE_HZ,
        angle,
        u_shared_deg=U_SHARED_DEG,
        u_set_deg=U_SET_DEG,
        floor=on_the_floor(angle) if exercise.ends_on_floor else None,
        gaps=gaps,
        worn_start_s=40.0,
        worn_stop_s=len(angle) / RATE_HZ,
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
        budget=BUDGET,
        later_poses=(LaterPose(250.5, 257.25, -0.4, 1.118, "agrees"), LaterPose(300.0, 306.0, 4.2, 1.118, "new zero")),
        slips=(SensorSlip(260.04, 260.04, 260.04, "distal", 6.5, "axis", (300.0, 306.0)),),
        worn_start_s=20.0,
        worn_stop_s=len(angle) / RATE_HZ,
        trace=AngleTrace(
            time_s=np.arange(len(angle)) / RATE_HZ,
            angle_deg=angle,
            standard_uncertainty_deg=np.full(len(angle), U_DEG),
            zero_standard_uncertainty_deg=np.full(len(angle), U_SHARED_DEG),
            phase=phase,
            phase_names=(
                "setup",
                "neutral",
                "calibration",
                "between",
                *(f"set {each.number}" for each in comparison.sets),
            ),
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


# no test is timed: a busy machine must not make one fail
hypothesis.settings.register_profile("untimed", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow])
hypothesis.settings.load_profile("untimed")


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    """Keep what is imported and collected, which stays to the end, out of every later search for garbage."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.collect()
        gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Give each worker its share in one piece, so that what a file sets up is set up once."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)


@pytest.fixture(scope="session")
def made_session():
    """Three sets of fifteen repetitions to 10 degrees."""
    return build_session()


@pytest.fixture(scope="session")
def make_session():
    """Function that makes a session: ``make_session(depths, exercise, findings, marks)``."""
    return build_session


@pytest.fixture(scope="session")
def stayed_session():
    """Two repetitions, after the second of which the person stays at the end range."""
    session = build_session(depths=((10.0, 10.0),))
    (answer,) = session.exercises
    (done,) = answer.comparison.sets
    first, last = done.repetitions
    stays = replace(last.repetition, stop_s=last.repetition.hold_stop_s)
    done = replace(done, repetitions=(first, replace(last, repetition=stays)))
    return replace(session, exercises=(replace(answer, comparison=replace(answer.comparison, sets=(done,))),))


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
def floordrop(heeldrop):
    """The exercise of the made session with the floor as what ends a repetition."""
    return replace(
        heeldrop,
        surface="floor",
        end_range="floor",
        end_range_deg=None,
        limit_deg=None,
        past_threshold_s_per_set=None,
    )


@pytest.fixture(scope="session")
def held(heeldrop):
    """The exercise of the made session as a hold."""
    return replace(heeldrop, kind="hold")


@pytest.fixture(scope="session")
def strike():
    return Mark("strike", 60.0, 61.0, "coughed", "clinician 3", "2026-12-04T09:00:00+01:00")


@pytest.fixture(scope="session")
def made_sensor_check():
    """A check of two sensors at 0, 45 and 90 degrees, the foot's off by 2.3 degrees; made by hand."""
    turns = (TurnCheck(45.0, 45.4123, 0.4123, 0.73), TurnCheck(45.0, None, None, 0.74))

    def sensor(point, errors, low_deg, high_deg):
        positions = tuple(
            SensorPosition(angle + error, error, 0.7071, error + low_deg, error + high_deg, 0.12345)
            for angle, error in zip((0.0, 45.0, 90.0), errors, strict=True)
        )
        return CheckedSensor(
            tracked_point=point,
            tilted=True,
            moved_deg=90.0 + errors[-1],
            positions=(SensorPosition(0.0, 0.0, 0.0, 0.0, 0.0, -0.1), *positions[1:]),
            gravity_m_s2=9.81234,
            gravity_low_m_s2=9.79,
            gravity_high_m_s2=9.83,
            accelerometer_bias_at_least_m_s2=0.02,
            accelerometer_noise_m_s2=0.020123,
            gyroscope_bias_deg_s=(0.123456, -0.4, 0.02),
            gyroscope_bias_change_deg_s=0.01,
            gyroscope_noise_deg_s=0.0503,
            turns=turns,
            gyroscope_scale_error=0.009162,
            u_gyroscope_scale_error=0.0157,
        )

    pair = CheckedPair(
        proximal="shank",
        distal="foot",
        way="both tilted",
        tilted=None,
        positions=(
            PairPosition(0.0, 0.0, 0.0, 0.0, 0.0),
            PairPosition(-0.7312, -0.7312, 0.01, -0.7512, -0.7112),
            PairPosition(-2.3345, -2.3345, 0.01, -2.3545, -2.3145),
        ),
        error_rms_deg=1.7298,
        accelerometer_bias_m_s2=0.1834,
    )
    recording = recording_of(1500)
    return SensorCheck(
        recording=recording,
        positions=(Position(0.0, 0.0, 6.7), Position(45.0, 12.4, 17.8), Position(90.0, 23.3, 30.0)),
        u_reference_deg=0.5,
        sensors=(sensor("shank", (0.0, 0.29, -0.09), -1.386, 1.386), sensor("foot", (0.0, -0.44, -2.43), -1.4, 1.4)),
        pair=pair,
        plan_parts={"accelerometer_bias_m_s2": 0.40264},
        inputs=recording.files,
        settings=Settings(),
        findings=(Finding("inclination-off", "caution", "The sensor on foot is off.", sensor="foot"),),
    )


@pytest.fixture(scope="session")
def made_taping_check():
    """A check of five tapings to a posture of 15 degrees; made by hand."""
    angles = (13.1234, 15.8, 13.9, 13.5, 12.3)
    recordings = tuple(
        replace(recording_of(500), label=f"taping {n}", files=(InputFile(f"taping{n}.csv", f"{n:064x}"),))
        for n in range(1, 6)
    )
    return TapingCheck(
        recordings=recordings,
        proximal="shank",
        distal="foot",
        tapings=tuple(
            Taping(each.label, 20.0, 29.5, 45.25, 55.0, angle, 0.71239)
            for each, angle in zip(recordings, angles, strict=True)
        ),
        spread=spread_of(angles),
        posture_deg=15.0,
        u_posture_deg=0.5,
        offset_deg=-1.2753,
        offset_low_deg=-2.981,
        offset_high_deg=0.43,
        own_standing_deg=1.8499,
        zero_pose_deg=2.3091,
        plan_parts={"own_standing_deg": 1.8499, "zero_pose_deg": 2.3091},
        inputs=tuple(file for each in recordings for file in each.files),
        settings=Settings(),
        findings=(),
    )


HOSTILE = "<script>document.title='taken'</script> \N{RIGHT-TO-LEFT OVERRIDE}=1+1 \N{GRINNING FACE} " + "W" * 200


@pytest.fixture(scope="session")
def patient_documents():
    """Results by what a patient is told of them."""
    on_floor = replace(
        HEELDROP,
        side="right",
        surface="floor",
        end_range="floor",
        end_range_deg=None,
        limit_deg=None,
        past_threshold_s_per_set=None,
    )
    one_sensor = replace(HEELDROP, sensors="distal only", proximal="none")
    no_time = replace(HEELDROP, past_threshold_s_per_set=None, compression_threshold=None)
    five_holds = replace(HEELDROP, kind="hold", repetitions=5, past_threshold_s_per_set=(6.0, 20.0))
    nothing_asked = replace(no_time, tempo=Tempo(), end_range_deg=None, limit_deg=None)
    named = build_session(exercise=replace(HEELDROP, in_words=HOSTILE))
    named = replace(named, plan=replace(named.plan, title=HOSTILE, patient=HOSTILE))
    interrupted = build_session(gaps=((80.0, 80.5),))
    sessions = {
        "as planned": build_session(),
        "past the limit": build_session(((10.0,) * 15, (24.0,) * 15, (25.0,) * 15)),
        "too few": build_session(((10.0,) * 6,) * 3),
        "a set missing": build_session(((10.0,) * 15,) * 2),
        "more": build_session(((10.0,) * 20,) * 3, no_time),
        "not far enough": build_session(((-2.0,) * 15,) * 3),
        "too long": build_session(exercise=replace(HEELDROP, past_threshold_s_per_set=(5.0, 20.0))),
        "too short": build_session(exercise=replace(HEELDROP, past_threshold_s_per_set=(70.0, 90.0))),
        "limit undecided": build_session(((16.0,) * 15,) * 3),
        "depth undecided": build_session(((5.5,) * 15,) * 3),
        "undecided": interrupted,
        "floor": build_session(((-2.0,) * 15,) * 3, on_floor),
        "hold": build_session(((10.0,) * 5,) * 3, five_holds),
        "angle unknown": build_session(exercise=one_sensor),
        "not prescribed": build_session(exercise=nothing_asked),
        "named to harm": named,
    }
    documents = {kind: result_document(session) for kind, session in sessions.items()}
    first, second = documents["as planned"], documents["floor"]
    documents["several"] = replace(first, exercises=(*first.exercises, *second.exercises))
    whose = Allotment("order", ("heeldrop", "floordrop"), "both have three sets")
    documents["whose"] = replace(first, exercises=(replace(first.exercises[0], allotment=whose),))
    none = replace(first.exercises[0].comparison, sets=(), complete=0, partial=0, exposure=None)
    documents["nothing found"] = replace(first, exercises=(replace(first.exercises[0], comparison=none),))
    return documents

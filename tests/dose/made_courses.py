"""Made-up courses, drawn from the error model alone: no motion, no files, nothing about a real person.

Of each repetition the true end range is given; measured is it with an error that the session shares, a slow one of the
set and one of its own, and answered as the analysis of a session answers it. Times are drawn around what is prescribed.
"""

import math
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from imu_rom.dose.adherence import tallies_by_day
from imu_rom.dose.conformance import answer, conformance_probability
from imu_rom.dose.course_days import lay_out
from imu_rom.dose.exercise import CompressionThreshold, Exercise, Tempo
from imu_rom.dose.follow_up import DiaryEntry, Interval, RecordedExercise, RecordedRepetition, RecordedSet
from imu_rom.dose.pain import pain_by_day
from imu_rom.dose.patterns import patterns
from imu_rom.dose.plan import Plan, Stage
from imu_rom.settings import CourseSettings

FIRST = date(2026, 12, 1)
DAYS = 28
# those of the sample recordings (`imu-rom analyse`), rounded
U_SHARED_DEG, U_SET_DEG, U_OWN_DEG = 2.0, 0.8, 0.3
LOW_DEG, LIMIT_DEG = 5.0, 18.0

LEFT = Exercise(
    "heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=10,
    tempo=Tempo(eccentric_s=3.0, end_range_hold_s=2.0, concentric_s=2.0),
    end_range_deg=(LOW_DEG, 15.0), limit_deg=LIMIT_DEG,
    compression_threshold=CompressionThreshold(0.0, "clinician"), per_day=1.0, days_per_week=3.0,
)  # fmt: skip
RIGHT = replace(LEFT, side="right")
# the same movement to a stop, and one whose limit is where it ends
STOPPED = replace(LEFT, name="stopped", knee="bent")
LIMITED = replace(LEFT, name="limited", knee="straight")


@dataclass(frozen=True)
class Way:
    """How a person does an exercise.

    Parameters
    ----------
    end_deg, scatter_deg : float
        True end range: its mean and how it varies.
    slower : float
        Times of all phases over what is prescribed.
    fall_deg, quicker : float
        What is lost of end range, and of the eccentric phase's time as a share, over a set.
    sinks_deg_per_week : float
        How the end range goes over the weeks.
    habit : float
        Share of the shared error's variance that is the same in all sessions.
    """

    end_deg: float
    scatter_deg: float
    slower: float = 1.0
    fall_deg: float = 0.0
    quicker: float = 0.0
    sinks_deg_per_week: float = 0.0
    habit: float = 0.0


def recorded_session(rng, exercise, day, way, *, always_deg=0.0, week=0.0, hour=8, past_s=None):
    """One exercise of one session."""
    shape = (exercise.sets, exercise.repetitions)
    along = np.linspace(0.0, 1.0, shape[1])
    true = way.end_deg - way.sinks_deg_per_week * week - way.fall_deg * along + rng.normal(0, way.scatter_deg, shape)
    shared = always_deg * math.sqrt(way.habit) + rng.normal(0, U_SHARED_DEG * math.sqrt(1 - way.habit))
    measured = true + shared + rng.normal(0, U_SET_DEG, (shape[0], 1)) + rng.normal(0, U_OWN_DEG, shape)
    u_deg = math.hypot(U_SHARED_DEG, U_SET_DEG, U_OWN_DEG)
    reached = conformance_probability(measured, u_deg, lower=exercise.end_range_deg[0])
    within = conformance_probability(measured, u_deg, upper=exercise.limit_deg)
    # a session has its own pace, and each repetition differs a little
    tempo = exercise.tempo
    pace = way.slower * math.exp(rng.normal(0, 0.1))
    times = [each * pace * np.exp(rng.normal(0, 0.1, shape)) for each in (tempo.eccentric_s, tempo.end_range_hold_s)]
    times[0] *= 1 - way.quicker * along
    back = tempo.concentric_s * pace * np.exp(rng.normal(0, 0.1, shape))
    decide = exercise.decide
    sets = tuple(
        RecordedSet(
            tuple(
                RecordedRepetition(True, *values, answer(to, decide.reached), answer(up_to, decide.limit))
                for *values, to, up_to in zip(*rows, strict=True)
            ),
            "undecided",
        )
        for rows in zip(*(each.tolist() for each in (measured, *times, back, reached, within)), strict=True)
    )
    return bare_session(exercise, day, hour, past_s, sets)


def bare_session(exercise, day, hour, past_s, sets=()):
    """One exercise of one session, its sets as given."""
    at = datetime.combine(day, time(hour), UTC)
    past = None if past_s is None else Interval(past_s, 0.7 * past_s, 1.3 * past_s)
    return RecordedExercise(
        day, at, at.isoformat(), exercise, "into range", sets, past, None, None, None, U_SHARED_DEG, U_SET_DEG,
        zero_doubtful=False, footwear=None, source="", u_own_deg=U_OWN_DEG,
    )  # fmt: skip


def found_patterns(exercises, recorded, diary, days=DAYS):
    """All patterns of a course under one stage, by name, exercise and side."""
    stage = Stage("into range", tuple(exercises), from_date=FIRST)
    plan = Plan("made", "achilles insertion", (stage,), stage.name, sessions_recorded_per_week=3.0)
    settings = CourseSettings()
    course = lay_out([plan], recorded, diary, FIRST + timedelta(days=days - 1))
    found = patterns(course, course.runs()[-1], tallies_by_day(course, settings), pain_by_day(course), settings)
    return {(each.name, each.exercise, each.side): each for each in found}


def course(seed, ways, days=DAYS, habit=0.0):
    """Three recorded sessions a week, each exercise done in its own way."""
    rng = np.random.default_rng([20261201, seed])
    always_deg = rng.normal(0, U_SHARED_DEG)
    recorded = [
        recorded_session(
            rng, exercise, FIRST + timedelta(days=number), replace(way, habit=habit),
            always_deg=always_deg, week=number / 7, hour=8 + 2 * place,
        )
        for number in range(days)
        if number % 7 in {0, 2, 4}
        for place, (exercise, way) in enumerate(ways)
    ]  # fmt: skip
    return found_patterns([exercise for exercise, _ in ways], recorded, (), days)


# the worst of what is still as asked: just enough repetitions reach the window; all stop at its edge; or at the limit,
# in as little time as the tolerance allows
EDGE = Way(LOW_DEG + 0.8416 * 1.5, 1.5)
NOTHING = (
    (LEFT, EDGE),
    (RIGHT, EDGE),
    (STOPPED, Way(LOW_DEG, 0.0)),
    (LIMITED, Way(LIMIT_DEG, 0.0, slower=0.75)),
)
# and plainly not as asked
PLAIN = (
    (LEFT, Way(0.0, 1.5, slower=0.6)),
    (RIGHT, Way(12.0, 1.5, fall_deg=4.0, quicker=0.3)),
    (STOPPED, Way(LOW_DEG, 1.5, sinks_deg_per_week=3.0)),
    (LIMITED, Way(LIMIT_DEG + 3.0, 1.0)),
)


def painful_course(seed, *, days=56, coupling=0.0, memory=0.7, exposure_memory=0.5):
    """Daily exposure, and next morning's pain that goes its own way (order-one autocorrelation) or with exposure."""
    rng = np.random.default_rng([20261202, seed])
    exposure, own = (_remembering(rng, days, each) for each in (exposure_memory, memory))
    # the dose is raised and pain gets better, whatever one does with the other
    seconds = np.clip(60 + 15 * exposure + 0.5 * np.arange(days), 0, None)
    pain = np.clip(np.round(3.0 + 1.2 * own + coupling * exposure - np.arange(days) / 40), 0, 10)
    recorded, diary = [], []
    for number in range(days):
        day = FIRST + timedelta(days=number)
        recorded.append(bare_session(LEFT, day, 8, float(seconds[number])))
        diary.append(DiaryEntry(day, pain_next_morning=float(pain[number])))
    return found_patterns((LEFT,), recorded, diary, days)["morning pain rises with exposure", None, "left"]


def _remembering(rng, count, memory):
    steps = rng.normal(0, math.sqrt(1 - memory**2), count)
    values = [rng.normal()]
    for each in steps[1:]:
        values.append(memory * values[-1] + each)
    return np.array(values)

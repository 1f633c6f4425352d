"""The angle over time as the page draws it: samples, uncertainty, phases, lines and repetitions, as plain values.

The samples are rounded to a hundredth of a degree and travel as base64 of 16-bit integers; the page itself reduces them
to the lowest and the highest sample of each column of pixels, anew for every zoom, so that no peak is ever hidden.
"""

import base64
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.comparison import RepetitionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.motion.repetitions import Repetition
from imu_rom.session.result import AngleTrace
from imu_rom.wording.figures import interval, likelihood, one_decimal, window
from imu_rom.wording.glance_text import UNDER_WAY
from imu_rom.wording.moved_text import BASIS_WORDS

__all__ = ["INK", "PALETTE", "REPETITION_STYLES", "AngleFigure", "angle_figure", "held_deg", "status_of"]

# Okabe, Ito, "Color universal design", 2008, https://jfly.uni-koeln.de/color/: told apart by all kinds of colour vision
PALETTE = {
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "green": "#009E73",
    "yellow": "#F0E442",
    "blue": "#0072B2",
    "vermillion": "#D55E00",
    "purple": "#CC79A7",
}

INK = "#1A1A1A"

# samples up to this are sent as they are (an hour at 100 Hz is 360 000), more are reduced to pairs of extremes; with
# the plotting script the page then stays under 6.5 MB
MOST_SAMPLES = 500_000
FINEST_DEG, COARSER_DEG = 0.01, 0.1
LARGEST_STEPS = 32_000
NO_ANGLE = -32_768
COVERAGE_FACTOR = 1.96
MARGIN_DEG = 4.0

# status of a repetition -> (words in the key, symbol, colour): told apart by shape as well as by colour
REPETITION_STYLES = {
    "reached": ("end range reached", "circle", PALETTE["green"]),
    "back on the floor": ("back on the floor", "circle", PALETTE["green"]),
    "short of the floor": ("short of the floor", "triangle-down", PALETTE["orange"]),
    "short": ("short of the end range", "triangle-down", PALETTE["orange"]),
    "undecided": ("can't be told", "diamond-open", INK),
    "past limit": ("past the limit", "x", PALETTE["vermillion"]),
    "not prescribed": ("repetition", "circle-open", PALETTE["blue"]),
    "partial": ("partial repetition", "cross-thin-open", INK),
    "ended early": ("held for less than asked", "cross-thin-open", INK),
}
PHASE_STYLES = {
    "setup": ("setup, before the neutral pose and after taking off", "#BDBDBD"),
    "neutral": ("neutral pose", PALETTE["yellow"]),
    "calibration": ("calibration movement", PALETTE["orange"]),
}


@dataclass(frozen=True)
class AngleFigure:
    """What the page needs to draw the angle over time.

    Parameters
    ----------
    data : dict
        Plain values for the page's script.
    key : tuple of tuple of str
        (kind of mark, colour, words) of each entry of the figure's key.
    description : str
        The figure in one sentence, for those who don't see it.
    zooms : tuple of tuple of str
        (words, start_s, stop_s) of each stretch that the page offers to look at.
    note : str
        What of the recording is not drawn; empty where all of it is.
    """

    data: dict[str, Any]
    key: tuple[tuple[str, str, str], ...]
    description: str
    zooms: tuple[tuple[str, str, str], ...]
    note: str


def _sixteen_bits(values: NDArray[np.float64], step: float) -> str:
    steps = np.rint(values / step).clip(-LARGEST_STEPS, LARGEST_STEPS)
    steps[np.isnan(steps)] = NO_ANGLE
    steps = steps.astype("<i2")
    return base64.b64encode(steps.tobytes()).decode("ascii")


def _extremes(values: NDArray[np.float64], bucket: int) -> NDArray[np.float64]:
    """Lowest and highest value of each bucket, in the order in which they occur; the last bucket may be shorter."""
    padded = np.pad(values, (0, -len(values) % bucket), mode="edge").reshape(-1, bucket)
    none = np.isnan(padded)
    low, high = np.where(none, np.inf, padded).argmin(axis=1), np.where(none, -np.inf, padded).argmax(axis=1)
    rows = np.arange(len(padded))
    pair = np.stack((padded[rows, np.minimum(low, high)], padded[rows, np.maximum(low, high)]), axis=1)
    return pair.reshape(-1)


def _samples(trace: AngleTrace) -> dict[str, Any]:
    count = len(trace.time_s)
    step_s = sample_step_s = float(trace.time_s[-1] - trace.time_s[0]) / (count - 1) if count > 1 else 1.0
    angle = trace.angle_deg
    uncertain = np.nan_to_num(trace.standard_uncertainty_deg)
    per_second = max(1, round(1 / step_s))
    seconds = np.pad(uncertain, (0, -len(uncertain) % per_second), mode="edge").reshape(-1, per_second).max(axis=1)
    if len(angle) > MOST_SAMPLES:
        bucket = math.ceil(2 * len(angle) / MOST_SAMPLES)
        angle = _extremes(angle, bucket)
        step_s *= bucket / 2
    angle_step = (
        FINEST_DEG if np.nan_to_num(np.abs(angle)).max(initial=0.0) < FINEST_DEG * LARGEST_STEPS else COARSER_DEG
    )
    return {
        "start_s": round(float(trace.time_s[0]), 4) if len(trace.time_s) else 0.0,
        "step_s": round(step_s, 9),
        "angle_step_deg": angle_step,
        "angle": _sixteen_bits(angle, angle_step),
        "band_step_s": round(per_second * sample_step_s, 9),
        "band_step_deg": FINEST_DEG,
        "band": _sixteen_bits(COVERAGE_FACTOR * seconds, FINEST_DEG),
    }


def _phases(trace: AngleTrace) -> list[dict[str, Any]]:
    if not len(trace.phase):
        return []
    edges = np.flatnonzero(np.diff(trace.phase)) + 1
    starts, stops = [0, *edges.tolist()], [*edges.tolist(), len(trace.phase) - 1]
    return [
        {
            "name": trace.phase_names[trace.phase[start]],
            "start_s": round(float(trace.time_s[start]), 3),
            "stop_s": round(float(trace.time_s[stop]), 3),
        }
        for start, stop in zip(starts, stops, strict=True)
    ]


def status_of(each: RepetitionComparison) -> str:
    """Name how a repetition went, as the marks tell it.

    Parameters
    ----------
    each : RepetitionComparison
        The repetition.

    Returns
    -------
    str
        One of `REPETITION_STYLES`.
    """
    if each.within_limit == "no":
        return "past limit"
    if not each.repetition.complete:
        return "ended early" if each.repetition.ended_early else "partial"
    words = {"yes": "reached", "no": "short"}
    if each.floor is not None:
        words = {"yes": "back on the floor", "no": "short of the floor"}
    return words.get(each.reached, each.reached)


def _hover(done: SetComparison, each: RepetitionComparison) -> str:
    ends = interval(each.end_range_low_deg, each.end_range_high_deg)
    lines = [
        f"set {done.number}, repetition {each.number}{'' if each.repetition.complete else ' (partial)'}",
        f"end range {one_decimal(each.repetition.end_range_deg)} deg ({ends})",
        f"hold {one_decimal(each.repetition.hold_s)} s",
    ]
    if each.probability_reached is not None:
        what = "end range reached" if each.floor is None else "back on the floor"
        lines.append(f"{what}: {each.reached}, {likelihood(each.probability_reached)}")
    if each.probability_within_limit is not None:
        lines.append(f"limit kept: {each.within_limit}, {likelihood(each.probability_within_limit)}")
    return "<br>".join(lines)


def _repetitions(answer: ExerciseAnswer) -> list[dict[str, Any]]:
    """Every repetition in order of time, with its kind, which stands in ``kinds``."""
    kinds = list(REPETITION_STYLES)
    return [
        {
            "set": done.number,
            "number": each.number,
            "kind": kinds.index(status_of(each)),
            "complete": each.repetition.complete,
            "start_s": each.repetition.start_s,
            "stop_s": each.repetition.stop_s,
            "time_s": each.repetition.end_range_s,
            "deg": each.repetition.end_range_deg,
            "low_deg": each.end_range_low_deg,
            "high_deg": each.end_range_high_deg,
            # what is compared with the window where a hold is prescribed
            "held_deg": held_deg(answer.exercise, each.repetition),
            "hover": _hover(done, each),
        }
        for done in answer.comparison.sets
        for each in done.repetitions
    ]


def held_deg(exercise: Exercise, repetition: Repetition) -> float | None:
    """Give the angle that was held, where that and not the deepest point is compared with the window.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    repetition : Repetition
        What was done.

    Returns
    -------
    float or None
        Degrees; None where no window or no hold at the end range is prescribed.
    """
    if exercise.end_range_deg is None or not exercise.tempo.end_range_hold_s:
        return None
    return repetition.held_deg


def _lines(exercise: Exercise) -> list[dict[str, Any]]:
    lines = []
    if exercise.compression_threshold is not None:
        threshold = exercise.compression_threshold
        words = f"compressive angle {threshold.deg:g} deg, {BASIS_WORDS[threshold.basis]}"
        short = f"compressive {threshold.deg:g} deg"
        lines.append({"deg": threshold.deg, "words": words, "short": short, "dash": "dash", "colour": INK})
    if exercise.limit_deg is not None:
        words = f"limit {exercise.limit_deg:g} deg, not to be passed"
        short = f"limit {exercise.limit_deg:g} deg"
        line = {"deg": exercise.limit_deg, "words": words, "short": short}
        lines.append({**line, "dash": "solid", "colour": PALETTE["vermillion"]})
    return lines


def _vertical_range(answer: ExerciseAnswer, trace: AngleTrace) -> list[float]:
    """Range that shows the session and what is asked.

    While the sensors are put on and taken off the angle may leave it, and so may single steps between the sets.
    """
    values = [0.0]
    for index, name in enumerate(trace.phase_names):
        angle = trace.angle_deg[trace.phase == index]
        if name in {"setup", "elsewhere"} or not len(angle):
            continue
        ends = (1, 99) if name == "between" else (0, 100)
        values += [float(each) for each in np.percentile(angle, ends)]
    exercise = answer.exercise
    values += [each.end_range_high_deg for done in answer.comparison.sets for each in done.repetitions]
    values += [each["deg"] for each in _lines(exercise)]
    values += [each for each in exercise.end_range_deg or () if math.isfinite(each)]
    return [math.floor(min(values) - MARGIN_DEG), math.ceil(max(values) + MARGIN_DEG)]


def _what(exercise: Exercise) -> str:
    """Say what the angle is of: of the joint, or of the one segment that wears a sensor."""
    if exercise.angle_is_known:
        return f"{exercise.joint} {exercise.motion}"
    return f"turn of the sensor on {exercise.tracked_points[0]}"


def _key(
    answer: ExerciseAnswer, trace: AngleTrace, repetitions: list[dict[str, Any]]
) -> tuple[tuple[str, str, str], ...]:
    key = [
        ("line", PALETTE["blue"], "joint angle" if answer.exercise.angle_is_known else _what(answer.exercise)),
        ("area", PALETTE["sky blue"], "its 95 % interval"),
    ]
    if answer.exercise.end_range_deg is not None:
        key.append(("area", PALETTE["green"], f"end range asked for: {window(*answer.exercise.end_range_deg, 'deg')}"))
    key += [
        ("dash" if each["dash"] == "dash" else "line", each["colour"], each["words"])
        for each in _lines(answer.exercise)
    ]
    present = {trace.phase_names[index] for index in np.unique(trace.phase)}
    key += [("area", colour, words) for name, (words, colour) in PHASE_STYLES.items() if name in present]
    present_kinds = {each["kind"] for each in repetitions}
    key += [
        (symbol, colour, words)
        for number, (words, symbol, colour) in enumerate(REPETITION_STYLES.values())
        if number in present_kinds
    ]
    return tuple(key)


def angle_figure(answer: ExerciseAnswer, trace: AngleTrace) -> AngleFigure:
    """Gather what the page draws of one exercise.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.
    trace : AngleTrace
        Its joint angle over time.

    Returns
    -------
    AngleFigure
        Plain values, the key, and a description.
    """
    exercise = answer.exercise
    repetitions = _repetitions(answer)
    stop_s = float(trace.time_s[-1]) if len(trace.time_s) else 0.0
    window_deg = None
    if exercise.end_range_deg is not None:
        low, high = exercise.end_range_deg
        window_deg = [low, high if math.isfinite(high) else None]
    data = {
        **_samples(trace),
        "stop_s": round(stop_s, 3),
        "vertical_deg": _vertical_range(answer, trace),
        "phases": _phases(trace),
        "phase_colours": {name: colour for name, (_, colour) in PHASE_STYLES.items()},
        "window_deg": window_deg,
        "lines": _lines(exercise),
        "kinds": [
            {"words": words, "symbol": symbol, "colour": colour} for words, symbol, colour in REPETITION_STYLES.values()
        ],
        "repetitions": repetitions,
        "colours": {"angle": PALETTE["blue"], "band": PALETTE["sky blue"], "window": PALETTE["green"]},
        "motion": f"{_what(exercise)}, deg",
    }
    description = (
        f"{_what(exercise).capitalize()} over {stop_s:.0f} s with {len(repetitions)} repetitions marked at their "
        "end range; the tables below hold the same figures."
    )
    zooms = [("whole recording", "0", f"{stop_s:.3f}")]
    zooms += [
        (f"set {done.number}", f"{max(done.start_s - 3, 0):.3f}", f"{done.stop_s + 3:.3f}")
        for done in answer.comparison.sets
    ]
    note = UNDER_WAY if np.isnan(trace.angle_deg).any() else ""
    return AngleFigure(data, _key(answer, trace, repetitions), description, tuple(zooms), note)

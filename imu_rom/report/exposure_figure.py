"""The time past every angle as the page draws it, and all that its script needs to move the threshold.

The script does nothing that `imu_rom.dose.moved_threshold` does not do: it looks up the curves, and puts the figures
into the templates of `imu_rom.wording.moved_text`.
"""

import math
from dataclasses import asdict, dataclass
from typing import Any

from imu_rom.dose.exposure import COVERAGE_FACTOR, STEPS_PER_DEG
from imu_rom.dose.moved_threshold import (
    MovedThreshold,
    asked_levels,
    common_variance,
    moved_threshold,
    own_threshold,
    set_curves,
)
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.report.angle_figure import INK, PALETTE
from imu_rom.report.tables import Table
from imu_rom.wording.figures import counted, prescribed_time
from imu_rom.wording.moved_text import (
    ANSWERS,
    LIKELIHOOD_WORDS,
    MOVED_HEADINGS,
    MOVED_TEMPLATES,
    angle_in_words,
    moved_notes,
    moved_row,
    moved_sentence,
)

__all__ = ["ExposureFigure", "exposure_figure"]

NOWHERE_DEG = 1e6
"""Stands for an infinite angle, of which JSON knows nothing."""


@dataclass(frozen=True)
class ExposureFigure:
    """The time past every angle, with the threshold where the plan has it.

    Parameters
    ----------
    data : dict
        Plain values for the page's script.
    threshold_deg, lowest_deg, highest_deg : str
        Where the threshold is at first, and between which angles it can be moved.
    own : str
        The plan's own angle in words; empty where there is none.
    sentence, behind : str
        What is said of the threshold, and of where the figures come from.
    table : Table
        The same for each set.
    key : tuple of tuple of str
        (kind of mark, colour, words) of each entry of the figure's key.
    notes : tuple of str
        What the band leaves out.
    description : str
        The figure in one sentence, for those who don't see it.
    """

    data: dict[str, Any]
    threshold_deg: str
    lowest_deg: str
    highest_deg: str
    own: str
    sentence: str
    behind: str
    table: Table
    key: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    description: str


def _finite(level_deg: float) -> float:
    return max(-NOWHERE_DEG, min(NOWHERE_DEG, level_deg))


def exposure_figure(answer: ExerciseAnswer) -> ExposureFigure | None:
    """Gather the curves of one exercise.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.

    Returns
    -------
    ExposureFigure or None
        None where there is no angle, or no repetition.
    """
    exercise, done = answer.exercise, answer.comparison
    if not exercise.angle_is_known or not done.sets:
        return None
    curves = set_curves(done)
    own = own_threshold(exercise, answer.budget, done)
    first = own or moved_threshold(exercise, answer.budget, done, 0.0)
    constant, growth = common_variance(answer.budget)
    lowest_deg = math.floor(min(*(each.first_deg for each in curves), first.threshold_deg))
    highest_deg = math.ceil(max(*(float(each.angle_deg[-1]) for each in curves), first.threshold_deg)) + 1
    asked = [prescribed_time(each) for each in done.sets]
    sets = []
    for each, curve in zip(done.sets, curves, strict=True):
        levels = asked_levels(each, curve)
        sets.append(
            {
                "number": each.number,
                "first": round(curve.first_deg * STEPS_PER_DEG),
                "ms": [round(1000 * value) for value in curve.time_past_s.tolist()],
                "unseen_s": curve.unseen_s,
                "levels_deg": None if levels is None else [_finite(level) for level in levels],
            }
        )
    total = None
    one = done.sets[0]
    if one.prescribed_low_s is not None and one.prescribed_high_s is not None and not one.prescribed_derived:
        ends = (exercise.sets * one.prescribed_low_s, exercise.sets * one.prescribed_high_s)
        total = [ends[0], ends[1] if math.isfinite(ends[1]) else None]
    data = {
        "sets": sets,
        "asked": [each or "-" for each in asked],
        "asked_in_all_s": total,
        "own": None if own is None else _plain(own),
        "variance": [constant, growth],
        "coverage": COVERAGE_FACTOR,
        "decide": exercise.decide.reached,
        "steps_per_deg": STEPS_PER_DEG,
        "range_deg": [lowest_deg, highest_deg],
        "templates": {**asdict(MOVED_TEMPLATES), "sets": counted(len(sets), "set")},
        "own_words": "" if own is None else f"{angle_in_words(own.threshold_deg)} deg",
        "answers": ANSWERS,
        "likelihoods": [list(each) for each in LIKELIHOOD_WORDS],
        "colours": {"line": PALETTE["blue"], "band": PALETTE["sky blue"], "asked": PALETTE["green"], "ink": INK},
        "axes": ["angle, deg", "time past it, s"],
    }
    key = [
        ("line", PALETTE["blue"], "time past each angle, all sets"),
        ("area", PALETTE["sky blue"], "its 95 % interval"),
    ]
    if total is not None:
        key.append(("area", PALETTE["green"], "time asked for, all sets"))
    if own is not None:
        key.append(("dash", INK, f"the plan's compressive angle, {angle_in_words(own.threshold_deg)} deg"))
    key.append(("line", PALETTE["vermillion"], "the angle chosen here"))
    return ExposureFigure(
        data=data,
        threshold_deg=angle_in_words(first.threshold_deg),
        lowest_deg=str(lowest_deg),
        highest_deg=str(highest_deg),
        own="" if own is None else f"{angle_in_words(own.threshold_deg)} deg",
        sentence=moved_sentence(first),
        behind="" if own is None else MOVED_TEMPLATES.own,
        table=_table(first, [each.number for each in done.sets], asked),
        key=tuple(key),
        notes=tuple(
            moved_notes(slipped=bool(answer.slips), derived=any(each.prescribed_derived for each in done.sets))
        ),
        description="Time past every angle, falling from left to right; the sentence and the table below hold the "
        "figures at the chosen angle.",
    )


def _plain(moved: MovedThreshold) -> dict[str, Any]:
    return asdict(moved)


def _table(moved: MovedThreshold, numbers: list[int], asked: list[str]) -> Table:
    rows = tuple(moved_row(number, each, words) for number, each, words in zip(numbers, moved.sets, asked, strict=True))
    return Table("Time past the chosen angle; intervals in brackets are 95 %", MOVED_HEADINGS, rows, frozenset({4}))

"""The page's tables: headings and cells as text."""

from dataclasses import dataclass

from imu_rom.dose.comparison import RepetitionComparison, SetComparison
from imu_rom.dose.floor import FloorContact
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.wording.budget_text import BUDGET_HEADINGS, budget_rows
from imu_rom.wording.figures import interval, one_decimal
from imu_rom.wording.set_table import set_headings, set_rows

__all__ = ["Table", "budget_table", "candidate_table", "repetition_table", "set_table"]

NONE = "-"
NOT_PRESCRIBED = "not prescribed"
NOT_SEEN = "not seen"
# a mark in front of the word, so that answers are told apart by shape as well as by reading
MARKS = {
    "met": "\N{BLACK CIRCLE}",
    "short": "\N{BLACK DOWN-POINTING TRIANGLE}",
    "over": "\N{BLACK UP-POINTING TRIANGLE}",
    "undecided": "\N{WHITE DIAMOND}",
    NOT_PRESCRIBED: "\N{WHITE CIRCLE}",
}


@dataclass(frozen=True)
class Table:
    """Headings and cells of a table.

    Parameters
    ----------
    caption : str
        What it shows.
    headings : tuple of str
        One a column.
    rows : tuple of tuple of str
        Cells.
    words : frozenset of int
        Columns that hold words, which begin at the left and may break; all others hold figures. The first is always
        at the left.
    """

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: frozenset[int] = frozenset()


def set_table(answer: ExerciseAnswer) -> Table:
    """Table of the sets.

    Parameters
    ----------
    answer : ExerciseAnswer
        An exercise of the result.

    Returns
    -------
    Table
        The cells of the command line, the verdict with its mark.
    """
    rows = set_rows(answer.exercise, answer.comparison)
    marked = tuple((*row[:-1], f"{MARKS[row[-1]]} {row[-1]}") for row in rows)
    headings = set_headings(answer.exercise)
    return Table("Sets; intervals in brackets are 95 %", headings, marked, frozenset({len(headings) - 1}))


def repetition_table(answer: ExerciseAnswer) -> Table:
    """Table of the repetitions.

    Parameters
    ----------
    answer : ExerciseAnswer
        An exercise of the result.

    Returns
    -------
    Table
        One row a repetition, complete and partial.
    """
    threshold = answer.exercise.compression_threshold
    known = answer.exercise.angle_is_known
    past = "past angle, s" if threshold is None else f"past {threshold.deg:g} deg, s"
    held = ("shaking, deg", "change, deg") if answer.exercise.is_held else ()
    floor = ("foot from flat, deg", "shank lean, deg") if answer.exercise.ends_on_floor else ()
    headings = (
        "set",
        "repetition",
        "start, s",
        "end range, deg" if known else "turn of the sensor, deg",
        *floor,
        "held, deg",
        "hold, s",
        "eccentric, s",
        "concentric, s",
        *held,
        past,
        "excess, deg s",
        "reached",
        "within limit",
        "as long as asked" if answer.exercise.is_held else "complete",
    )
    rows = [_repetition(done, each, known=known) for done in answer.comparison.sets for each in done.repetitions]
    # a column that says nothing of any repetition only takes the others' room
    shown = [at for at in range(len(headings)) if any(row[at] not in {NONE, NOT_PRESCRIBED} for row in rows)]
    return Table(
        "Repetitions; intervals in brackets are 95 %, p is the probability",
        tuple(headings[at] for at in shown),
        tuple(tuple(row[at] for at in shown) for row in rows),
        frozenset({len(shown) - 1}),
    )


def _repetition(done: SetComparison, each: RepetitionComparison, *, known: bool) -> tuple[str, ...]:
    repetition, exposure = each.repetition, each.exposure
    past = NONE
    if exposure is not None:
        ends = interval(exposure.past_threshold_low_s, exposure.past_threshold_high_s)
        past = f"{one_decimal(exposure.past_threshold_s)} ({ends})"
    return (
        str(done.number),
        str(each.number),
        one_decimal(repetition.start_s),
        one_decimal(repetition.end_range_deg)
        + (f" ({interval(each.end_range_low_deg, each.end_range_high_deg)})" if known else ""),
        *_floor(each.floor),
        NONE if repetition.held_deg is None else one_decimal(repetition.held_deg),
        one_decimal(repetition.hold_s),
        one_decimal(repetition.eccentric_s),
        NOT_SEEN if repetition.concentric_s is None else one_decimal(repetition.concentric_s),
        *(one_decimal(each) for each in (repetition.shaking_deg, repetition.sag_deg) if each is not None),
        past,
        NONE if exposure is None else one_decimal(exposure.excess_deg_s),
        _answered(each.reached, each.probability_reached),
        _answered(each.within_limit, each.probability_within_limit),
        "yes" if repetition.complete else "no",
    )


def _floor(contact: FloorContact | None) -> tuple[str, ...]:
    if contact is None:
        return ()
    return (
        f"{one_decimal(contact.foot_deg)} ({interval(contact.foot_low_deg, contact.foot_high_deg)})",
        f"{one_decimal(contact.shank_lean_deg)} ({interval(contact.shank_lean_low_deg, contact.shank_lean_high_deg)})",
    )


def _answered(answer: str, probability: float | None) -> str:
    return answer if probability is None else f"{answer} (p {probability:.2f})"


def budget_table(answer: ExerciseAnswer) -> Table:
    """Table of the uncertainty budget.

    Parameters
    ----------
    answer : ExerciseAnswer
        An exercise of the result.

    Returns
    -------
    Table
        One row a term.
    """
    excursion, rate = one_decimal(answer.budget.excursion_deg), one_decimal(answer.budget.rate_deg_s)
    return Table(
        f"Standard uncertainty at {excursion} deg from the zero and {rate} deg/s",
        BUDGET_HEADINGS,
        budget_rows(answer.budget),
        frozenset({2, 3, 4}),
    )


def candidate_table(answer: ExerciseAnswer) -> Table:
    """Table of the still stretches and whether each could be the neutral pose.

    Parameters
    ----------
    answer : ExerciseAnswer
        An exercise of the result.

    Returns
    -------
    Table
        One row a still stretch.
    """
    chosen = (answer.zero.start_s, answer.zero.stop_s)
    points = tuple(f"{each}, deg" for each in answer.exercise.tracked_points)
    headings = ("from - to, s", *points, "angle, deg", "neutral pose")
    return Table(
        "Still stretches; inclinations are those of the sensors' own z axes from the vertical",
        headings,
        tuple(
            (
                f"{each.start_s:.1f} - {each.stop_s:.1f}",
                *(
                    one_decimal(inclination)
                    for inclination in (each.proximal_inclination_deg, each.distal_inclination_deg)
                    if inclination is not None
                ),
                NONE if each.joint_angle_deg is None else one_decimal(each.joint_angle_deg),
                "taken"
                if (each.start_s, each.stop_s) == chosen
                else "could serve"
                if each.could_serve
                else f"no: {each.why_not}",
            )
            for each in answer.zero.candidates
        ),
        frozenset({len(headings) - 1}),
    )

"""What is said of an angle that a reader moves; the page's script fills the same templates with the same words."""

from collections.abc import Sequence
from dataclasses import dataclass

from imu_rom.dose.moved_threshold import MovedSet, MovedThreshold
from imu_rom.wording.figures import LIKELIHOODS, interval, likelihood, one_decimal

__all__ = [
    "ANSWERS",
    "BASIS_WORDS",
    "LIKELIHOOD_WORDS",
    "MOVED_HEADINGS",
    "MOVED_TEMPLATES",
    "MovedTemplates",
    "angle_in_words",
    "moved_notes",
    "moved_row",
    "moved_sentence",
]

BASIS_WORDS = {
    "neutral by convention": "chosen by convention",
    "first pain": "by first pain",
    "share of own range": "by a share of the own range",
    "clinician": "chosen by the clinician",
}
"""How the plan's compressive angle was come by."""

ANSWERS = {
    "more": "more than asked",
    "less": "less than asked",
    "as asked": "as asked",
    "undecided": "undecided",
    "not prescribed": "not compared",
}

LIKELIHOOD_WORDS = LIKELIHOODS
"""(lowest probability, words), for the page's script."""


@dataclass(frozen=True)
class MovedTemplates:
    """Sentences with places for figures, in braces.

    Parameters
    ----------
    sentence : str
        All sets together.
    own : str
        Put behind it where the angle is the plan's own.
    moved : str
        Put behind it where it is another.
    time : str
        A time with its interval, in a cell.
    decided, undecided : str
        An answer with its likelihood, in a cell.
    """

    sentence: str
    own: str
    moved: str
    time: str
    decided: str
    undecided: str


MOVED_TEMPLATES = MovedTemplates(
    sentence="{past} s past {angle} deg in {sets} (95 % interval {interval}), excess {excess} deg s.",
    own="These are the result's figures, at the plan's own angle.",
    moved="Read off the curve, for you to compare; the plan's own angle is {own}, and the verdicts above stay with it.",
    time="{past} ({interval})",
    decided="{answer}: {likelihood}",
    undecided="undecided; that it is as asked is {likelihood}",
)

MOVED_HEADINGS = ("set", "past it, s", "asked, s", "excess, deg s", "against the plan")


def angle_in_words(threshold_deg: float) -> str:
    """Write an angle that was typed or moved to.

    Parameters
    ----------
    threshold_deg : float
        Degrees, to hundredths.

    Returns
    -------
    str
        Without decimals that say nothing.
    """
    return f"{round(threshold_deg, 2) + 0.0:g}"


def moved_sentence(moved: MovedThreshold) -> str:
    """Say the time past an angle of all sets together.

    Parameters
    ----------
    moved : MovedThreshold
        What the curves say.

    Returns
    -------
    str
        One sentence.
    """
    sets = len(moved.sets)
    return MOVED_TEMPLATES.sentence.format(
        past=one_decimal(moved.past_s),
        angle=angle_in_words(moved.threshold_deg),
        sets="1 set" if sets == 1 else f"{sets} sets",
        interval=interval(moved.low_s, moved.high_s),
        excess=one_decimal(moved.excess_deg_s),
    )


def moved_row(number: int, moved: MovedSet, asked: str) -> tuple[str, ...]:
    """Say the time past an angle of one set.

    Parameters
    ----------
    number : int
        Of the set.
    moved : MovedSet
        What the curve says.
    asked : str
        Prescribed time in words; empty where there is none.

    Returns
    -------
    tuple of str
        Cells below ``MOVED_HEADINGS``.
    """
    return (
        str(number),
        MOVED_TEMPLATES.time.format(past=one_decimal(moved.past_s), interval=interval(moved.low_s, moved.high_s)),
        asked or "-",
        one_decimal(moved.excess_deg_s),
        _against(moved),
    )


def _against(moved: MovedSet) -> str:
    above, below = moved.probability_above, moved.probability_below
    if above is None or below is None:
        return ANSWERS["not prescribed"]
    within = max(1.0 - above - below, 0.0)
    if moved.answer == "undecided":
        return MOVED_TEMPLATES.undecided.format(likelihood=likelihood(within))
    probability = {"more": above, "less": below}.get(moved.answer, within)
    return MOVED_TEMPLATES.decided.format(answer=ANSWERS[moved.answer], likelihood=likelihood(probability))


def moved_notes(*, slipped: bool, derived: bool) -> Sequence[str]:
    """Say how the figures of a moved angle differ from those of the analysis.

    Parameters
    ----------
    slipped : bool
        True where a sensor slipped or the zero crept.
    derived : bool
        True where the prescribed time was derived from hold and tempo.

    Returns
    -------
    sequence of str
        Sentences.
    """
    straight = (
        "Between steps of 0.1 deg the curve is taken as straight, and the sets' intervals are added as if they had all "
        "of their error in common, which makes that of the whole rather too wide than too narrow."
    )
    notes = [straight]
    if slipped:
        notes.append("What a slip adds to the error of the zero is not in this band.")
    if derived:
        notes.append(
            "The time asked for was derived from hold and tempo at the plan's own angle, so that no other is compared "
            "with it."
        )
    return notes

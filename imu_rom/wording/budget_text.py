"""The uncertainty budget in words: one sentence, and the rows of its table."""

from imu_rom.motion.uncertainty import Budget, Term
from imu_rom.wording.figures import one_decimal

__all__ = ["BUDGET_HEADINGS", "budget_rows", "budget_sentence"]

BUDGET_HEADINGS = ("term", "standard uncertainty, deg", "shared by", "grows with", "source")
NAMES = {
    "zero_pose": "zero pose",
    "soft_tissue_locked": "skin that follows the angle",
    "accelerometer_bias": "accelerometer bias",
    "soft_tissue_slow": "slow soft tissue",
    "attitude": "attitude filter",
    "axis": "joint axis",
    "heading": "heading and drift",
    "soft_tissue_fast": "wobbling soft tissue",
    "clock": "two clocks",
    "rocking": "rocking sensors, or an axis that moves",
}
SHARED = {
    "session": "the whole session",
    "set": "a set",
    "repetition": "a repetition",
    "sample": "nothing: each sample's own",
}
GROWS = {
    "nothing": "-",
    "excursion": "distance from the zero",
    "angular rate": "speed",
    "time": "time without sight of it",
}
SMALLEST_SAID_DEG = 0.05
MOST_SAID = 4


def _name(term: Term) -> str:
    return NAMES.get(term.name, term.name.replace("_", " "))


def budget_sentence(budget: Budget, *, joint: bool = True) -> str:
    """Say how uncertain the angle is and by what.

    Parameters
    ----------
    budget : Budget
        Terms.
    joint : bool
        False where the angle is no joint's, but the one sensor's own turn beside a segment that may move too.

    Returns
    -------
    str
        One sentence: what a set has in common, how much of it the whole session shares, the largest terms.
    """
    common = sorted(
        (each for each in budget.terms if each.shared_by in {"session", "set"}), key=lambda each: -each.value_deg
    )
    said = [each for each in common if each.value_deg >= SMALLEST_SAID_DEG][:MOST_SAID]
    where = f" at {one_decimal(budget.excursion_deg)} deg from the zero" if budget.share("session") else ""
    terms = f", mostly {', '.join(f'{_name(each)} {one_decimal(each.value_deg)}' for each in said)}" if said else ""
    whose = "the angle" if joint else "the sensor's own turn, not of the joint's angle,"
    return (
        f"Standard uncertainty of {whose}{where}: {one_decimal(budget.u_common_deg)} deg, of it "
        f"{one_decimal(budget.u_shared_deg)} deg shared by the whole session{terms}."
    )


def budget_rows(budget: Budget) -> tuple[tuple[str, ...], ...]:
    """Give the cells of the budget's table.

    Parameters
    ----------
    budget : Budget
        Terms.

    Returns
    -------
    tuple of tuple of str
        One row a term, those that are zero included.
    """
    return tuple(
        (_name(each), f"{each.value_deg:.2f}", SHARED[each.shared_by], GROWS[each.scales_with], each.source)
        for each in budget.terms
    )

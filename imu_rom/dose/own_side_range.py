"""Left against right by the own ranges that a clinician measured."""

from datetime import date

from imu_rom.dose.follow_up import Interval
from imu_rom.dose.plan import OwnRange, Plan
from imu_rom.motion.small_samples import NORMAL_FACTOR

__all__ = ["own_range_difference"]


def own_range_difference(plan: Plan, until: date) -> tuple[str, date, date, Interval] | None:
    """Compare the own ranges of both sides.

    Parameters
    ----------
    plan : Plan
        With what was measured.
    until : date
        Later measurements do not count.

    Returns
    -------
    tuple of (str, date, date, Interval) or None
        The test, its earlier and later day, and left less right in degrees with its 95 % interval. None where a side
        was not measured by the same test, or without its uncertainty.
    """
    latest: dict[tuple[object, ...], dict[str, OwnRange]] = {}
    for each in sorted(plan.own_ranges, key=lambda each: each.measured_on):
        if each.measured_on <= until and each.standard_uncertainty_deg is not None:
            latest.setdefault((each.joint, each.motion, each.measured_by), {})[each.side] = each
    pairs = [(each["left"], each["right"]) for each in latest.values() if len(each) == 2]
    if not pairs:
        return None
    left, right = max(pairs, key=lambda pair: min(each.measured_on for each in pair))
    difference = left.own_range_deg - right.own_range_deg
    u = ((left.standard_uncertainty_deg or 0.0) ** 2 + (right.standard_uncertainty_deg or 0.0) ** 2) ** 0.5
    days = sorted((left.measured_on, right.measured_on))
    interval = Interval(difference, difference - NORMAL_FACTOR * u, difference + NORMAL_FACTOR * u)
    return left.measured_by, days[0], days[1], interval

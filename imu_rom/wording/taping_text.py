"""A check of taping again and again, in sentences and a table."""

from imu_rom.session.taping_check import TapingCheck
from imu_rom.wording.figures import interval, one_decimal

__all__ = ["NOT_SHOWN", "taping_headings", "taping_rows", "taping_sentences"]

NOT_SHOWN = (
    "It holds for this person, this way of taping and whoever taped; another person may stand less steadily.",
    "How well the posture itself repeats is in it as well, so the neutral pose alone repeats a bit better than this.",
    "Skin that follows the joint makes every angle read short by the same share. That is not in it.",
)


def taping_sentences(check: TapingCheck) -> list[str]:
    """Say what taping again and again shows.

    Parameters
    ----------
    check : TapingCheck
        Rounded.

    Returns
    -------
    list of str
        The spread, what it means for the zero, the offset where it is known; plain sentences.
    """
    spread = check.spread
    own = one_decimal(check.own_standing_deg)
    sentences = [
        (
            f"{spread.count} tapings, {check.proximal} to {check.distal}: the same posture came out at "
            f"{one_decimal(spread.mean)} deg from the neutral pose on average, with a standard deviation of "
            f"{one_decimal(spread.standard_deviation)} deg (95 % interval {interval(spread.low, spread.high)})."
        ),
        (
            f"So where angles count from the person's own standing, the zero has a standard uncertainty of {own} deg: "
            f"the standard deviation, enlarged because {spread.count} tapings are few."
        ),
        (
            f"A difference of less than {one_decimal(spread.smallest_real_change)} deg between two sessions may be "
            "taping and standing alone (95 %)."
        ),
    ]
    if check.zero_pose_deg is None or check.offset_deg is None:
        usual = check.settings.uncertainty.zero_pose_deg
        sentences.append(
            "How far that standing is from the joint's own zero was not measured, because the posture's angle is not "
            + (
                f"known; the usual {usual:g} deg for that is too small then, and the plan takes {own} deg instead."
                if "zero_pose_deg" in check.plan_parts
                else f"known; the usual {usual:g} deg for that stay."
            )
        )
    else:
        known = abs(check.posture_deg or 0.0)
        # said as a positive distance, whichever way it goes
        ends = (check.offset_low_deg or 0.0, check.offset_high_deg or 0.0)
        way = "away from the posture"
        if check.offset_deg < 0:
            ends, way = (-ends[1], -ends[0]), "towards the posture"
        sentences.append(
            f"The posture is known to be at {known:g} deg, so the neutral pose lies "
            f"{one_decimal(abs(check.offset_deg))} deg (95 % interval {interval(*ends)}) from the joint's own zero, "
            f"{way}. Where angles count from the joint's own zero, that has a standard uncertainty of "
            f"{one_decimal(check.zero_pose_deg)} deg, this offset "
            "included."
        )
    return sentences


def taping_headings() -> tuple[str, ...]:
    """Give the headings of the table of tapings.

    Returns
    -------
    tuple of str
        One a column.
    """
    return "taping", "neutral pose, s", "posture, s", "angle, deg", "difference, deg", "recording"


def taping_rows(check: TapingCheck) -> list[tuple[str, ...]]:
    """Give the cells of the table of tapings.

    Parameters
    ----------
    check : TapingCheck
        Rounded.

    Returns
    -------
    list of tuple of str
        One row a taping; the difference is that from the mean.
    """
    return [
        (
            str(number),
            f"{each.neutral_start_s:.1f}-{each.neutral_stop_s:.1f}",
            f"{each.posture_start_s:.1f}-{each.posture_stop_s:.1f}",
            one_decimal(each.angle_deg),
            one_decimal(each.angle_deg - check.spread.mean),
            each.label,
        )
        for number, each in enumerate(check.tapings, start=1)
    ]

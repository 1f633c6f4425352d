"""How many people a study needs, in sentences and a table."""

from imu_rom.dose.study_power import StudyPower

__all__ = ["power_headings", "power_rows", "power_sentences"]


def power_sentences(found: StudyPower) -> tuple[str, ...]:
    """Say what the table rests on.

    Parameters
    ----------
    found : StudyPower
        What was found.

    Returns
    -------
    tuple of str
        Sentences.
    """
    by = found.assumptions
    return (
        (
            f"Fewest people in each of two arms to tell {by.first_s:g} s from {by.second_s:g} s past "
            f"{by.threshold_deg:g} deg a day ({by.exercise}) with a power of {100 * by.wanted:g} %, by Welch's t over "
            f"participants' means at a two-sided level of {by.level:g}."
        ),
        (
            f"Assumed, with no source: people differ by {100 * by.between_share:g} % and a person's days by "
            f"{100 * by.within_share:g} % (standard deviations of the logarithm). Take them from a pilot of your own."
        ),
        (
            f"Simulated: {by.trials} studies for each figure, seed {by.seed}; each session with a neutral pose of its "
            "own. An error that all sessions share, such as soft tissue that follows the angle, is not in it: it moves "
            "both arms alike."
        ),
    )


def power_headings() -> tuple[str, ...]:
    """Head the table.

    Returns
    -------
    tuple of str
        One a column.
    """
    return (
        "sensors",
        "zero pose, deg",
        "sessions a person",
        "people an arm",
        "power, % (95 % interval)",
        "measured over true exposure",
    )


def power_rows(found: StudyPower) -> list[tuple[str, ...]]:
    """Make the table.

    Parameters
    ----------
    found : StudyPower
        What was found.

    Returns
    -------
    list of tuple of str
        Cells.
    """
    return [
        (
            each.sensors,
            f"{each.zero_deg:g}",
            str(each.sessions),
            f"more than {found.most_people}" if each.people is None else str(each.people),
            f"{100 * each.power:.0f} ({100 * each.power_low:.0f} to {100 * each.power_high:.0f})",
            f"{each.ratio:.2f}",
        )
        for each in found.rows
    ]

"""What a session's angle and a reference differ by, in sentences and tables."""

from collections.abc import Sequence

from imu_rom.dose.agreement import Agreement
from imu_rom.session.reference_result import ReferenceComparison, ReferenceRepetition
from imu_rom.wording.figures import interval, one_decimal

__all__ = [
    "NOT_SHOWN",
    "REFERENCES",
    "answer_headings",
    "answer_rows",
    "answered",
    "reference_headings",
    "reference_rows",
    "reference_sentences",
]

NOT_SHOWN = (
    "The reference is taken at its word: an error of its own (markers on skin, another joint model) is in all of this.",
    (
        "One session has one zero: its repetitions are no independent tries of it, and limits of agreement over them "
        "say nothing of the next session. That takes several people and sessions, as a cohort's summary has them."
    ),
    (
        "Coverage within one session is all or nothing for the same reason: an interval that is right holds the "
        "reference in 95 of 100 sessions, not in 95 of 100 repetitions of one."
    ),
)

REFERENCES = (
    "Bland and Altman, Stat Methods Med Res 8:135-160, 1999, doi:10.1177/096228029900800204 (limits of agreement)",
)


def _percent(share: float | None) -> str:
    return "unknown" if share is None else f"{100 * share:.0f} %"


def _differences(what: str, found: Agreement | None, unit: str) -> str:
    if found is None:
        return f"{what}: too few repetitions are known by both to say."
    return (
        f"{what} (session less reference, {found.pairs} complete repetitions): bias {found.bias:.2f} {unit}, 95 % "
        f"limits of agreement {found.low:.2f} to {found.high:.2f} {unit}, root mean square "
        f"{found.root_mean_square:.2f} {unit}."
    )


def reference_sentences(found: ReferenceComparison) -> tuple[str, ...]:
    """Say what was found.

    Parameters
    ----------
    found : ReferenceComparison
        Of one exercise.

    Returns
    -------
    tuple of str
        Sentences; the first says the most.
    """
    lag = f"{1000 * found.lag.lag_s:.0f} ms"
    later = "found by the least variance of the difference" if found.lag.source == "found" else "given"
    zero = (
        "The reference is not known in the neutral pose, so that the two zeros can't be told apart from the rest."
        if found.zero_difference_deg is None
        else (
            f"In the session's neutral pose the reference reads {one_decimal(found.zero_difference_deg)} deg from what "
            "that pose counts as: so much of the bias, with the opposite sign, comes from the two zeros."
        )
    )
    left_out = ""
    if found.left_out:
        were = "repetition was" if found.left_out == 1 else "repetitions were"
        left_out = f" {found.left_out} {were} left out, because the reference is not known in all of it."
    return (
        (
            f"{found.exercise}, {found.side}, against {found.channel}: the angle differs by "
            f"{found.root_mean_square_deg:.2f} deg root mean square over {found.compared_s:.0f} s of the sets: a bias "
            f"of {found.bias_deg:.2f} deg and {found.spread_deg:.2f} deg about it (session less reference)."
        ),
        zero,
        _differences("End range", found.end_range, "deg") + left_out,
        _differences("Time past the compressive angle", found.time_past, "s"),
        (
            f"The stated 95 % intervals hold the reference in {_percent(found.samples_covered)} of the samples, "
            f"{_percent(found.end_ranges_covered)} of the end ranges and {_percent(found.times_covered)} of the sets' "
            "times past the compressive angle."
        ),
        f"The reference lags by {lag} ({later}), which was taken out; correlation {found.lag.correlation:.3f}.",
    )


def answered(
    repetitions: Sequence[ReferenceRepetition], question: str
) -> tuple[tuple[str, int, int, int], tuple[str, int, int, int]] | None:
    """Count the session's answers by what the reference says.

    Parameters
    ----------
    repetitions : sequence of ReferenceRepetition
        Of one exercise; of the end range complete ones count only, as in its verdict.
    question : {"reached", "within_limit"}
        Which.

    Returns
    -------
    tuple or None
        Where the reference says yes and where it says no: words, and counts of yes, no, undecided; None where it was
        not asked.
    """
    counts: dict[bool, dict[str, int]] = {side: dict.fromkeys(("yes", "no", "undecided"), 0) for side in (True, False)}
    asked = False
    for each in repetitions:
        said: bool | None = getattr(each, f"reference_{question}")
        answer: str = getattr(each, question)
        if said is None or answer not in counts[said] or (question == "reached" and not each.complete):
            continue
        asked = True
        counts[said][answer] += 1
    if not asked:
        return None
    yes, no = (counts[side] for side in (True, False))
    return (
        ("reference: yes", yes["yes"], yes["no"], yes["undecided"]),
        ("reference: no", no["yes"], no["no"], no["undecided"]),
    )


def answer_headings() -> tuple[str, ...]:
    """Head the table of answers.

    Returns
    -------
    tuple of str
        One a column.
    """
    return ("question", "by the reference", "session: yes", "session: no", "session: undecided")


def answer_rows(found: ReferenceComparison) -> list[tuple[str, ...]]:
    """Make the table of answers.

    Parameters
    ----------
    found : ReferenceComparison
        Of one exercise.

    Returns
    -------
    list of tuple of str
        Cells; empty where nothing was asked.
    """
    words = {"reached": "end range reached", "within_limit": "limit kept"}
    rows: list[tuple[str, ...]] = []
    for question, asked in words.items():
        for said, *counts in answered(found.repetitions, question) or ():
            rows.append((asked, str(said), *(str(each) for each in counts)))
    return rows


def reference_headings() -> tuple[str, ...]:
    """Head the table of repetitions.

    Returns
    -------
    tuple of str
        One a column.
    """
    return ("set", "repetition", "end range, deg", "reference, deg", "difference, deg", "past angle, s", "reference, s")


def reference_rows(found: ReferenceComparison) -> list[tuple[str, ...]]:
    """Make the table of repetitions.

    Parameters
    ----------
    found : ReferenceComparison
        Of one exercise.

    Returns
    -------
    list of tuple of str
        Cells.
    """
    return [
        (
            str(each.set),
            f"{each.repetition}{'' if each.complete else ' (partial)'}",
            f"{one_decimal(each.end_range_deg)} ({interval(each.end_range_low_deg, each.end_range_high_deg)})",
            one_decimal(each.reference_end_range_deg),
            one_decimal(each.end_range_deg - each.reference_end_range_deg),
            _time(each.past_threshold_s, each.past_threshold_low_s, each.past_threshold_high_s),
            "-" if each.reference_past_threshold_s is None else one_decimal(each.reference_past_threshold_s),
        )
        for each in found.repetitions
    ]


def _time(value: float | None, low: float | None, high: float | None) -> str:
    return "-" if value is None or low is None or high is None else f"{one_decimal(value)} ({interval(low, high)})"

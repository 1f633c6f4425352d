"""A cohort's summary in sections: sentences and tables, the same for terminal, Markdown and page."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from imu_rom.dose.clustered_means import FEWEST_PEOPLE
from imu_rom.dose.cohort_summary import AnswerShares, CohortSummary, Estimate, MeasureReliability
from imu_rom.dose.study import Study
from imu_rom.wording.figures import counted, one_decimal

__all__ = ["REFERENCES", "Section", "estimate_text", "summary_sections"]

REFERENCES = (
    "Time past an angle, verdicts and their uncertainty: imu-rom, as its README and the methods of each result say.",
    "Means over people: Matthews et al., BMJ 300:230-235, 1990, doi:10.1136/bmj.300.6719.230.",
    (
        "Difference of two arms: Welch, Biometrika 34:28-35, 1947, doi:10.1093/biomet/34.1-2.28; mixed model: Laird "
        "and Ware, Biometrics 38:963-974, 1982, doi:10.2307/2529876, fitted by statsmodels."
    ),
    (
        "Reliability: Shrout and Fleiss, Psychol Bull 86:420-428, 1979, doi:10.1037/0033-2909.86.2.420; standard "
        "error of measurement and minimal detectable change: Weir, J Strength Cond Res 19:231-240, 2005, "
        "doi:10.1519/15184.1."
    ),
    "Agreement: Bland and Altman, J Biopharm Stat 17:571-582, 2007, doi:10.1080/10543400701329422.",
    "Bootstrap: Efron and Tibshirani, An introduction to the bootstrap, 1993, of whole participants.",
)

_MEASURES = {"end_range_deg": ("end range", "deg"), "past_threshold_s": ("time past the angle", "s")}
_QUESTIONS = {"reached": "end range reached", "within_limit": "limit kept"}


@dataclass(frozen=True)
class Section:
    """One part of the summary.

    Parameters
    ----------
    title : str
        Heading.
    sentences : tuple of str
        Above the table.
    headings : tuple of str
        Of the table; empty where there is none.
    rows : tuple of tuple of str
        Its cells.
    """

    title: str
    sentences: tuple[str, ...]
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def estimate_text(found: Estimate, *, percent: bool = False) -> str:
    """Write a mean with its interval.

    Parameters
    ----------
    found : Estimate
        The mean.
    percent : bool
        True for a share.

    Returns
    -------
    str
        A dash where there is none; without brackets where it has no interval.
    """
    if found.value is None:
        return "-"

    def shown(value: float) -> str:
        return f"{100 * value:.0f}" if percent else one_decimal(value)

    if found.low is None or found.high is None:
        return shown(found.value)
    return f"{shown(found.value)} ({shown(found.low)} to {shown(found.high)})"


def summary_sections(summary: CohortSummary) -> tuple[Section, ...]:
    """Lay the summary out.

    Parameters
    ----------
    summary : CohortSummary
        What was worked out.

    Returns
    -------
    tuple of Section
        The main answer first, sensitivity analyses and missing data after, definitions and references last.
    """
    return (
        _declared(summary),
        _arms(summary),
        Section(
            "By week",
            ("Weeks count from each participant's first recorded day. Means of participants' means, s a session.",),
            ("week", "participants", "sessions", "mean (95 % interval)", "interval by"),
            tuple(_exposure(each.group, each.past_threshold_s) for each in summary.weeks),
        ),
        Section(
            "By participant",
            ("Means over each participant's sessions, s a session.",),
            ("participant", "sessions", "mean (95 % interval)", "interval by"),
            tuple(
                (each.group, str(one.sessions), estimate_text(one), one.method)
                for each in summary.participants
                for one in (each.past_threshold_s,)
            ),
        ),
        _reliability(summary.reliability),
        _agreement(summary),
        _answers(summary.answers),
        _sensitivity(summary),
        _missing(summary),
        Section("Definitions and references", (*_definitions(), *REFERENCES)),
    )


def _exposure(group: str, found: Estimate) -> tuple[str, ...]:
    return group, str(found.people), str(found.sessions), estimate_text(found), found.method


def _rule(study: Study) -> str:
    rule = study.valid_recording
    parts = []
    if rule.least_repetitions_share is not None:
        parts.append(f"at least {100 * rule.least_repetitions_share:g} % of the prescribed repetitions")
    if rule.largest_u_shared_deg is not None:
        parts.append(f"a shared standard uncertainty of at most {rule.largest_u_shared_deg:g} deg")
    if rule.largest_unseen_share is not None:
        parts.append(f"at most {100 * rule.largest_unseen_share:g} % of the sets' time without data")
    if rule.without_findings:
        parts.append(f"none of the findings {', '.join(rule.without_findings)}")
    return f"A recording counts that has {', '.join(parts)}." if parts else "Every recording with a known angle counts."


def _declared(summary: CohortSummary) -> Section:
    study = summary.study
    if study is None:
        said = (
            (
                "Nothing was declared beforehand: the plans have no [study]. All of this is exploratory, and no figure "
                "of it is a main result."
            ),
            f"Angle: {summary.threshold}. Every recording with a known angle counts.",
        )
    else:
        where = f", registered: {study.registration}" if study.registration else ""
        said = (
            (
                f"Declared on {study.declared_on.isoformat()} in the plans{where}. That it was before anybody looked "
                "is not something this program can know."
            ),
            f"Main answer: time past {summary.threshold}. {_rule(study)} All else is marked as a sensitivity analysis.",
        )
    counts = f"{summary.valid_sessions} of {counted(summary.sessions, 'session')} count."
    return Section("What was declared", (*said, counts))


def _arms(summary: CohortSummary) -> Section:
    told = "All participants are one arm: participants.tsv has no column for it, or none was named."
    if summary.arm_column is not None:
        told = f"Arms are those of the column {summary.arm_column} of participants.tsv."
    rows = [_exposure(each.group, each.past_threshold_s) for each in summary.arms]
    for each in summary.differences:
        words = f"{each.arm} less {each.other}"
        rows.append(_exposure(words, each.by_means))
        rows.append(_exposure(f"{words}, sensitivity analysis", each.by_model))
    return Section(
        "Exposure by arm",
        (
            told,
            (
                "Means of participants' means, s a session: sessions of a person are alike, so that people are "
                f"counted, not sessions. Fewer than {FEWEST_PEOPLE} participants give no interval."
            ),
        ),
        ("arm", "participants", "sessions", "mean (95 % interval)", "interval by"),
        tuple(rows),
    )


def _reliability(found: Sequence[MeasureReliability]) -> Section:
    rows = []
    why_not = []
    for each in found:
        words, unit = _MEASURES[each.measure]
        if each.reliability is None:
            why_not.append(f"{each.exercise}, {words}: not worked out, {each.why_not}.")
            continue
        one = each.reliability
        icc = one.correlation("ICC(2,1)")
        rows.append(
            (
                f"{each.exercise}, {words}, {unit}",
                f"{one.subjects} of {one.subjects + each.left_out}",
                f"{icc.value:.2f} ({icc.low:.2f} to {icc.high:.2f})",
                f"{one.sem:.2f} ({one.sem_low:.2f} to {one.sem_high:.2f})",
                f"{one.detectable_change:.1f}",
            )
        )
    return Section(
        "Reliability from day to day",
        (
            (
                "Each person's first two days of an exercise, the first recording of a day, the sensors taped on anew. "
                "It holds how differently people moved on the two days as well as what the sensors add."
            ),
            *why_not,
        ),
        ("figure", "people", "ICC(2,1) (95 % interval)", "SEM (95 % interval)", "MDC95") if rows else (),
        tuple(rows),
    )


def _agreement(summary: CohortSummary) -> Section:
    if not summary.agreement:
        return Section("Against another measurement", ("No recording has a channel of another measurement (JNTANG).",))
    rows = []
    why_not = []
    for each in summary.agreement:
        words, unit = _MEASURES[each.measure]
        if each.agreement is None:
            why_not.append(f"{each.channel}, {words}: not worked out, {each.why_not}.")
            continue
        one = each.agreement
        rows.append(
            (
                f"{each.channel}, {words}, {unit}",
                str(one.people),
                str(one.pairs),
                _ends(one.bias, one.bias_low, one.bias_high),
                _ends(one.low, one.low_low, one.low_high),
                _ends(one.high, one.high_low, one.high_high),
                f"{one.within_sd:.2f}, {one.between_sd:.2f}",
            )
        )
    return Section(
        "Against another measurement",
        (
            (
                "Complete repetitions, sensors less the other measurement; limits of agreement where people gave "
                "several pairs each and the true value varies. Intervals in brackets are 95 %, by drawing whole "
                "participants."
            ),
            *why_not,
        ),
        ("figure", "people", "pairs", "bias", "lower limit", "upper limit", "SD within, between people")
        if rows
        else (),
        tuple(rows),
    )


def _ends(value: float, low: float | None, high: float | None) -> str:
    return f"{value:.2f}" if low is None or high is None else f"{value:.2f} ({low:.2f} to {high:.2f})"


def _answers(found: Sequence[AnswerShares]) -> Section:
    if not found:
        return Section("Verdicts against another measurement", ("There is none.",))
    rows = tuple(
        (
            f"{each.channel}, {_QUESTIONS[each.question]}",
            each.by_reference,
            str(each.yes.sessions),
            *(estimate_text(one, percent=True) for one in (each.yes, each.no, each.undecided, each.right_of_decided)),
        )
        for each in found
    )
    return Section(
        "Verdicts against another measurement",
        (
            (
                "Repetitions by what the other measurement says, taken at its word. Right of those decided is the "
                "sensitivity where it says yes, the specificity where it says no; what is undecided is in neither. "
                "Shares in %, intervals by drawing whole participants; an interval of 100 to 100 % means that nobody "
                "was answered wrongly, not that nobody could be."
            ),
        ),
        ("question", "it says", "repetitions", "yes", "no", "undecided", "right of those decided"),
        rows,
    )


def _sensitivity(summary: CohortSummary) -> Section:
    rows = tuple(
        (each.what, each.change, each.arm, str(each.past_threshold_s.people), estimate_text(each.past_threshold_s))
        for each in summary.sensitivity
    )
    return Section(
        "Sensitivity analyses",
        (
            (
                "The main answer worked out otherwise, in s a session. None of these is the main answer, however it "
                "comes out. The zero is moved for all sessions the same way at once, which is more than chance "
                "would do."
            ),
        ),
        ("what", "change", "arm", "participants", "mean (95 % interval)"),
        rows,
    )


def _missing(summary: CohortSummary) -> Section:
    rows = tuple(
        (
            each.participant,
            each.arm,
            str(each.recordings),
            str(each.analysed),
            str(each.valid),
            ", ".join(f"{number} {reason}" for reason, number in each.reasons.items()) or "-",
            f"{each.undecided_repetitions} of {each.repetitions}",
            one_decimal(each.unseen_s),
            str(each.weeks_without),
        )
        for each in summary.missing
    )
    return Section(
        "Missing data",
        ("Nothing was filled in: means are of what is there, and are biased if what is missing is unlike it.",),
        (
            "participant",
            "arm",
            "recordings",
            "analysed",
            "count",
            "why not",
            "undecided repetitions",
            "unseen, s",
            "weeks without",
        ),
        rows,
    )


def _definitions() -> Iterator[str]:
    yield (
        "Time past the angle: of one session and side, summed over the repetitions of all its sets, read off the "
        "exposure curves, which are exact every 0.1 degrees. A session is one recording; both sides count apart."
    )
    yield (
        "Each session's zero is off by an error of its own. It is part of how sessions differ, so that it is in every "
        "interval over sessions and people; an error that all sessions share is in none."
    )
    yield (
        "SEM: root of the mean square within people (absolute agreement). MDC95: 1.96 times the root of 2 times the "
        "SEM."
    )

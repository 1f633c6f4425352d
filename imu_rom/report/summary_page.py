"""``summary.html``: one self-contained page about a cohort, with still pictures; no script, no network."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

from imu_rom.dose.cohort_summary import CohortSummary, GroupExposure
from imu_rom.report.interval_plot import IntervalPlot, interval_plot
from imu_rom.report.rendering import rendered
from imu_rom.report.tables import Table
from imu_rom.version import __version__
from imu_rom.wording.cautions import CAUTION
from imu_rom.wording.summary_text import summary_sections

__all__ = ["SummaryPage", "SummaryPart", "summary_page", "summary_page_bytes"]

# columns that hold words, by their headings
_WORDS = {"interval by", "arm", "change", "what", "why not", "it says"}


@dataclass(frozen=True)
class SummaryPart:
    """One part of the page.

    Parameters
    ----------
    title : str
        Heading.
    sentences : tuple of str
        Above all else.
    figures : tuple of IntervalPlot
        Pictures.
    table : Table or None
        The same as numbers.
    """

    title: str
    sentences: tuple[str, ...]
    figures: tuple[IntervalPlot, ...]
    table: Table | None


@dataclass(frozen=True)
class SummaryPage:
    """All that the page shows.

    Parameters
    ----------
    title : str
        Heading of all.
    facts : tuple of tuple of str
        (what, value) below it.
    parts : tuple of SummaryPart
        In order.
    cautions : tuple of str
        What every reader must be told.
    provenance : tuple of tuple of str
        (what, value) of program and plans.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    parts: tuple[SummaryPart, ...]
    cautions: tuple[str, ...]
    provenance: tuple[tuple[str, str], ...]


def summary_page(summary: CohortSummary, plans: Sequence[tuple[str, str]]) -> SummaryPage:
    """Gather what the page shows.

    Parameters
    ----------
    summary : CohortSummary
        Rounded.
    plans : sequence of (str, str)
        Name and SHA-256 of the cohort's plans.

    Returns
    -------
    SummaryPage
        Words, tables and pictures.
    """
    figures = {
        "Exposure by arm": _exposures(summary.arms, "arm"),
        "By week": _exposures(summary.weeks, "week"),
        "By participant": _exposures(summary.participants, "participant"),
        "Against another measurement": _agreements(summary),
        "Sensitivity analyses": _sensitivity(summary),
    }
    parts = []
    for each in summary_sections(summary):
        table = None
        if each.rows:
            words = frozenset(at for at, heading in enumerate(each.headings) if heading in _WORDS)
            table = Table(each.title, each.headings, each.rows, words)
        parts.append(SummaryPart(each.title, each.sentences, figures.get(each.title, ()), table))
    declared = "nothing" if summary.study is None else f"on {summary.study.declared_on.isoformat()}"
    return SummaryPage(
        title="Summary of a cohort",
        facts=(
            ("participants", str(len(summary.missing))),
            ("sessions that count", f"{summary.valid_sessions} of {summary.sessions}"),
            ("declared beforehand", declared),
        ),
        parts=tuple(parts),
        cautions=(CAUTION,),
        provenance=(
            ("program", f"imu-rom {__version__}"),
            *((f"plan {name}", f"SHA-256 {sha}") for name, sha in plans),
        ),
    )


def _exposures(groups: Sequence[GroupExposure], what: str) -> tuple[IntervalPlot, ...]:
    rows = [
        (each.group if what != "week" else f"week {each.group}", found.value, found.low, found.high)
        for each in groups
        for found in (each.past_threshold_s,)
        if found.value is not None
    ]
    if not rows:
        return ()
    return (interval_plot(f"Time past the angle by {what}, with 95 % intervals", "s a session", rows, 0.0),)


def _agreements(summary: CohortSummary) -> tuple[IntervalPlot, ...]:
    figures = []
    for measure, words, axis in (
        ("end_range_deg", "End range", "deg"),
        ("past_threshold_s", "Time past the angle", "s"),
    ):
        rows = []
        for each in summary.agreement:
            found = each.agreement
            if each.measure == measure and found is not None:
                rows += [
                    (f"{each.channel}, bias", found.bias, found.bias_low, found.bias_high),
                    ("lower limit", found.low, found.low_low, found.low_high),
                    ("upper limit", found.high, found.high_low, found.high_high),
                ]
        if rows:
            title = f"{words}: bias and limits of agreement, with 95 % intervals"
            figures.append(interval_plot(title, f"sensors less the other measurement, {axis}", rows, 0.0))
    return tuple(figures)


def _sensitivity(summary: CohortSummary) -> tuple[IntervalPlot, ...]:
    figures = []
    short = {"all recordings": "all recordings"}
    for arm in summary.arms:
        main = arm.past_threshold_s
        if main.value is None:
            continue
        rows = [("main answer", main.value, main.low, main.high)]
        for each in summary.sensitivity:
            found = each.past_threshold_s
            if each.arm == arm.group and found.value is not None:
                name = short.get(
                    each.what, f"{each.what} {each.change}" if each.what == "threshold" else _zero(each.change)
                )
                rows.append((name, found.value, found.low, found.high))
        figures.append(
            interval_plot(f"Arm {arm.group}: the main answer worked out otherwise", "s a session", rows, main.value)
        )
    return tuple(figures)


def _zero(change: str) -> str:
    return "zero less deep" if "less deep" in change else "zero deeper"


def summary_page_bytes(content: SummaryPage) -> bytes:
    """Write the page.

    Parameters
    ----------
    content : SummaryPage
        What it shows.

    Returns
    -------
    bytes
        UTF-8 text; the same content gives the same bytes.
    """
    return rendered("summary.html", {each.name: getattr(content, each.name) for each in fields(content)}).encode()

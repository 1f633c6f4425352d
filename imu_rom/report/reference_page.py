"""``reference.html``: one self-contained page about a session held against a reference; no script, no network."""

from collections.abc import Sequence
from dataclasses import fields

from imu_rom.report.check_page import CheckPage
from imu_rom.report.interval_plot import IntervalPlot, interval_plot
from imu_rom.report.rendering import rendered
from imu_rom.report.tables import Table
from imu_rom.session.reference_result import ReferenceComparison
from imu_rom.session.result import SessionResult
from imu_rom.version import __version__
from imu_rom.wording import reference_text
from imu_rom.wording.cautions import CAUTION
from imu_rom.wording.sentences import finding_line

__all__ = ["reference_page", "reference_page_bytes"]


def reference_page(session: SessionResult, found: Sequence[ReferenceComparison]) -> CheckPage:
    """Gather what the page shows.

    Parameters
    ----------
    session : SessionResult
        What was compared.
    found : sequence of ReferenceComparison
        Rounded; one an exercise.

    Returns
    -------
    CheckPage
        Words, tables and picture.
    """
    recording = session.recording
    tables = []
    for each in found:
        whose = f"{each.exercise}, {each.side}"
        answers = reference_text.answer_rows(each)
        if answers:
            tables.append(
                Table(f"Answers, {whose}", reference_text.answer_headings(), tuple(answers), frozenset({0, 1}))
            )
        rows = tuple(reference_text.reference_rows(each))
        caption = f"Repetitions, {whose}; intervals in brackets are 95 %"
        tables.append(Table(caption, reference_text.reference_headings(), rows))
    return CheckPage(
        title="Session against a reference",
        facts=(("recording", f"{recording.label}, {recording.duration_s:.0f} s at {recording.rate_hz:g} Hz"),),
        summary=tuple(sentence for each in found for sentence in reference_text.reference_sentences(each)),
        plan_parts=(),
        cautions=(CAUTION,),
        findings=tuple((each.level, finding_line(each)) for each in session.findings),
        figure=_figure(found),
        tables=tuple(tables),
        not_shown=(*reference_text.NOT_SHOWN, *(f"Formulas: {each}." for each in reference_text.REFERENCES)),
        provenance=(
            ("program", f"imu-rom {__version__}"),
            *((f"{each.role} {each.name}", f"SHA-256 {each.sha256}") for each in session.inputs),
        ),
    )


def _figure(found: Sequence[ReferenceComparison]) -> IntervalPlot:
    several = len(found) > 1
    rows = [
        (
            f"{f'{each.exercise}, ' if several else ''}set {one.set}, repetition {one.repetition}",
            one.end_range_deg - one.reference_end_range_deg,
            one.end_range_low_deg - one.reference_end_range_deg,
            one.end_range_high_deg - one.reference_end_range_deg,
        )
        for each in found
        for one in each.repetitions
    ]
    first = found[0].end_range
    band = (first.low, first.high) if first is not None and not several else None
    title = "End range less the reference, with the stated 95 % interval" + (
        "; shaded: limits of agreement" if band else ""
    )
    return interval_plot(title, "difference, deg", rows, 0.0, band)


def reference_page_bytes(content: CheckPage) -> bytes:
    """Write the page.

    Parameters
    ----------
    content : CheckPage
        What it shows.

    Returns
    -------
    bytes
        UTF-8 text; the same content gives the same bytes.
    """
    return rendered("reference.html", {each.name: getattr(content, each.name) for each in fields(content)}).encode()

"""The clinician's page of a course of weeks: what is urgent, where the stage stands, its figures, what they rest on.

Its sentences and cells are those of ``imu-rom progress``, its figures those of ``progress.json``. Like the page of a
session it holds all it needs and asks the network for nothing.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from imu_rom.exchange.progress import ProgressDocument
from imu_rom.report.charted import SCRIPT_GOES_HERE, blocks_of, charted_text
from imu_rom.report.course_figure import StageSpan, course_figure
from imu_rom.report.course_plot import CoursePlot, course_plot
from imu_rom.report.rendering import own_text
from imu_rom.report.tables import MARKS, Table
from imu_rom.version import __version__
from imu_rom.wording import course_tables, measured_tables
from imu_rom.wording.case_text import case_closing, case_lists, criteria_table, missing_sentences
from imu_rom.wording.cautions import stage_cautions
from imu_rom.wording.change_text import change_sentences, change_table
from imu_rom.wording.course_text import course_sentences, first_of_all, pain_sentences, reading_sentences
from imu_rom.wording.pattern_text import pattern_sentences

__all__ = ["CoursePage", "course_page", "course_page_blocks", "course_page_text"]

# answer of a criterion -> mark in front of it, so that answers are told apart by shape as well as by reading
ANSWER_MARKS = {
    "met": MARKS["met"],
    "not met": MARKS["short"],
    "not enough data": MARKS["undecided"],
    "for the clinician": MARKS["not prescribed"],
}


@dataclass(frozen=True)
class CoursePage:
    """All that the page shows.

    Parameters
    ----------
    title : str
        The plan's title.
    facts : tuple of tuple of str
        (what, value) of the plan, besides what the sentence below says.
    urgent : tuple of str
        Red flags and pain at which to stop; they stand before anything else.
    stands : tuple of str
        Whose course it is, and which stage applies since when.
    criteria : Table or None
        Criteria of the stage; None where no stage applies.
    case : tuple of (str, tuple of str)
        What speaks for going on, for staying and for stepping back.
    decides : tuple of str
        What holds progression back, and that the clinician decides.
    missing : tuple of str
        What is not known and would help.
    plot : CoursePlot
        The figures.
    stages : tuple of StageSpan
        Numbers and names of the figures' stages.
    pain, patterns, changes : tuple of str
        Sentences below the figures.
    pattern_days : str
        Over how many days patterns are looked for.
    change_table : Table
        Changes of end range against what is detectable.
    tables : tuple of Table
        The same figures as tables.
    reading : tuple of str
        What was read.
    skipped : tuple of str
        What could not be used.
    cautions : tuple of str
        What stands below everything that speaks about a stage.
    provenance : tuple of tuple of str
        (what, value) of inputs and versions.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    urgent: tuple[str, ...]
    stands: tuple[str, ...]
    criteria: Table | None
    case: tuple[tuple[str, tuple[str, ...]], ...]
    decides: tuple[str, ...]
    missing: tuple[str, ...]
    plot: CoursePlot
    stages: tuple[StageSpan, ...]
    pain: tuple[str, ...]
    patterns: tuple[str, ...]
    changes: tuple[str, ...]
    pattern_days: str
    change_table: Table
    tables: tuple[Table, ...]
    reading: tuple[str, ...]
    skipped: tuple[str, ...]
    cautions: tuple[str, ...]
    provenance: tuple[tuple[str, str], ...]


def course_page(document: ProgressDocument) -> CoursePage:
    """Gather what the page shows.

    Parameters
    ----------
    document : ProgressDocument
        What the course answers.

    Returns
    -------
    CoursePage
        Words, tables and figures.
    """
    answer, settings = document.answer, document.settings
    figure = course_figure(answer, float(settings["pain"]["stop_above"]))
    read = reading_sentences(document.reading, answer)
    tables = (
        course_tables.total_table(answer),
        course_tables.stage_table(answer),
        course_tables.dose_table(answer),
        measured_tables.exposure_table(answer),
        measured_tables.end_range_table(answer),
        course_tables.pain_table(answer),
        course_tables.day_table(answer),
    )
    plan = answer.plan
    return CoursePage(
        title=plan.title,
        facts=(("tendon site", plan.tendon_site), ("irritability", plan.irritability or "not said")),
        urgent=first_of_all(answer),
        stands=course_sentences(answer),
        criteria=None if answer.stage is None else _criteria(criteria_table(answer.stage.name, answer.criteria)),
        case=case_lists(answer.case),
        decides=case_closing(answer.case),
        missing=missing_sentences(answer.case.missing),
        plot=course_plot(figure),
        stages=figure.stages,
        pain=pain_sentences(answer),
        patterns=pattern_sentences(answer.patterns),
        changes=change_sentences(answer),
        pattern_days=f"{settings['course']['pattern_days']:g}",
        change_table=_table(change_table(answer), answers=True),
        tables=tuple(_table(each) for each in tables if each.rows),
        reading=read[:1],
        skipped=tuple(each.strip() for each in read[1:]),
        cautions=stage_cautions(),
        provenance=(
            ("program", f"imu-rom {__version__}"),
            *((f"{each.role} {each.name}", f"SHA-256 {each.sha256}") for each in document.reading.inputs),
        ),
    )


def _table(told: course_tables.Table, *, answers: bool = False) -> Table:
    """Take a table as the command line tells it; one that ends in answers has words there."""
    last = {len(told.headings) - 1} if answers else set()
    return Table(told.title, told.headings, told.rows, frozenset({*told.words, *last}))


def _criteria(told: course_tables.Table) -> Table:
    """Put a mark before each answer, and let what was found break like words."""
    rows = tuple((f"{ANSWER_MARKS[answer]} {answer}", *cells) for answer, *cells in told.rows)
    return Table(told.title, told.headings, rows, frozenset(range(len(told.headings))))


def course_page_blocks(content: CoursePage) -> Iterator[bytes]:
    """Write the page, block by block.

    Parameters
    ----------
    content : CoursePage
        What it shows.

    Returns
    -------
    iterator of bytes
        UTF-8 text; the same content gives the same bytes.

    Raises
    ------
    MissingExtraError
        The plotly package is not installed as it should be.
    """
    return blocks_of(course_page_text(content, SCRIPT_GOES_HERE))


def course_page_text(content: CoursePage, plotting: str, drawn: Mapping[str, str] | None = None) -> str:
    """Write the page's text.

    Parameters
    ----------
    content : CoursePage
        What it shows.
    plotting : str
        What stands for the plotting script.
    drawn : mapping of str to str, optional
        Drawings by the id of their figure, as addresses; with them the page needs no script and has none.

    Returns
    -------
    str
        HTML.
    """
    return charted_text("course.html", content, "course.css", own_text("course.js"), plotting, drawn)

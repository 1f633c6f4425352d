"""``report.html``: one self-contained page about one session, for people.

The page holds its own style, script and data and the plotting script of the plotly package; it asks the network for
nothing. All its words are those of the command line, all its figures those of ``result.json``.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from imu_rom.course.of_session import CourseOfSession
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.marks import recording_sha256
from imu_rom.exchange.plain_values import plain
from imu_rom.findings import Finding
from imu_rom.report.angle_figure import AngleFigure, angle_figure
from imu_rom.report.charted import SCRIPT_GOES_HERE, blocks_of, charted_text
from imu_rom.report.exposure_figure import ExposureFigure, exposure_figure
from imu_rom.report.rendering import own_text
from imu_rom.report.tables import Table, budget_table, candidate_table, repetition_table, set_table
from imu_rom.session.result import AngleTrace, ZeroPose
from imu_rom.wording.budget_text import budget_sentence
from imu_rom.wording.cautions import cautions
from imu_rom.wording.course_text import first_of_all
from imu_rom.wording.exercise_text import exercise_heading, set_sentences, total_sentence
from imu_rom.wording.glance_course_text import change_line, pain_line, unknown_line
from imu_rom.wording.glance_text import GlanceLine, glance_lines, recording_line
from imu_rom.wording.sentences import finding_line

__all__ = ["ExercisePart", "PageContent", "page_blocks", "page_content", "page_text"]

# in the order in which they need each other
SCRIPTS = (
    "session_signal.js",
    "session_angle.js",
    "session_repetitions.js",
    "session_exposure.js",
    "session_marks.js",
    "session_start.js",
)


@dataclass(frozen=True)
class ExercisePart:
    """What the page says about one exercise.

    Parameters
    ----------
    number : int
        From 1, for the ids of the page's elements.
    heading : str
        Name, side and motion.
    session : str
        The sentence about the session.
    sets : tuple of str
        One sentence for each set.
    figure : AngleFigure
        The angle over time.
    exposure : ExposureFigure or None
        The time past every angle; None where there is none.
    set_numbers : tuple of int
        The sets that hold repetitions.
    joins : tuple of tuple of str
        (words, start_s, stop_s) of each pair of neighbouring sets that could be joined.
    set_table, repetition_table, candidate_table, budget_table : Table
        The tables.
    measured : tuple of tuple of str
        (what, how) of the zero, the alignment and the uncertainty.
    """

    number: int
    heading: str
    session: str
    sets: tuple[str, ...]
    figure: AngleFigure
    exposure: ExposureFigure | None
    set_numbers: tuple[int, ...]
    joins: tuple[tuple[str, str, str], ...]
    set_table: Table
    repetition_table: Table
    candidate_table: Table
    budget_table: Table
    measured: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class PageContent:
    """All that the page shows.

    Parameters
    ----------
    title : str
        The plan's title.
    facts : tuple of tuple of str
        (what, value) of the person, the recording and the plan.
    urgent : tuple of str
        Red flags and pain at which to stop, where the course is known; they stand before anything else.
    glance : tuple of tuple
        (heading, lines) of the first screen; the heading is empty where there is one exercise.
    exercises : tuple of ExercisePart
        One part an exercise.
    findings : tuple of tuple of str
        (level, sentence) of each finding.
    marks : tuple of str
        Corrections that were applied.
    marking : dict
        What the page's script needs to write a file of marks; the digest is None where the recording is not known.
    cautions : tuple of str
        What stands below every result.
    provenance : tuple of tuple of str
        (what, value) of inputs and versions.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    urgent: tuple[str, ...]
    glance: tuple[tuple[str, tuple[GlanceLine, ...]], ...]
    exercises: tuple[ExercisePart, ...]
    findings: tuple[tuple[str, str], ...]
    marks: tuple[str, ...]
    marking: dict[str, Any]
    cautions: tuple[str, ...]
    provenance: tuple[tuple[str, str], ...]


def page_content(
    document: ResultDocument, traces: Sequence[AngleTrace], course: CourseOfSession | None = None
) -> PageContent:
    """Gather what the page shows.

    Parameters
    ----------
    document : ResultDocument
        The session's result.
    traces : sequence of AngleTrace
        The angle over time of each exercise, in their order.
    course : CourseOfSession, optional
        The course that it belongs to, for pain and what changed since the last review.

    Returns
    -------
    PageContent
        Words, tables and figures.
    """
    recording = document.recording
    recorded = "not known" if recording.recorded_at is None else recording.recorded_at
    if recording.recorded_at_source:
        recorded += f" ({recording.recorded_at_source})"
    return PageContent(
        title=document.plan_title,
        facts=(
            ("patient", document.patient or "not named"),
            ("tendon site", document.tendon_site),
            ("stage", document.stage),
            ("recorded", recorded),
            ("recording", f"{recording.label}, {recording.duration_s:.0f} s at {recording.rate_hz:g} Hz"),
        ),
        urgent=() if course is None else first_of_all(course.answer),
        glance=_glance(document.exercises, document.findings, course),
        exercises=tuple(
            _exercise_part(number, answer, trace)
            for number, (answer, trace) in enumerate(zip(document.exercises, traces, strict=True), start=1)
        ),
        findings=tuple((each.level, finding_line(each)) for each in document.findings),
        marks=tuple(
            f"{each.action.capitalize()} from {each.start_s:g} to {each.stop_s:g} s, by {each.by} at {each.at}: "
            f"{each.reason}"
            for each in document.marks
        ),
        marking={
            "recording_sha256": recording_sha256(document.inputs),
            "marks": [plain(each) for each in document.marks],
        },
        cautions=cautions(),
        provenance=(
            ("program", f"imu-rom {document.program_version}"),
            *((f"{each.role} {each.name}", f"SHA-256 {each.sha256}") for each in document.inputs),
            *(
                (f"course: {each.role} {each.name}", f"SHA-256 {each.sha256}")
                for each in (() if course is None else course.inputs)
            ),
            ("computed with", ", ".join(f"{name} {version}" for name, version in document.versions.items())),
            ("settings", f"attitude filter {document.settings['angle']['attitude_filter']}; all others in result.json"),
            *((f"{name}", f"from {source}") for name, source in document.own_uncertainty.items()),
        ),
    )


def _glance(
    answers: Sequence[ExerciseAnswer], findings: Sequence[Finding], course: CourseOfSession | None
) -> tuple[tuple[str, tuple[GlanceLine, ...]], ...]:
    """Put the first screen together; each neutral pose has its own line about the recording."""
    groups: list[tuple[str, tuple[GlanceLine, ...]]] = []
    poses: set[tuple[float, float]] = set()
    for place, answer in enumerate(answers):
        pose = (answer.zero.start_s, answer.zero.stop_s)
        alike = [each for each in answers if (each.zero.start_s, each.zero.stop_s) == pose]
        stops_s = [max((done.stop_s for done in each.comparison.sets), default=0.0) for each in alike]
        later = alike[stops_s.index(max(stops_s))].later_poses
        lines: list[GlanceLine] = [] if pose in poses else [recording_line(findings, later, max(stops_s))]
        poses.add(pose)
        of_course = _of_course(answer, course, first=place == 0)
        lines += glance_lines(answer.exercise, answer.comparison, _u_deg(answer), answer.allotment, of_course)
        heading = exercise_heading(answer.exercise, answer.allotment) if len(answers) > 1 else ""
        groups.append((heading, tuple(_unbroken_line(each) for each in lines)))
    return tuple(groups)


def _of_course(answer: ExerciseAnswer, course: CourseOfSession | None, *, first: bool) -> list[GlanceLine]:
    """Say what the course knows; pain is of the day, not of one exercise, and is said once."""
    if course is None:
        return [unknown_line()] if first else []
    pain = [pain_line(course.answer)] if first else []
    return [*pain, change_line(answer.exercise, course.answer)] if answer.exercise.angle_is_known else pain


def _unbroken_line(line: GlanceLine) -> GlanceLine:
    return replace(line, sentence=_unbroken(line.sentence), answer=line.answer.replace(" ", "\N{NO-BREAK SPACE}"))


def _u_deg(answer: ExerciseAnswer) -> float:
    return math.hypot(answer.u_shared_deg, answer.u_set_deg)


def _exercise_part(number: int, answer: ExerciseAnswer, trace: AngleTrace) -> ExercisePart:
    exercise = answer.exercise
    return ExercisePart(
        number=number,
        heading=exercise_heading(exercise, answer.allotment),
        session=_unbroken(total_sentence(exercise, answer.comparison, answer.allotment)),
        sets=tuple(map(_unbroken, set_sentences(exercise, answer.comparison, _u_deg(answer), answer.allotment))),
        figure=angle_figure(answer, trace),
        exposure=exposure_figure(answer),
        set_numbers=tuple(each.number for each in answer.comparison.sets),
        joins=tuple(
            (
                f"Join set {first.number} and set {second.number}",
                f"{first.repetitions[-1].repetition.start_s:.3f}",
                f"{second.repetitions[0].repetition.stop_s:.3f}",
            )
            for first, second in pairwise(answer.comparison.sets)
            if first.repetitions and second.repetitions
        ),
        set_table=set_table(answer),
        repetition_table=repetition_table(answer),
        candidate_table=candidate_table(answer),
        budget_table=budget_table(answer),
        measured=_measured(answer),
    )


def _unbroken(sentence: str) -> str:
    """Keep figures and their units on one line."""
    for unit in ("%", "deg", "s"):
        for behind in (" ", ",", ";", ".", ")"):
            sentence = sentence.replace(f" {unit}{behind}", f"\N{NO-BREAK SPACE}{unit}{behind}")
    return sentence


def _measured(answer: ExerciseAnswer) -> tuple[tuple[str, str], ...]:
    zero, alignment = answer.zero, answer.alignment
    chosen = "found in the recording" if zero.source == "auto" else "given by hand"
    axis = (
        f"quality {alignment.quality:.2f} of 1, standard uncertainty of the axis's direction "
        f"{alignment.axis_standard_uncertainty_deg:.1f} deg"
    )
    return (
        ("neutral pose", f"{zero.start_s:.1f} to {zero.stop_s:.1f} s, {chosen}; {_zero(zero)}"),
        ("alignment", f"{alignment.method}; {axis}; sign from the {alignment.sign_source}"),
        ("how sure", budget_sentence(answer.budget, joint=answer.exercise.angle_is_known)),
        *((("later poses", _later(answer)),) if answer.later_poses else ()),
    )


def _later(answer: ExerciseAnswer) -> str:
    return "; ".join(
        f"{each.start_s:.1f} to {each.stop_s:.1f} s, {each.difference_deg:+.1f} deg from the first "
        f"(standard uncertainty {each.standard_uncertainty_deg:.1f}): {each.use}"
        for each in answer.later_poses
    )


def _zero(zero: ZeroPose) -> str:
    if zero.pose_deg:
        return f"measured there by a clinician: {zero.pose_deg:g} deg; zero is {zero.meaning}"
    return f"zero is {zero.meaning}"


def page_blocks(content: PageContent) -> Iterator[bytes]:
    """Write the page, block by block.

    Parameters
    ----------
    content : PageContent
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
    return blocks_of(page_text(content, SCRIPT_GOES_HERE))


def page_text(content: PageContent, plotting: str, drawn: Mapping[str, str] | None = None) -> str:
    """Write the page's text.

    Parameters
    ----------
    content : PageContent
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
    script = "\n".join(('"use strict";', "(function () {", *map(own_text, SCRIPTS), "})();"))
    return charted_text("page.html", content, "session.css", script, plotting, drawn)

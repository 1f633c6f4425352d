"""Pages as PDF: the page for paper with drawings instead of scripts, its parts tagged for those who listen to it.

WeasyPrint lays it out (the extra ``pdf``), with its tags after PDF/UA-1 (ISO 14289-1), and fetches nothing: drawings
are part of the page. The drawings are those of `imu_rom.report.static_figure`.
"""

import base64
import re
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from imu_rom.course.of_session import CourseOfSession
from imu_rom.errors import MissingExtraError
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.progress import ProgressDocument
from imu_rom.report.course_figure import course_figure
from imu_rom.report.course_page import course_page, course_page_text
from imu_rom.report.page import page_content, page_text
from imu_rom.report.patient_page import drawing_style
from imu_rom.report.static_canvas import figure_bytes, journal_style, need_matplotlib
from imu_rom.session.result import AngleTrace

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["course_pdf", "need_weasyprint", "patient_pdf", "session_pdf"]

# stretched to the 184 mm that both papers leave, so that the words in drawings are not much smaller than the page's
WIDTH_MM = 150.0
DRAWING = re.compile(r'<svg class="movement".*?</svg>', re.DOTALL)
WORDS = re.compile(r'aria-label="([^"]*)"')
HATCH = re.compile(r'(?=<defs><pattern id="([^"]+)")(<defs>.*?</defs>)', re.DOTALL)
VARIANT = "pdf/ua-1"


def need_weasyprint() -> Any:  # noqa: ANN401
    """Load what makes PDF of pages.

    Returns
    -------
    module
        weasyprint.

    Raises
    ------
    MissingExtraError
        It is not installed, or the libraries of the system that it draws text with are not.
    """
    need_matplotlib()
    try:
        import weasyprint  # noqa: PLC0415  an extra, and slow to load
    except ImportError as error:
        raise MissingExtraError("pages as PDF need WeasyPrint", do="pip install 'imu-rom[pdf]'") from error
    except OSError as error:
        what = f"WeasyPrint does not find the system's Pango ({str(error).splitlines()[0]})"
        advice = "install it (Debian, Ubuntu: apt-get install libpango-1.0-0 libpangoft2-1.0-0)"
        raise MissingExtraError(what, do=advice) from error
    return weasyprint


def course_pdf(document: ProgressDocument) -> bytes:
    """Write the page of a course as PDF.

    Parameters
    ----------
    document : ProgressDocument
        What the course answers.

    Returns
    -------
    bytes
        The same course gives the same bytes on the same machine.

    Raises
    ------
    MissingExtraError
        WeasyPrint or matplotlib is not installed.
    """
    weasyprint = need_weasyprint()
    from imu_rom.report.static_trend import trend_drawing  # noqa: PLC0415  an extra

    shown = course_figure(document.answer, float(document.settings["pain"]["stop_above"]))
    drawn = {"course": _address(lambda: trend_drawing(shown, WIDTH_MM))}
    return _written(weasyprint, course_page_text(course_page(document), "", drawn))


def session_pdf(document: ResultDocument, traces: Sequence[AngleTrace], course: CourseOfSession | None = None) -> bytes:
    """Write the clinician's page of a session as PDF.

    Parameters
    ----------
    document : ResultDocument
        The session's result.
    traces : sequence of AngleTrace
        The angle over time of each exercise, in their order.
    course : CourseOfSession, optional
        The course that it belongs to.

    Returns
    -------
    bytes
        The same session gives the same bytes on the same machine.

    Raises
    ------
    MissingExtraError
        WeasyPrint or matplotlib is not installed.
    """
    weasyprint = need_weasyprint()
    drawn: dict[str, str] = {}
    for number, (answer, trace) in enumerate(zip(document.exercises, traces, strict=True), start=1):
        drawn |= {f"{name}-{number}": _address(draw) for name, draw in _of_exercise(answer, trace).items()}
    return _written(weasyprint, page_text(page_content(document, traces, course), "", drawn))


def patient_pdf(content: bytes) -> bytes:
    """Write a patient's page, of a session or of a course, as PDF.

    Parameters
    ----------
    content : bytes
        The page, as `imu_rom.report.patient_page` or `imu_rom.report.patient_course_page` writes it.

    Returns
    -------
    bytes
        The same page gives the same bytes on the same machine.

    Raises
    ------
    MissingExtraError
        WeasyPrint is not installed.
    """
    weasyprint = need_weasyprint()
    page = content.decode()
    hatches = dict(HATCH.findall(page))
    return _written(weasyprint, DRAWING.sub(lambda found: _by_itself(found[0], hatches), page))


def _by_itself(svg: str, hatches: Mapping[str, str]) -> str:
    """Make an image of a drawing with its own words, style and hatch: it sees nothing of the page around it."""
    begin, rest = svg.split(">", 1)
    missing = [hatch for name, hatch in hatches.items() if f"url(#{name})" in rest and hatch not in rest]
    alone = f'{begin} xmlns="http://www.w3.org/2000/svg"><style>{drawing_style()}</style>{"".join(missing)}{rest}'
    words = WORDS.search(begin)
    size = ' style="display: block; width: 100%"' if words else ' style="flex: none"'
    return f'<img alt="{words[1] if words else ""}"{size} src="{_svg_address(alone.encode())}">'


def _of_exercise(answer: ExerciseAnswer, trace: AngleTrace) -> dict[str, "Callable[[], Figure]"]:
    from imu_rom.report.static_exposure import exposure_drawing  # noqa: PLC0415  an extra
    from imu_rom.report.static_overlay import overlay_drawing  # noqa: PLC0415
    from imu_rom.report.static_session import angle_drawing, repetition_drawing  # noqa: PLC0415

    drawings: dict[str, Callable[[], Figure]] = {"angle": lambda: angle_drawing(answer, trace, WIDTH_MM)}
    if any(each.repetitions for each in answer.comparison.sets):
        drawings["ends"] = lambda: repetition_drawing(answer, WIDTH_MM)
        drawings["overlay"] = lambda: overlay_drawing(answer, trace, WIDTH_MM)
        if answer.exercise.angle_is_known:
            drawings["exposure"] = lambda: exposure_drawing(answer, WIDTH_MM)
    return drawings


def _address(draw: "Callable[[], Figure]") -> str:
    """Draw, and give the drawing as an address that holds it."""
    with journal_style():
        return _svg_address(figure_bytes(draw(), "svg"))


def _svg_address(svg: bytes) -> str:
    return f"data:image/svg+xml;base64,{base64.b64encode(svg).decode('ascii')}"


def _written(weasyprint: Any, text: str) -> bytes:  # noqa: ANN401
    from weasyprint.urls import URLFetcher  # noqa: PLC0415  an extra

    nothing = URLFetcher(allowed_protocols=["data"], allow_redirects=False)
    written = weasyprint.HTML(string=text, url_fetcher=nothing).write_pdf(pdf_variant=VARIANT)
    return bytes(written)

"""Figures for papers: as wide as a column, the same bytes each time, units on every axis, any name as text."""

import os
import re
import subprocess
import sys
import warnings
from dataclasses import replace

import numpy as np
import pytest

from imu_rom.dose.exercise import Tempo
from imu_rom.errors import CannotAnswerError, MissingExtraError
from imu_rom.exchange.document import result_document
from imu_rom.report import static_canvas
from imu_rom.report.angle_figure import angle_figure
from imu_rom.report.course_figure import course_figure
from imu_rom.report.static_canvas import FORMATS, drawable, journal_style
from imu_rom.report.static_exposure import exposure_band, exposure_drawing
from imu_rom.report.static_figure import (
    angle_figure_bytes,
    chosen_exercise,
    session_figure_bytes,
    trend_figure_bytes,
)
from imu_rom.report.static_overlay import laid_over, overlay_drawing
from imu_rom.report.static_session import angle_drawing, repetition_drawing
from imu_rom.report.static_trend import trend_drawing

POINTS_PER_MM = 72 / 25.4
HOSTILE = "<script>$x^2$</script> \U0001f600 \u202etxt =1+1 " + "long " * 40


@pytest.fixture(scope="module")
def session(make_session):
    return make_session(depths=((10.0, 24.0, -1.5),) * 2)


@pytest.fixture(scope="module")
def answer(session):
    return result_document(session).exercises[0]


@pytest.fixture(scope="module")
def trace(session):
    return session.exercises[0].trace


@pytest.fixture(scope="module")
def shown(course_document):
    return course_figure(course_document.answer, 5.0)


@pytest.fixture(scope="module")
def drawn(answer, trace, shown):
    """Each kind as a function from a format to bytes."""
    return {
        "angle": lambda file: angle_figure_bytes(answer, trace, file),
        "repetitions": lambda file: session_figure_bytes("repetitions", answer, file),
        "exposure": lambda file: session_figure_bytes("exposure", answer, file),
        "trend": lambda file: trend_figure_bytes(shown, file),
    }


KINDS = ("angle", "repetitions", "exposure", "trend")


@pytest.mark.parametrize("kind", KINDS)
def test_a_figure_is_as_wide_as_a_column_and_the_same_each_time(drawn, kind):
    svg = drawn[kind]("svg")
    width = float(re.search(rb'<svg [^>]*width="([\d.]+)pt"', svg)[1])
    assert width == pytest.approx(85 * POINTS_PER_MM, abs=0.1)
    assert not re.search(rb"dc:date|\d{4}-\d\d-\d\dT", svg)
    # outlines, so that no font is needed
    assert b"<text" not in svg
    pdf = drawn[kind]("pdf")
    assert b"CreationDate" not in pdf
    assert b"/FontFile2" in pdf
    png = drawn[kind]("png")
    # width in the header of a png
    assert int.from_bytes(png[16:20], "big") == int(85 / 25.4 * 600)
    for file, before in zip(("svg", "pdf", "png"), (svg, pdf, png), strict=True):
        assert drawn[kind](file) == before


@pytest.mark.parametrize("kind", KINDS)
def test_every_axis_says_its_unit_and_no_word_is_cut(answer, trace, shown, kind):
    with journal_style():
        figure = {
            "angle": lambda: angle_drawing(answer, trace),
            "repetitions": lambda: repetition_drawing(answer),
            "exposure": lambda: exposure_drawing(answer),
            "trend": lambda: trend_drawing(shown),
        }[kind]()
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        words = [axes.get_ylabel() for axes in figure.axes] + [figure.axes[-1].get_xlabel()]
        for each in words:
            assert not each or re.search(r", (deg|s)$|0 to 10$|^repetition|^week", each), each
        assert any(words)
        page = figure.bbox
        for text in figure.findobj(lambda each: hasattr(each, "get_text") and each.get_visible()):
            if text.get_text() and text.get_window_extent().width and text.axes is not None and "tick" not in str(text):
                box = text.get_window_extent()
                inside = page.x0 - 0.5 <= box.x0 <= box.x1 <= page.x1 + 0.5 and page.y0 - 0.5 <= box.y0 <= box.y1
                off_axis = not text.axes.bbox.fully_overlaps(box) and text in text.axes.texts
                assert inside or off_axis, text.get_text()


@pytest.mark.long
def test_another_process_draws_the_same_and_needs_no_pyplot(shown, tmp_path):
    script = (
        "import sys; from datetime import date; from pathlib import Path\n"
        "sys.path.insert(0, sys.argv[1])\n"
        "from conftest import SAMPLE, document_of\n"
        "from imu_rom.report.course_figure import course_figure\n"
        "from imu_rom.report.static_figure import trend_figure_bytes\n"
        "shown = course_figure(document_of(SAMPLE).answer, 5.0)\n"
        "for file in ('svg', 'pdf'): Path(sys.argv[2], file).write_bytes(trend_figure_bytes(shown, file))\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "7"}
    folder = os.path.dirname(__file__)  # noqa: PTH120
    subprocess.run([sys.executable, "-c", script, folder, str(tmp_path)], env=environment, check=True)
    for file in ("svg", "pdf"):
        assert (tmp_path / file).read_bytes() == trend_figure_bytes(shown, file)


def test_the_settings_of_the_process_are_put_back(answer):
    import matplotlib as mpl

    mpl.rcParams["font.size"] = 11.5
    try:
        session_figure_bytes("repetitions", answer, "svg")
        assert mpl.rcParams["font.size"] == 11.5
    finally:
        mpl.rcdefaults()


def test_repetitions_are_drawn_where_the_result_has_them(answer):
    with journal_style():
        axes = repetition_drawing(answer).axes[0]
        depths = sorted(each.repetition.end_range_deg for done in answer.comparison.sets for each in done.repetitions)
        points = [line for line in axes.lines if line.get_linestyle() == "None" and line.get_marker() != "_"]
        marks = [y for line in points for y in line.get_ydata()]
        assert sorted(marks) == depths
        assert axes.get_ylim()[1] >= answer.exercise.limit_deg


def test_the_exposure_curve_goes_through_what_was_measured_at_the_compressive_angle(answer):
    band = exposure_band(answer)
    threshold, exposure = answer.exercise.compression_threshold.deg, answer.comparison.exposure
    at = np.interp(threshold, band.angle_deg, band.time_s)
    assert at == pytest.approx(exposure.past_threshold_s, abs=0.002)
    low, high = (np.interp(threshold, band.angle_deg, each) for each in (band.low_s, band.high_s))
    # with errors that all sets share the band is at least as wide as the result's own interval
    assert low <= exposure.past_threshold_low_s + 0.01
    assert high >= exposure.past_threshold_high_s - 0.01
    assert (np.diff(band.time_s) <= 1e-9).all()
    assert (band.low_s <= band.time_s).all()
    assert (band.time_s <= band.high_s).all()


def test_one_sensor_alone_has_no_exposure_curve(answer):
    alone = replace(answer, exercise=replace(answer.exercise, sensors="distal only", proximal="none"))
    with pytest.raises(CannotAnswerError, match="knows no angle"):
        session_figure_bytes("exposure", alone, "svg")


def test_no_peak_of_the_angle_is_lost(answer, trace):
    angle = np.array(trace.angle_deg)
    index = len(angle) // 2
    angle[index] = 33.25
    with journal_style():
        axes = angle_drawing(answer, replace(trace, angle_deg=angle)).axes[0]
        line = next(each for each in axes.lines if each.get_label() == "angle")
        assert max(line.get_ydata()) >= 33.25
        assert len(line.get_ydata()) < len(angle) or len(angle) < 2400


@pytest.mark.parametrize("file", FORMATS)
def test_a_hostile_name_is_text(shown, file):
    hostile = replace(
        shown,
        names=(HOSTILE,) * len(shown.names),
        stages=tuple(replace(each, name=HOSTILE) for each in shown.stages),
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # a glyph that is missing is a warning
        drawn = trend_figure_bytes(hostile, file)
    assert b"<script" not in drawn


def test_names_are_cut_and_what_no_font_has_is_a_square():
    assert drawable("heel drop, left") == "heel drop, left"
    assert len(drawable(HOSTILE)) == 40
    assert drawable("a\U0001f9b6\u202eb") == "a\N{WHITE SQUARE}\N{WHITE SQUARE}b"


def test_without_matplotlib_one_sentence_says_what_to_install(answer, monkeypatch):
    monkeypatch.setattr(static_canvas, "find_spec", lambda _: None)
    with pytest.raises(MissingExtraError, match=re.escape("pip install 'imu-rom[figures]'")):
        session_figure_bytes("repetitions", answer, "svg")


def test_several_exercises_must_be_named(session):
    document = result_document(session)
    two = replace(
        document,
        exercises=(
            document.exercises[0],
            replace(document.exercises[0], exercise=replace(document.exercises[0].exercise, name="other")),
        ),
    )
    assert chosen_exercise(document, None) == 0
    assert chosen_exercise(two, "other") == 1
    with pytest.raises(CannotAnswerError, match="several exercises; name one by --exercise: heeldrop, other"):
        chosen_exercise(two, None)
    with pytest.raises(CannotAnswerError, match="no exercise 'third'"):
        chosen_exercise(two, "third")


def test_repetitions_laid_over_begin_and_end_at_their_start_and_reach_their_end_range(answer, trace):
    done = answer.comparison.sets[0]
    curves = laid_over(trace, done.repetitions)
    assert curves.shape == (3, 101)
    for curve, each in zip(curves, done.repetitions, strict=True):
        assert curve[0] == curve[-1] == pytest.approx(each.repetition.start_deg, abs=0.01)
        assert curve.max() == pytest.approx(each.repetition.end_range_deg, abs=0.01)


@pytest.mark.parametrize(("sets", "rows"), [(1, 1), (3, 1), (4, 2), (7, 3)])
def test_each_set_is_laid_over_once_with_one_key(make_session, sets, rows):
    session = make_session(depths=((10.0, 9.0, -20.0),) * sets)
    with journal_style():
        figure = overlay_drawing(result_document(session).exercises[0], session.exercises[0].trace)
    assert len(figure.axes) == rows
    assert [each.get_legend() is not None for each in figure.axes] == [True] + [False] * (rows - 1)
    assert [text.get_text() for each in figure.axes for text in each.texts] == [f"set {n + 1}" for n in range(sets)]
    # three repetitions and the median of the two complete ones, in each set
    curves = [line for each in figure.axes for line in each.lines if len(line.get_xdata()) == 101]
    assert len(curves) == 4 * sets


def test_what_was_held_is_drawn_where_that_is_what_the_window_is_about(answer, trace):
    held = [each.repetition.held_deg for done in answer.comparison.sets for each in done.repetitions]

    def drawn_in(one):
        with journal_style():
            lines = repetition_drawing(one).axes[0].lines
        return [
            float(line.get_ydata()[0]) for line in lines if line.get_label() == "held there, compared with the window"
        ]

    assert drawn_in(answer) == held
    assert [each["held_deg"] for each in angle_figure(answer, trace).data["repetitions"]] == held

    for changes in ({"tempo": Tempo(eccentric_s=2.5)}, {"end_range_deg": None}):
        assert drawn_in(replace(answer, exercise=replace(answer.exercise, **changes))) == []

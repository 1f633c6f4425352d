"""Pages as PDF: tagged, few sheets, drawings with their words, the same bytes, and nothing fetched."""

import io
import os
import re
import sys
from dataclasses import replace
from datetime import date
from functools import cache

import pytest

from imu_rom.errors import MissingExtraError
from imu_rom.exchange.document import result_document
from imu_rom.exchange.kept_angle import kept_traces
from imu_rom.report.patient_page import drawing_style, patient_page, patient_page_bytes
from imu_rom.report.pdf import course_pdf, need_weasyprint, patient_pdf, session_pdf

HOSTILE = '<script>alert(1)</script><img src="https://example.org/x.png"><b>b</b> \U0001f600\u202e=1+1 ' + "long " * 40


def _reason():
    try:
        need_weasyprint()
    except MissingExtraError as error:
        return str(error)
    return ""


# CI installs what it needs, and where it fails to, these tests fail too
REASON = "" if os.environ.get("CI") == "true" else _reason()
needs_weasyprint = pytest.mark.skipif(bool(REASON), reason=REASON or "it is there")


@pytest.fixture(scope="module")
def session(make_session):
    return make_session(depths=((10.0, 24.0, -1.5),) * 2)


@pytest.fixture(scope="module")
def files(session, course_until):
    document = result_document(session)
    traces = kept_traces(document.exercises, [each.trace for each in session.exercises])
    return {
        "session": session_pdf(document, traces),
        "course": course_pdf(course_until(date(2027, 1, 2))),
    }


def read(content):
    from pypdf import PdfReader

    return PdfReader(io.BytesIO(content))


@cache
def said(content):
    """Text of each sheet; taken out once a file, since that takes longer than all that is asked of it."""
    return [" ".join(each.extract_text().split()) for each in read(content).pages]


def tags(element, found):
    """Kinds of the structure's elements, and the words of those that have some."""
    element = element.get_object()
    if isinstance(element, list):
        for each in element:
            tags(each, found)
    elif hasattr(element, "get"):
        if "/S" in element:
            found.append((element["/S"], element.get("/Alt")))
        if "/K" in element and not isinstance(element["/K"], int):
            tags(element["/K"], found)
    return found


@needs_weasyprint
@pytest.mark.parametrize("name", ["session", "course"])
def test_its_parts_are_tagged_and_drawings_have_words(files, name):
    root = read(files[name]).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    found = tags(root["/StructTreeRoot"]["/K"], [])
    kinds = {kind for kind, _ in found}
    assert {"/H1", "/H2", "/P", "/Table", "/TH", "/TD", "/Figure"} <= kinds
    words = [alt for kind, alt in found if kind == "/Figure" and alt]
    assert len(words) >= {"session": 4, "course": 1}[name]
    assert any("tables below hold" in each for each in words)
    assert any("from leaving the start (0 %) to coming back" in each for each in words) == (name == "session")
    assert b"pdfuaid" in files[name] or "pdfuaid" in str(read(files[name]).xmp_metadata.stream.get_data())


@needs_weasyprint
@pytest.mark.parametrize("name", ["session", "course"])
def test_it_has_few_sheets_and_no_date(files, name):
    sheets = said(files[name])
    assert 2 <= len(sheets) <= 6
    assert all(f"{number} / {len(sheets)}" in each for number, each in enumerate(sheets, start=1))
    assert not {"/CreationDate", "/ModDate"} & set(read(files[name]).metadata)
    assert "diagnoses nothing" in " ".join(sheets)
    # what only works on a screen is not on paper
    assert not re.search(r"whole (course|recording)|save marks|Choose a repetition|the chosen one", " ".join(sheets))


@needs_weasyprint
@pytest.mark.parametrize(
    ("language", "question"), [("en", "How much did it hurt before"), ("de", "Wie weh tat es vor dem")]
)
def test_the_patients_page_is_paper_too(session, language, question):
    page = patient_page(result_document(session), language)
    content = patient_pdf(patient_page_bytes(page))
    assert patient_pdf(patient_page_bytes(page)) == content
    root = read(content).trailer["/Root"]
    assert (root["/MarkInfo"]["/Marked"], root["/Lang"]) == (True, language)
    found = tags(root["/StructTreeRoot"]["/K"], [])
    assert {"/H1", "/H2", "/H3", "/L", "/Figure"} <= {kind for kind, _ in found}
    assert page.exercises[0].picture_words.description in {alt for _, alt in found}
    sheets = said(content)
    assert 2 <= len(sheets) <= 4
    assert question in sheets[-1]


def test_a_drawing_that_stands_alone_has_its_own_colours():
    style = drawing_style()
    assert "var(" not in style
    # on paper the planned part is black
    assert style.rindex(".movement .planned, .movement .hatch { stroke: #000; }") > style.index(".movement .planned {")


@needs_weasyprint
def test_facts_of_a_session_stay_in_one_piece(files):
    assert "patient P-0017 tendon site achilles insertion stage into range recorded" in said(files["session"])[0]


@needs_weasyprint
def test_urgent_things_come_first(files):
    first = said(files["course"])[0]
    assert first.index("stop these exercises") < first.index("Criteria of stage")
    assert "To step back" in first


@needs_weasyprint
def test_the_same_course_gives_the_same_bytes(files, course_until):
    assert course_pdf(course_until(date(2027, 1, 2))) == files["course"]


@needs_weasyprint
def test_a_hostile_name_is_text_and_fetches_nothing(course_until, monkeypatch):
    import socket

    def refused(*_, **__):
        raise AssertionError("something was fetched")

    monkeypatch.setattr(socket.socket, "connect", refused)
    document = course_until(date(2026, 12, 6))
    plan = replace(document.answer.plan, title=HOSTILE, patient=HOSTILE)
    content = course_pdf(replace(document, answer=replace(document.answer, plan=plan)))
    assert "<script>alert(1)</script><img" in " ".join(read(content).pages[0].extract_text().split())
    assert read(content).metadata["/Title"].startswith("<script>")


def test_without_weasyprint_one_sentence_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(MissingExtraError, match=re.escape("pip install 'imu-rom[pdf]'")):
        need_weasyprint()


def test_without_pango_one_sentence_says_what_to_install(monkeypatch):
    import builtins

    plain = builtins.__import__

    def without(name, *arguments, **named):
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'\nmore lines")
        return plain(name, *arguments, **named)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingExtraError, match=r"does not find the system's Pango \(cannot load .*\); install it"):
        need_weasyprint()

"""The page: complete, self-contained, the same bytes each time, and its figures those of the result."""

import base64
import html
import json
import re
import time
from dataclasses import fields, replace

import numpy as np
import pytest
from jinja2 import UndefinedError

from imu_rom.exchange.document import result_document
from imu_rom.exchange.result import parse_result, write_result
from imu_rom.findings import Finding
from imu_rom.report import charted
from imu_rom.report.angle_figure import MOST_SAMPLES, angle_figure
from imu_rom.report.page import page_blocks, page_content
from imu_rom.wording.cautions import CAUTION, STOP_RULE

HOSTILE = "<script>alert(1)</script>\u202e\"'&{{7*7}} =1+1 \N{PILE OF POO}" + "x" * 200


def content_of(session):
    return page_content(result_document(session), [each.trace for each in session.exercises])


def text_of(session):
    return b"".join(page_blocks(content_of(session))).decode()


def own_part(text):
    """The page without the plotting script of the plotly package."""
    start = text.index("<script>/**\n* plotly.js")
    return text[:start] + text[text.index("</script>", start) :]


@pytest.fixture(scope="module")
def text(made_session):
    return text_of(made_session)


def long_trace(trace, samples):
    times = np.arange(samples) / 100
    return replace(
        trace,
        time_s=times,
        angle_deg=10 * np.sin(times),
        standard_uncertainty_deg=np.full(samples, 2.0),
        zero_standard_uncertainty_deg=np.full(samples, 2.0),
        phase=np.full(samples, 3, dtype=np.int16),
    )


def test_the_same_session_gives_the_same_bytes(text, make_session):
    assert text_of(make_session()) == text


def test_a_page_made_from_the_written_result_is_the_same(text, made_session):
    document = parse_result(write_result(result_document(made_session)), "result.json")
    again = page_content(document, [each.trace for each in made_session.exercises])
    assert b"".join(page_blocks(again)).decode() == text


def test_all_the_content_is_on_the_page(text, made_session):
    content = content_of(made_session)
    part = content.exercises[0]
    shown = html.unescape(re.sub(r"<[^>]+>", " ", re.sub("</?span>", "", own_part(text))))
    sentences = [part.session, *part.sets, *content.cautions, content.title, part.heading]
    sentences += [sentence for _, sentence in content.findings]
    for rows in (content.facts, content.provenance, part.measured):
        sentences += [each for row in rows for each in row]
    for table in (part.set_table, part.repetition_table, part.candidate_table):
        sentences += [table.caption, *table.headings, *(cell for row in table.rows for cell in row)]
    sentences += [words for *_, words in part.figure.key]
    for each in sentences:
        assert each in shown
    assert CAUTION in shown
    assert STOP_RULE in shown
    assert len(part.repetition_table.rows) == 45


def test_a_value_that_the_template_needs_is_never_silently_empty(made_session, monkeypatch):
    monkeypatch.setattr(charted, "fields", lambda content: [each for each in fields(content) if each.name != "facts"])
    with pytest.raises(UndefinedError, match="facts"):
        b"".join(page_blocks(content_of(made_session)))


def test_the_page_asks_the_network_for_nothing(text):
    own = own_part(text)
    assert "default-src 'none'" in own
    marked_up = re.sub(r"<script\b.*?</script>", "", own, flags=re.DOTALL)
    assert not re.search(r"(?:src|href|action)\s*=", marked_up.replace("default-src", "").replace("-src 'unsafe", ""))
    assert not re.search(r"url\(|@import|fetch\(|XMLHttpRequest|import\(|sendBeacon|WebSocket|https?:", own)
    assert len(re.findall(r"<script>/\*\*\n\* plotly\.js", text)) == 1
    assert len(text.encode()) < 6.5e6


def test_a_column_that_says_nothing_of_any_repetition_is_left_out(make_session, unprescribed, made_session):
    said = content_of(made_session).exercises[0].repetition_table
    assert {"reached", "within limit", "excess, deg s"} <= set(said.headings)
    table = content_of(make_session(depths=((10.0,),), exercise=unprescribed)).exercises[0].repetition_table
    assert not {"reached", "within limit", "past angle, s", "excess, deg s"} & set(table.headings)
    assert {"set", "repetition", "end range, deg", "eccentric, s", "complete"} <= set(table.headings)
    assert {len(row) for row in table.rows} == {len(table.headings)}
    assert table.words == {table.headings.index("complete")}


def test_a_way_back_that_was_not_seen_is_said_to_be(stayed_session):
    table = content_of(stayed_session).exercises[0].repetition_table
    assert [row[table.headings.index("concentric, s")] for row in table.rows] == ["1.5", "not seen"]


def test_a_note_within_a_section_is_no_landmark(text):
    # ARIA Authoring Practices: complementary landmarks stand at the top level, never in a region
    assert "<aside" not in text
    assert 'role="note" aria-label="Cautions"' in text


def test_ids_are_fixed_and_single(text):
    ids = re.findall(r'\bid="([^"]+)"', own_part(text))
    assert len(ids) == len(set(ids))
    assert {"angle-1", "angle-1-data", "sets-1", "repetitions-1", "exercise-1"} <= set(ids)
    for target in re.findall(r'aria-labelledby="([^"]+)"', own_part(text)):
        assert target in ids


def test_hostile_text_is_only_text(make_session):
    session = make_session(depths=((10.0,),), findings=(Finding("x", "note", HOSTILE),), patient=HOSTILE)
    session = replace(session, plan=replace(session.plan, title=HOSTILE))
    own = own_part(text_of(session))
    assert "<script>alert(1)" not in own
    for tag in ("h1", "title"):
        assert html.unescape(re.search(f"<{tag}>(.*?)</{tag}>", own, re.DOTALL).group(1)) == HOSTILE
    assert "{{7*7}}" in own
    assert own.count("<script") == own_part(text_of(make_session(depths=((10.0,),)))).count("<script")


def test_an_hour_fits_and_is_quick(made_session):
    answer = result_document(made_session).exercises[0]
    hour = long_trace(made_session.exercises[0].trace, 360_000)
    start = time.process_time()
    content = page_content(result_document(made_session), [hour])
    size = sum(len(block) for block in page_blocks(content))
    assert time.process_time() - start < 1.0
    assert size < 6.5e6
    assert len(angle_figure(answer, hour).data["angle"]) > 360_000 * 2


def test_more_than_an_hour_keeps_every_peak_and_the_size(made_session):
    answer = result_document(made_session).exercises[0]
    trace = long_trace(made_session.exercises[0].trace, 3 * 360_000 + 17)
    peaked = trace.angle_deg.copy()
    peaked[700_001], peaked[-1] = 77.0, -66.0
    data = angle_figure(answer, replace(trace, angle_deg=peaked)).data
    samples = np.frombuffer(base64.b64decode(data["angle"]), dtype="<i2") * data["angle_step_deg"]
    assert len(samples) <= MOST_SAMPLES + 2
    assert (samples.max(), samples.min()) == (77.0, -66.0)
    at_s = data["start_s"] + int(samples.argmax()) * data["step_s"]
    assert at_s == pytest.approx(7000.01, abs=0.1)
    content = page_content(result_document(made_session), [replace(trace, angle_deg=peaked)])
    assert sum(len(block) for block in page_blocks(content)) < 6.5e6


def test_the_samples_are_within_half_a_hundredth(made_session):
    trace = made_session.exercises[0].trace
    data = angle_figure(result_document(made_session).exercises[0], trace).data
    samples = np.frombuffer(base64.b64decode(data["angle"]), dtype="<i2") * data["angle_step_deg"]
    assert np.abs(samples - trace.angle_deg).max() <= 0.005 + 1e-9
    band = np.frombuffer(base64.b64decode(data["band"]), dtype="<i2") * data["band_step_deg"]
    assert band == pytest.approx(np.full(len(band), 1.96 * trace.standard_uncertainty_deg[0]), abs=0.0051)
    assert json.loads(json.dumps(data)) == data


def test_a_large_angle_is_not_cut_off(made_session):
    trace = replace(made_session.exercises[0].trace, angle_deg=made_session.exercises[0].trace.angle_deg + 700)
    data = angle_figure(result_document(made_session).exercises[0], trace).data
    samples = np.frombuffer(base64.b64decode(data["angle"]), dtype="<i2") * data["angle_step_deg"]
    assert np.abs(samples - trace.angle_deg).max() <= 0.05 + 1e-9


def test_phases_lines_and_repetitions_are_drawn_where_they_are(made_session, heeldrop):
    trace = made_session.exercises[0].trace
    figure = angle_figure(result_document(made_session).exercises[0], trace)
    phases = {each["name"]: (each["start_s"], each["stop_s"]) for each in figure.data["phases"]}
    assert phases["neutral"] == (22.0, 30.0)
    assert phases["calibration"] == (30.0, 39.0)
    assert phases["set 1"][0] == 48.0
    assert [each["deg"] for each in figure.data["lines"]] == [4.0, 18.0]
    assert figure.data["window_deg"] == [5.0, 15.0]
    repetitions = figure.data["repetitions"]
    assert {figure.data["kinds"][each["kind"]]["words"] for each in repetitions} == {"end range reached"}
    assert len(repetitions) == 45
    assert [(each["set"], each["number"]) for each in repetitions][14:16] == [(1, 15), (2, 1)]
    assert repetitions[0]["hover"].startswith("set 1, repetition 1<br>end range 10.0 deg (5.7 to 14.3)")
    low, high = figure.data["vertical_deg"]
    assert low < -28
    assert high > 18


def test_each_status_has_its_own_mark(make_session, unprescribed):
    session = make_session(depths=((10.0, 1.0, 5.0, 25.0, -12.0),))
    data = angle_figure(result_document(session).exercises[0], session.exercises[0].trace).data
    kinds = [data["kinds"][each["kind"]] for each in data["repetitions"]]
    assert [each["words"] for each in kinds] == [
        "end range reached",
        "short of the end range",
        "can't be told",
        "past the limit",
        "partial repetition",
    ]
    assert len({each["symbol"] for each in kinds}) == 5
    session = make_session(depths=((10.0,),), exercise=unprescribed)
    figure = angle_figure(result_document(session).exercises[0], session.exercises[0].trace)
    (only,) = figure.data["repetitions"]
    assert figure.data["kinds"][only["kind"]]["words"] == "repetition"
    assert figure.data["lines"] == []
    assert figure.data["window_deg"] is None
    assert "-</td>" in text_of(session)


def test_marks_are_shown(make_session, strike):
    session = make_session(depths=((10.0,),), marks=(strike,))
    assert "Strike from 60 to 61 s, by clinician 3 at 2026-12-04T09:00:00+01:00: coughed" in text_of(session)

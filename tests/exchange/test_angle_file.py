"""``angle.csv`` reads back as it was written, and what is wrong with one is named by line and column."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.errors import ResultError
from imu_rom.exchange.angle_file import read_angle_file
from imu_rom.exchange.document import result_document
from imu_rom.exchange.tables import angle_table, angles_table


@pytest.fixture(scope="module")
def two(made_session):
    """A recording of two exercises, the second set the second one's."""
    (answer,) = made_session.exercises
    first, second, _ = answer.comparison.sets
    other = replace(answer.exercise, name="kneebend", side="right")
    parts = tuple(
        replace(answer, exercise=exercise, comparison=replace(answer.comparison, sets=(done,)))
        for exercise, done in ((answer.exercise, first), (other, second))
    )
    return replace(made_session, exercises=parts)


def written(session, path, table=None):
    document = result_document(session)
    traces = [each.trace for each in session.exercises]
    blocks = angles_table(document.exercises, traces) if table is None else table
    path.write_bytes(b"".join(blocks))
    samples = len(traces[0].time_s)
    return replace(document, recording=replace(document.recording, samples=samples))


def test_it_reads_back(made_session, tmp_path):
    document = written(made_session, tmp_path / "angle.csv")
    read, trace = read_angle_file(tmp_path / "angle.csv", document), made_session.exercises[0].trace
    for name, decimals in (("time_s", 4), ("angle_deg", 3), ("standard_uncertainty_deg", 3)):
        assert np.array_equal(getattr(read.trace, name), np.round(getattr(trace, name), decimals)), name
    names = [trace.phase_names[each] for each in trace.phase]
    assert [read.trace.phase_names[each] for each in read.trace.phase] == names
    assert not read.part.any()
    # written again it is the same file
    assert b"".join(angle_table(read.trace)) == (tmp_path / "angle.csv").read_bytes()


def test_it_tells_whose_each_sample_is(two, tmp_path):
    document = written(two, tmp_path / "angle.csv")
    read = read_angle_file(tmp_path / "angle.csv", document)
    (first,), (second,) = (each.comparison.sets for each in document.exercises)
    time_s = read.trace.time_s
    assert np.array_equal(read.part, (time_s > first.stop_s).astype(int))
    assert first.stop_s < second.start_s < time_s[-1]


def test_phases_may_be_left_out(made_session, tmp_path):
    path = tmp_path / "angle.csv"
    document = written(made_session, path, angle_table(made_session.exercises[0].trace, phases=False))
    assert read_angle_file(path, document).trace.phase_names == ("",)


def changed(path, line, text):
    lines = path.read_text().splitlines()
    lines[line - 1] = text
    path.write_text("\n".join(lines) + "\n")


@pytest.mark.parametrize(
    ("line", "text", "said"),
    [
        (3, "0.0200,x,1.0,1.0,setup", r"angle\.csv:3:2: must be a number, got 'x'"),
        (3, "0.0200,1.0,1.0", r"angle\.csv:3: must have 5 cells, got 3"),
        (3, "0.0200,1.0,1.0,1.0,setup,more", r"angle\.csv:3: must have 5 cells, got 6"),
        (1, "time,angle", r"angle\.csv:1: must have the columns time_s,angle_deg"),
        (3, "0.0000,1.0,1.0,1.0,setup", r"rising times"),
        (3, ",1.0,1.0,1.0,setup", r"rising times"),
    ],
)
def test_faults_are_named(made_session, tmp_path, line, text, said):
    document = written(made_session, tmp_path / "angle.csv")
    changed(tmp_path / "angle.csv", line, text)
    with pytest.raises(ResultError, match=said):
        read_angle_file(tmp_path / "angle.csv", document)


def test_a_cut_off_file_is_refused(made_session, tmp_path):
    path = tmp_path / "angle.csv"
    for phases in (True, False):
        document = written(made_session, path, angle_table(made_session.exercises[0].trace, phases=phases))
        path.write_bytes(path.read_bytes()[:-3])
        with pytest.raises(ResultError, match="is cut off"):
            read_angle_file(path, document)


def test_another_recording_is_refused(made_session, tmp_path):
    document = written(made_session, tmp_path / "angle.csv")
    other = replace(document, recording=replace(document.recording, samples=7))
    with pytest.raises(ResultError, match="must have 7 samples"):
        read_angle_file(tmp_path / "angle.csv", other)


def test_an_unknown_exercise_is_refused(two, tmp_path):
    document = written(two, tmp_path / "angle.csv")
    first, second = document.exercises
    other = replace(document, exercises=(first, replace(second, exercise=replace(second.exercise, name="squat"))))
    with pytest.raises(ResultError, match=r"angle\.csv:\d+: names the exercise 'kneebend'"):
        read_angle_file(tmp_path / "angle.csv", other)


def test_a_missing_or_binary_file_is_one_sentence(made_session, tmp_path):
    document = written(made_session, tmp_path / "angle.csv")
    with pytest.raises(ResultError, match="no such file"):
        read_angle_file(tmp_path / "none.csv", document)
    (tmp_path / "angle.csv").write_bytes(
        b"time_s,angle_deg,standard_uncertainty_deg,zero_standard_uncertainty_deg\n\xff\0\n"
    )
    with pytest.raises(ResultError, match=r"must have|damaged"):
        read_angle_file(tmp_path / "angle.csv", document)

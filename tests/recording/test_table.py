"""A table of numbers is read whole, and what is wrong with it is named by file, line and column."""

import hashlib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from imu_rom.errors import RecordingError
from imu_rom.recording.table import TableLayout, check_is_text, read_table, sha256_of, side_by_side

LAYOUT = TableLayout("\t", ("a", "b", "c"))
ROWS = ["1\t2\t3", "4\t5\t6", "7\t8\t9", "10\t11\t12"]


def written(path, rows, end="\n"):
    path.write_text(end.join(rows) + end, "utf-8", newline="")
    return path


@pytest.fixture
def file(tmp_path):
    return tmp_path / "recording.tsv"


def test_numbers_and_digest(file):
    table = read_table(written(file, ROWS), LAYOUT)
    assert [table.numbers[column].tolist() for column in range(3)] == [[1, 4, 7, 10], [2, 5, 8, 11], [3, 6, 9, 12]]
    assert table.sha256 == hashlib.sha256(file.read_bytes()).hexdigest() == sha256_of(file)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_line_ends_of_any_system(file, end):
    assert read_table(written(file, ROWS, end), LAYOUT).numbers[2].tolist() == [3, 6, 9, 12]


def test_a_missing_value_is_nan(file):
    table = read_table(written(file, [*ROWS[:2], "7\tn/a\t9", ROWS[3]]), LAYOUT)
    assert np.isnan(table.numbers[1][2])
    assert np.isfinite(np.delete(table.numbers[1], 2)).all()


def test_only_the_asked_columns_are_read(file):
    layout = TableLayout("\t", ("a", "b", "c"), numbers=(0, 2), texts=(1,))
    table = read_table(written(file, ["1\tx y\t3", "4\t\t6", "7\tz\t9"]), layout)
    assert sorted(table.numbers) == [0, 2]
    assert table.texts[1].tolist() == ["x y", "", "z"]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40)
@given(
    row=st.integers(0, 3),
    column=st.integers(0, 2),
    text=st.sampled_from(["oops", "1.2.3", "0x10", "1,5", "inf", "-Infinity", "1e999", "--", "1 2"]),
)
def test_a_cell_that_is_no_number_is_named(file, row, column, text):
    rows = [line.split("\t") for line in ROWS]
    rows[row][column] = text
    with pytest.raises(RecordingError) as caught:
        read_table(written(file, ["\t".join(line) for line in rows]), LAYOUT)
    sentence = str(caught.value)
    assert sentence.startswith(f"recording.tsv:{row + 1}:{column + 1}: ")
    assert repr(text) in sentence
    assert f"({'abc'[column]})" in sentence


@pytest.mark.parametrize("text", ["", "nan", "NA"])
def test_other_words_for_missing_say_how_missing_is_written(file, text):
    with pytest.raises(RecordingError, match="missing is written n/a"):
        read_table(written(file, [ROWS[0], f"4\t{text}\t6", ROWS[2]]), LAYOUT)


def test_an_empty_cell_is_missing_where_the_layout_says_so(file):
    layout = TableLayout("\t", ("a", "b", "c"), missing=("", "n/a"))
    assert np.isnan(read_table(written(file, [ROWS[0], "4\t\t6", ROWS[2]]), layout).numbers[1][1])


@pytest.mark.parametrize("missing", [("n/a",), ("", "n/a")])
@pytest.mark.parametrize(("bad", "width"), [("4\t5", 2), ("4\t5\t6\t7", 4)])
def test_a_row_of_another_length_is_named(file, missing, bad, width):
    layout = TableLayout("\t", ("a", "b", "c"), missing=missing, width_source=", as the heading has")
    with pytest.raises(RecordingError) as caught:
        read_table(written(file, [ROWS[0], bad, *ROWS[2:]]), layout)
    assert (
        str(caught.value) == f"recording.tsv:2: the line has {width} columns where there must be 3, as the heading has."
    )


@pytest.mark.parametrize("rows", [["1\t2", "3\t4", "5\t6"], ["1\t2\t3\t4", "1\t2\t3\t4", "1\t2\t3\t4"]])
def test_a_table_of_another_width_is_refused(file, rows):
    with pytest.raises(RecordingError, match="columns where there must be 3"):
        read_table(written(file, rows), LAYOUT)


@pytest.mark.parametrize("missing", [("n/a",), ("", "n/a")])
@pytest.mark.parametrize("kept", [1, 3])
def test_a_file_cut_off_within_a_row_is_refused(file, missing, kept):
    written(file, ROWS)
    file.write_bytes(file.read_bytes()[: -len("10\t11\t12\n") + kept])
    with pytest.raises(RecordingError, match="so it was cut off"):
        read_table(file, TableLayout("\t", ("a", "b", "c"), missing=missing))


def test_a_file_that_ends_in_zero_bytes_is_refused(file):
    written(file, ROWS)
    file.write_bytes(file.read_bytes() + b"\0" * 100_000)
    with pytest.raises(RecordingError, match="ends in zero bytes"):
        read_table(file, LAYOUT)


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "the file is empty"),
        (b"\n\n  \n", "the file is empty"),
        (bytes(range(256)) * 40, "binary"),
        (b"PK\x03\x04\x14\x00\x06\x00", "binary"),
        ("1\t2\t3\n".encode("utf-16"), "UTF-16"),
    ],
)
def test_what_is_no_text_is_refused(file, content, reason):
    file.write_bytes(content)
    with pytest.raises(RecordingError, match=reason):
        check_is_text(file, 1.0)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    with pytest.raises(RecordingError, match="there is no such file"):
        check_is_text(tmp_path / "nothing.tsv", 1.0)
    with pytest.raises(RecordingError, match="is no file"):
        check_is_text(tmp_path, 1.0)


def test_a_file_over_the_limit_is_refused_unread(file):
    with file.open("wb") as sparse:
        sparse.truncate(10**12)
    with pytest.raises(RecordingError, match="1000000 MB, more than the 2048 MB"):
        check_is_text(file, 2048)


def test_columns_side_by_side_in_si_units():
    columns = [np.array([1.0, 2.0]), np.array([3.0, 4.0])]
    together = side_by_side(columns, [1.0, 10.0])
    assert together.tolist() == [[1, 30], [2, 40]]
    assert together.flags.c_contiguous

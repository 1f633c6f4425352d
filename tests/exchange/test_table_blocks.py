"""Rows as text: a column at a time, each value in it worked out once, and yet the lines of one cell after the other."""

import csv
import io

from hypothesis import given
from hypothesis import strategies as st

from imu_rom.exchange.spreadsheet_cells import cell_of, line_of
from imu_rom.exchange.table_blocks import csv_lines
from imu_rom.exchange.tidy_columns import TableLayout, column

LAYOUT = TableLayout("made", "a row", ("end_s",), (column("end_s", "n", "made up"), column("note", "t", "made up")))
VALUES = st.sampled_from([None, True, False, 0, 1, 2, 0.0, -0.0, 1.0, 0.0004, 1.0004, "", "1", "a,b", '"', "=1", "\r"])


@given(st.lists(st.fixed_dictionaries({"end_s": VALUES, "note": VALUES}), max_size=12))
def test_lines_are_those_of_one_cell_after_the_other(rows):
    one_by_one = [line_of(cell_of(row[each.name], each.unit) for each in LAYOUT.columns) for row in rows]
    assert csv_lines(LAYOUT, rows).decode() == "".join(one_by_one)
    assert len(list(csv.reader(io.StringIO(csv_lines(LAYOUT, rows).decode(), newline="")))) == len(rows)


def test_values_that_are_equal_and_of_other_kinds_stay_apart():
    rows = [{"end_s": each, "note": each} for each in (1, True, 1.0)]
    assert csv_lines(LAYOUT, rows).decode().splitlines() == ["1,1", "yes,yes", "1.000,1.0"]

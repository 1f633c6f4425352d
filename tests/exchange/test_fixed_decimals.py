"""The block-wise number formatter against Python's own formatting."""

import io
import time
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.exchange import fixed_decimals
from imu_rom.exchange.fixed_decimals import NumberColumn, WordColumn, table_blocks, write_table


def text_of(columns):
    file = io.BytesIO()
    write_table(file, columns)
    return file.getvalue().decode()


def cells_of(values, decimals):
    lines = text_of([NumberColumn("x", np.array(values, dtype=float), decimals)]).splitlines()
    assert lines[0] == "x"
    return lines[1:]


def near_the_middle(value, decimals):
    """True where the exact value lies within a rounding error of the middle between two decimals."""
    scaled = abs(Fraction(value)) * 10**decimals
    return abs(scaled - int(scaled) - Fraction(1, 2)) <= scaled * Fraction(3, 2**53)


@given(
    st.lists(st.floats(-1e9, 1e9) | st.floats(-20, 20) | st.just(-0.0), min_size=1, max_size=40),
    st.integers(0, 6),
)
def test_digits_equal_pythons_formatting(values, decimals):
    for value, cell in zip(values, cells_of(values, decimals), strict=True):
        expected = format(value, f".{decimals}f")
        if float(expected) == 0.0:
            expected = expected.removeprefix("-")
        if near_the_middle(value, decimals):
            assert abs(Fraction(cell) - Fraction(value)) <= Fraction(501, 1000) / 10**decimals + abs(
                Fraction(value)
            ) * Fraction(3, 2**53)
        else:
            assert cell == expected


@given(st.lists(st.integers(-(10**6), 10**6), min_size=1, max_size=60))
def test_every_row_keeps_its_place(whole):
    values = np.array(whole) / 1000
    rows = [line.split(",") for line in text_of(
        [
            NumberColumn("a", values, 3),
            WordColumn("w", np.abs(np.array(whole)) % 3, ["setup", "set 1", "between"]),
            NumberColumn("b", -values, 3),
        ]
    ).splitlines()]  # fmt: skip
    assert rows[0] == ["a", "w", "b"]
    for value, row in zip(whole, rows[1:], strict=True):
        assert [round(float(row[0]) * 1000), round(float(row[2]) * 1000)] == [value, -value]
        assert row[1] == ["setup", "set 1", "between"][abs(value) % 3]


def test_known_cells():
    assert cells_of([0.0, -0.0, -0.0004, 0.0005000001, -12.3456, 999.9996, np.nan], 3) == [
        "0.000",
        "0.000",
        "0.000",
        "0.001",
        "-12.346",
        "1000.000",
        "",
    ]
    assert cells_of([7, -13, 0], 0) == ["7", "-13", "0"]


def test_blocks_join_without_seams(monkeypatch):
    values = np.linspace(-1000, 10, 1000)
    whole = text_of([NumberColumn("x", values, 2)])
    monkeypatch.setattr(fixed_decimals, "ROWS_AT_ONCE", 7)
    assert text_of([NumberColumn("x", values, 2)]) == whole


def test_a_table_without_rows_is_its_heading():
    assert text_of([NumberColumn("x", np.empty(0), 3), NumberColumn("y", np.empty(0), 3)]) == "x,y\n"


@pytest.mark.parametrize("value", [np.inf, -np.inf, 1e15])
def test_what_has_no_fixed_decimals_is_refused(value):
    with pytest.raises(ValueError, match="too large"):
        cells_of([1.0, value], 3)


def test_columns_of_different_length_are_refused():
    with pytest.raises(ValueError, match="same length"):
        list(table_blocks([NumberColumn("a", np.zeros(2), 1), NumberColumn("b", np.zeros(3), 1)]))


def test_words_that_need_quoting_are_refused():
    with pytest.raises(ValueError, match="comma"):
        list(table_blocks([WordColumn("w", np.zeros(2, dtype=int), ['say "so"'])]))


def test_an_hour_is_written_in_a_fraction_of_pythons_time():
    # the same machine does both, so the ratio holds on slow ones too
    rows = 36_000
    columns = [NumberColumn(name, np.linspace(-40, 40, rows), 3) for name in "abcd"]
    start = time.process_time()
    text_of(columns)
    blocks = time.process_time() - start
    start = time.process_time()
    "\n".join(",".join(f"{each:.3f}" for each in row) for row in np.column_stack([c.values for c in columns]).tolist())
    assert blocks < (time.process_time() - start) / 3

"""Cells: what was written reads back, and no text begins as a formula does."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from imu_rom.exchange.spreadsheet_cells import FORMULA_STARTS, cell_of, defused, value_of, without_apostrophe

# UTF-8 has no halves of characters
TEXT = st.text(st.characters(exclude_categories=["Cs"]))


@given(st.one_of(TEXT, st.sampled_from(FORMULA_STARTS).flatmap(lambda start: TEXT.map(lambda text: start + text))))
@example("'=1+1")
@example("''")
@example("")
def test_text_reads_back_and_begins_as_no_formula(text):
    cell = defused(text)
    assert without_apostrophe(cell) == text
    assert not cell.startswith(FORMULA_STARTS)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "＝1"])
def test_formulas_get_an_apostrophe(text):
    assert cell_of(text) == f"'{text}"


@pytest.mark.parametrize("text", ["heeldrop", "1-2", "a=b", "<script>alert(1)</script>", "\u202etxt.exe", "🦶"])
def test_other_text_stands_as_it_is(text):
    assert cell_of(text) == text


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(["s", "deg", "deg.s", "1", ""]))
@example(-0.0, "deg")
@example(12.0005, "s")
def test_numbers_read_back_and_stay_numbers(number, unit):
    cell = cell_of(number, unit)
    assert value_of(cell, "number") == number
    assert not cell.startswith("'")


def test_numbers_have_the_decimals_of_their_unit():
    assert [cell_of(-1.5, "deg"), cell_of(2.0, "s"), cell_of(0.1234567, "s"), cell_of(3)] == [
        "-1.500",
        "2.000",
        "0.1234567",
        "3",
    ]


@pytest.mark.parametrize("value", [True, False])
def test_yes_and_no_read_back(value):
    assert value_of(cell_of(value), "yes or no") is value


def test_nothing_and_no_bound_are_empty():
    assert [cell_of(None), cell_of(math.inf), value_of("", "number"), value_of("", "text")] == ["", "", None, None]


@pytest.mark.parametrize(
    ("cell", "kind", "must"),
    [
        ("x", "number", "a number"),
        ("1.5", "whole number", "a whole number"),
        ("inf", "number", "a finite number"),
        ("true", "yes or no", "yes or no"),
    ],
)
def test_a_cell_of_another_kind_says_what_it_must_be(cell, kind, must):
    with pytest.raises(ValueError, match=f"^{must}$"):
        value_of(cell, kind)

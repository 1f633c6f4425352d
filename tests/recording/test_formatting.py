"""Numbers written in bulk are those that Python's own formatting gives."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from imu_rom.recording.formatting import format_numbers

NUMBERS = st.one_of(
    st.floats(-1e5, 1e5), st.just(float("nan")), st.sampled_from([0.0, -0.0, 0.5, -1e-9, 9.995, 99999.5])
)


@given(arrays(float, st.tuples(st.integers(1, 6), st.integers(1, 4)), elements=NUMBERS), st.integers(0, 6))
def test_cells_are_the_numbers_to_the_last_decimal(values, decimals):
    text = b"".join(format_numbers(values, decimals)).decode()
    rows = [line.split("\t") for line in text.splitlines()]
    assert len(rows) == len(values)
    for row, expected in zip(rows, values, strict=True):
        for cell, number in zip(row, expected, strict=True):
            if np.isnan(number):
                assert cell == "n/a"
            else:
                assert float(cell) == pytest.approx(number, abs=0.5000001 * 10.0**-decimals)
                assert len(cell.partition(".")[2]) == decimals
                assert not cell.startswith("-0." + "0" * decimals if decimals else "-0")


def test_blocks_join_without_a_seam():
    values = np.random.default_rng(1).normal(0, 100, (20_003, 3))
    text = b"".join(format_numbers(values, 4)).decode()
    expected = "".join("\t".join(f"{each:.4f}" for each in row) + "\n" for row in values)
    assert text.replace("-0.0000", "0.0000") == expected.replace("-0.0000", "0.0000")


@pytest.mark.parametrize("number", [np.inf, -np.inf, 1e300])
def test_what_has_no_digits_is_refused(number):
    with pytest.raises(ValueError, match="finite"):
        list(format_numbers(np.array([[number]]), 5))

"""Sentences about a moved angle."""

import pytest

from imu_rom.dose.exercise import Basis
from imu_rom.dose.moved_threshold import MovedSet, MovedThreshold
from imu_rom.wording.moved_text import (
    BASIS_WORDS,
    MOVED_HEADINGS,
    angle_in_words,
    moved_notes,
    moved_row,
    moved_sentence,
)

SET = MovedSet(38.25, 36.04, 40.4, 120.06, 0.03, 0.0, "as asked")


def test_the_sentence_has_figure_and_interval():
    moved = MovedThreshold(4.5, (SET, SET), 76.5, 72.1, 80.8, 240.1)
    told = "76.5 s past 4.5 deg in 2 sets (95 % interval 72.1 to 80.8), excess 240.1 deg s."
    assert moved_sentence(moved) == told


@pytest.mark.parametrize(
    ("answer", "above", "below", "words"),
    [
        ("as asked", 0.03, 0.0, "as asked: very likely (97 %)"),
        ("more", 0.93, 0.0, "more than asked: very likely (93 %)"),
        ("less", 0.0, 0.996, "less than asked: virtually certain (over 99 %)"),
        ("undecided", 0.3, 0.1, "undecided; that it is as asked is about as likely as not (60 %)"),
        ("not prescribed", None, None, "not compared"),
    ],
)
def test_a_row_says_what_was_found_against_the_plan(answer, above, below, words):
    row = moved_row(2, MovedSet(38.25, 36.04, 40.4, 120.06, above, below, answer), "12 to 45 s")
    assert row == ("2", "38.2 (36.0 to 40.4)", "12 to 45 s", "120.1", words)
    assert len(row) == len(MOVED_HEADINGS)


def test_every_basis_has_words():
    assert set(BASIS_WORDS) == set(Basis.__args__)


def test_angles_have_no_idle_decimals():
    assert [angle_in_words(each) for each in (4.0, -0.001, 12.34, -7.5)] == ["4", "0", "12.34", "-7.5"]


def test_notes_say_what_is_left_out():
    assert len(moved_notes(slipped=False, derived=False)) == 1
    assert len(moved_notes(slipped=True, derived=True)) == 3

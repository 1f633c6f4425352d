"""Mountings in the plan's words and in the letters of BIDS say the same."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.motion.mounting import mounting_rotation
from imu_rom.recording.axes import letters_from_mounting, mounting_from_letters

VECTORS = {"A": [1, 0, 0], "P": [-1, 0, 0], "L": [0, 1, 0], "R": [0, -1, 0], "S": [0, 0, 1], "I": [0, 0, -1]}
# right-handed frames as the BIDS Motion specification shows them: "ALS" is x forward, y left, z up
RIGHT_HANDED = [
    "".join(letters)
    for letters in itertools.product(VECTORS, repeat=3)
    if np.linalg.det([VECTORS[letter] for letter in letters]) > 0.5
]


def test_there_are_as_many_right_handed_frames_as_turns_of_a_cube():
    assert len(RIGHT_HANDED) == 24


@pytest.mark.parametrize("letters", RIGHT_HANDED)
def test_words_and_letters_are_each_others_inverse(letters):
    assert letters_from_mounting(mounting_from_letters(letters)) == letters


@pytest.mark.parametrize("letters", RIGHT_HANDED)
def test_the_words_are_what_the_plan_understands(letters):
    rotation = mounting_rotation(mounting_from_letters(letters), "left")
    # body frame there: X forward, Y up, Z right
    body = {"A": (1, 0, 0), "P": (-1, 0, 0), "S": (0, 1, 0), "I": (0, -1, 0), "R": (0, 0, 1), "L": (0, 0, -1)}
    assert np.array_equal(rotation, np.array([body[letter] for letter in letters]).T)


@given(st.sampled_from(RIGHT_HANDED), st.integers(0, 2))
def test_one_unknown_axis_follows_from_the_others(letters, index):
    assert mounting_from_letters(letters[:index] + "_" + letters[index + 1 :]) == mounting_from_letters(letters)


@pytest.mark.parametrize("letters", ["", "AL", "ALSS", "ALA", "ARS", "A__", "___", "XYZ", "AAS"])
def test_letters_that_are_no_right_handed_frame_say_nothing(letters):
    assert mounting_from_letters(letters) is None


@pytest.mark.parametrize(
    ("mounting", "side", "letters"),
    [
        ("z outward, x up", "left", "SAL"),
        ("z outward, x up", "right", "SPR"),
        ("z inward, x up", "right", "SAL"),
        ("z up, x forward", None, "ALS"),
        ("x forward, y left, z up", None, "ALS"),
        ("z outward, x up", None, None),
        ("z sideways, x up", "left", None),
        ("x up", "left", None),
        ("x up, y up", "left", None),
        ("upward", None, None),
    ],
)
def test_outward_depends_on_the_side(mounting, side, letters):
    assert letters_from_mounting(mounting, side) == letters

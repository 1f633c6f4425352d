"""Declared mountings, checked against directions written out by hand."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.errors import PlanError
from imu_rom.motion.mounting import DIRECTIONS, mounting_rotation

FORWARD, UP, RIGHT = np.eye(3)
WORDS = {
    "forward": FORWARD,
    "backward": -FORWARD,
    "up": UP,
    "down": -UP,
    "right": RIGHT,
    "left": -RIGHT,
}
SIDED = {
    ("outward", "right"): RIGHT,
    ("inward", "right"): -RIGHT,
    ("outward", "left"): -RIGHT,
    ("inward", "left"): RIGHT,
}


def body(word, side):
    return SIDED.get((word, side), WORDS.get(word))


def test_outward_depends_on_the_side():
    # right leg: z right, x up, so y = z cross x = right cross up = backward
    np.testing.assert_array_equal(mounting_rotation("z outward, x up", "right"), np.column_stack([UP, -FORWARD, RIGHT]))
    np.testing.assert_array_equal(mounting_rotation("z outward, x up", "left"), np.column_stack([UP, FORWARD, -RIGHT]))


def test_identity_when_the_sensor_has_the_body_axes():
    np.testing.assert_array_equal(mounting_rotation("x forward, y up", "left"), np.eye(3))
    np.testing.assert_array_equal(mounting_rotation(" X Forward ,Y  up, z right", "left"), np.eye(3))


@given(
    axes=st.permutations("xyz"),
    first=st.sampled_from(DIRECTIONS),
    second=st.sampled_from(DIRECTIONS),
    side=st.sampled_from(["left", "right"]),
)
def test_every_pair_gives_a_proper_rotation_or_one_sentence(axes, first, second, side):
    text = f"{axes[0]} {first}, {axes[1]} {second}"
    if body(first, side) @ body(second, side) != 0:
        with pytest.raises(PlanError, match=r"right angles"):
            mounting_rotation(text, side)
        return
    matrix = mounting_rotation(text, side)
    np.testing.assert_allclose(matrix @ matrix.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(matrix) == pytest.approx(1)
    np.testing.assert_array_equal(matrix[:, "xyz".index(axes[0])], body(first, side))
    np.testing.assert_array_equal(matrix[:, "xyz".index(axes[1])], body(second, side))


def test_the_order_of_the_parts_does_not_matter():
    for first, second in itertools.permutations(["z up", "x forward"]):
        np.testing.assert_array_equal(
            mounting_rotation(f"{first}, {second}", "left"), mounting_rotation("x forward, z up", "left")
        )


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("z outward", "mounting must name two axes"),
        ("", "two axes with a direction each"),
        ("z outwards, x up", "two axes with a direction each"),
        ("z outward x up", "two axes with a direction each"),
        ("w up, x forward", "two axes with a direction each"),
        ("z up, z forward", "got axis z twice"),
        ("z up, x down", "at right angles"),
        ("x forward, y up, z left", "right-handed"),
        ("x forward, y up, z up", "at right angles"),
        ("x forward, y up, z right, x up", "got axis x twice"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_sentence(text, sentence):
    with pytest.raises(PlanError) as caught:
        mounting_rotation(text, "right")
    message = str(caught.value)
    assert sentence in message
    assert message.count("\n") == 0
    assert message.endswith(".")

"""Placements are recognised by the words that people use, the most trusted word first."""

import math

import pytest

from imu_rom.motion.joints import JOINTS
from imu_rom.motion.soft_tissue import PLACEMENTS, pair_factors, placement_in_words


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("right shank, antero-medial", "shin"),
        ("right shoe dorsum", "midfoot"),
        ("Heel of the shoe", "shoe"),
        ("foot_R", "shoe"),
        ("laces", "midfoot"),
        ("left thigh, rigid plate", "rigid"),
        ("upper_arm", "upper arm"),
        ("forearm, distal", "forearm"),
        ("sacrum", "pelvis"),
        ("a pocket", "skin"),
    ],
)
def test_words_for_placements(words, name):
    assert placement_in_words(words).name == name


def test_the_first_word_that_means_something_decides():
    assert placement_in_words("midfoot", "shoe", "foot").name == "midfoot"
    assert placement_in_words(None, "sensor 3", "foot", "foot").name == "shoe"
    assert placement_in_words(None, None, "S1", "thigh").name == "thigh"
    assert placement_in_words(None, None, "S1", "").name == "skin"


def test_every_segment_of_every_joint_has_a_placement():
    for joint in JOINTS.values():
        for segment in (joint.proximal_segment, joint.distal_segment):
            assert placement_in_words(segment).name != "skin", segment


def test_the_thigh_is_to_the_shin_as_fluoroscopy_has_it():
    assert PLACEMENTS["thigh"].wobble / PLACEMENTS["shin"].wobble == pytest.approx(10 / 7)


def test_shin_and_shoe_are_what_the_settings_hold_for():
    assert pair_factors(PLACEMENTS["shin"], PLACEMENTS["shoe"]) == (1.0, math.sqrt(2))
    assert pair_factors(PLACEMENTS["rigid"], PLACEMENTS["rigid"]) == (0.0, 0.0)
    assert all(each.source for each in PLACEMENTS.values())

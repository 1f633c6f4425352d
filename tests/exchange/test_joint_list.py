"""The list of joints and tendon sites as plain values: whole, and the same after a way through JSON."""

import json

import pytest

from imu_rom.dose.sites import SITES, TAGS
from imu_rom.exchange.joint_list import joint_list
from imu_rom.exchange.plain_values import json_text
from imu_rom.motion.joints import JOINTS, joint_motion


@pytest.fixture(scope="module")
def listed():
    return json.loads(json_text(joint_list()))


def test_every_joint_is_listed_with_the_axes_of_both_sides(listed):
    assert listed["format"] == 1
    assert [each["name"] for each in listed["joints"]] == list(JOINTS)
    for each in listed["joints"]:
        joint = JOINTS[each["name"]]
        assert [motion["name"] for motion in each["motions"]] == [motion.name for motion in joint.motions]
        assert each["sequence"] == joint.sequence
        assert each["degrees_of_freedom"] == joint.degrees_of_freedom
        assert tuple(each["left_mirror"]) == joint.left_mirror
        for motion in each["motions"]:
            known = joint_motion(joint.name, motion["name"])
            assert {side: tuple(axis) for side, axis in motion["axis"].items()} == {
                side: known.axis(side) for side in ("right", "left")
            }
            assert tuple(motion["possible_range_deg"]) == known.possible_range_deg


def test_every_site_is_listed_with_a_tag_beside_each_value(listed):
    assert listed["tags"] == TAGS
    assert [each["name"] for each in listed["tendon_sites"]] == list(SITES)
    for each in listed["tendon_sites"]:
        site = SITES[each["name"]]
        joint_motion(each["joint"], each["motion"])
        for name in ("compressed_against", "provocative_range", "early_limit", "end_stage_goal"):
            value = getattr(site, name)
            assert each[name] == {"text": value.text, "tag": value.tag, "source": value.source}
        angle = site.early_limit_deg
        assert each["early_limit_deg"] == (None if angle is None else list(angle))


def test_some_can_be_asked_for():
    some = joint_list(("knee",), ("patellar", "quadriceps"))
    assert [each["name"] for each in some["joints"]] == ["knee"]
    assert [each["name"] for each in some["tendon_sites"]] == ["patellar", "quadriceps"]

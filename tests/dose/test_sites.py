"""Tendon sites: complete, tagged, and in the words of the joints that can be measured."""

import re
from dataclasses import fields

import pytest

from imu_rom.dose.sites import SITES, TAGS, TaggedText, tendon_site
from imu_rom.errors import PlanError
from imu_rom.motion.joints import joint_motion


@pytest.mark.parametrize("site", SITES.values(), ids=lambda site: site.name)
def test_every_value_keeps_how_well_it_is_known(site):
    values = [getattr(site, each.name) for each in fields(site)]
    tagged = [each for each in values if isinstance(each, TaggedText)]
    assert len(tagged) == 4
    for each in tagged:
        assert each.text
        assert not each.text.endswith(".")
        assert each.tag in TAGS
        # what is seen or remembered names where; what is practice must not pretend to
        assert (each.source == "common practice") == (each.tag == "P")


def test_names_are_the_keys_in_lower_case():
    assert len(SITES) == 16
    for name, site in SITES.items():
        assert site.name == name == name.lower().strip()


@pytest.mark.parametrize("site", SITES.values(), ids=lambda site: site.name)
def test_every_site_names_a_joint_and_motion_that_can_be_measured(site):
    assert joint_motion(site.joint, site.motion).joint == site.joint


@pytest.mark.parametrize(
    ("name", "joint", "motion"),
    [
        ("achilles insertion", "ankle", "dorsiflexion"),
        ("patellar", "knee", "flexion"),
        ("proximal hamstring", "hip", "flexion"),
        ("gluteal", "hip", "adduction"),
        ("iliopsoas", "hip", "extension"),
        ("biceps long head", "shoulder", "extension"),
        ("distal biceps", "elbow", "pronation"),
    ],
)
def test_compressing_motions_of_cook_and_purdam_2012(name, joint, motion):
    site = tendon_site(name)
    assert (site.joint, site.motion) == (joint, motion)


# positive in the compressing motion; what the early-stage limits of each site say in words, None where no angle is
# customary
EARLY_LIMITS_DEG = {
    "achilles insertion": (0, 0),
    "achilles midportion": None,
    "patellar": (60, 60),
    "quadriceps": (60, 90),
    "proximal hamstring": (30, 30),
    "gluteal": (0, 0),
    "adductor": None,
    # 20 to 30 degrees of abduction
    "supraspinatus": (-30, -20),
    "biceps long head": (0, 0),
    "subscapularis": None,
    # 90 degrees of flexion
    "lateral elbow": (-90, -90),
    "distal biceps": None,
    "distal triceps": (90, 90),
    "tibialis posterior": (0, 0),
    "peroneal": (0, 0),
    "iliopsoas": (0, 0),
}


def test_early_limits_as_angles():
    assert {name: site.early_limit_deg for name, site in SITES.items()} == EARLY_LIMITS_DEG


@pytest.mark.parametrize("site", SITES.values(), ids=lambda site: site.name)
def test_the_angle_of_an_early_limit_is_in_its_words_and_can_be_reached(site):
    if site.early_limit_deg is None:
        return
    low, high = site.early_limit_deg
    possible_low, possible_high = joint_motion(site.joint, site.motion).possible_range_deg
    assert possible_low < low <= high < possible_high
    for each in (low, high):
        assert each == 0 or f"{abs(each):g}" in site.early_limit.text
    if low == high == 0:
        assert re.search("neutral|no .* past", site.early_limit.text)


def test_an_unknown_site_is_refused_with_the_list():
    with pytest.raises(PlanError, match=r"must be one of achilles insertion, .*iliopsoas, got 'heel'"):
        tendon_site("heel")

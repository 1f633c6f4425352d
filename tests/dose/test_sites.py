"""Tendon sites: complete, tagged, and in the words of the joints that can be measured."""

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


def test_an_unknown_site_is_refused_with_the_list():
    with pytest.raises(PlanError, match=r"must be one of achilles insertion, .*iliopsoas, got 'heel'"):
        tendon_site("heel")

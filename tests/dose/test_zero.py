"""What the zero stands for, and how sure it then is."""

from dataclasses import replace

from imu_rom.dose.zero import neutral_words, zero_meaning, zero_standard_uncertainty_deg
from imu_rom.motion.joints import JOINTS
from imu_rom.settings import UncertaintySettings


def test_the_joints_own_zero_unless_the_plan_says_otherwise(heeldrop):
    settings = UncertaintySettings(zero_pose_deg=2.5, own_standing_deg=0.7)
    assert zero_meaning(heeldrop) == "foot flat, shank upright"
    assert zero_standard_uncertainty_deg(heeldrop, settings) == 2.5
    own = replace(heeldrop, zero="own standing")
    assert (zero_meaning(own), zero_standard_uncertainty_deg(own, settings)) == ("own standing", 0.7)


def test_a_clinicians_measurement_takes_the_place_of_the_poses_uncertainty(heeldrop):
    measured = replace(heeldrop, neutral_deg=-6.0, neutral_uncertainty_deg=1.2)
    assert zero_standard_uncertainty_deg(measured, UncertaintySettings()) == 1.2
    assert zero_meaning(measured) == "foot flat, shank upright"


def test_every_joint_has_words_for_its_zero():
    assert all(neutral_words(joint) for joint in JOINTS)

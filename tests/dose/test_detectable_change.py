"""The minimal detectable change, what it rests on, and how far a heel lift turns the zero."""

from dataclasses import replace
from datetime import date

import pytest

from imu_rom.dose.detectable_change import PUBLISHED, detectable_change, minimal_detectable_change_deg
from imu_rom.dose.heel_lift import heel_lift_deg
from imu_rom.dose.plan import OwnUncertainty
from imu_rom.errors import SettingError
from imu_rom.recording.model import InputFile

DAY = date(2026, 12, 1)
CHECK = InputFile("check.json", "0" * 64, "check")


# Weir 2005's formula on the errors that Konor et al. 2012 give for the weight-bearing lunge
@pytest.mark.parametrize(("sem_deg", "mdc_deg"), [(1.3, 3.60), (1.4, 3.88), (1.8, 4.99), (2.8, 7.76)])
def test_published_errors_give_their_published_detectable_changes(sem_deg, mdc_deg):
    assert round(minimal_detectable_change_deg(sem_deg), 2) == mdc_deg


# from the height over 170 mm from heel to ball
@pytest.mark.parametrize(("height_mm", "deg"), [(10, 3.37), (12, 4.04), (20, 6.71), (0, 0.0)])
def test_a_heel_lift_turns_the_zero_by_its_arc_tangent(height_mm, deg):
    assert round(heel_lift_deg(height_mm), 2) == deg


def test_the_clinics_own_check_comes_first_then_the_study_then_a_lower_bound(heeldrop, session_of):
    recorded = [session_of(heeldrop, DAY)]
    own = OwnUncertainty({"own_standing_deg": 1.1}, {"own_standing_deg": "the taping check check.json"}, (), (CHECK,))
    by_check = detectable_change(recorded, own, "konor-2012-inclinometer")
    assert (by_check.basis, by_check.sem_deg) == ("own check", 1.1)
    by_study = detectable_change(recorded, None, "konor-2012-inclinometer")
    assert (by_study.basis, round(by_study.mdc95_deg, 2)) == ("published", 3.88)
    assert "inclinometer" in by_study.source
    bound = detectable_change(recorded, None, "none")
    assert bound.basis == "lower bound"
    # three sets share the zero's 2.0 deg and have 0.8 deg each of their own
    assert bound.sem_deg == pytest.approx((2.0**2 + 0.8**2 / 3) ** 0.5)


def test_a_value_written_by_hand_is_no_check(heeldrop, session_of):
    own = OwnUncertainty({"own_standing_deg": 0.2}, {"own_standing_deg": "the plan"})
    assert detectable_change([session_of(heeldrop, DAY)], own, "none").basis == "lower bound"


def test_a_study_of_another_joint_is_not_taken(heeldrop, session_of):
    squat = replace(heeldrop, joint="knee", motion="flexion")
    assert detectable_change([session_of(squat, DAY)], None, "konor-2012-goniometer").basis == "lower bound"
    assert all(each.source for each in PUBLISHED.values())


def test_an_unknown_study_is_named(heeldrop, session_of):
    with pytest.raises(SettingError, match="must be none or one of konor-2012-inclinometer"):
        detectable_change([session_of(heeldrop, DAY)], None, "somebody")

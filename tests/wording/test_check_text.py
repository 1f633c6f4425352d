"""Checks in sentences: the figures of the check, the way that was used, and what a clinic is to do."""

import re
from dataclasses import replace

import pytest

from imu_rom.exchange.check import rounded_check
from imu_rom.wording.sensor_check_text import (
    joined,
    position_headings,
    position_rows,
    sensor_check_sentences,
    turn_rows,
    two_decimals,
)
from imu_rom.wording.taping_text import taping_rows, taping_sentences


@pytest.fixture(scope="module")
def sensors(made_sensor_check):
    return rounded_check(made_sensor_check)


@pytest.fixture(scope="module")
def tapings(made_taping_check):
    return rounded_check(made_taping_check)


def test_words_and_numbers():
    assert [joined(each) for each in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
    assert [two_decimals(each) for each in (-0.001, 1.005, -2.5)] == ["0.00", "1.00", "-2.50"]


def test_the_pair_comes_first_and_says_what_to_do(sensors):
    said = sensor_check_sentences(sensors)
    assert said[0] == (
        "Both together: the angle between shank and foot, which should have stayed as it was, changed by up to "
        "-2.33 deg (-2.35 to -2.31), at 90 deg. The reference does not enter here."
    )
    assert "more than the 0.1 that the uncertainty of every angle allows for: name this check in the plan" in said[1]
    assert "which then reckons with 0.40" in said[1]
    assert said[2].startswith("shank: inclination off by up to 0.29 deg (-1.10 to 1.68), at 45 deg, no more than the")
    assert said[3].startswith("foot: inclination off by up to -2.43 deg (-3.83 to -1.03), at 90 deg, more than the")
    assert "gyroscope turns too far by 0.9 % (standard uncertainty 1.6 %)" in said[2]
    assert said[4].startswith("The edge was set to 0, 45 and 90 deg, each setting taken to be right within")
    assert said[5] == "Recorded at 50 Hz, 1500 samples a sensor, of which were missing: 3 of shank, 0 of foot."
    assert all(each.endswith(".") for each in said)


def test_good_sensors_need_nothing(sensors):
    pair = replace(sensors.pair, accelerometer_bias_m_s2=0.03)
    said = sensor_check_sentences(replace(sensors, pair=pair, plan_parts={}))
    assert said[1].endswith(
        "no more than the 0.1 that the uncertainty of every angle allows for, so nothing needs to change."
    )


def test_a_hinged_square_is_said_as_such(sensors):
    shank, foot = sensors.sensors
    resting = replace(shank, tilted=False, moved_deg=0.04, positions=(), turns=(), gyroscope_scale_error=None)
    check = replace(
        sensors, sensors=(resting, foot), pair=replace(sensors.pair, way="one tilted", tilted="foot"), plan_parts={}
    )
    said = sensor_check_sentences(check)
    assert said[0].startswith(
        "Joint angle: while shank lay still and foot was tilted, the angle was off by up to -2.33"
    )
    assert said[2].startswith("shank: lay still, within 0.04 deg; reads 0.12, -0.40 and 0.02 deg/s at rest;")
    assert position_headings(check) == ("set to, deg", "from-to, s", "foot error, deg", "joint angle error, deg")
    assert {len(row) for row in position_rows(check)} == {4}


def test_one_sensor_alone(sensors):
    check = replace(sensors, sensors=sensors.sensors[:1], pair=None, plan_parts={})
    assert sensor_check_sentences(check)[0].startswith("shank: ")
    assert position_headings(check) == ("set to, deg", "from-to, s", "shank error, deg")


def test_a_turn_without_data_is_said(sensors):
    assert turn_rows(sensors)[0] == ("0 to 45", *["45.41 (error 0.41, u 0.73)"] * 2)
    assert turn_rows(sensors)[1] == ("45 to 90", "data missing", "data missing")


def test_tapings_with_a_known_posture(tapings):
    said = taping_sentences(tapings)
    assert said[0].startswith("5 tapings, shank to foot: the same posture came out at 13.7 deg from the neutral pose")
    assert "a standard deviation of 1.3 deg (95 % interval 0.8 to 3.7)" in said[0]
    assert "the zero has a standard uncertainty of 1.9 deg" in said[1]
    assert said[3] == (
        "The posture is known to be at 15 deg, so the neutral pose lies 1.3 deg (95 % interval -0.4 to 3.0) from the "
        "joint's own zero, towards the posture. Where angles count from the joint's own zero, that has a standard "
        "uncertainty of 2.3 deg, this offset included."
    )
    other = taping_sentences(replace(tapings, offset_deg=1.3, offset_low_deg=-0.4, offset_high_deg=3.0))
    assert "1.3 deg (95 % interval -0.4 to 3.0) from the joint's own zero, away from the posture" in other[3]


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ({"own_standing_deg": 1.85}, "the usual 2 deg for that stay."),
        ({"own_standing_deg": 2.4, "zero_pose_deg": 2.4}, "is too small then, and the plan takes 2.4 deg instead."),
    ],
)
def test_tapings_without_one_say_what_was_not_measured(tapings, parts, expected):
    unknown = {"posture_deg": None, "u_posture_deg": None, "offset_deg": None, "zero_pose_deg": None}
    check = replace(tapings, **unknown, own_standing_deg=parts["own_standing_deg"], plan_parts=parts)
    said = taping_sentences(check)
    assert "was not measured, because the posture's angle is not known" in said[3]
    assert said[3].endswith(expected)


def test_differences_from_the_mean_add_up(tapings):
    differences = [float(row[4]) for row in taping_rows(tapings)]
    assert abs(sum(differences)) < 0.3
    assert all(re.fullmatch(r"-?\d+\.\d", row[3]) for row in taping_rows(tapings))

"""The check of the sensors: known faults come back within the stated uncertainty; all else is one clear sentence."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.errors import CannotAnswerError, RecordingError, SettingError
from imu_rom.session.sensor_check import check_sensors

ANGLES = (0.0, 45.0, 90.0)
SEEDS = range(40)


def drawn_faults(straight_edge, rng):
    """Faults of one sensor as consumer sensors have them: 0.1 m/s2, 1 deg/s, 1 % (one standard deviation)."""
    return straight_edge.Faults(
        accelerometer_bias_m_s2=tuple(0.1 * rng.standard_normal(3)),
        accelerometer_scale=1 + 0.005 * rng.standard_normal(),
        gyroscope_bias_deg_s=tuple(rng.standard_normal(3)),
        gyroscope_scale=1 + 0.01 * rng.standard_normal(),
    )


def true_tilts_deg(straight_edge, seed, handling, faults, which):
    """What a sensor with these faults but no noise says of each position, and where the edge really was."""
    quiet = tuple(replace(each, accelerometer_noise_m_s2=0.0, gyroscope_noise_deg_s=0.0) for each in faults)
    edge = straight_edge.edge(seed, handling, quiet)
    at = [round((start + stop) / 2 * edge.rate_hz) for start, stop in edge.rests_s]
    up = edge.forces_m_s2[which][at]
    up /= np.linalg.norm(up, axis=1)[:, None]
    # the tilt about the edge's own axis, which is known here
    axis = edge.seats[which].inv().apply([0.0, 1.0, 0.0])
    flat = up - (up @ axis)[:, None] * axis
    return np.degrees(np.arctan2(np.cross(flat[0], flat) @ axis, flat @ flat[0])), edge


@pytest.fixture(scope="module")
def tries(straight_edge, recorded):
    """Checks of drawn sensors on an edge set with 0.5 deg, and the true errors of both sensors."""
    found = []
    for seed in SEEDS:
        rng = np.random.default_rng(1000 + seed)
        faults = drawn_faults(straight_edge, rng), drawn_faults(straight_edge, rng)
        handling = straight_edge.Handling(setting_sd_deg=0.5, twist_deg=1.0)
        check = check_sensors(recorded(straight_edge.edge(seed, handling, faults)), ANGLES, u_reference_deg=0.5)
        errors = []
        for which in (0, 1):
            tilts, edge = true_tilts_deg(straight_edge, seed, handling, faults, which)
            errors.append(tilts - (edge.true_deg - edge.true_deg[0]))
        found.append((check, faults, errors))
    return found


def test_the_true_error_of_each_sensor_lies_in_its_interval(tries):
    held, widths = [], []
    for check, _, errors in tries:
        for sensor, error in zip(check.sensors, errors, strict=True):
            for position, true in zip(sensor.positions[1:], error[1:], strict=True):
                held.append(position.low_deg <= true <= position.high_deg)
                widths.append(position.high_deg - position.low_deg)
    assert len(held) == 4 * len(SEEDS)
    assert 0.91 <= np.mean(held) <= 0.985
    # hardly more than the reference itself: 2 x 1.96 x 0.5 x sqrt(2)
    assert np.mean(widths) < 2.9


def test_the_pair_needs_no_reference(tries):
    held, widths = [], []
    for check, _, errors in tries:
        assert check.pair.way == "both tilted"
        for position, true in zip(check.pair.positions[1:], (errors[1] - errors[0])[1:], strict=True):
            held.append(position.low_deg <= true <= position.high_deg)
            widths.append(position.high_deg - position.low_deg)
    assert np.mean(held) >= 0.93
    assert np.mean(widths) < 0.15


def test_a_gyroscopes_scale_and_bias_come_back(tries):
    held = []
    for check, faults, _ in tries:
        for sensor, fault in zip(check.sensors, faults, strict=True):
            error = sensor.gyroscope_scale_error - (fault.gyroscope_scale - 1)
            held.append(abs(error) <= 1.96 * sensor.u_gyroscope_scale_error)
            assert sensor.gyroscope_bias_deg_s == pytest.approx(fault.gyroscope_bias_deg_s, abs=0.01)
            assert sensor.gyroscope_noise_deg_s == pytest.approx(0.05, rel=0.1)
            assert sensor.accelerometer_noise_m_s2 == pytest.approx(0.02, rel=0.1)
    assert 0.90 <= np.mean(held) <= 0.99


def test_gravity_shows_how_large_a_bias_must_be_at_least(tries):
    for check, faults, _ in tries:
        for sensor, fault in zip(check.sensors, faults, strict=True):
            assert sensor.accelerometer_bias_at_least_m_s2 <= np.linalg.norm(fault.accelerometer_bias_m_s2) + 0.02


def test_the_bias_that_explains_the_pair_is_that_of_the_sensors(tries):
    drawn = np.mean([np.square(each.accelerometer_bias_m_s2) for _, faults, _ in tries for each in faults])
    found = np.mean([check.pair.accelerometer_bias_m_s2**2 for check, _, _ in tries])
    assert np.sqrt(found) == pytest.approx(np.sqrt(drawn), rel=0.25)


def test_perfect_sensors_have_nothing_wrong(straight_edge, recorded):
    check = check_sensors(recorded(straight_edge.edge(3)), ANGLES, u_reference_deg=0.0)
    assert check.pair.accelerometer_bias_m_s2 < 0.01
    for sensor in check.sensors:
        for position in sensor.positions:
            assert abs(position.error_deg) < 0.03
        assert sensor.gravity_m_s2 == pytest.approx(9.81, abs=0.002)
        assert abs(sensor.gyroscope_scale_error) < 0.001
    assert check.pair.error_rms_deg < 0.02
    assert check.plan_parts == {}
    assert check.findings == ()


def test_a_bad_pair_gives_the_plan_its_own_value(straight_edge, recorded):
    seats = (straight_edge.Rotation.identity(), straight_edge.Rotation.identity())
    bad = straight_edge.Faults(accelerometer_bias_m_s2=(0.4, 0.0, 0.0))
    edge = straight_edge.edge(5, straight_edge.Handling(seats=seats), (straight_edge.Faults(), bad))
    check = check_sensors(recorded(edge), ANGLES)
    # at 0 deg the bias lies across gravity: atan(0.4 / 9.81) = 2.33 deg; at 90 along it: none; at 45: 1.61
    errors = [each.error_deg for each in check.pair.positions]
    assert [abs(each) for each in errors[1:]] == pytest.approx([0.72, 2.33], abs=0.05)
    assert check.pair.error_rms_deg == pytest.approx(np.sqrt((0.72**2 + 2.33**2) / 2), abs=0.05)
    # one of four axes has 0.4 m/s2; four values know that badly: Student's t of four degrees of freedom
    assert check.pair.accelerometer_bias_m_s2 == pytest.approx(0.2, abs=0.03)
    assert check.plan_parts == {
        "accelerometer_bias_m_s2": pytest.approx(check.pair.accelerometer_bias_m_s2 * 2.7764 / 1.96, rel=1e-3)
    }
    codes = {each.code for each in check.findings}
    assert {"inclination-off"} <= codes
    assert "deg (" in next(each.sentence for each in check.findings if each.code == "inclination-off")


def test_a_hinged_square_measures_the_joint_angle(straight_edge, recorded):
    handling = straight_edge.Handling(proximal_stays=True, angles_deg=(0.0, 30.0, 60.0, 90.0))
    check = check_sensors(recorded(straight_edge.edge(7, handling)), handling.angles_deg)
    assert (check.pair.way, check.pair.tilted) == ("one tilted", "foot")
    assert [each.angle_deg for each in check.pair.positions] == pytest.approx([0, 30, 60, 90], abs=0.05)
    shank, foot = check.sensors
    assert (shank.tilted, foot.tilted) == (False, True)
    assert shank.positions == ()
    assert shank.turns == ()
    assert shank.gyroscope_scale_error is None
    # here the reference enters
    assert check.pair.positions[1].u_deg == pytest.approx(0.5 * np.sqrt(2), abs=0.01)


@pytest.mark.parametrize(
    ("angles", "move_s"),
    [((0.0, 90.0), 3.0), ((90.0, 0.0, 45.0), 2.0), ((0.0, -45.0, -90.0), 3.0), ((0.0, 90.0, 180.0, 270.0), 4.0)],
)
@pytest.mark.parametrize("rate_hz", [40.0, 100.0, 200.0])
def test_any_angles_at_any_rate(straight_edge, recorded, angles, move_s, rate_hz):
    handling = straight_edge.Handling(angles_deg=angles, move_s=move_s, rate_hz=rate_hz)
    check = check_sensors(recorded(straight_edge.edge(11, handling)), angles)
    for sensor in check.sensors:
        assert [each.error_deg for each in sensor.positions] == pytest.approx([0.0] * len(angles), abs=0.06)
        for turn in sensor.turns:
            assert turn.error_deg == pytest.approx(0.0, abs=0.2)


def test_a_repeated_angle_is_a_position_of_its_own(straight_edge, recorded):
    handling = straight_edge.Handling(angles_deg=(0.0, 90.0, 0.0))
    check = check_sensors(recorded(straight_edge.edge(2, handling)), (0, 90, 0))
    assert [each.tilt_deg for each in check.sensors[0].positions] == pytest.approx([0, 90, 0], abs=0.06)


def test_a_knock_on_the_table_parts_no_position(straight_edge, recorded):
    handling = straight_edge.Handling(knock_s=(4.0, 15.0))
    check = check_sensors(recorded(straight_edge.edge(4, handling)), ANGLES)
    assert [each.reference_deg for each in check.positions] == list(ANGLES)
    assert check.sensors[0].positions[2].error_deg == pytest.approx(0, abs=0.1)


def test_one_sensor_alone(straight_edge, recorded):
    check = check_sensors(recorded(straight_edge.edge(1), points=("shank",)), ANGLES)
    assert check.pair is None
    assert [each.tracked_point for each in check.sensors] == ["shank"]


def test_a_gap_takes_the_turn_away_and_nothing_else(straight_edge, recorded):
    edge = straight_edge.edge(1)
    missing = np.zeros(len(edge.forces_m_s2[0]), dtype=bool)
    missing[900:950] = True
    check = check_sensors(recorded(edge, missing=missing), ANGLES)
    first, second = check.sensors[0].turns
    assert first.turn_deg is first.error_deg is None
    assert second.error_deg == pytest.approx(0, abs=0.1)
    assert check.sensors[0].positions[1].error_deg == pytest.approx(0, abs=0.1)


def test_stretches_can_be_named(straight_edge, recorded):
    handling = straight_edge.Handling(angles_deg=(0.0, 45.0, 60.0, 90.0))
    edge = recorded(straight_edge.edge(1, handling))
    check = check_sensors(edge, ANGLES, stretches_s=[(1, 7), (12, 18), (34, 40)])
    assert [(each.start_s, each.stop_s) for each in check.positions] == [(1, 7), (12, 18), (34, 40)]
    assert check.sensors[1].positions[2].error_deg == pytest.approx(0, abs=0.1)


def refused(recording, angles=ANGLES, error=CannotAnswerError, **options):
    with pytest.raises(error) as caught:
        check_sensors(recording, angles, **options)
    said = str(caught.value)
    assert "\n" not in said
    assert "nan" not in said
    assert said.endswith(".")
    return said


def test_more_or_fewer_stretches_than_angles_are_listed(straight_edge, recorded):
    edge = recorded(straight_edge.edge(1))
    said = refused(edge, (0, 90))
    assert said.startswith("edge: 2 angles are named but 3 still stretches of 4 s or longer were found: 0.0 to ")
    assert "(tilted by shank 45, foot 45 deg); 2" in said
    assert "or name the stretches by --at." in said
    assert "4 angles are named but 3 still stretches" in refused(edge, (0, 30, 45, 90))
    handling = straight_edge.Handling(rest_s=2.0, move_s=2.0)
    said = refused(recorded(straight_edge.edge(1, handling)))
    assert "3 angles are named but 0 still stretches of 4 s or longer were found; leave the edge alone" in said


def test_angles_that_were_not_set_are_refused(straight_edge, recorded):
    edge = recorded(straight_edge.edge(1))
    said = refused(edge, (0, 90, 45))
    assert "the sensor on 'shank' tilted by 0, " in said
    assert "name the angles in the order in which they were set" in said
    # turned round on the table: nothing that an accelerometer could see
    flat = recorded(straight_edge.edge(1, straight_edge.Handling(angles_deg=(0.0, 0.01, 0.0), heading_deg=90)))
    assert "the sensors did not follow the angles: the named ones tilt by 90 deg" in refused(flat)


@pytest.mark.parametrize(
    ("angles", "expected"),
    [
        ((0.0,), "angles: must be at least two, got 1"),
        ((0.0, 5.0), "two of them must differ by 10 deg or more"),
        ((0.0, 180.0), "not lie opposite each other, got 0, 180"),
        ((0.0, 400.0), "must lie in -360 to 360 deg, got 400"),
        ((0.0, float("nan")), "must lie in -360 to 360 deg"),
    ],
)
def test_angles_that_say_nothing_are_refused(straight_edge, recorded, angles, expected):
    with pytest.raises(SettingError) as caught:
        check_sensors(recorded(straight_edge.edge(1)), angles)
    assert expected in str(caught.value)


def test_other_bad_requests_are_refused(straight_edge, recorded):
    edge = recorded(straight_edge.edge(1))
    assert "must lie in 0 to 10 deg, got 11" in refused(edge, error=SettingError, u_reference_deg=11)
    assert "no sensor on 'thigh'" in refused(edge, error=RecordingError, proximal="thigh")
    assert "must lie within the recording, which ends at 30.0 s" in refused(edge, stretches_s=[(0, 40)])
    assert "must be 2 s or longer" in refused(edge, stretches_s=[(0, 1)])
    assert "must begin after the one before it ends" in refused(edge, stretches_s=[(0, 5), (4, 8)])
    assert "3 angles are named but 2 stretches were named" in refused(edge, stretches_s=[(0, 5), (12, 18)])


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        ({"gyroscope_bias_deg_s": (0.0, -3.0, 0.0)}, "gyroscope-bias"),
        ({"gyroscope_scale": 1.05}, "gyroscope-scale"),
        ({"accelerometer_scale": 1.03}, "gravity-off"),
    ],
)
def test_a_fault_is_said_with_what_to_do(straight_edge, recorded, fault, code):
    faults = (replace(straight_edge.Faults(), **fault), straight_edge.Faults())
    check = check_sensors(recorded(straight_edge.edge(9, faults=faults)), ANGLES)
    (finding,) = [each for each in check.findings if each.code == code]
    assert finding.sensor == "shank"
    assert "calibrate it as its maker says" in finding.sentence


def test_a_wrong_rate_is_told_from_two_bad_gyroscopes(straight_edge, recorded):
    edge = recorded(straight_edge.edge(9))
    slow = replace(edge, rate_hz=95.0)
    assert "rate-off" in {each.code for each in check_sensors(slow, ANGLES).findings}
    assert "rate-off" not in {each.code for each in check_sensors(edge, ANGLES).findings}
    faults = tuple(replace(straight_edge.Faults(), gyroscope_scale=each) for each in (1.05, 0.95))
    codes = [each.code for each in check_sensors(recorded(straight_edge.edge(9, faults=faults)), ANGLES).findings]
    assert codes.count("gyroscope-scale") == 2
    assert "rate-off" not in codes


def test_a_twisted_edge_is_said(straight_edge, recorded):
    check = check_sensors(recorded(straight_edge.edge(9, straight_edge.Handling(twist_deg=25.0))), ANGLES)
    assert "twisted-edge" in {each.code for each in check.findings}

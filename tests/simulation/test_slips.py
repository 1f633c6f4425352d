"""Slips of simulated sensors: as large as asked, at their time, about the axis asked for, and nothing else changed."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.errors import SettingError
from imu_rom.simulation import Faults, Routine, Slip, simulate_session

SHORT = Routine(sets=1, repetitions=2, poses_again="end")
CLEAN = simulate_session(1, SHORT)


def turned_deg(session, which):
    """Turn of a sensor against the same session without slips, in its own axes."""
    clean, slipped = (Rotation.from_quat(each.truth.sensors[which]) for each in (CLEAN, session))
    return np.degrees((clean.inv() * slipped).as_rotvec())


def test_a_slip_turns_one_sensor_at_its_time_for_good():
    session = simulate_session(1, SHORT, faults=Faults(slips=(Slip("foot", 60.0, 9.0),)))
    turns = np.linalg.norm(turned_deg(session, "distal"), axis=1)
    assert turns[:6000].max() < 1e-6
    assert turns[6032:] == pytest.approx(9.0)
    assert np.abs(turned_deg(session, "proximal")).max() == 0
    assert np.array_equal(session.truth.angle_deg, CLEAN.truth.angle_deg)
    (vector,) = session.truth.slips_deg
    assert turned_deg(session, "distal")[-1] == pytest.approx(vector)
    shank = session.recording.sensor("shank").gyroscope_rad_s
    assert np.array_equal(shank, CLEAN.recording.sensor("shank").gyroscope_rad_s)


@pytest.mark.parametrize(("point", "which"), [("foot", "distal"), ("shank", "proximal")])
def test_a_slip_about_the_joint_makes_the_angle_read_more(point, which):
    session = simulate_session(1, SHORT, faults=Faults(slips=(Slip(point, 60.0, 6.0, about="joint"),)))
    body = session.truth.body
    clean = Rotation.from_quat(CLEAN.truth.sensors["proximal"]).inv() * Rotation.from_quat(
        CLEAN.truth.sensors["distal"]
    )
    new = Rotation.from_quat(session.truth.sensors["proximal"]).inv() * Rotation.from_quat(
        session.truth.sensors["distal"]
    )
    at = round(CLEAN.truth.closing_poses[0].start_s * 100)
    mounting = body.mountings["proximal"], body.mountings["distal"]
    # what an analysis that knows the mountings would take for the joint's rotation
    read = [(mounting[0] * each[at] * mounting[1].inv()).as_rotvec(degrees=True) @ body.axis for each in (clean, new)]
    assert read[1] - read[0] == pytest.approx(6.0, abs=0.1)
    assert np.linalg.norm(turned_deg(session, which)[-1]) == pytest.approx(6.0)


def test_creeping_is_even():
    session = simulate_session(1, SHORT, faults=Faults(slips=(Slip("foot", 50.0, 4.0, lasts_s=40.0),)))
    turns = np.linalg.norm(turned_deg(session, "distal"), axis=1)
    assert turns[[4999, 6000, 7000, 8000, 9100]] == pytest.approx([0.0, 1.0, 2.0, 3.0, 4.0], abs=0.01)


def test_the_pose_is_taken_again_where_it_is_asked_for():
    assert simulate_session(1, Routine(sets=1, repetitions=2)).truth.closing_poses == ()
    (closing,) = CLEAN.truth.closing_poses
    assert CLEAN.truth.sets[-1].stop_s < closing.start_s < closing.stop_s < CLEAN.truth.worn.stop_s
    stood = CLEAN.truth.angle_deg[round(closing.start_s * 100) : round(closing.stop_s * 100)]
    assert np.ptp(stood) < 3
    off = simulate_session(1, Routine(sets=2, repetitions=2, poses_again="rests", closing_off_deg=8.0)).truth
    assert len(off.closing_poses) == 2
    for each in off.closing_poses:
        stood = off.angle_deg[round(each.start_s * 100) : round(each.stop_s * 100)]
        assert np.mean(stood) - off.zero_shift_deg == pytest.approx(8.0, abs=3.0)


def test_what_cannot_be_is_refused():
    with pytest.raises(SettingError, match=r"fault: no sensor on 'thigh'; there are shank, foot"):
        simulate_session(1, SHORT, faults=Faults(slips=(Slip("thigh", 60.0, 9.0),)))
    with pytest.raises(SettingError, match="fault slip: must be about any or joint"):
        Slip("foot", 1.0, 1.0, about="skin")
    with pytest.raises(SettingError, match="fault slip: must be a time from 0 s"):
        Slip("foot", -1.0, 1.0)
    with pytest.raises(SettingError, match="poses_again must be no, end or rests, got 'often'"):
        Routine(poses_again="often")

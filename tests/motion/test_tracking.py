"""Two sensors to a hinge angle: what may not matter does not, on a simulated session with known truth."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.motion.tracking import track_hinge
from imu_rom.settings import AngleSettings
from imu_rom.simulation import Routine, simulate_session

SETTINGS = AngleSettings()


class Session:
    """A short simulated session and the angle tracked in it."""

    def __init__(self, seed, **changes):
        routine = Routine(sets=2, repetitions=5, rest_s=30.0, sits_before=False, pause_probability=0.0, **changes)
        made = simulate_session(seed, routine, rate_hz=50.0)
        self.truth, self.rate_hz = made.truth, made.recording.rate_hz
        self.sensors = [
            (each.accelerometer_m_s2.copy(), each.gyroscope_rad_s.copy())
            for each in (made.recording.sensors[routine.proximal], made.recording.sensors[routine.distal])
        ]
        self.inside = made.truth.within_sets
        self.worn = slice(*(round(each * self.rate_hz) for each in (made.truth.pose.start_s, made.truth.worn.stop_s)))
        self.track = self.tracked(*self.sensors)

    def tracked(self, proximal, distal, missing=None):
        gone = np.zeros(len(proximal[0]), dtype=bool) if missing is None else missing
        return track_hinge(proximal, distal, gone, self.rate_hz, SETTINGS)

    def apart_deg(self, track, sign=1):
        """Largest difference to the plain angle, constant offset removed, from the pose to the end of wearing."""
        off = np.degrees(sign * track.angle_rad - self.track.angle_rad)[self.worn]
        return float(np.ptp(off)) / 2


@pytest.fixture(scope="module")
def heel():
    return Session(5)


@pytest.fixture(scope="module")
def knee():
    return Session(
        6, joint="knee", proximal="thigh", distal="shank", start_deg=8.0, end_range_deg=60.0, calibration_sign=1,
        calibration_deg=(35.0, 55.0),
    )  # fmt: skip


@pytest.fixture(params=["heel", "knee"])
def session(request):
    return request.getfixturevalue(request.param)


def sign_of(session, track):
    return int(np.sign(track.axis.distal @ session.track.axis.distal))


def test_angle_within_the_sets_is_the_truth_up_to_sign_and_zero(session):
    found, truth = np.degrees(session.track.angle_rad)[session.inside], session.truth.angle_deg[session.inside]
    sign = np.sign(np.cov(found, truth)[0, 1])
    assert np.std(sign * found - truth) < 0.85


def test_axes_are_those_of_the_body(session):
    for which, axis in (("proximal", session.track.axis.proximal), ("distal", session.track.axis.distal)):
        truth = session.truth.body.mountings[which].inv().apply(session.truth.body.axis)
        off_deg = np.degrees(np.arccos(min(1.0, abs(axis @ truth))))
        # that of a shank which hardly moves is seen poorly, and matters as little
        assert off_deg < (5.0 if which == "proximal" else 3.0)


def test_worn_part_is_from_taping_to_taking_off(session):
    assert session.truth.worn.start_s - 6.0 < session.track.worn_start_s < session.truth.pose.start_s
    assert session.truth.worn.stop_s - 3.0 < session.track.worn_stop_s < session.truth.worn.stop_s + 6.0


def test_coarse_angle_is_the_mean_of_each_block(session):
    track = session.track
    whole = track.angle_rad[: len(track.coarse_angle_rad) * track.motion.block].reshape(-1, track.motion.block)
    assert track.coarse_angle_rad == pytest.approx(whole.mean(axis=1))
    assert len(track.coarse_angle_rad) == len(track.flatness) == len(track.heading.angle_rad)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_how_the_sensors_are_mounted_makes_no_difference(session, seed):
    """Both turned into any other direction: the angle is the same to a twentieth of a degree."""
    turns = Rotation.random(2, random_state=seed)
    turned = session.tracked(
        *(tuple(turns[place].apply(each) for each in pair) for place, pair in enumerate(session.sensors))
    )
    sign = int(np.sign(turned.axis.distal @ turns[1].apply(session.track.axis.distal)))
    assert session.apart_deg(turned, sign) < 0.05
    assert turned.worn_start_s == pytest.approx(session.track.worn_start_s, abs=0.5)


@pytest.mark.parametrize("line", [0, 1, 2])
def test_a_sensor_upside_down_makes_no_difference(heel, line):
    """Turned by 180 degrees about one of its own axes, as when it is taped on the other way round."""
    flip = -np.ones(3)
    flip[line] = 1.0
    proximal, distal = heel.sensors
    turned = heel.tracked(proximal, tuple(each * flip for each in distal))
    sign = int(np.sign((turned.axis.distal * flip) @ heel.track.axis.distal))
    assert heel.apart_deg(turned, sign) < 0.05


def test_sensors_swapped_make_the_same_angle_with_the_other_sign(session):
    """The shank against the foot turns the other way than the foot against the shank."""
    swapped = session.tracked(*session.sensors[::-1])
    same = int(np.sign(swapped.axis.proximal @ session.track.axis.distal))
    assert session.apart_deg(swapped, -same) < 0.2


def test_the_other_leg_makes_the_same_angle(session):
    """Seen in a mirror a left leg is a right one; angular rates turn round in it, forces don't.

    A rotation R becomes M R M, so an angular rate w becomes -M w.
    """
    mirror = np.array([1.0, -1.0, 1.0])
    other = session.tracked(*((force * mirror, -rate * mirror) for force, rate in session.sensors))
    apart = min(session.apart_deg(other, sign) for sign in (1, -1))
    assert apart < 0.2


@pytest.mark.parametrize("turns", [1, -3])
def test_turning_round_with_the_whole_body_makes_no_difference(session, turns):
    """The same movement on a platform that turns round in the rest between the sets."""
    time_s = np.arange(len(session.inside)) / session.rate_hz
    start_s, stop_s = session.truth.sets[0].stop_s + 2, session.truth.sets[1].start_s - 2
    share = np.clip((time_s - start_s) / (stop_s - start_s), 0, 1)
    turn_rad_s = 2 * np.pi * turns * 2 * np.sin(np.pi * share) ** 2 / (stop_s - start_s)
    sensors = []
    for which, (force, rate) in zip(("proximal", "distal"), session.sensors, strict=True):
        up = Rotation.from_quat(session.truth.sensors[which].copy()).inv().apply([0.0, 0.0, 1.0])
        sensors.append((force, rate + turn_rad_s[:, None] * up))
    turned = session.tracked(*sensors)
    off = np.degrees(sign_of(session, turned) * turned.angle_rad - session.track.angle_rad)
    for one in session.truth.sets:
        inside = slice(round(one.start_s * session.rate_hz), round(one.stop_s * session.rate_hz))
        assert np.std(off[inside]) < 0.1
    assert np.ptp(off[session.inside]) < 0.5


@pytest.mark.parametrize("after_s", [4.0, 8.0, 12.0, 20.0])
@pytest.mark.parametrize("both", [True, False])
def test_a_gap_in_the_rest_leaves_the_sets_as_they_were(heel, after_s, both):
    """Two seconds without data while standing, stepping down or turning: interpolated as a reader does, and marked.

    A sensor's heading is lost over it; the axis shows it again.
    """
    start = round((heel.truth.sets[0].stop_s + after_s) * heel.rate_hz)
    hole = slice(start, start + round(2.0 * heel.rate_hz))
    missing = np.zeros(len(heel.inside), dtype=bool)
    missing[hole] = True
    share = np.linspace(0, 1, hole.stop - hole.start)[:, None]
    sensors = [tuple(each.copy() for each in pair) for pair in heel.sensors]
    for each in [each for pair in sensors[0 if both else 1 :] for each in pair]:
        each[hole] = (1 - share) * each[hole.start - 1] + share * each[hole.stop]
    track = heel.tracked(*sensors, missing)
    assert track.motion.missing.sum() == pytest.approx(2.0 * track.motion.rate_hz, abs=1)
    assert track.worn_stop_s == pytest.approx(heel.track.worn_stop_s, abs=1.0)
    off = np.degrees(sign_of(heel, track) * track.angle_rad - heel.track.angle_rad)
    off = (off - np.median(off[heel.worn]) + 180.0) % 360.0 - 180.0
    # the filter looks both ways: a wrong inclination in the gap fades within seconds before it, too
    near = np.abs(np.arange(len(off)) - start) < 10.0 * heel.rate_hz
    assert np.abs(off[heel.inside & ~near]).max() < 1.0
    assert np.sqrt(np.mean(off[heel.inside] ** 2)) < 0.5


def test_a_joint_that_does_not_move_is_said_not_to():
    """Both sensors on a swaying body, and both on the table."""
    draw = np.random.default_rng(1)
    count = 3000
    way = np.radians(0.4) * np.cumsum(draw.normal(size=(count, 3)), axis=0) / 30
    body = Rotation.from_rotvec(way - np.linspace(0, 1, count)[:, None] * way[-1])
    swaying, lying = [], []
    for mounting in Rotation.random(2, random_state=1):
        sensor = body * mounting
        rate = np.vstack([(sensor[:-1].inv() * sensor[1:]).as_rotvec() * 50.0, np.zeros((1, 3))])
        noise = np.radians(0.07) * draw.normal(size=(count, 3))
        swaying.append((sensor.inv().apply([0.0, 0.0, 9.81]), rate + noise))
        lying.append((np.tile(mounting.inv().apply([0.0, 0.0, 9.81]), (count, 1)), noise))
    for sensors in (swaying, lying):
        assert not track_hinge(*sensors, np.zeros(count, dtype=bool), 50.0, SETTINGS).moves
    assert Session(7).track.moves

"""A published toolbox and other attitude filters on the same data as ours.

``qmt`` (Laidig et al.) carries hinge-axis estimation after Olsson, Kok, Seel and Halvorsen 2020, doi:10.3390/s20123534,
and heading correction after Laidig, Schauer and Seel 2017, doi:10.1109/ICORR.2017.8009375. The data come from the
independent simulator, from when both sensors are worn: the toolbox knows no table.
"""

import numpy as np
import pytest

from imu_rom.motion.orientation import FILTERS, estimate_attitude
from imu_rom.motion.tracking import track_hinge
from imu_rom.settings import AngleSettings

SEEDS = [11, 12, 13]


def apart_deg(first, second):
    """Angle between two lines."""
    return np.degrees(np.arccos(min(1.0, abs(float(first @ second)))))


class Worn:
    """One replay from when both sensors are worn."""

    def __init__(self, replay):
        first = round(replay.worn_s[0] * replay.rate_hz)
        self.replay, self.rate_hz, self.offset_s = replay, replay.rate_hz, first / replay.rate_hz
        self.shank, self.foot = (
            tuple(np.ascontiguousarray(each[first:]) for each in pair)
            for pair in (
                (replay.shank_accelerometer_m_s2, replay.shank_gyroscope_rad_s),
                (replay.foot_accelerometer_m_s2, replay.foot_gyroscope_rad_s),
            )
        )
        self.angle_deg = replay.angle_deg[first:]

    def part(self, start_s, stop_s):
        return slice(*(round((each - self.offset_s) * self.rate_hz) for each in (start_s, stop_s)))

    def settled_deg(self, angle_rad):
        """The angle in degrees with sign and zero of the truth."""
        angle_deg = np.degrees(angle_rad)
        first_set, standing = self.part(*self.replay.sets_s[0]), self.part(*self.replay.neutral_s)
        angle_deg *= np.sign(np.corrcoef(angle_deg[first_set], self.angle_deg[first_set])[0, 1])
        return angle_deg - np.median(angle_deg[standing] - self.angle_deg[standing])

    def tracked(self):
        return track_hinge(
            self.shank, self.foot, np.zeros(len(self.angle_deg), dtype=bool), self.rate_hz, AngleSettings()
        )

    def toolbox_axes(self):
        """Both axes after Olsson et al.: of four starts the one with the lowest cost, as it has local minima."""
        import qmt

        fits = []
        for start in ((0.0, 0.0, 0.0, 0.0), (0.0, 1.6, 0.0, 1.6), (1.0, 0.0, 0.0, 1.6), (0.0, 1.6, 1.0, 0.0)):
            shank, foot, debug = qmt.jointAxisEstHingeOlsson(
                *(
                    np.ascontiguousarray(each[::4])
                    for each in (self.shank[0], self.foot[0], self.shank[1], self.foot[1])
                ),
                estSettings={"x0": np.array(start).reshape(4, 1)},
                debug=True,
            )
            fits.append((float(np.squeeze(debug["optimVarsAxis"]["f"])), tuple(shank.ravel()), tuple(foot.ravel())))
        _, shank, foot = min(fits)
        return np.array(shank), np.array(foot)

    def toolbox_angle_rad(self, shank_axis, foot_axis):
        """Hinge angle from the toolbox's heading correction, with our attitudes."""
        import qmt

        turned, rates = [], []
        for (force, rate), axis in ((self.shank, shank_axis), (self.foot, foot_axis)):
            # the axis becomes z of both
            across = np.cross([0.0, 0.0, 1.0], axis)
            align = qmt.quatFromAngleAxis(np.arctan2(np.linalg.norm(across), axis[2]), across)
            turned.append(qmt.qmult(estimate_attitude(force, rate, self.rate_hz).quaternion, align))
            rates.append(qmt.rotate(qmt.qinv(align), rate))
        corrected = qmt.headingCorrection(
            *rates,
            *turned,
            np.arange(len(self.angle_deg)) / self.rate_hz,
            np.array([[0.0, 0.0, 1.0]]),
            {},
            estSettings={"constraint": "1d_corr", "alignment": "center"},
        )[0]
        relative = qmt.qmult(qmt.qinv(turned[0]), corrected)
        return np.unwrap(2.0 * np.arctan2(relative[:, 3], relative[:, 0]))


@pytest.fixture(scope="module", params=SEEDS)
def clean_hinge(leg, request):
    """An ankle about which all of the foot's turning goes, in walking too."""
    return Worn(leg.replay(request.param, leg.Course(sets=2, repetitions=6, heel_turn_deg=0.0)))


@pytest.fixture(scope="module", params=SEEDS[:2])
def loose_hinge(leg, request):
    """An ankle whose heel turns in and out in walking, as heels do."""
    return Worn(leg.replay(request.param, leg.Course(sets=2, repetitions=6)))


def test_axes_of_a_hinge_are_those_of_the_toolbox_and_of_the_simulator(clean_hinge):
    track = clean_hinge.tracked()
    shank, foot = clean_hinge.toolbox_axes()
    for ours, theirs, truth in (
        (track.axis.proximal, shank, clean_hinge.replay.shank_axis),
        (track.axis.distal, foot, clean_hinge.replay.foot_axis),
    ):
        assert apart_deg(ours, truth) < 2.0
        assert apart_deg(theirs, truth) < 2.5
        assert apart_deg(ours, theirs) < 2.5
    # both give the two axes the same relative sign
    assert np.sign(track.axis.proximal @ shank) == np.sign(track.axis.distal @ foot)


def test_angle_is_that_of_the_toolbox(loose_hinge):
    ours_deg = loose_hinge.settled_deg(loose_hinge.tracked().angle_rad)
    theirs_deg = loose_hinge.settled_deg(loose_hinge.toolbox_angle_rad(*loose_hinge.toolbox_axes()))
    for each in loose_hinge.replay.sets_s:
        inside = loose_hinge.part(*each)
        ours, theirs, between = (
            float(np.sqrt(np.mean(off[inside] ** 2)))
            for off in (ours_deg - loose_hinge.angle_deg, theirs_deg - loose_hinge.angle_deg, ours_deg - theirs_deg)
        )
        assert between < 0.6
        assert theirs < 1.0
        assert ours < 0.8


@pytest.fixture(scope="module")
def one_set(leg):
    """One replay, its part from the pose to the set's end, and which way is up for the foot by our filter."""
    replay = leg.replay(11, leg.Course(sets=1, repetitions=6))
    part = slice(*(round(each * replay.rate_hz) for each in (replay.neutral_s[0], replay.sets_s[0][1])))
    return replay, part, up_by("vqf", replay, part)


def up_by(name, replay, part):
    """Upwards in the foot's sensor axes, by one filter."""
    return estimate_attitude(
        replay.foot_accelerometer_m_s2[part], replay.foot_gyroscope_rad_s[part], replay.rate_hz, name
    ).rotation.apply([0.0, 0.0, 1.0], inverse=True)


@pytest.mark.parametrize("name", [each for each in FILTERS if each != "vqf"])
def test_other_filters_agree_on_the_foots_inclination_in_a_set(one_set, name):
    replay, part, up = one_set
    inside = slice(round((replay.sets_s[0][0] - replay.neutral_s[0]) * replay.rate_hz), None)
    off_deg = np.degrees(np.arccos(np.einsum("ij,ij->i", up, up_by(name, replay, part)).clip(-1.0, 1.0)))[inside]
    assert np.sqrt(np.mean(off_deg**2)) < 2.0

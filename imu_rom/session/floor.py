"""Foot and shank against the floor in a tracked joint: each sensor's own inclination since the neutral pose."""

import numpy as np

from imu_rom.dose.floor import FloorReference
from imu_rom.motion.inclination import inclination_rad
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.tracking import HingeTrack
from imu_rom.motion.uncertainty import foot_inclination_standard_uncertainty_deg
from imu_rom.settings import UncertaintySettings

__all__ = ["floor_reference"]


def floor_reference(track: HingeTrack, pose: NeutralPose, factor: int, settings: UncertaintySettings) -> FloorReference:
    """Give the inclination of foot and shank over the recording.

    Parameters
    ----------
    track : HingeTrack
        Tracked ankle.
    pose : NeutralPose
        In which the foot is flat.
    factor : {1, -1}
        Sign of the angle.
    settings : UncertaintySettings
        For its standard uncertainty.

    Returns
    -------
    FloorReference
        0 in the pose; below 0 the heel is raised, above 0 the shank leans so as to bend the ankle.
    """
    motion, inside = track.motion, slice(pose.start, pose.stop)
    foot, shank = (
        np.degrees(inclination_rad(up, axis, np.median(up[inside], axis=0)))
        for up, axis in ((motion.distal_up, track.axis.distal), (motion.proximal_up, track.axis.proximal))
    )
    return FloorReference(
        rate_hz=motion.rate_hz,
        first_s=float(motion.time_s[0]),
        foot_deg=factor * foot,
        lean_deg=-factor * shank,
        u_set_deg=foot_inclination_standard_uncertainty_deg(settings),
    )

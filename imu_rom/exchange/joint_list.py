"""Joints, motions and tendon sites as plain values, for programs that choose them from a list."""

from typing import Any

from imu_rom.dose.sites import SITES, TAGS
from imu_rom.exchange.plain_values import plain
from imu_rom.motion.joints import JOINTS, Joint

__all__ = ["joint_list"]

FORMAT = 1


def joint_list(joints: tuple[str, ...] = tuple(JOINTS), sites: tuple[str, ...] = tuple(SITES)) -> dict[str, Any]:
    """List joints with their motions, and tendon sites, as plain values.

    Parameters
    ----------
    joints, sites : tuple of str
        Names of those that are wanted, by default all.

    Returns
    -------
    dict
        ``format``; ``joints``, each motion with its axis on both sides; ``tendon_sites``, each value with its tag;
        ``tags``, what the tags mean.
    """
    return {
        "format": FORMAT,
        "joints": [_joint(JOINTS[name]) for name in joints],
        "tendon_sites": [plain(SITES[name]) for name in sites],
        "tags": dict(TAGS),
    }


def _joint(joint: Joint) -> dict[str, Any]:
    values: dict[str, Any] = plain(joint)
    values["left_mirror"] = list(joint.left_mirror)
    for motion, written in zip(joint.motions, values["motions"], strict=True):
        del written["right_axis"]
        written["axis"] = {"right": list(motion.axis("right")), "left": list(motion.axis("left"))}
    return values

"""Every clinical angle of hips and shoulders, on the independent generator, beside the general-purpose toolbox.

    python tests/benchmarks/ball_joints.py [--seeds 4] [--quick] [--exercise "hip hitch"]

The toolbox (``qmt``, heading correction for three-dimensional joints by the range of motion, Lehmann, Laidig, Seel
2020, arXiv:2002.00639) gets the segment frames and attitudes found here: it has no alignment for such joints, so only
headings are compared. Its constant offset of each angle is taken off, ours is not. Errors are taken within the sets.
"""

import argparse
import contextlib
import importlib.util
import io
import sys
import warnings
from pathlib import Path

import numpy as np

from imu_rom.motion.angle import quaternion_product
from imu_rom.motion.ball_frames import Sought
from imu_rom.motion.ball_tracking import track_ball
from imu_rom.motion.joint_rotation import motion_angle_deg
from imu_rom.motion.joints import joint_motion, joint_named
from imu_rom.motion.segment_looks import relative_rotation
from imu_rom.settings import Settings

# the generator has no skin that follows the angle, no pose that is off; what it has besides heading and frames
OTHER_DEG = 0.8
BIAS_DEG = float(np.degrees(0.1 / 9.81))
CALIBRATIONS = {
    "dead lift": "flexion",
    "bridge": "flexion",
    "hip hitch": "abduction",
    "row": "flexion",
    "arm raise": "abduction",
    "arm turn": "flexion",
}
LONG = {"sets": 10, "repetitions": 6, "rest_s": 25.0}
SHORT = {"sets": 1, "repetitions": 5, "rest_s": 10.0}


def generator():
    """Load the generator, which lies beside the tests."""
    path = Path(__file__).parents[1] / "motion" / "independent" / "ball.py"
    spec = importlib.util.spec_from_file_location("independent_ball_of_benchmarks", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def toolbox_rotation(track, joint, side):
    """Relative rotation by the toolbox's heading correction, from our segment attitudes at the coarse rate."""
    import qmt
    from scipy.spatial.transform import Rotation

    motion = track.motion
    proximal, distal = track.frames.attitudes(motion)
    ranges = {}
    for each in joint.motions[::2]:
        axis = np.array(each.axis(side))
        index = int(np.argmax(np.abs(axis)))
        ranges[index] = sorted(np.radians(each.possible_range_deg) * np.sign(axis[index]))
    order = (2, 0, 1)
    try:
        with contextlib.redirect_stdout(io.StringIO()), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            corrected = qmt.headingCorrection(
                motion.proximal_rate @ track.frames.proximal.matrix.T,
                motion.distal_rate @ track.frames.distal.matrix.T,
                proximal,
                distal,
                motion.time_s - motion.time_s[0],
                np.eye(3)[list(order)],
                {"convention": "zxy", "angle_ranges": np.array([ranges[each] for each in order])},
                estSettings={"alignment": "center", "dataRate": motion.rate_hz / 5, "windowTime": 8},
            )[0]
    except (ValueError, ArithmeticError, IndexError, np.linalg.LinAlgError, AssertionError, KeyError, TypeError):
        return None
    relative = quaternion_product(proximal * [1.0, -1.0, -1.0, -1.0], corrected)
    return Rotation.from_quat(relative[:, [1, 2, 3, 0]])


def measure(ball, seed, course):
    """Error of each angle, coverage and width of the exercise's own interval, and the toolbox's errors."""
    session = ball.play(seed, course)
    joint_name, name = ball.EXERCISES[course.exercise].name.split(" ", 1)
    joint, side = joint_named(joint_name), "left" if course.left else "right"
    settings = Settings()
    sought = Sought(joint_motion(joint_name, name), side, joint_motion(joint_name, CALIBRATIONS[course.exercise]))
    missing = np.zeros(len(session.angles_deg), dtype=bool)
    track = track_ball(
        session.proximal, session.distal, missing, session.rate_hz, settings.angle, settings.pose, sought
    )
    if track is None:
        return None
    motion = track.motion
    inside = np.any([(motion.time_s > start) & (motion.time_s < stop) for start, stop in session.sets_s], axis=0)
    at = np.minimum(np.round(motion.time_s * session.rate_hz).astype(int), len(missing) - 1)
    true = session.relative[at]
    ours = relative_rotation(*track.frames.attitudes(motion), track.heading.angle_rad)
    theirs = toolbox_rotation(track, joint, side) if joint.sequence == "ZXY" else None

    def errors(rotation, each, *, offset):
        off = motion_angle_deg(rotation, each, side)[0] - motion_angle_deg(true, each, side)[0]
        off = ((off + 180.0) % 360.0 - 180.0)[inside]
        off = off - np.median(off) if offset else off
        return float(np.sqrt(np.mean(off**2)))

    motions = [each for each in joint.motions[::2] if each.name != "scaption"]
    turned = sum(
        2.0 - 2.0 * up @ up[track.pose.start : track.pose.stop].mean(axis=0)
        for up in (motion.proximal_up, motion.distal_up)
    )
    spread = np.sqrt(
        np.degrees(track.drift_standard_uncertainty_rad) ** 2 + OTHER_DEG**2 + BIAS_DEG**2 * np.maximum(turned, 0.0)
    )[inside]
    own = motion_angle_deg(ours, sought.motion, side)[0] - motion_angle_deg(true, sought.motion, side)[0]
    own = ((own + 180.0) % 360.0 - 180.0)[inside]
    return (
        [each.name for each in motions],
        [errors(ours, each, offset=False) for each in motions],
        float(np.mean(np.abs(own) < 1.96 * spread)),
        float(2 * 1.96 * spread.mean()),
        [errors(theirs, each, offset=True) for each in motions] if theirs is not None else [np.nan] * len(motions),
    )


def main():
    """Print one table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=4)
    parser.add_argument("--quick", action="store_true", help="100 Hz only")
    parser.add_argument("--exercise", action="append", help="only this one")
    chosen = parser.parse_args()
    ball = generator()
    print("| exercise | Hz | length | walks | RMSE of each angle, deg | coverage | width, deg | toolbox, deg |")
    print("|---|---|---|---|---|---|---|---|")
    for exercise in chosen.exercise or ball.EXERCISES:
        for length, shape in (("short", SHORT), ("long", LONG)):
            for rate_hz in (100.0,) if chosen.quick or length == "long" else (40.0, 60.0, 100.0, 200.0):
                for walks in (True, False):
                    rows = []
                    for seed in range(chosen.seeds):
                        course = ball.Course(
                            exercise=exercise,
                            rate_hz=rate_hz,
                            walks=walks,
                            left=bool(seed % 2),
                            upside_down=bool(seed // 2 % 2),
                            **shape,
                        )
                        rows.append(measure(ball, 1000 + seed, course))
                    rows = [each for each in rows if each is not None]
                    names = rows[0][0]
                    ours, theirs = (np.sqrt(np.mean(np.square([row[k] for row in rows]), axis=0)) for k in (1, 4))
                    words = ", ".join(f"{name} {value:.1f}" for name, value in zip(names, ours, strict=True))
                    other = " ".join(f"{value:.1f}" for value in theirs) if np.isfinite(theirs).all() else "-"
                    covered, width = (np.mean([row[k] for row in rows]) for k in (2, 3))
                    said = "yes" if walks else "no"
                    print(
                        f"| {exercise} | {rate_hz:.0f} | {length} | {said} | {words} | {covered:.3f} | {width:.1f} | "
                        f"{other} |",
                        flush=True,
                    )


if __name__ == "__main__":
    main()

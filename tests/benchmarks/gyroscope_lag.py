"""Does anything inside a recording tell a gyroscope's means from instants? Prints what was seen.

    python tests/benchmarks/gyroscope_lag.py [--seeds 2]

Chains of three hinges moved by hand, sampled in three ways. All are read as means of the step before. Two lags in
samples beside each other: the one that a recording shows by itself, of the gyroscopes' angle against the force at the
joint's centre (`imu_rom.motion.hinge_fusion.joint_centre_of`), and the true one against the reference. If the first
told the kinds of sample apart, it would differ where the second does.
"""

import argparse

import numpy as np
import rigs

from imu_rom.motion.hinge_fusion import joint_centre_of
from imu_rom.motion.tracking import track_hinge
from imu_rom.settings import AngleSettings

KINDS = {"point": "instants", "mean before": "means of the step before", "mean": "means about the stamp"}
RATES_HZ = (40.0, 60.0, 100.0)


def lags(seed, rate_hz, sampling):
    """Lags in samples of each joint: (seen against the force, true), below 0 for an angle that is early."""
    rig = rigs.chain(seed, rate_hz=rate_hz, sampling=sampling)
    found = []
    for joint in rig.joints:
        missing = np.zeros(len(joint.angle_deg), dtype=bool)
        track = track_hinge(*rig.pair(joint), missing, rig.rate_hz, AngleSettings())
        axes = (track.axis.proximal, track.axis.distal)
        centre = joint_centre_of(track.motion, axes, track.coarse_angle_rad, ~track.motion.missing)
        angle_deg = np.degrees(track.angle_rad)
        angle_deg = min((angle_deg, -angle_deg), key=lambda each: np.std(each - joint.angle_deg))
        rate = np.gradient(joint.angle_deg)
        rate -= rate.mean()
        off = angle_deg - joint.angle_deg
        true = -float((off - off.mean()) @ rate / (rate @ rate))
        # the fit gives seconds of the angle's own rate
        found.append((float(centre.fault_share[0]) * rig.rate_hz, true))
    return np.array(found)


def main():
    """Print one line a rate and kind."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=2)
    options = parser.parse_args()
    print("| rate | samples are | lag seen: mean, SD between joints | true lag: mean |\n|---|---|---|---|")
    for rate_hz in RATES_HZ:
        for sampling, kind in KINDS.items():
            found = np.concatenate([lags(seed, rate_hz, sampling) for seed in range(1, options.seeds + 1)])
            (seen, true), (spread, _) = found.mean(axis=0), found.std(axis=0)
            print(f"| {rate_hz:g} Hz | {kind} | {seen:+.2f}, {spread:.2f} | {true:+.2f} |", flush=True)


if __name__ == "__main__":
    main()

"""Machines with encoders: a robot arm, a motor that turns a shaft."""

import numpy as np
from rig_courses import minimum_jerk, smooth_triangle, waypoints
from rig_sensing import Sensing, fine_time_s, hinged, still_body
from rig_sensors import Grade, fine_rate_hz
from scipy.spatial.transform import Rotation

__all__ = ["arm", "motor"]

ARM_AXES = np.array([[0, 0, 1], [0, 1, 0], [0, 1, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0]], dtype=float)
ARM_LINKS_M = np.array([[0, 0, 0.3], [0, 0.05, 0.1], [0, 0, 0.4], [0.15, 0, 0.05], [0.25, 0, 0], [0.1, 0, 0]])
UNCALIBRATED = Grade(
    accelerometer_bias_m_s2=(0.08, 0.25),
    gyroscope_bias_deg_s=(0.3, 1.5),
    scale_share=0.008,
    cross_axis_deg=0.4,
)
"""A bare sensor of a few euros, as the factory left it (data sheets' typical figures, from memory)."""
LATE_S = 0.004, 0.010
"""Low pass, bus and software make its samples late against the encoder's by this."""
PERIODS_S = {"slow": 30.0, "medium": 8.0, "fast": 2.0}


def arm(seed, *, rate_hz=100.0, seconds=None, circling=False, sampling="mean before"):
    """Six rotary joints in a row that move together; encoders.

    From point to point, at rest at each; ``circling``: the tool goes round in a circle, so that all joints swing by a
    few degrees slowly, in one rhythm. The first joint's axis is upright, so it is not judged.
    """
    rng = np.random.default_rng([seed, 2])
    seconds = seconds or rng.uniform(30.0, 47.0)
    time_s = fine_time_s(seconds, rate_hz)
    first = np.radians([0.0, 20.0, 60.0, 0.0, 40.0, 0.0]) + rng.uniform(-0.2, 0.2, size=6)
    if circling:
        begins = minimum_jerk((time_s - 3.0) / 3.0) * minimum_jerk((time_s[-1] - 3.0 - time_s) / 3.0)
        phase = 2.0 * np.pi / rng.uniform(4.0, 7.0) * (time_s - 3.0)
        swings = np.radians(rng.uniform([6, 6, 8, 4, 6, 4], [15, 12, 15, 12, 14, 12]))
        lags = rng.uniform(0.0, 2.0 * np.pi, size=6)
        joints = first + begins[:, None] * swings * np.sin(phase[:, None] + lags)
    else:
        most = np.radians([90.0, 35.0, 45.0, 70.0, 60.0, 90.0])
        joints = waypoints(time_s, rng, draw=lambda: first + rng.uniform(-1.0, 1.0, size=6) * most, first=first)
    sensing = Sensing("arm circling" if circling else "arm", seed, rate_hz, rng, sampling=sampling)
    body = still_body(time_s, fine_rate_hz(rate_hz))
    sensing.put("link0", body, [0.1, 0.1, 0.1])
    for number, (axis, link) in enumerate(zip(ARM_AXES, ARM_LINKS_M, strict=True), start=1):
        angle = joints[:, number - 1]
        body = hinged(body, link, axis, angle)
        sensing.put(f"link{number}", body, rng.normal([0.0, 0.0, 0.08], 0.05))
        if number > 1:
            sensing.joint(f"joint{number}", f"link{number - 1}", f"link{number}", angle, axis, step_deg=0.01)
    return sensing.rig()


def motor(seed, *, speed="medium", upright=False, rate_hz=100.0, seconds=1500.0, sampling="mean before"):
    """A motor turns one sensor to and fro by 180 degrees beside another on its stand; encoder.

    ``speed``: slow (12 to 19 deg/s), medium (45 to 70), fast (180 to 300); ``upright``: the axis is vertical, but for
    what a spirit level leaves. Low-cost sensors without calibration, late against the encoder.
    """
    rng = np.random.default_rng([seed, 4])
    time_s, fine_hz = fine_time_s(seconds, rate_hz), fine_rate_hz(rate_hz)
    period_s = PERIODS_S[speed] * rng.uniform(0.9, 1.1)
    turning_s = np.maximum(time_s - 3.0, 0.0)
    if rng.random() < 0.5:
        angle = np.pi * smooth_triangle(turning_s, period_s, 0.04 * period_s)
    else:
        angle = np.pi / 2 * (1.0 - np.cos(2.0 * np.pi / period_s * turning_s))
    tilt = rng.normal(scale=np.radians(0.7), size=2)
    if upright:
        axis = Rotation.from_rotvec([*tilt, 0.0]).apply([0.0, 0.0, 1.0])
    else:
        axis = Rotation.from_rotvec([tilt[0], 0.0, rng.uniform(0.0, 6.0)]).apply([0.0, 1.0, 0.0])
    stand = still_body(time_s, fine_hz)
    name = f"motor {speed}{', upright' if upright else ''}"
    sensing = Sensing(name, seed, rate_hz, rng, sampling=sampling, grade=UNCALIBRATED, vibration_m_s2=0.3)
    late_s = rng.uniform(*LATE_S)
    sensing.put("stand", stand, [0.05, 0.0, 0.02], delay_s=-late_s)
    home = Rotation.random(rng=rng)
    shaft = hinged(stand, [0.0, 0.0, 0.0], axis, angle, home)
    # one bus reads both sensors one after the other
    sensing.put("shaft", shaft, home.inv().apply([0.08, 0.02, 0.0]), delay_s=rng.uniform(0.0, 0.003) - late_s)
    sensing.joint("shaft", "stand", "shaft", angle, axis, home, step_deg=0.1)
    return sensing.rig()

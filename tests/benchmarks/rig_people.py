"""A leg that does heel raises, squats and step-ups, repetition by repetition, with sensors on skin and shoe.

Bones move as they do: the ankle's axis is oblique and the heel turns in and out with it, the knee's shank turns about
its own length as it bends. Muscles bulge under the thigh's and the shank's sensor, so that a share of the bend itself
turns them, and all sensors rock on what is under them. The reference is the bones' angle about the joint's main axis.
"""

from dataclasses import dataclass, field

import numpy as np
from rig_courses import minimum_jerk
from rig_sensing import Sensing, fine_time_s, hinged
from rig_sensors import Body, Foam, fine_rate_hz, product
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

__all__ = ["EXERCISES", "leg"]

FOREFOOT_M, THIGH_M, SHANK_M = 0.13, 0.42, 0.40
STEP_M = 0.20
LEFTWARD = np.array([0.0, 1.0, 0.0])


@dataclass
class _Course:
    """Scalars over time, written move by move; degrees and metres."""

    time_s: np.ndarray
    now_s: float = 4.0
    values: dict = field(default_factory=dict)
    reached: dict = field(default_factory=dict)

    def go(self, seconds, wait_s=0.0, **targets):
        for name, target in targets.items():
            value = self.values.setdefault(name, np.zeros(len(self.time_s)))
            value += (target - self.reached.get(name, 0.0)) * minimum_jerk((self.time_s - self.now_s) / seconds)
            self.reached[name] = target
        self.now_s += seconds + wait_s

    def of(self, name):
        return self.values.get(name, np.zeros(len(self.time_s)))


def _heel_raise(course, rng):
    top_deg = -rng.normal(30.0, 3.0)
    course.go(rng.uniform(0.7, 1.3), rng.uniform(0.1, 0.8), ankle=top_deg, lean=rng.normal(2.0, 1.0), knee=4.0)
    course.go(rng.uniform(0.8, 1.6), rng.uniform(0.3, 1.0), ankle=0.0, lean=0.0, knee=2.0)


def _squat(course, rng):
    deep_deg = rng.normal(80.0, 8.0)
    lean_deg = 0.38 * deep_deg + rng.normal(scale=1.5)
    course.go(rng.uniform(1.0, 1.8), rng.uniform(0.1, 0.6), knee=deep_deg, lean=lean_deg, ankle=lean_deg)
    course.go(rng.uniform(1.0, 1.6), rng.uniform(0.3, 1.0), knee=2.0, lean=0.0, ankle=0.0)


def _step_up(course, rng):
    lean_deg = rng.normal(26.0, 3.0)
    lifted = {"knee": 75.0 + rng.normal(scale=4.0), "lean": lean_deg - 20.0, "ankle": 2.0}
    course.go(rng.uniform(0.5, 0.7), up=STEP_M + 0.06, forward=0.2, **lifted)
    course.go(rng.uniform(0.2, 0.3), 0.1, up=STEP_M, forward=0.3, lean=lean_deg, ankle=lean_deg, knee=70.0)
    course.go(rng.uniform(0.7, 1.2), rng.uniform(0.3, 0.8), knee=4.0, lean=2.0, ankle=2.0)
    course.go(rng.uniform(0.8, 1.3), 0.2, knee=68.0, lean=lean_deg, ankle=lean_deg)
    course.go(rng.uniform(0.5, 0.8), rng.uniform(0.5, 1.2), up=0.0, forward=0.0, knee=2.0, lean=0.0, ankle=0.0)


EXERCISES = {"heel raises": _heel_raise, "squats": _squat, "step-ups": _step_up}


def _sway(time_s, rng, seconds, rms):
    noise = gaussian_filter1d(rng.normal(size=len(time_s)), seconds / (time_s[1] - time_s[0]), mode="wrap")
    return rms * noise / noise.std()


def _bulging(body, angle_rad, rng, share):
    """Return what a sensor sits on: the bone, turned by a share of the joint's bend about a line near its axis."""
    line = LEFTWARD + rng.normal(scale=0.3, size=3)
    turn = rng.uniform(*share) * rng.choice([-1.0, 1.0])
    attitude = product(body.attitude, Rotation.from_rotvec(np.outer(turn * angle_rad, line)))
    return Body(attitude, body.position_m, body.fine_hz)


def leg(seed, *, exercise="squats", repetitions=10, rate_hz=100.0, sampling="mean before", bulge=(0.01, 0.06)):
    """Thigh, shank and foot through one exercise; the ankle is judged in heel raises, the knee in the others.

    ``bulge``: share of the bend by which muscles turn the sensors of thigh and shank.
    """
    rng = np.random.default_rng([seed, 8, list(EXERCISES).index(exercise)])
    time_s, fine_hz = fine_time_s(6.0 + 8.0 * repetitions, rate_hz), fine_rate_hz(rate_hz)
    course, parts_s = _Course(time_s), []
    course.go(1.0, 1.0, knee=2.0)
    for _ in range(repetitions):
        start_s = course.now_s
        EXERCISES[exercise](course, rng)
        parts_s.append((start_s, course.now_s))
    last = round((course.now_s + 3.0) * fine_hz)
    time_s = time_s[:last]
    ankle, knee, lean = (
        np.radians(course.of(name)[:last] + _sway(time_s, rng, 0.4, rms))
        for name, rms in (("ankle", 0.2), ("knee", 0.2), ("lean", 0.4))
    )
    tilt, turn = (np.radians(_sway(time_s, rng, 0.4, 0.4)) for _ in range(2))
    tilt += 0.05 * knee
    place = np.stack([course.of("forward")[:last], _sway(time_s, rng, 0.5, 0.003), course.of("up")[:last]], axis=1)
    if exercise == "heel raises":
        # the heel rises about the ball of the foot, and takes the ankle with it
        place[:, 2] += FOREFOOT_M * np.sin(np.maximum(lean - ankle, 0.0))
    # landing and pushing off shake the leg
    place[:, 2] += 0.00003 * _sway(time_s, rng, 0.01, 1.0) * (1.0 + 5.0 * (np.abs(np.gradient(place[:, 2])) > 2e-5))
    # lean: the shank's top goes forward, a turn about the leftward axis
    shank = Body(Rotation.from_euler("ZXY", np.stack([turn, tilt, lean], axis=1)), place, fine_hz)
    oblique = Rotation.from_euler("xz", np.radians(rng.normal([8.0, 6.0], 2.0))).apply(LEFTWARD)
    # toes up is negative about the leftward axis; the foot turns in as it goes down
    heel = 0.15 * ankle + np.radians(_sway(time_s, rng, 0.4, 0.3))
    foot = hinged(hinged(shank, np.zeros(3), oblique, -ankle), np.zeros(3), np.array([1.0, 0.0, 0.2]), heel)
    # bending the knee takes the thigh's top back; the shank turns about its length as it does
    twist = 0.12 * knee
    thigh = hinged(shank, [0.0, 0.0, SHANK_M], np.array([0.0, 0.0, 1.0]), -twist)
    thigh = hinged(thigh, np.zeros(3), LEFTWARD, -knee)
    sensing = Sensing(exercise, seed, rate_hz, rng, sampling=sampling)
    wobbly, firm = (Foam.drawn(rng, lean, (4.0, 9.0)) for lean in ((1.5, 3.0), (0.8, 2.0)))
    sensing.put("thigh", _bulging(thigh, knee, rng, bulge), [0.05, 0.07, 0.2], soft=wobbly)
    bends = ankle if exercise == "heel raises" else knee
    sensing.put("shank", _bulging(shank, bends, rng, bulge), [0.04, -0.03, 0.25], soft=firm)
    sensing.put("foot", foot, [0.08, 0.0, -0.02], soft=Foam.drawn(rng, (0.2, 0.6), (8.0, 14.0)))
    if exercise == "heel raises":
        sensing.joint("ankle", "shank", "foot", -ankle, oblique, parts_s=parts_s)
    else:
        sensing.joint("knee", "shank", "thigh", -knee, LEFTWARD, parts_s=parts_s)
    return sensing.rig()

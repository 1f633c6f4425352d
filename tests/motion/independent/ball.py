"""Sessions of a ball joint (hip or shoulder) with exactly known clinical angles, made by SciPy's rotations alone.

Shares no code with this project. Body axes: X forward, Y up, Z right; world z up. The proximal segment is turned by
yaw, lean and list; the distal one against it by three angles about z, x', y''. Sensors sit anywhere on both segments,
on flesh that wobbles, and measure with bias, drift and noise.

The course: both sensors lie on the table, are taken up and worn, the person stands in the neutral pose, does three slow
calibration movements, walks and turns, does the sets with walks between them, and takes the sensors off.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

BODY = Rotation.from_matrix([[1, 0, 0], [0, 0, -1], [0, 1, 0]])
"""Body axes of somebody who faces along the world's x, in world axes."""
NAMES = ("yaw", "lean", "list", "first", "second", "third", "ahead", "beside", "up")
GRAVITY = np.array([0.0, 0.0, 9.81])


@dataclass(frozen=True)
class Exercise:
    """What is done: angles z, x', y'' of the right side in degrees, and the proximal segment's tilts, at both ends.

    ``calibration`` are the angles of the calibration movement, which starts from standing.
    """

    name: str
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    calibration: tuple[float, float, float]
    start_lean: float = 0.0
    end_lean: float = 0.0
    start_list: float = 0.0
    end_list: float = 0.0
    leg: bool = True


EXERCISES = {
    "dead lift": Exercise("hip flexion", (5, 0, 0), (72, -3, 4), (48, -2, 2), end_lean=58),
    "bridge": Exercise("hip flexion", (8, -4, 0), (55, -6, 3), (45, 0, 0), start_lean=-85, end_lean=-60),
    "hip hitch": Exercise("hip adduction", (3, -4, 0), (5, 12, 3), (4, -28, 2), start_list=4, end_list=-11),
    "row": Exercise("shoulder extension", (35, -8, 5), (-42, -12, 10), (60, -4, 3), end_lean=6, leg=False),
    "arm raise": Exercise("shoulder abduction", (3, -6, 2), (14, -95, 10), (6, -55, 4), leg=False),
    "overhead": Exercise("shoulder flexion", (4, -6, 2), (186, -8, 6), (60, -4, 3), leg=False),
    "arm turn": Exercise("shoulder internal rotation", (4, -6, -35), (4, -6, 45), (50, -4, 3), leg=False),
}


@dataclass(frozen=True)
class Course:
    """How it is done and measured."""

    exercise: str = "dead lift"
    left: bool = False
    sets: int = 2
    repetitions: int = 6
    rate_hz: float = 100.0
    walks: bool = True
    rest_s: float = 30.0
    eccentric_s: float = 2.5
    hold_s: float = 1.5
    concentric_s: float = 1.8
    wobble_deg: float = 0.8
    posture_spread_deg: float = 2.5
    plane_spread_deg: float = 3.0
    gyroscope_bias_deg_s: float = 0.4
    gyroscope_drift_deg_s: float = 0.1
    gyroscope_noise_deg_s: float = 0.07
    accelerometer_bias_m_s2: float = 0.1
    accelerometer_noise_m_s2: float = 0.03
    upside_down: bool = False
    taping: bool = True
    second_pose: tuple[float, float, float] | None = None
    """Angles held for five seconds in the place of the calibration movement."""


@dataclass(frozen=True)
class Session:
    """What the sensors gave and what was true: three angles of the right side's sequence, mirrored for the left."""

    rate_hz: float
    proximal: tuple[np.ndarray, np.ndarray]
    distal: tuple[np.ndarray, np.ndarray]
    angles_deg: np.ndarray
    relative: Rotation
    proximal_mounting: Rotation
    distal_mounting: Rotation
    attitudes: dict
    pose_s: tuple[float, float]
    second_pose_s: tuple[float, float]
    worn_s: tuple[float, float]
    sets_s: list = field(default_factory=list)
    ends_s: list = field(default_factory=list)


def minimum_jerk(share):
    s = np.clip(share, 0.0, 1.0)
    return s**3 * (10.0 - 15.0 * s + 6.0 * s * s)


def band_noise(count, rate_hz, low_hz, high_hz, rng):
    """Noise of unit RMS between two frequencies, power falling as 1/f."""
    frequency = np.fft.rfftfreq(count, 1 / rate_hz)
    inside = (frequency >= low_hz) & (frequency <= high_hz)
    spectrum = np.zeros(len(frequency), complex)
    spectrum[inside] = (rng.standard_normal(inside.sum()) + 1j * rng.standard_normal(inside.sum())) / np.sqrt(
        frequency[inside]
    )
    noise = np.fft.irfft(spectrum, count)
    return noise / (noise.std() + 1e-12)


class Script:
    """Channels written piece by piece, on a fine time base."""

    def __init__(self, rate_hz, rng):
        self.rate_hz, self.rng = rate_hz, rng
        self.now = dict.fromkeys(NAMES, 0.0)
        self.pieces = {name: [] for name in NAMES}
        self.count = 0

    @property
    def now_s(self):
        return self.count / self.rate_hz

    def write(self, count, **changing):
        for name in NAMES:
            values = changing.get(name, np.full(count, self.now[name]))
            self.pieces[name].append(values)
            self.now[name] = float(values[-1])
        self.count += count

    def go(self, seconds, **targets):
        count = max(1, round(seconds * self.rate_hz))
        way = minimum_jerk(np.arange(1, count + 1) / count)
        self.write(count, **{k: self.now[k] + (v - self.now[k]) * way for k, v in targets.items()})

    def wait(self, seconds):
        self.go(seconds)

    def walk(self, strides, turn_deg, leg):
        """Some strides ahead, from standing to standing, while turning."""
        count = round(strides * self.rng.uniform(1.05, 1.2) * self.rate_hz)
        share = np.arange(1, count + 1) / count
        phase = 2 * np.pi * strides * share
        size = minimum_jerk(np.minimum(share, 1 - share) * strides / 0.8)
        swing = 22.0 if leg else 16.0
        speed = size * (1 + 0.2 * np.sin(2 * phase + 0.4))
        self.write(
            count,
            first=self.now["first"] + size * (swing * np.sin(phase) + 4),
            second=self.now["second"] + size * 5 * np.sin(phase + 1.0),
            third=self.now["third"] + size * 6 * np.sin(phase + 2.0),
            lean=self.now["lean"] + size * (3 + 2 * np.sin(2 * phase)),
            list=self.now["list"] + size * 4 * np.sin(phase + 0.5),
            yaw=self.now["yaw"] + turn_deg * minimum_jerk(share) + size * 6 * np.sin(phase + 0.3),
            ahead=self.now["ahead"] + np.cumsum(speed) / self.rate_hz * 1.1,
            beside=self.now["beside"] + size * 0.02 * np.sin(phase),
            up=self.now["up"] + size * 0.02 * np.sin(2 * phase),
        )


def _posture(script, course, angles, lean=0.0, side=0.0, spread=None):
    spread = course.posture_spread_deg if spread is None else spread
    off = spread * script.rng.standard_normal(3) * (0.6, 0.6, 1.0)
    return {
        "first": angles[0] + off[0],
        "second": angles[1] + off[1],
        "third": angles[2] + off[2],
        "lean": lean,
        "list": side,
    }


def play(seed, course=None):
    """Make one session."""
    course = course or Course()
    rng = np.random.default_rng(seed)
    exercise = EXERCISES[course.exercise]
    every = max(1, int(np.ceil(200 / course.rate_hz)))
    script = Script(course.rate_hz * every, rng)
    script.now["yaw"] = rng.uniform(-180, 180)
    handled = _taped_on(script, course, exercise) if course.taping else []
    worn_from = script.now_s
    pose_s = _posed(script, course, exercise)
    sets, ends = [], []
    for number in range(course.sets):
        if course.walks:
            script.walk(int(rng.integers(5, 9)), rng.uniform(-180, 180), exercise.leg)
            script.go(0.8, **_posture(script, course, (0, 0, 0)))
        script.wait(max(1.0, course.rest_s / 2))
        sets.append(_set(script, course, exercise, ends))
        script.wait(max(1.0, course.rest_s / 2 if number < course.sets - 1 else 3.0))
    worn_to = script.now_s
    if course.taping:
        if course.walks:
            script.walk(5, 90, exercise.leg)
        for which in ("distal", "proximal"):
            begin = script.now_s
            script.wait(rng.uniform(4, 6))
            handled.append((which, begin, script.now_s, False))
        script.wait(6)
    return _measure(script, course, exercise, every, handled, rng, (pose_s, (worn_from, worn_to), sets, ends))


def _taped_on(script, course, exercise):
    rng, handled = script.rng, []
    script.now.update(first=80.0 if exercise.leg else 10.0)
    script.wait(rng.uniform(6, 12))
    for which in ("proximal", "distal"):
        begin = script.now_s
        script.go(3, lean=rng.uniform(-5, 15), third=rng.uniform(-10, 10))
        script.wait(rng.uniform(6, 12))
        handled.append((which, begin, script.now_s, True))
    script.wait(3)
    script.go(1.5, lean=0.0, first=0.0, second=0.0, third=0.0)
    script.wait(1)
    if course.walks:
        script.walk(3, rng.uniform(-90, 90), exercise.leg)
    return handled


def _posed(script, course, exercise):
    """Stand in the neutral pose, then move three times in one plane and back."""
    rng = script.rng
    script.go(1.0, **_posture(script, course, (0, 0, 0), spread=0.0))
    script.wait(1.5)
    start_s = script.now_s
    script.wait(7)
    stop_s = script.now_s
    if course.second_pose is not None:
        script.go(2.0, **_posture(script, course, course.second_pose))
        script.wait(1.0)
        second_s = script.now_s
        script.wait(4.0)
        second_s = (second_s, script.now_s)
        script.go(2.0, **_posture(script, course, (0, 0, 0)))
        script.wait(2)
        return (start_s, stop_s), second_s
    script.wait(0.7)
    plane = course.plane_spread_deg * rng.standard_normal(3)
    for _ in range(3):
        angles = rng.uniform(0.9, 1.1) * np.array(exercise.calibration) + plane * (0.5, 0.5, 1.0)
        script.go(1.7, first=angles[0], second=angles[1], third=angles[2])
        script.wait(0.4)
        script.go(1.7, **_posture(script, course, (0, 0, 0), spread=0.3 * course.posture_spread_deg))
        script.wait(0.6)
    script.wait(2)
    return (start_s, stop_s), (start_s, stop_s)


def _set(script, course, exercise, ends):
    rng = script.rng
    script.go(2.0, **_posture(script, course, exercise.start, exercise.start_lean, exercise.start_list))
    script.wait(0.5)
    begin = script.now_s
    for repetition in range(course.repetitions):
        end = _posture(script, course, exercise.end, exercise.end_lean, exercise.end_list, 1.5)
        script.go(course.eccentric_s * rng.uniform(0.9, 1.1), **end)
        script.wait(course.hold_s / 2)
        ends.append(script.now_s)
        script.wait(course.hold_s / 2)
        start = _posture(script, course, exercise.start, exercise.start_lean, exercise.start_list, 1.0)
        script.go(course.concentric_s * rng.uniform(0.9, 1.1), **start)
        if repetition < course.repetitions - 1:
            script.wait(0.5)
    done_s = script.now_s
    script.wait(0.5)
    script.go(1.5, **_posture(script, course, (0, 0, 0)))
    return begin, done_s


def _about(axis, angle_deg):
    return Rotation.from_euler(axis, angle_deg[:, None], degrees=True)


def _product(first, *others):
    """Multiply from left to right, by whole arrays: SciPy multiplies one by one, which takes five times as long."""
    for other in others:
        x, y, z, w = np.atleast_2d(first.as_quat()).T
        a, b, c, d = np.atleast_2d(other.as_quat()).T
        parts = (
            w * a + x * d + y * c - z * b,
            w * b - x * c + y * d + z * a,
            w * c + x * b - y * a + z * d,
            w * d - x * a - y * b - z * c,
        )
        first = Rotation.from_quat(np.stack(parts, axis=1))
    return first


def _measure(script, course, exercise, every, handled, rng, times):
    rate = script.rate_hz
    channel = {k: gaussian_filter1d(np.concatenate(v), 0.03 * rate, mode="nearest") for k, v in script.pieces.items()}
    count = len(channel["yaw"])
    sway = [band_noise(count, rate, 0.05, 2.0, rng) for _ in range(6)]
    side = -1.0 if course.left else 1.0
    # mirrored at the middle plane: turns about the forward and the upward axis change their sense
    list_deg, lean_deg = side * (channel["list"] + 0.2 * sway[0]), channel["lean"] + 0.4 * sway[1]
    proximal = _product(
        _about("z", side * (channel["yaw"] + 0.3 * sway[5])), BODY, _about("z", -lean_deg), _about("x", list_deg)
    )
    angles = np.stack([channel["first"], channel["second"], channel["third"]], 1)
    angles += 0.25 * np.stack(sway[2:5], 1)
    relative = _product(*(_about(*each) for each in zip("zxy", (angles * (1.0, side, side)).T, strict=True)))
    distal = _product(proximal, relative)
    yaw = np.radians(side * channel["yaw"])
    steps = np.diff(channel["ahead"], prepend=channel["ahead"][0])
    base = np.stack([np.cumsum(steps * np.cos(yaw)), np.cumsum(steps * np.sin(yaw)), channel["up"]], 1)
    base += np.stack([-np.sin(yaw), np.cos(yaw), 0 * yaw], 1) * channel["beside"][:, None]
    if exercise.leg:
        # half of the joint's way comes from the leg that turns about the foot
        joint = base + 0.5 * distal.apply([0, 0.85, 0])
        levers = {"proximal": (-0.11, 0.08, -0.09 * side), "distal": (0.06, -0.22, 0.05 * side)}
    else:
        joint = base + proximal.apply([0, 0.45, 0.17 * side])
        levers = {"proximal": (0.1, -0.12, -0.16 * side), "distal": (0.0, -0.17, 0.05 * side)}
    size = np.clip(gaussian_filter1d(np.abs(np.gradient(angles, axis=0)).sum(1) * rate, 0.4 * rate) / 20, 0.15, 1)
    mountings, sensors, attitudes = {}, {}, {}
    down = Rotation.from_rotvec([0, 0, np.pi]) if course.upside_down else Rotation.identity()
    for which, segment in (("proximal", proximal), ("distal", distal)):
        mountings[which] = Rotation.random(random_state=rng) * down
        wobble = np.stack([band_noise(count, rate, 0.5, 6.0, rng) for _ in range(3)], 1)
        skin = Rotation.from_rotvec(np.radians(course.wobble_deg / np.sqrt(3)) * size[:, None] * wobble)
        attitude = _product(segment, skin, mountings[which])
        position = joint + segment.apply(levers[which])
        force = np.gradient(np.gradient(position, axis=0), axis=0) * rate**2 + GRAVITY
        attitude, force = _carried(attitude, force, [h for h in handled if h[0] == which], rate, rng)
        turns = _product(attitude[:-1].inv(), attitude[1:]).as_rotvec() * rate
        felt = attitude.inv().apply(force)
        kept = (count - 1) // every
        gyroscope = np.zeros((kept + 1, 3))
        gyroscope[1:] = turns[: kept * every].reshape(kept, every, 3).mean(1)
        accelerometer = np.empty((kept + 1, 3))
        accelerometer[0] = felt[0]
        accelerometer[1:] = felt[1 : kept * every + 1].reshape(kept, every, 3).mean(1)
        noise, shape = np.sqrt(course.rate_hz / 100), gyroscope.shape
        walk = np.cumsum(rng.standard_normal(shape), 0) * course.gyroscope_drift_deg_s / np.sqrt(600 * course.rate_hz)
        bias = course.gyroscope_bias_deg_s * rng.standard_normal(3)
        gyroscope += np.radians(bias + walk + course.gyroscope_noise_deg_s * noise * rng.standard_normal(shape))
        accelerometer += course.accelerometer_bias_m_s2 * rng.standard_normal(3)
        accelerometer += course.accelerometer_noise_m_s2 * noise * rng.standard_normal(shape)
        sensors[which] = (accelerometer, gyroscope)
        attitudes[which] = attitude[::every][: kept + 1]
    (pose, second_pose), worn, sets, ends = times
    return Session(
        rate_hz=course.rate_hz,
        proximal=sensors["proximal"],
        distal=sensors["distal"],
        angles_deg=angles[::every][: len(gyroscope)],
        relative=relative[::every][: len(gyroscope)],
        proximal_mounting=mountings["proximal"],
        distal_mounting=mountings["distal"],
        attitudes=attitudes,
        pose_s=pose,
        second_pose_s=second_pose,
        worn_s=worn,
        sets_s=sets,
        ends_s=ends,
    )


def _carried(attitude, force, handled, rate, rng):
    """Lie on the table before and after, and be turned about by hands on the way."""
    quaternion, force = attitude.as_quat(), force.copy()
    for _, begin_s, end_s, on in handled:
        begin, end = round(begin_s * rate), round(end_s * rate)
        resting = Rotation.random(random_state=rng)
        edge = attitude[end] if on else attitude[begin]
        way = Rotation.concatenate([resting, *Rotation.random(5, random_state=rng), edge])
        share = np.linspace(0, 1, end - begin) * (len(way) - 1)
        index = np.minimum(share.astype(int), len(way) - 2)
        part = minimum_jerk(share - index)
        legs = (way[:-1].inv() * way[1:]).as_rotvec()
        carried = way[index] * Rotation.from_rotvec(legs[index] * part[:, None])
        quaternion[begin:end] = (carried if on else carried[::-1]).as_quat()
        lying = slice(0, begin) if on else slice(end, None)
        quaternion[lying] = resting.as_quat()
        force[lying] = GRAVITY
        force[begin:end] = GRAVITY + 0.7 * rng.standard_normal(3)
    return Rotation.from_quat(quaternion), force

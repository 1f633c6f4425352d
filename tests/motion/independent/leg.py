"""Sessions of heel drops replayed by a rigid-body simulator that shares no code with this project.

MuJoCo (Todorov, Erez, Tassa 2012, doi:10.1109/IROS.2012.6386109) holds the leg of ``leg.xml``. The session's course is
written down joint by joint; the simulator's inverse dynamics then say what accelerometers and gyroscopes fixed to shank
and foot feel. The truth is the position of the ankle's joint, which no measurement enters.

The course: both sensors lie on the table, are taken up and taped on in any direction (first the shank's, then the
foot's, while the person sits), the person stands up, stands still in the neutral pose, does three slow two-leg heel
raises, walks to the step and turns, does the sets with walking and turning in the rests, and walks back.
"""

from dataclasses import dataclass, field
from pathlib import Path

import mujoco
import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

MODEL = Path(__file__).with_name("leg.xml")
SCALARS = [
    "forward",
    "left",
    "up",
    "turn",
    "lean",
    "tilt",
    "shank_skin_x",
    "shank_skin_y",
    "shank_skin_z",
    "ankle",
    "heel_turn",
    "foot_skin_x",
    "foot_skin_y",
    "foot_skin_z",
]
FOREFOOT_M = 0.13
"""From the ankle to the ball of the foot."""


@dataclass(frozen=True)
class Course:
    """What is done in a session, and how well it is measured.

    ``seated_sway`` is how much of the standing leg's sway is left while it rests on a chair;
    ``heel_turn_deg`` is how far the heel turns in and out in walking, which makes the ankle less of a hinge;
    ``skin_deg`` the RMS turn of a sensor against its bone while the leg moves.
    """

    sets: int = 3
    repetitions: int = 15
    eccentric_s: float = 2.5
    hold_s: float = 2.0
    concentric_s: float = 1.5
    top_s: float = 0.6
    start_deg: float = -25.0
    end_range_deg: float = 12.0
    end_range_spread_deg: float = 1.0
    rest_s: float = 40.0
    table_s: float = 25.0
    seated_sway: float = 0.25
    neutral_s: float = 8.0
    raise_deg: float = -30.0
    rate_hz: float = 100.0
    heel_turn_deg: float = 3.0
    skin_deg: float = 0.8
    gyroscope_bias_deg_s: float = 0.4
    accelerometer_bias_m_s2: float = 0.1
    gyroscope_noise_deg_s: float = 0.1
    accelerometer_noise_m_s2: float = 0.03


@dataclass(frozen=True)
class Replay:
    """What the sensors gave, in their own axes, and what was true.

    Axes, attitudes (sensor to world) and positions are those of the sensors as worn, also for the time before.
    """

    rate_hz: float
    shank_accelerometer_m_s2: np.ndarray
    shank_gyroscope_rad_s: np.ndarray
    foot_accelerometer_m_s2: np.ndarray
    foot_gyroscope_rad_s: np.ndarray
    angle_deg: np.ndarray
    shank_axis: np.ndarray
    foot_axis: np.ndarray
    shank_attitude: Rotation
    foot_attitude: Rotation
    shank_position_m: np.ndarray
    foot_position_m: np.ndarray
    worn_s: tuple[float, float]
    neutral_s: tuple[float, float]
    calibration_s: tuple[float, float]
    sets_s: list[tuple[float, float]]
    repetitions_s: list[list[tuple[float, float, float]]]


def minimum_jerk(share):
    """Return the smooth step from 0 to 1 with neither speed nor acceleration at its ends."""
    s = np.clip(share, 0.0, 1.0)
    return s**3 * (10.0 - 15.0 * s + 6.0 * s * s)


def minimum_jerk_rates(share):
    """Return the step's first and second derivative by the share."""
    s = np.clip(share, 0.0, 1.0)
    return 30.0 * s**2 * (1.0 - s) ** 2, 60.0 * s * (1.0 - s) * (1.0 - 2.0 * s)


@dataclass
class Script:
    """Course of every joint, written step by step onto an even time base."""

    course: Course
    rng: np.random.Generator
    now_s: float = 0.0
    moves: list = field(default_factory=list)
    walks: list = field(default_factory=list)
    stands_up_s: float = 0.0

    def go(self, seconds, **targets):
        """Move the named joints to their targets by minimum jerk; angles in degrees, lengths in m."""
        for name, target in targets.items():
            self.moves.append((name, self.now_s, seconds, target))
        self.now_s += seconds

    def wait(self, seconds):
        self.now_s += seconds

    def walk(self, seconds, distance_m, turn_deg):
        """Walk on and turn round, from standing to standing."""
        self.walks.append((self.now_s, seconds))
        heading = self.moves_value("turn")
        for name, each in (("forward", np.cos(np.radians(heading))), ("left", np.sin(np.radians(heading)))):
            self.moves.append((name, self.now_s, seconds, self.moves_value(name) + distance_m * each))
        self.moves.append(("turn", self.now_s + 0.3 * seconds, 0.6 * seconds, heading + turn_deg))
        self.now_s += seconds

    def moves_value(self, name):
        return next((target for each, _, _, target in reversed(self.moves) if each == name), 0.0)

    def positions(self):
        """Return sample times and the position of each joint, shape (n, joints), in m and rad."""
        rate_hz = self.course.rate_hz
        time_s = np.arange(round(self.now_s * rate_hz)) / rate_hz
        value = {name: np.zeros(len(time_s)) for name in SCALARS}
        reached = dict.fromkeys(SCALARS, 0.0)
        for name, start_s, seconds, target in self.moves:
            # a course is written in order, so each move goes on from where the joint's last one ended
            value[name] += (target - reached[name]) * minimum_jerk((time_s - start_s) / seconds)
            reached[name] = target
        for name in SCALARS[3:]:
            value[name] = np.radians(value[name])
        self._step_out(time_s, value)
        self._sway(time_s, value)
        # the heel rises and sinks about the ball of the foot, which stays where it is
        value["up"] -= FOREFOOT_M * np.sin(value["ankle"] - value["lean"]) * (1.0 - self._envelope(time_s))
        return time_s, np.stack([value[name] for name in SCALARS], axis=1)

    def _envelope(self, time_s):
        """1 while walking, 0 else, with soft edges."""
        envelope = np.zeros(len(time_s))
        for start_s, seconds in self.walks:
            inside = (time_s - start_s) / 0.8, (start_s + seconds - time_s) / 0.8
            envelope = np.maximum(envelope, minimum_jerk(inside[0]) * minimum_jerk(inside[1]))
        return envelope

    def _step_out(self, time_s, value):
        """Add strides: the shank swings, the ankle bends, the foot lands with a thump."""
        envelope = self._envelope(time_s)
        stride_hz = self.rng.uniform(0.75, 0.95)
        phase = 2.0 * np.pi * stride_hz * time_s + 0.3 * np.sin(2.0 * np.pi * 0.11 * time_s)
        value["lean"] += envelope * np.radians(22.0 * np.sin(phase) + 6.0 * np.sin(2.0 * phase + 0.8) - 6.0)
        value["ankle"] += envelope * np.radians(9.0 * np.sin(phase + 1.1) + 6.0 * np.sin(2.0 * phase + 2.3))
        value["heel_turn"] += envelope * np.radians(self.course.heel_turn_deg * np.sin(phase + 0.4))
        value["tilt"] += envelope * np.radians(2.5 * np.sin(phase - 0.7))
        value["turn"] += envelope * np.radians(4.0 * np.sin(phase + 2.0))
        value["forward"] += envelope * 0.10 * np.sin(phase + 0.2)
        value["up"] += envelope * 0.03 * (1.0 - np.cos(phase - 0.5))
        since_s = np.mod(phase, 2.0 * np.pi) / (2.0 * np.pi * stride_hz)
        value["up"] += envelope * 0.0008 * since_s / 0.03 * np.exp(1.0 - since_s / 0.03) * np.sin(90.0 * since_s)

    def _sway(self, time_s, value):
        """Add what a living leg always does: slow sway, and skin that gives when the leg moves."""
        rate_hz = self.course.rate_hz

        def slow_noise(seconds, rms):
            noise = gaussian_filter1d(self.rng.normal(size=len(time_s)), seconds * rate_hz, mode="wrap")
            return rms * noise / noise.std()

        stands = minimum_jerk((time_s - self.stands_up_s) / 2.0)
        share = self.course.seated_sway + (1.0 - self.course.seated_sway) * stands
        for name, rms_deg in (("tilt", 0.25), ("turn", 0.25), ("ankle", 0.1), ("heel_turn", 0.15)):
            value[name] += share * np.radians(slow_noise(0.4, rms_deg))
        # a shank that sways over a flat foot bends the ankle
        sway = share * np.radians(slow_noise(0.4, 0.35))
        value["lean"] += sway
        value["ankle"] += sway
        moving = np.abs(np.gradient(value["ankle"], time_s)) + np.abs(np.gradient(value["lean"], time_s))
        moving = minimum_jerk(gaussian_filter1d(moving, 0.15 * rate_hz) / np.radians(8.0))
        for name in SCALARS:
            if "skin" in name:
                part = 1.0 / np.sqrt(3.0)  # of the whole turn, in each of the three directions
                value[name] += np.radians(self.course.skin_deg) * part * slow_noise(0.12, 1.0) * moving


def _write_course(course, rng):
    """Write the session; return the script and the stretches that a reader of the truth wants."""
    script = Script(course, rng)
    # seated, the shank leans back a little and the foot is flat
    script.moves += [("lean", -2.0, 1.0, -12.0), ("ankle", -2.0, 1.0, -12.0), ("up", -2.0, 1.0, 0.08)]
    script.wait(course.table_s + 32.0)
    worn_start_s = script.now_s
    script.wait(4.0)
    script.stands_up_s = script.now_s
    script.go(2.5, lean=0.0, ankle=0.0)
    script.wait(1.5)
    neutral_start_s = script.now_s
    script.wait(course.neutral_s)
    neutral_stop_s = script.now_s
    script.wait(1.0)
    calibration_start_s = script.now_s
    for _ in range(3):
        script.go(1.6, ankle=course.raise_deg + rng.normal(scale=1.5))
        script.wait(0.5)
        script.go(1.6, ankle=0.0)
        script.wait(0.8)
    calibration_stop_s = script.now_s
    script.wait(2.0)
    script.walk(9.0, 5.0, rng.uniform(60.0, 130.0))
    script.wait(2.0)
    sets = [_write_set(script, last=number == course.sets - 1) for number in range(course.sets)]
    script.wait(2.0)
    script.walk(9.0, 5.0, rng.uniform(-150.0, 150.0))
    script.wait(3.0)
    return script, {
        "worn_s": (worn_start_s, script.now_s),
        "neutral_s": (neutral_start_s, neutral_stop_s),
        "calibration_s": (calibration_start_s, calibration_stop_s),
        "sets_s": [(windows[0][0], windows[-1][2]) for windows in sets],
        "repetitions_s": sets,
    }


def _write_set(script, *, last):
    """Write one set, and the rest behind it unless it is the last; return (start, bottom, stop) of each repetition."""
    course, rng = script.course, script.rng
    script.go(1.4, ankle=course.start_deg, lean=2.0)
    script.wait(1.5)
    windows = []
    for _ in range(course.repetitions):
        scale = rng.normal(1.0, 0.05, size=3).clip(0.85, 1.15)
        start_s = script.now_s
        end_deg = course.end_range_deg + rng.normal(scale=course.end_range_spread_deg)
        script.go(course.eccentric_s * scale[0], ankle=end_deg, lean=2.0 + rng.normal(scale=1.0))
        bottom_s = script.now_s
        script.wait(course.hold_s * scale[1])
        script.go(course.concentric_s * scale[2], ankle=course.start_deg + rng.normal(scale=1.0))
        windows.append((start_s, bottom_s, script.now_s))
        script.wait(course.top_s)
    script.wait(1.0)
    script.go(1.4, ankle=0.0, lean=0.0)
    if not last:
        walking_s = max(course.rest_s - 16.0, 0.0)
        script.wait(4.0)
        if walking_s > 4.0:
            script.walk(walking_s / 2, 3.0, 180.0 + rng.normal(scale=20.0))
            script.walk(walking_s / 2, 3.0, 180.0 + rng.normal(scale=20.0))
        script.wait(max(course.rest_s - walking_s - 8.0, 1.0))
    return windows


def _loose_course(time_s, legs, stops):
    """Move a loose body from pose to pose, at rest at each; return a free joint's position, velocity and acceleration.

    ``legs`` is a list of (start_s, stop_s) and ``stops`` one more pose (position, rotation) than legs. Each turn goes
    about one axis, so that its rate is the axis times the rate of the minimum-jerk step, in body axes.
    """
    n = len(time_s)
    place = np.tile(stops[0][0], (n, 1))
    attitude = np.tile(stops[0][1].as_quat(), (n, 1))
    velocity, acceleration = np.zeros((n, 6)), np.zeros((n, 6))
    for (start_s, stop_s), (place0, turn0), (place1, turn1) in zip(legs, stops[:-1], stops[1:], strict=True):
        later = time_s >= start_s
        seconds = stop_s - start_s
        share = (time_s[later] - start_s) / seconds
        along = minimum_jerk(share)[:, None]
        first, second = (each[:, None] for each in minimum_jerk_rates(share))
        axis = (turn0.inv() * turn1).as_rotvec()
        place[later] = place0 + along * (place1 - place0)
        attitude[later] = (turn0 * Rotation.from_rotvec(along * axis)).as_quat()
        velocity[later] = np.hstack([first * (place1 - place0), first * axis]) / seconds
        acceleration[later] = np.hstack([second * (place1 - place0), second * axis]) / seconds**2
    return np.hstack([place, attitude[:, [3, 0, 1, 2]]]), velocity, acceleration


def _model(rng):
    """Compile the leg with an oblique ankle and sensors taped on in any direction."""
    spec = mujoco.MjSpec.from_file(str(MODEL))
    # inclined by some 8 degrees to the outside and turned by some 6 to the back
    inclined, turned = np.radians(rng.normal((8.0, 6.0), 2.0))
    axis = Rotation.from_euler("xz", (inclined, turned)).apply([0.0, -1.0, 0.0])
    mounting = {name: Rotation.random(rng=rng) for name in ("shank_sensor", "foot_sensor")}
    for joint in spec.joints:
        if joint.name == "ankle":
            joint.axis = axis
    for body in spec.bodies:
        if body.name in mounting:
            body.quat = mounting[body.name].as_quat(scalar_first=True)
    return spec.compile(), axis, mounting


def replay(seed, course=None, *, perfect=False):
    """Replay a session.

    ``perfect`` leaves out bias, noise and skin: what remains is exact up to the splines' derivatives.
    """
    course = course or Course()
    if perfect:
        course = Course(**{**course.__dict__, "skin_deg": 0.0})
    rng = np.random.default_rng(seed)
    model, axis, mounting = _model(rng)
    script, marks = _write_course(course, rng)
    time_s, scalars = script.positions()
    n = len(time_s)

    qpos, qvel, qacc = np.zeros((n, model.nq)), np.zeros((n, model.nv)), np.zeros((n, model.nv))
    spline = make_interp_spline(time_s, scalars, k=5)
    for column, name in enumerate(SCALARS):
        joint = model.joint(name)
        qpos[:, joint.qposadr[0]] = scalars[:, column]
        qvel[:, joint.dofadr[0]] = spline.derivative(1)(time_s)[:, column]
        qacc[:, joint.dofadr[0]] = spline.derivative(2)(time_s)[:, column]
    data = mujoco.MjData(model)

    # where the sensors lie before they are worn, and when each is taped on
    worn_at = {}
    for point, (taken_s, taped_s) in {
        "shank_sensor": (course.table_s, course.table_s + 14.0),
        "foot_sensor": (course.table_s + 15.0, course.table_s + 30.0),
    }.items():
        first = round(taped_s * course.rate_hz)
        data.qpos[:] = qpos[first]
        mujoco.mj_kinematics(model, data)
        site = data.site(point)
        worn = site.xpos.copy(), Rotation.from_matrix(site.xmat.reshape(3, 3))
        table = (
            rng.normal((0.4, -0.3, 0.7), 0.05),
            Rotation.from_euler("zx", [rng.uniform(0, 6), rng.choice([0, np.pi])]),
        )
        hand = rng.normal((0.3, -0.1, 0.5), 0.05), Rotation.random(rng=rng)
        middle_s = (taken_s + taped_s) / 2
        loose = model.joint(f"loose_{point}")
        place, speed, pull = _loose_course(
            time_s, [(taken_s, middle_s - 1.0), (middle_s, taped_s)], [table, hand, worn]
        )
        qpos[:, loose.qposadr[0] : loose.qposadr[0] + 7] = place
        qvel[:, loose.dofadr[0] : loose.dofadr[0] + 6] = speed
        qacc[:, loose.dofadr[0] : loose.dofadr[0] + 6] = pull
        worn_at[point] = first

    felt = np.empty((n, model.nsensordata))
    attitudes = {point: np.empty((n, 9)) for point in mounting}
    places = {point: np.empty((n, 3)) for point in mounting}
    sites = {point: data.site(point) for point in mounting}
    for i in range(n):
        data.qpos[:], data.qvel[:], data.qacc[:] = qpos[i], qvel[i], qacc[i]
        mujoco.mj_inverse(model, data)
        felt[i] = data.sensordata
        for point, site in sites.items():
            attitudes[point][i], places[point][i] = site.xmat, site.xpos

    samples = {}
    for point in mounting:
        segment = point.removesuffix("_sensor")
        for kind in ("accelerometer", "gyroscope"):
            columns = [
                slice(sensor.adr[0], sensor.adr[0] + 3)
                for sensor in (model.sensor(f"loose_{segment}_{kind}"), model.sensor(f"{segment}_{kind}"))
            ]
            samples[segment, kind] = np.vstack([felt[: worn_at[point], columns[0]], felt[worn_at[point] :, columns[1]]])
            if not perfect:
                samples[segment, kind] += _faults(rng, n, kind, course)
    return Replay(
        rate_hz=course.rate_hz,
        shank_accelerometer_m_s2=samples["shank", "accelerometer"],
        shank_gyroscope_rad_s=samples["shank", "gyroscope"],
        foot_accelerometer_m_s2=samples["foot", "accelerometer"],
        foot_gyroscope_rad_s=samples["foot", "gyroscope"],
        angle_deg=np.degrees(scalars[:, SCALARS.index("ankle")]),
        shank_axis=mounting["shank_sensor"].inv().apply(axis),
        foot_axis=mounting["foot_sensor"].inv().apply(axis),
        shank_attitude=Rotation.from_matrix(attitudes["shank_sensor"].reshape(-1, 3, 3)),
        foot_attitude=Rotation.from_matrix(attitudes["foot_sensor"].reshape(-1, 3, 3)),
        shank_position_m=places["shank_sensor"],
        foot_position_m=places["foot_sensor"],
        **marks,
    )


def _faults(rng, n, kind, course):
    """Bias in any direction that drifts by a fifth of itself, and white noise."""
    if kind == "gyroscope":
        bias, noise = np.radians([course.gyroscope_bias_deg_s, course.gyroscope_noise_deg_s])
    else:
        bias, noise = course.accelerometer_bias_m_s2, course.accelerometer_noise_m_s2
    direction = rng.normal(size=3)
    direction *= bias / np.linalg.norm(direction)
    drift = 1.0 + 0.2 * np.sin(np.linspace(0.0, 2.0, n) + rng.uniform(0.0, 6.0)) if kind == "gyroscope" else np.ones(n)
    return drift[:, None] * direction + rng.normal(scale=noise, size=(n, 3))

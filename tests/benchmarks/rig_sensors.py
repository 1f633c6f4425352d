"""What an inertial sensor on a moving body delivers: physics first, then the faults of a consumer sensor.

A body's course is given on a fine, even time base (about 1 kHz) as attitude and position. Rates and accelerations are
differences of those, so that nothing here knows how the course was made. Nothing is shared with the package's own
simulator.

A sensor on foam (or flesh) rocks about the two axes across its normal as a damped spring does: driven by the body's
angular acceleration, and by the force that its own weight, held above the foam, meets. It leans with gravity slowly and
rocks at its resonance when jerked.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import cumulative_trapezoid
from scipy.signal import butter, lfilter, sosfiltfilt
from scipy.spatial.transform import Rotation

__all__ = ["GRAVITY_M_S2", "Body", "Foam", "Grade", "Samples", "fine_rate_hz", "sampled", "worn_on"]

GRAVITY_M_S2 = 9.81
FINE_HZ = 1000.0


def fine_rate_hz(rate_hz):
    """Rate of the fine time base: the smallest multiple of the sensor's that reaches 1 kHz."""
    return rate_hz * np.ceil(FINE_HZ / rate_hz)


def product(first, *others):
    """Multiply attitudes from left to right, n each or one: SciPy 1.17 takes six times as long, one by one."""
    for other in others:
        (x, y, z, w), (a, b, c, d) = (np.atleast_2d(each.as_quat()).T for each in (first, other))
        parts = (
            w * a + x * d + y * c - z * b,
            w * b - x * c + y * d + z * a,
            w * c + x * b - y * a + z * d,
            w * d - x * a - y * b - z * c,
        )
        first = Rotation.from_quat(np.stack(parts, axis=1))
    return first


@dataclass(frozen=True)
class Body:
    """Course of a rigid body: attitude body -> world (z up) and the position of its origin, on the fine time base."""

    attitude: Rotation
    position_m: np.ndarray
    fine_hz: float

    def point(self, offset_m, turn=None):
        """Return the course of a point fixed in this body, with axes turned by ``turn``."""
        attitude = self.attitude if turn is None else product(self.attitude, turn)
        return replace(self, attitude=attitude, position_m=self.position_m + self.attitude.apply(offset_m))

    def rate_rad_s(self):
        """Return the angular rate in body axes, as the turn over two steps."""
        turns = product(self.attitude[:-2].inv(), self.attitude[2:]).as_rotvec() * (self.fine_hz / 2.0)
        return np.vstack([turns[:1], turns, turns[-1:]])

    def force_m_s2(self):
        """Return the specific force in body axes: acceleration less gravity."""
        pull = np.zeros_like(self.position_m)
        pull[1:-1] = np.diff(self.position_m, 2, axis=0) * self.fine_hz**2
        pull[:, 2] += GRAVITY_M_S2
        return self.attitude.inv().apply(pull)


@dataclass(frozen=True)
class Foam:
    """A soft layer under a sensor.

    Parameters
    ----------
    normal : ndarray of shape (3,)
        Unit vector in sensor axes, away from the body.
    resonance_hz, damping : tuple of two floats
        Of the rocking about two axes across the normal; damping as a share of the critical one.
    lean_deg_per_g : tuple of two floats
        How far the sensor leans about either axis where gravity pulls along the surface instead of into it.
    stiffens_share : float
        Share of the lean that is missing at 1 g for want of way: foam stiffens as it is pressed.
    height_m : float
        Of the sensor's centre above the point that it rocks about.
    creep_share, creep_s : float
        Share of the lean that comes slowly, and its time constant.
    """

    normal: np.ndarray
    resonance_hz: tuple
    damping: tuple
    lean_deg_per_g: tuple
    stiffens_share: float = 0.0
    height_m: float = 0.015
    creep_share: float = 0.2
    creep_s: float = 4.0

    @classmethod
    def drawn(cls, rng, lean_deg_per_g=(2.5, 5.0), resonance_hz=(3.0, 10.0)):
        """Draw one at random."""
        normal = rng.normal(size=3)
        return cls(
            normal=normal / np.linalg.norm(normal),
            resonance_hz=tuple(rng.uniform(*resonance_hz, size=2)),
            damping=tuple(rng.uniform(0.15, 0.45, size=2)),
            lean_deg_per_g=tuple(rng.uniform(*lean_deg_per_g, size=2)),
            stiffens_share=rng.uniform(0.0, 0.3),
            creep_share=rng.uniform(0.1, 0.4),
            creep_s=rng.uniform(1.0, 6.0),
        )

    def rocked(self, body):
        """Return the course of a sensor on this foam on a body (whose axes are the sensor's at rest)."""
        first = np.cross(self.normal, [1.0, 0.0, 0.0] if abs(self.normal[0]) < 0.8 else [0.0, 1.0, 0.0])
        first /= np.linalg.norm(first)
        axes = [first, np.cross(self.normal, first)]
        step_s = 1.0 / body.fine_hz
        rate = body.rate_rad_s()
        jerked = np.gradient(rate, step_s, axis=0)
        # the sensor's weight above the foam is left behind where the body pulls: it turns by normal x (-force)
        pull = np.cross(self.normal, -body.force_m_s2()) / GRAVITY_M_S2
        turn = np.zeros_like(rate)
        for axis, resonance_hz, damping, lean_deg_per_g in zip(
            axes, self.resonance_hz, self.damping, self.lean_deg_per_g, strict=True
        ):
            omega = 2.0 * np.pi * resonance_hz
            along = pull @ axis
            lean = np.radians(lean_deg_per_g) * along * (1.0 - self.stiffens_share * np.minimum(along**2, 1.0))
            fade = np.exp(-step_s / self.creep_s)
            slow, _ = lfilter([1.0 - fade], [1.0, -fade], lean, zi=[fade * lean[0]])
            lean = (1.0 - self.creep_share) * lean + self.creep_share * slow
            turn += _spring(lean * omega**2 - jerked @ axis, omega, damping, step_s, lean[0])[:, None] * axis
        foot = replace(body, position_m=body.position_m - body.attitude.apply(self.height_m * self.normal))
        rocking = Rotation.from_rotvec(turn)
        attitude = product(body.attitude, rocking)
        return Body(attitude, foot.position_m + attitude.apply(self.height_m * self.normal), body.fine_hz)


def _spring(drive, omega, damping, step_s, start):
    """Solve x'' + 2 d w x' + w^2 x = drive from rest at ``start``, by the trapezoidal rule."""
    k = 2.0 / step_s
    a0 = k**2 + 2.0 * damping * omega * k + omega**2
    a1 = 2.0 * (omega**2 - k**2)
    a2 = k**2 - 2.0 * damping * omega * k + omega**2
    shifted = drive - start * omega**2
    return start + lfilter(np.array([1.0, 2.0, 1.0]) / a0, [1.0, a1 / a0, a2 / a0], shifted)


@dataclass(frozen=True)
class Grade:
    """How good a sensor is: ranges to draw from, noise as densities.

    The defaults are those of the sensors in phones and watches (data sheets' typical figures, from memory).
    """

    accelerometer_bias_m_s2: tuple = (0.02, 0.1)
    accelerometer_noise_m_s2_rthz: float = 0.0015
    accelerometer_step_m_s2: float = 8.0 * 9.81 / 2**15
    gyroscope_bias_deg_s: tuple = (0.1, 0.5)
    gyroscope_walk_deg_s_rtmin: float = 0.015
    gyroscope_noise_deg_s_rthz: float = 0.008
    gyroscope_step_deg_s: float = 1000.0 / 2**15
    scale_share: float = 0.003
    cross_axis_deg: float = 0.15
    low_pass_hz: tuple = (40.0, 90.0)


@dataclass(frozen=True)
class Samples:
    """One sensor's samples, and its true attitude (sensor -> world) at their times."""

    accelerometer_m_s2: np.ndarray
    gyroscope_rad_s: np.ndarray
    attitude: Rotation


def _faulty_axes(rng, grade):
    """Scale and cross-axis errors as a matrix."""
    return (
        np.eye(3)
        + np.diag(rng.normal(scale=grade.scale_share, size=3))
        + rng.normal(scale=np.radians(grade.cross_axis_deg), size=(3, 3)) * (1.0 - np.eye(3))
    )


def _pointing(rng, size):
    direction = rng.normal(size=3)
    return direction * (rng.uniform(*size) / np.linalg.norm(direction))


def worn_on(body, rng, offset_m, foam=None):
    """Return the course of a sensor fixed to a body at a point, in any direction, on foam or not."""
    point = body.point(offset_m, Rotation.random(rng=rng))
    return point if foam is None else foam.rocked(point)


def _read(fine, ratio, sampling, shift):
    """Samples of a fine course, every ``ratio`` steps, each taken ``shift`` steps after its stamp."""
    ends = np.arange(0, len(fine), ratio) + shift
    if sampling == "point":
        return fine[np.clip(ends, 0, len(fine) - 1)]
    if sampling == "mean":
        ends = ends + ratio / 2.0
    summed = cumulative_trapezoid(fine, axis=0, initial=0.0)
    steps = np.arange(len(fine))
    upper, lower = (np.clip(each, 0, steps[-1]) for each in (ends, ends - ratio))
    # the first and the last interval may reach past the course
    upper = np.maximum(upper, lower + 1)
    return np.stack(
        [(np.interp(upper, steps, each) - np.interp(lower, steps, each)) / (upper - lower) for each in summed.T], axis=1
    )


def sampled(body, rate_hz, rng, *, grade=None, sampling="point", vibration_m_s2=0.0, delay_s=0.0):
    """Sample a sensor that moves as ``body`` does.

    ``sampling``: "point": the low-passed value at the stamp; "mean": the mean over the interval about the stamp;
    "mean before": over the interval that ends at the stamp, as sensors do that add up between two readings. The low
    pass has no delay: data sets are lined up with their reference by those who make them. ``delay_s`` is how much later
    than its stamp this sensor is read; below 0, its samples are old.
    """
    grade = grade or Grade()
    ratio = round(body.fine_hz / rate_hz)
    force, rate = body.force_m_s2(), body.rate_rad_s()
    if vibration_m_s2:
        force += vibration_m_s2 * rng.normal(size=force.shape)
    low_pass = butter(1, rng.uniform(*grade.low_pass_hz), fs=body.fine_hz, output="sos")
    shift = round(delay_s * body.fine_hz)
    force, rate = (_read(sosfiltfilt(low_pass, fine, axis=0), ratio, sampling, shift) for fine in (force, rate))
    n = len(rate)
    walk = np.cumsum(rng.normal(size=(n, 3)), axis=0) * grade.gyroscope_walk_deg_s_rtmin / np.sqrt(60.0 * rate_hz)
    band = np.sqrt(rate_hz / 2.0)
    force = force @ _faulty_axes(rng, grade) + _pointing(rng, grade.accelerometer_bias_m_s2)
    force += rng.normal(scale=grade.accelerometer_noise_m_s2_rthz * band, size=(n, 3))
    rate = rate @ _faulty_axes(rng, grade) + np.radians(_pointing(rng, grade.gyroscope_bias_deg_s) + walk)
    rate += rng.normal(scale=np.radians(grade.gyroscope_noise_deg_s_rthz) * band, size=(n, 3))
    steps = grade.accelerometer_step_m_s2, np.radians(grade.gyroscope_step_deg_s)
    force, rate = (np.round(each / step) * step for each, step in zip((force, rate), steps, strict=True))
    return Samples(force, rate, body.attitude[::ratio])

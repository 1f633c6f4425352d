"""How an invented person moves: postures, ways between them, steps and fidgets, written as channels of a simple body.

Channels (degrees and metres, on a fine even time base): ``angle`` of the joint, ``pitch`` and ``roll`` of the proximal
segment (top forward, top to the right), ``yaw`` of the whole body, ``ahead`` (way walked), ``height`` of the foot,
``flat`` (1 where the foot stands flat, so that sway goes into the joint), ``sway`` (how much the person sways).
The walking curves follow the textbook shape of level walking (from memory: Perry, Burnfield, Gait Analysis, 2010),
which is enough for something that is no exercise.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from imu_rom.simulation.routine import Routine

__all__ = ["Course", "Interval", "Performer", "minimum_jerk"]

Floats = NDArray[np.float64]
CHANNELS = ("angle", "pitch", "roll", "yaw", "ahead", "height", "flat", "sway")


@dataclass(frozen=True)
class Interval:
    """A stretch of time.

    Parameters
    ----------
    start_s, stop_s : float
        Seconds from the recording's start.
    """

    start_s: float
    stop_s: float


@dataclass
class Course:
    """Everything that happened.

    Parameters
    ----------
    rate_hz : float
        Rate of the channels.
    knee : bool
        True where the joint is the knee.
    channels : mapping of str to ndarray of shape (n,)
        See the module.
    table : Interval
        Both sensors on the table, before.
    handling : dict of str to list of Interval
        ``proximal`` and ``distal``: taping on, taking off.
    intervals : dict of str to list of Interval
        ``chair``, ``leaning``, ``pose``, ``calibration``, ``walking``, ``step wait``, ``closing pose``,
        ``held together``.
    shocks : list of tuple of float
        Heel strikes: time in seconds and size in m/s^2 at the foot.
    marks : list of tuple
        Per repetition: set, start, hold start, hold stop, stop, partial.
    pauses : list of tuple
        Per pause within a set: set, start, stop.
    knocks, taps : list of tuple of float
        Knocks on the table with both sensors in one hand, and toe taps with both worn: time in seconds, size in m/s^2.
    """

    rate_hz: float
    knee: bool = False
    channels: Mapping[str, Floats] = field(default_factory=dict)
    table: Interval = Interval(0.0, 0.0)
    handling: dict[str, list[Interval]] = field(default_factory=lambda: {"proximal": [], "distal": []})
    intervals: dict[str, list[Interval]] = field(default_factory=dict)
    shocks: list[tuple[float, float]] = field(default_factory=list)
    marks: list[tuple[int, float, float, float, float, bool]] = field(default_factory=list)
    pauses: list[tuple[int, float, float]] = field(default_factory=list)
    knocks: list[tuple[float, float]] = field(default_factory=list)
    taps: list[tuple[float, float]] = field(default_factory=list)


def minimum_jerk(share: Floats) -> Floats:
    """Smooth way from 0 to 1 with rest at both ends (Flash, Hogan 1985, doi:10.1523/JNEUROSCI.05-07-01688.1985).

    Parameters
    ----------
    share : ndarray
        Share of the time, 0 to 1.

    Returns
    -------
    ndarray
        Share of the way.
    """
    return share**3 * (10 - 15 * share + 6 * share**2)


# share of the stride from heel strike; ankle dorsiflexion, shank pitch, knee flexion in degrees; foot lift in m
_WALKING = {
    "ankle": ((0, 0.07, 0.2, 0.4, 0.5, 0.62, 0.72, 0.85, 1), (0, -6, 2, 10, 6, -17, -8, 2, 0)),
    "shank": ((0, 0.08, 0.2, 0.35, 0.5, 0.62, 0.75, 0.88, 1), (-18, -9, 2, 9, 26, 50, 36, -4, -18)),
    "knee": ((0, 0.14, 0.38, 0.5, 0.62, 0.72, 0.85, 0.95, 1), (4, 17, 5, 10, 38, 60, 32, 3, 4)),
    "toe": ((0, 0.08, 0.3, 0.6, 0.72, 0.86, 1), (0.05, 0, 0, 0.005, 0.06, 0.05, 0.05)),
    "heel": ((0, 0.1, 0.4, 0.62, 0.72, 0.86, 1), (0.0, 0, 0.0, 0.11, 0.13, 0.05, 0.0)),
}


def _walking_curves() -> dict[str, Callable[[Floats], Floats]]:
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - only simulations need it

    return {
        name: CubicSpline(phase, values, bc_type="periodic", extrapolate="periodic")
        for name, (phase, values) in _WALKING.items()
    }


class Performer:
    """Writes channels piece by piece; knows the present posture.

    Parameters
    ----------
    routine : Routine
        What is to be done.
    zero_shift_deg : float
        True angle at which this person stands "at neutral" today.
    rate_hz : float
        Rate of the channels.
    rng : numpy.random.Generator
        Source of chance.
    """

    def __init__(self, routine: Routine, zero_shift_deg: float, rate_hz: float, rng: np.random.Generator) -> None:
        self.routine = routine
        self.rng = rng
        self.knee = routine.joint == "knee"
        self.course = Course(rate_hz, self.knee)
        self.stand_deg = zero_shift_deg
        self.now = dict.fromkeys(CHANNELS, 0.0)
        self.pieces: dict[str, list[Floats]] = {name: [] for name in CHANNELS}
        self.samples = 0
        self.curves = _walking_curves()
        self.gait_size = rng.uniform(0.85, 1.12)
        self.lean_deg = rng.uniform(2.0, 6.0)

    @property
    def time_s(self) -> float:
        """Present time."""
        return self.samples / self.course.rate_hz

    def note(self, name: str, start_s: float) -> None:
        """Keep the stretch from a time until now under a name.

        Parameters
        ----------
        name : str
            What it was.
        start_s : float
            When it began.
        """
        self.course.intervals.setdefault(name, []).append(Interval(start_s, self.time_s))

    def uniform(self, low: float, high: float) -> float:
        """Draw a number by chance.

        Parameters
        ----------
        low, high : float
            Range.

        Returns
        -------
        float
            The number.
        """
        return float(self.rng.uniform(low, high))

    def _write(self, count: int, changing: Mapping[str, Floats]) -> None:
        for name in CHANNELS:
            values = changing.get(name)
            self.pieces[name].append(np.full(count, self.now[name]) if values is None else values)
            if values is not None:
                self.now[name] = float(values[-1])
        self.samples += count

    def move(self, duration_s: float, *, straightness: float = 0.0, skew: float = 1.0, **targets: float) -> None:
        """Bring channels to their targets.

        Parameters
        ----------
        duration_s : float
            Time that it takes.
        straightness : float
            0 is minimum jerk, 1 an even speed.
        skew : float
            Above 1 a slow start, below 1 a slow end.
        **targets : float
            Value of each channel at the end.
        """
        count = max(1, round(duration_s * self.course.rate_hz))
        share = (np.arange(1, count + 1) / count) ** skew
        way = (1 - straightness) * minimum_jerk(share) + straightness * share
        self._write(count, {name: self.now[name] + (value - self.now[name]) * way for name, value in targets.items()})

    def stay(self, duration_s: float) -> None:
        """Keep the posture.

        Parameters
        ----------
        duration_s : float
            For how long.
        """
        self.move(duration_s)

    def stand(self, duration_s: float, *, error_deg: float | None = None) -> None:
        """Come to stand with the foot flat, about neutral.

        Parameters
        ----------
        duration_s : float
            Time that it takes.
        error_deg : float or None
            How far off neutral; None: by chance, as nobody comes back to quite the same angle.
        """
        angle = self.stand_deg + (self.rng.normal(0, 0.8) if error_deg is None else error_deg)
        pitch = -0.55 * angle if self.knee else angle
        self.move(duration_s, angle=angle, pitch=pitch, roll=0.0, flat=1.0, sway=1.0)

    def pose(self, angle_deg: float, depth: float) -> dict[str, float]:
        """Take the posture of the exercise at an angle.

        Parameters
        ----------
        angle_deg : float
            Joint angle.
        depth : float
            Share of the way into the end range.

        Returns
        -------
        dict of str to float
            Value of each channel that differs.
        """
        if self.knee:
            return {"angle": angle_deg, "pitch": -0.58 * angle_deg, "flat": 0.0}
        if self.routine.foot_stays_flat:
            return {"angle": angle_deg, "pitch": angle_deg, "flat": 1.0}
        if self.routine.on_floor and depth >= 1:
            raised_deg = self.routine.heel_raised_deg
            return {"angle": angle_deg, "pitch": angle_deg + raised_deg, "flat": 0.0 if raised_deg else 1.0}
        return {"angle": angle_deg, "pitch": self.lean_deg * depth, "flat": 0.0}

    def walk(self, strides: int, *, length_m: float = 1.2, turn_deg: float = 0.0, rise_m: float = 0.0) -> None:
        """Walk, turn, or step up, from standing to standing.

        Parameters
        ----------
        strides : int
            Steps of the leg that wears the sensors.
        length_m : float
            Length of each.
        turn_deg : float
            Turn on the way, to the left.
        rise_m : float
            Height gained.
        """
        start_s = self.time_s
        stride_s = self.uniform(1.0, 1.2)
        count = round(strides * stride_s * self.course.rate_hz)
        share = np.arange(1, count + 1) / count
        phase = 0.3 + strides * share
        edge = np.minimum(share, 1 - share) * strides / 0.7
        size = minimum_jerk(np.clip(edge, 0, 1)) * self.gait_size * (0.35 + 0.65 * min(1.0, length_m / 1.2))
        shank = self.curves["shank"](phase)
        bend = 25 * np.sin(np.pi * share) ** 2 if rise_m else 0.0
        if self.knee:
            angle = self.curves["knee"](phase)
            pitch = shank - angle - 0.6 * bend
            angle = angle + 1.6 * bend
        else:
            angle, pitch = self.curves["ankle"](phase) + 0.5 * bend, shank + bend
        swing = minimum_jerk(np.clip((phase % 1 - 0.62) / 0.38, 0, 1))
        way = (np.floor(phase) + swing) * length_m
        still = 1 - minimum_jerk(np.clip(edge, 0, 1))
        lift = self.curves["heel" if self.knee else "toe"](phase)
        self._write(
            count,
            {
                "angle": self.now["angle"] * still + size * angle,
                "pitch": self.now["pitch"] * still + size * pitch,
                "roll": size * 3 * np.sin(2 * np.pi * phase),
                "yaw": self.now["yaw"] + turn_deg * minimum_jerk(share),
                "ahead": self.now["ahead"] + way,
                "height": self.now["height"] + size * lift + rise_m * minimum_jerk(share),
                "flat": self.now["flat"] * still,
            },
        )
        for stride in range(1, strides + 1):
            strike_s = start_s + (stride - 0.3) / strides * count / self.course.rate_hz
            self.course.shocks.append((strike_s, self.uniform(15, 40) * min(1.0, length_m / 1.0)))
        self.note("walking", start_s)

    def fidget(self) -> None:
        """Something small that people do while they stand."""
        kind = self.rng.integers(4)
        angle, pitch, roll = self.now["angle"], self.now["pitch"], self.now["roll"]
        size, time_s = self.uniform(4, 12), self.uniform(0.4, 0.9)
        if kind == 0:
            self.move(time_s, roll=roll + size / 3)
        elif kind == 1 and not self.knee:
            self.move(time_s, angle=angle - size, flat=0.0)
        elif kind == 2 and not self.knee:
            self.move(time_s, angle=angle + size, flat=0.0)
        else:
            self.move(time_s, angle=angle + size, pitch=pitch + (-0.55 * size if self.knee else size))
        self.stay(self.uniform(0.1, 0.8))
        self.stand(time_s)

    def linger(self, duration_s: float) -> None:
        """Stand for a while, with fidgets, weight shifts and a small step now and then.

        Parameters
        ----------
        duration_s : float
            For how long.
        """
        until_s = self.time_s + duration_s
        while until_s - self.time_s > 2.5:
            self.stay(min(self.uniform(1, 8), until_s - self.time_s - 2))
            chance = self.rng.random()
            if chance < 0.55:
                self.fidget()
            elif chance < 0.65:
                self.walk(1, length_m=self.uniform(0.02, 0.15), turn_deg=self.uniform(-20, 20))
                self.stand(0.5)
        self.stay(max(0.1, until_s - self.time_s))

    def finish(self) -> Course:
        """Join the pieces; corners are rounded as muscles and limbs do (Gaussian, 30 ms).

        Returns
        -------
        Course
            All channels and what they mean.
        """
        from scipy.ndimage import gaussian_filter1d  # noqa: PLC0415 - only simulations need it

        sigma = 0.03 * self.course.rate_hz
        self.course.channels = {
            name: gaussian_filter1d(np.concatenate(pieces), sigma, mode="nearest")
            for name, pieces in self.pieces.items()
        }
        return self.course

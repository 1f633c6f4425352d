"""Two sensors of one simulated session, each read by a clock of its own: offset, skew and rate are known exactly."""

from dataclasses import dataclass

import numpy as np

from imu_rom.recording.clock_search import SensorMotion
from imu_rom.simulation import Person, Routine, SensorErrors
from imu_rom.simulation.body import move_body, random_body
from imu_rom.simulation.course import run_course
from imu_rom.simulation.own_clock import OwnClock, measured_by_own_clock

FINE_HZ = 200.0


@dataclass(frozen=True)
class Session:
    """What happened, to be measured as often as wanted."""

    course: object
    motion: object

    @classmethod
    def simulated(cls, seed, **routine):
        streams = np.random.default_rng(seed).spawn(3)
        doing = Routine(**{"sets": 2, "repetitions": 6, "rest_s": 40.0} | routine)
        course = run_course(doing, 0.0, FINE_HZ, streams[0])
        return cls(course, move_body(course, random_body(Person(), doing, streams[1]), Person(), streams[2]))

    @property
    def duration_s(self):
        return len(self.motion.angle_deg) / FINE_HZ

    def measured(self, which, clock, rate_hz=100.0, *, seed=1, full_scale_m_s2=None):
        """One sensor's motion by its own clock, counted from its first sample."""
        rng = np.random.default_rng(seed)
        stamps_s, force, rate = measured_by_own_clock(self.motion, which, clock, rate_hz, SensorErrors(), rng)
        if full_scale_m_s2 is not None:
            force = np.clip(force, -full_scale_m_s2, full_scale_m_s2)
        return SensorMotion(0.0, rate_hz, force, rate, np.zeros(len(stamps_s), dtype=bool))

    def pair(self, offset_s=7.3, skew_ppm=80.0, rates_hz=(100.0, 100.0), **options):
        """Both sensors, and the true reference time of the other's first sample and the true skew.

        A sample is the mean over the interval before its stamp, so a slower sensor's samples come from earlier.
        """
        first = self.measured("proximal", OwnClock("shank", 0.0), rates_hz[0], seed=1, **options)
        second = self.measured("distal", OwnClock("foot", offset_s, skew_ppm), rates_hz[1], seed=2, **options)
        skew = 1e-6 * skew_ppm
        middle_s = offset_s + (1 + skew) * 0.5 / rates_hz[1]
        return first, second, middle_s - 0.5 / rates_hz[0], skew


def without(motion, start_s, stop_s):
    """The sensor delivered nothing in between."""
    missing = motion.missing.copy()
    missing[round(start_s * motion.rate_hz) : round(stop_s * motion.rate_hz)] = True
    return SensorMotion(0.0, motion.rate_hz, motion.accelerometer_m_s2, motion.gyroscope_rad_s, missing)


def part(motion, start_s, stop_s):
    """A part of the recording, counted from its own first sample."""
    rows = slice(round(start_s * motion.rate_hz), round(stop_s * motion.rate_hz))
    samples = motion.accelerometer_m_s2[rows], motion.gyroscope_rad_s[rows], motion.missing[rows]
    return SensorMotion(0.0, motion.rate_hz, *samples)


def lost(motion, at_s, count):
    """Samples that are missing without a trace: from there on the clock is wrong."""
    at = round(at_s * motion.rate_hz)
    rows = np.r_[:at, at + count : len(motion.missing)]
    samples = motion.accelerometer_m_s2[rows], motion.gyroscope_rad_s[rows], motion.missing[rows]
    return SensorMotion(0.0, motion.rate_hz, *samples)

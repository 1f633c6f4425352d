"""Smooth courses over time for hands, arms and motors: pieces to write a rig's joints and places with."""

import numpy as np
from scipy.ndimage import gaussian_filter1d

__all__ = ["activity", "minimum_jerk", "smooth_triangle", "wandering", "waypoints"]


def minimum_jerk(share):
    """Step from 0 to 1 by minimum jerk (Flash and Hogan 1985, doi:10.1523/JNEUROSCI.05-07-01688.1985)."""
    s = np.clip(share, 0.0, 1.0)
    return s**3 * (10.0 - 15.0 * s + 6.0 * s * s)


def activity(time_s, rng, *, still_s=(4.0, 4.0), pieces_s=(2.0, 7.0), pause_share=0.2, speeds=(0.35, 1.8)):
    """How fast a hand works, over time: 0 at both ends and in pauses, else one of many speeds, with soft changes."""
    pace = np.zeros(len(time_s))
    now_s, stop_s = still_s[0], time_s[-1] - still_s[1]
    while now_s < stop_s:
        piece_s = rng.uniform(*pieces_s)
        if rng.random() > pause_share:
            inside = (time_s >= now_s) & (time_s < min(now_s + piece_s, stop_s))
            pace[inside] = np.exp(rng.uniform(*np.log(speeds)))
        else:
            piece_s = rng.uniform(0.8, 2.5)
        now_s += piece_s
    return gaussian_filter1d(pace, 0.15 / (time_s[1] - time_s[0]), mode="nearest")


def wandering(time_s, pace, rng, *, span, hertz=(0.12, 0.5), tones=5):
    """Return a course that wanders over a span at a pace, starting at 0: a few tones in any phase."""
    clock_s = np.concatenate([[0.0], np.cumsum(pace)[:-1]]) * (time_s[1] - time_s[0])
    hertz = np.exp(rng.uniform(*np.log(hertz), size=tones))
    phases = rng.uniform(0.0, 2.0 * np.pi, size=tones)
    course = np.zeros(len(time_s))
    for each, phase in zip(hertz, phases, strict=True):
        course += np.sin(2.0 * np.pi * each * clock_s + phase) / np.sqrt(each)
    course *= span / np.ptp(course)
    return course - course[0]


def waypoints(time_s, rng, *, draw, start_s=2.0, leg_s=(1.5, 4.0), dwell_s=(0.0, 1.0), first=None):
    """Go through drawn points, all coordinates together, each leg at rest at both ends; shape (n, k)."""
    here = np.asarray(draw() if first is None else first, dtype=float)
    course = np.tile(here, (len(time_s), 1))
    now_s = start_s
    while now_s < time_s[-1] - 2.0 - leg_s[1]:
        there = np.asarray(draw(), dtype=float)
        seconds = rng.uniform(*leg_s)
        course += minimum_jerk((time_s - now_s) / seconds)[:, None] * (there - here)
        here = there
        now_s += seconds + rng.uniform(*dwell_s)
    return course


def smooth_triangle(time_s, period_s, corner_s):
    """Return a triangle wave between 0 and 1 whose corners take ``corner_s``; it starts at 0."""
    wave = np.abs(np.mod(time_s / period_s * 2.0 + 1.0, 2.0) - 1.0)
    # the last step: a course that waits first begins with several zeros
    return gaussian_filter1d(wave, corner_s / (time_s[-1] - time_s[-2]), mode="nearest")

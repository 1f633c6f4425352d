"""Rows of the benchmark of rigs: which rig, how measured, and what is to be reached."""

from collections.abc import Callable
from dataclasses import dataclass, field

import rigs

__all__ = ["RIG_ROWS", "RigRow"]


@dataclass(frozen=True)
class RigRow:
    """Recordings of one kind.

    Parameters
    ----------
    rig : callable
        Seed and keywords to a `Rig`.
    meaning : str
        One line for people.
    keywords : dict
        For the rig.
    seeds : int
        How many of them at the usual size of the benchmark.
    each_deg, mean_deg : float or None
        Dynamic RMSE to reach by every joint, and by their mean; None where nothing is asked.
    filters : bool
        True: the other attitude filters are measured too (they take minutes on long recordings).
    upright : bool
        True: the axis stays upright, so that the angle drifts and only its interval is judged.
    settings : dict
        Settings of the angle that are told, by name.
    """

    rig: Callable
    meaning: str
    keywords: dict = field(default_factory=dict)
    seeds: int = 4
    each_deg: float | None = None
    mean_deg: float | None = None
    filters: bool = False
    upright: bool = False
    settings: dict = field(default_factory=dict)


def _chains():
    rows = {
        "chain": RigRow(
            rigs.chain,
            "three hinges moved by hand, 40 Hz, 67 s, optical reference of 0.2 deg",
            seeds=12,
            each_deg=0.7,
            mean_deg=0.45,
            filters=True,
        ),
        "chain on foam": RigRow(
            rigs.chain,
            "the same, every sensor on foam that rocks by 5 to 10 deg",
            {"soft": True},
            seeds=12,
            each_deg=3.0,
            mean_deg=1.8,
            filters=True,
        ),
    }
    for kind, foam, meaning in (
        ("softer", {"lean_deg_per_g": (5.0, 8.0), "resonance_hz": (2.0, 6.0)}, "on foam that rocks by 5 to 9 deg"),
        ("slow", {"lean_deg_per_g": (3.0, 6.0), "resonance_hz": (1.0, 3.0)}, "on foam that swings at 1 to 3 Hz"),
    ):
        for seconds in (67.0, 30.0):
            name = f"chain on {kind} foam{', 30 s' if seconds == 30.0 else ''}"
            rows[name] = RigRow(
                rigs.chain,
                f"{seconds:.0f} s at 40 Hz, every sensor {meaning} to each side",
                {"soft": foam, "seconds": seconds},
                seeds=12,
                each_deg=3.0,
                mean_deg=1.8,
            )
    for rate_hz in (60.0, 100.0, 200.0):
        for soft in (False, True):
            name = f"chain{' on foam' if soft else ''}, {rate_hz:.0f} Hz"
            goal = (3.0, 1.8) if soft else (0.7, 0.45)
            rows[name] = RigRow(
                rigs.chain,
                f"the same at {rate_hz:.0f} Hz",
                {"soft": soft, "rate_hz": rate_hz},
                each_deg=goal[0],
                mean_deg=goal[1],
                filters=rate_hz == 100.0,
            )
    for soft in (False, True):
        goal = (3.0, 1.8) if soft else (0.7, 0.45)
        name = f"chain{' on foam' if soft else ''}"
        short = {"soft": soft, "seconds": 30.0, "rate_hz": 100.0}
        rows[f"{name}, 30 s"] = RigRow(
            rigs.chain, "30 s at 100 Hz", short, seeds=40, each_deg=goal[0], mean_deg=goal[1], filters=True
        )
        rows[f"{name}, 30 min"] = RigRow(
            rigs.chain, "30 min at 40 Hz", {"soft": soft, "seconds": 1800.0}, 1, each_deg=goal[0], mean_deg=goal[1]
        )
    for name, sampling, settings, meaning in (
        (
            "chain, instants",
            "point",
            {},
            "each sample an instant's, which the analysis is not told: half a sample early",
        ),
        ("chain, instants, said", "point", {"gyroscope_samples": "instants"}, "the same, and the analysis is told"),
        ("chain, means about", "mean", {}, "each sample the mean about its time, which the analysis is not told"),
    ):
        keywords = {"sampling": sampling}
        rows[name] = RigRow(rigs.chain, meaning, keywords, each_deg=0.7, mean_deg=0.45, settings=settings)
    rows["chain, fast"] = RigRow(rigs.chain, "moved twice as fast", {"pace": 2.0}, each_deg=0.7, mean_deg=0.45)
    return rows


def _machines():
    rows = {
        "arm": RigRow(
            rigs.arm, "robot arm, point to point, five joints, 30 to 47 s", seeds=6, each_deg=0.45, filters=True
        ),
        "arm circling": RigRow(
            rigs.arm,
            "all joints swing by 10 to 30 deg slowly and together",
            {"circling": True},
            seeds=6,
            each_deg=0.45,
            filters=True,
        ),
        "pendulum": RigRow(rigs.pendulum, "3 to 4 min at 91 Hz, optical reference", seeds=4, each_deg=1.2),
        "double pendulum": RigRow(rigs.double_pendulum, "two rods, axes not parallel", seeds=4, each_deg=1.2),
    }
    for upright in (False, True):
        for speed, goal in (("slow", 0.8), ("medium", 0.8), ("fast", 2.0)):
            rows[f"motor {speed}{', upright' if upright else ''}"] = RigRow(
                rigs.motor,
                f"low-cost sensors, 25 min at 100 Hz, encoder, axis {'vertical' if upright else 'horizontal'}",
                {"speed": speed, "upright": upright},
                seeds=2,
                each_deg=None if upright else goal,
                upright=upright,
            )
    return rows


def _people():
    rows = {
        name: RigRow(
            rigs.leg,
            "bones' angle, sensors on skin and shoe, repetition by repetition",
            {"exercise": name},
            seeds=8,
            mean_deg=3.0,
            filters=True,
        )
        for name in rigs.EXERCISES
    }
    rows["squats, one by one"] = RigRow(
        rigs.leg, "each squat a recording of its own", {"exercise": "squats", "repetitions": 1}, seeds=8, mean_deg=3.0
    )
    return rows


RIG_ROWS = {**_chains(), **_machines(), **_people()}

"""The table of accuracy on rigs with exactly known angles, beside a general-purpose toolbox.

What is measured and how stands in ``rig_figures.py`` and ``toolbox.py``; the rigs and their goals in ``rig_rows.py``.
"""

import math
import sys
from concurrent.futures import Executor

from rig_figures import JointFigures, RigSummary, measure_rig, rig_summary
from rig_rows import RIG_ROWS, RigRow

from imu_rom.motion.orientation import FILTERS

__all__ = ["rig_lines"]

COVERED_SHARE = 0.93
COVERED_UPRIGHT_SHARE = 0.90
SAME_DEG = 0.02
"""What differs by less is the same: a tenth of the optical references' own noise."""

HEADINGS = [
    "rig (joints)",
    "ours: mean, worst",
    "toolbox: mean, worst",
    "to reach: each, mean",
    "joints where the toolbox is better by over 0.1 deg",
    "95 % intervals that hold the truth",
    "their mean width",
    "our lateness",
    "ours without it",
    "ours, whole recording",
    *(f"ours with {name}" for name in FILTERS[1:]),
]


def _deg(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.2f}"


def _goal(row: RigRow) -> str:
    parts = [f"{word} {goal:g}" for word, goal in (("each", row.each_deg), ("mean", row.mean_deg)) if goal is not None]
    return ", ".join(parts) or "-"


def misses(row: RigRow, found: RigSummary) -> list[str]:
    """Say in words what a row misses."""
    judged = [
        ("refused", found.refusals > 0),
        ("each", row.each_deg is not None and not found.worst_deg <= row.each_deg),
        ("mean", row.mean_deg is not None and not found.mean_deg <= row.mean_deg),
        ("toolbox is better", not row.upright and found.toolbox_mean_deg < found.mean_deg - SAME_DEG),
        ("coverage", not found.covered >= (COVERED_UPRIGHT_SHARE if row.upright else COVERED_SHARE)),
    ]
    return [word for word, missed in judged if missed]


def _line(name: str, row: RigRow, found: RigSummary) -> str:
    missed = misses(row, found)
    cells = [
        f"{name} ({found.joints})" + (f" **missed: {', '.join(missed)}**" if missed else ""),
        f"{_deg(found.mean_deg)}, {_deg(found.worst_deg)}",
        f"{_deg(found.toolbox_mean_deg)}, {_deg(found.toolbox_worst_deg)}",
        _goal(row),
        str(found.toolbox_wins),
        f"{100.0 * found.covered:.1f} %",
        _deg(found.width_deg),
        f"{found.late_samples:+.2f}",
        _deg(found.in_time_deg),
        _deg(found.whole_deg),
        *(_deg(found.filters_deg.get(each, math.nan)) for each in FILTERS[1:]),
    ]
    return "| " + " | ".join(cells) + " |"


def _told(name: str, row: RigRow, figures: list[JointFigures], setting: str) -> None:
    """Name on stderr the joints that miss their goal, lose against the toolbox, or are covered badly."""
    for each in figures:
        ours, theirs = each.rmse_deg.get(FILTERS[0], math.nan), each.toolbox_deg.get(setting, math.nan)
        found = [
            word
            for word, failed in (
                (each.refusal, bool(each.refusal)),
                ("goal missed", row.each_deg is not None and ours > row.each_deg),
                ("toolbox better", not row.upright and theirs < ours - 0.1),
                ("coverage", each.covered < COVERED_UPRIGHT_SHARE),
            )
            if failed
        ]
        if found:
            print(
                f"{name}, seed {each.seed}, {each.joint}: ours {ours:.2f} deg, toolbox {theirs:.2f} deg, "
                f"covered {each.covered:.2f}, width {each.width_deg:.1f} deg: {', '.join(found)}",
                file=sys.stderr,
                flush=True,
            )


def _measured(job: tuple[str, int]) -> list[JointFigures]:
    """Measure one recording, in a process of its own pool."""
    name, seed = job
    return measure_rig(RIG_ROWS[name], seed)


def rig_lines(
    pool: Executor, names: list[str], *, share: float, first_seed: int, details: bool
) -> tuple[list[str], bool]:
    """Measure all rows; return the lines to print below the heading, and whether nothing is missed.

    Parameters
    ----------
    pool : concurrent.futures.Executor
        Processes to measure in.
    names : list of str
        Rows.
    share : float
        Of each row's usual number of recordings; at least one is made.
    first_seed : int
        Seed of each row's first recording.
    details : bool
        Name the joints that fall short, on stderr.

    Returns
    -------
    tuple of list of str and bool
        Markdown, and True where no row misses anything.
    """
    lines, settings, kept = [], {}, True
    for name in names:
        row = RIG_ROWS[name]
        jobs = [(name, first_seed + index) for index in range(max(1, round(row.seeds * share)))]
        figures = [each for joints in pool.map(_measured, jobs) for each in joints]
        found = rig_summary(figures)
        settings[name] = found.toolbox_setting
        kept = kept and not misses(row, found)
        lines.append(_line(name, row, found))
        print(lines[-1], file=sys.stderr, flush=True)
        if details:
            _told(name, row, figures, found.toolbox_setting)
    return [
        "Recordings of rigs with exactly known angles, made from rigid-body physics; dynamic RMSE in degrees after",
        "one constant offset, from the first movement to the last. Ours is blind: no axis, mounting, zero or sign is",
        "given; the sign is arbitrary, so the better of both is taken, for the toolbox too. The toolbox has the",
        "setting that is best over the row. The optical references carry 0.2 deg of noise of their own. Lateness is in",
        "samples.",
        "",
        *(f"- {name}: {RIG_ROWS[name].meaning}; toolbox with {settings[name]}" for name in names),
        "",
        "| " + " | ".join(HEADINGS) + " |",
        "|" + "---|" * len(HEADINGS),
        *lines,
        "",
    ], kept

"""Figures of accuracy on rigs: what is analysed, what is counted.

Ours is blind: the recording and the two sensors' names, ``measure_angle(..., neutral=None)``; no axis, mounting, sign
or zero. As the sign is arbitrary, the better of both is taken, for the toolbox too, and one constant offset is removed
from all that is judged (from each repetition where the row says so).

Judged is from a second before the joint first moves to a second after it last does: the toolbox' heading needs to see
movement first, and its error while everything lies still would hide how good it is afterwards. Ours over the whole
recording stands beside.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import toolbox
from rig_rows import RigRow

from imu_rom.errors import ImuRomError
from imu_rom.motion.orientation import FILTERS
from imu_rom.session import measure_angle
from imu_rom.settings import Settings

__all__ = ["JointFigures", "RigSummary", "judged", "measure_rig", "rig_summary"]

STANDARD_NORMAL_95 = 1.959964
LEFT_DEG = 2.0
"""Farther from where it lay, a joint has moved: ten times the noise of the optical reference."""


@dataclass(frozen=True)
class JointFigures:
    """Figures of one joint of one recording.

    Parameters
    ----------
    seed : int
        Of the rig.
    joint : str
        Its name.
    rmse_deg : dict of str to float
        Ours by attitude filter.
    toolbox_deg : dict of str to float
        The toolbox's by setting; NaN where it gives nothing.
    late_samples : float
        By how many samples our angle is late, and the RMSE without it.
    in_time_deg : float
        RMSE once that lateness is removed.
    whole_deg : float
        RMSE of ours over the whole recording, with one offset.
    covered : float
        Share of samples whose 95 % interval holds the truth, offset removed.
    width_deg : float
        Mean width of the interval, from end to end.
    refusal : str
        The error's sentence, empty where the recording was answered.
    """

    seed: int
    joint: str
    rmse_deg: dict
    toolbox_deg: dict
    late_samples: float = math.nan
    in_time_deg: float = math.nan
    whole_deg: float = math.nan
    covered: float = math.nan
    width_deg: float = math.nan
    refusal: str = ""


def moving_part(angle_deg, rate_hz):
    """Return the samples from a second before the joint leaves where it lay to a second after it comes to rest."""
    moved = [np.flatnonzero(np.abs(angle_deg - angle_deg[end]) > LEFT_DEG) for end in (0, -1)]
    if not len(moved[0]) or not len(moved[1]):
        return slice(None)
    around = round(rate_hz)
    return slice(max(0, moved[0][0] - around), min(len(angle_deg), moved[1][-1] + around))


def judged(angle_deg, reference_deg, parts):
    """Return error with the better sign and without offset, as one array a part."""
    found = []
    for sign in (1.0, -1.0):
        off = sign * angle_deg - reference_deg
        found.append([off[part] - np.mean(off[part]) for part in parts])
    return min(found, key=lambda each: sum(float(np.sum(part**2)) for part in each))


def _rmse(off):
    """Root mean square; the mean of those of many parts."""
    return float(np.mean([np.sqrt(np.mean(part**2)) for part in off]))


def _late(off, reference_deg, parts):
    """How many samples late the angle is, and the errors without it: an error as large as the rate shows it."""
    rate = np.gradient(reference_deg)
    steady = [rate[part] - np.mean(rate[part]) for part in parts]
    flat, slope = np.concatenate(off), np.concatenate(steady)
    late = -float(flat @ slope / max(slope @ slope, 1e-12))
    return late, [each + late * part for each, part in zip(off, steady, strict=True)]


def measure_rig(row: RigRow, seed: int, *, filters: bool = True, with_toolbox: bool = True) -> list[JointFigures]:
    """Make one recording and take the figures of all its joints.

    Parameters
    ----------
    row : RigRow
        What to make.
    seed : int
        Of the rig.
    filters : bool
        False: the default attitude filter alone, even where the row asks for all.
    with_toolbox : bool
        False: without the toolbox, which takes most of the time.

    Returns
    -------
    list of JointFigures
        One a joint.
    """
    rig = row.rig(seed, **row.keywords)
    recording = rig.recording()
    found = []
    for joint in rig.joints:
        if joint.angle_deg.ndim > 1:
            continue
        parts = [slice(*(round(each * rig.rate_hz) for each in part)) for part in joint.parts_s]
        parts = parts or [moving_part(joint.angle_deg, rig.rate_hz)]
        toolbox_deg = {}
        if with_toolbox:
            for setting, angle_deg in toolbox.hinge_angles_deg(*rig.pair(joint), rig.rate_hz).items():
                off = None if angle_deg is None else judged(angle_deg, joint.angle_deg, parts)
                toolbox_deg[setting] = math.nan if off is None else _rmse(off)
        figures = JointFigures(seed, joint.name, {}, toolbox_deg)
        for name in FILTERS if filters and row.filters else FILTERS[:1]:
            settings = Settings(angle=replace(Settings().angle, attitude_filter=name, **row.settings))
            try:
                trace = measure_angle(recording, joint.proximal, joint.distal, neutral=None, settings=settings).trace
            except ImuRomError as error:
                if name == FILTERS[0]:
                    figures = replace(figures, refusal=str(error))
                continue
            off = judged(trace.angle_deg, joint.angle_deg, parts)
            figures.rmse_deg[name] = _rmse(off)
            if name == FILTERS[0]:
                half_deg = STANDARD_NORMAL_95 * np.concatenate([trace.standard_uncertainty_deg[part] for part in parts])
                late, in_time = _late(off, joint.angle_deg, parts)
                figures = replace(
                    figures,
                    late_samples=late,
                    in_time_deg=_rmse(in_time),
                    whole_deg=_rmse(judged(trace.angle_deg, joint.angle_deg, [slice(None)])),
                    covered=float(np.mean(np.abs(np.concatenate(off)) <= half_deg)),
                    width_deg=float(np.mean(2.0 * half_deg)),
                )
        found.append(figures)
    return found


@dataclass(frozen=True)
class RigSummary:
    """Figures of a row's joints together.

    Parameters
    ----------
    joints : int
        How many joints of how many recordings.
    refusals : int
        Those that were not answered.
    mean_deg, worst_deg, whole_deg : float
        Ours; the last is the mean over whole recordings.
    toolbox_mean_deg, toolbox_worst_deg : float
        The toolbox's, by the setting whose mean is lowest over this row.
    toolbox_setting : str
        That setting.
    toolbox_wins : int
        Joints in which that setting is better than ours by more than a tenth of a degree.
    late_samples, in_time_deg : float
        Means.
    covered, width_deg : float
        Means over joints.
    filters_deg : dict of str to float
        Mean by attitude filter.
    """

    joints: int
    refusals: int
    mean_deg: float
    worst_deg: float
    whole_deg: float
    toolbox_mean_deg: float
    toolbox_worst_deg: float
    toolbox_setting: str
    toolbox_wins: int
    late_samples: float
    in_time_deg: float
    covered: float
    width_deg: float
    filters_deg: dict


def _mean(values: Iterable[float]) -> float:
    kept = list(values)
    return float(np.mean(kept)) if kept else math.nan


def rig_summary(figures: list[JointFigures]) -> RigSummary:
    """Put the figures of many joints together.

    Parameters
    ----------
    figures : list of JointFigures
        One a joint.

    Returns
    -------
    RigSummary
        Their summary.
    """
    answered = [each for each in figures if not each.refusal]
    ours = [each.rmse_deg[FILTERS[0]] for each in answered]
    settings = {name for each in figures for name in each.toolbox_deg}
    # where it stops with an error, it counts as a right angle off
    theirs = {
        name: [90.0 if math.isnan(each.toolbox_deg[name]) else each.toolbox_deg[name] for each in figures]
        for name in sorted(settings)
    }
    best = min(theirs, key=lambda name: float(np.mean(theirs[name])), default="")
    return RigSummary(
        joints=len(figures),
        refusals=len(figures) - len(answered),
        mean_deg=_mean(ours),
        worst_deg=max(ours, default=math.nan),
        whole_deg=_mean(each.whole_deg for each in answered),
        toolbox_mean_deg=_mean(theirs.get(best, [])),
        toolbox_worst_deg=max(theirs.get(best, []), default=math.nan),
        toolbox_setting=best,
        toolbox_wins=sum(each.toolbox_deg[best] < each.rmse_deg[FILTERS[0]] - 0.1 for each in answered if best),
        late_samples=_mean(each.late_samples for each in answered),
        in_time_deg=_mean(each.in_time_deg for each in answered),
        covered=_mean(each.covered for each in answered),
        width_deg=_mean(each.width_deg for each in answered),
        filters_deg={
            name: _mean(each.rmse_deg[name] for each in answered if name in each.rmse_deg)
            for name in FILTERS
            if any(name in each.rmse_deg for each in answered)
        },
    )

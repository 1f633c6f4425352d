"""A check that a clinic does on one person: taped several times, the same posture each time; composition only.

What is measured. Each taping puts the sensors somewhere else, so the angle between the sensors themselves means
nothing. What should come out the same each time is the angle of one posture, counted from the neutral pose, as in use
all angles are counted from it. So each recording holds the neutral pose and then a posture that something firm sets:
the foot on a wedge and the knee against a wall, say.

What its spread means. The pose, the posture, where the sensors sit, the axis found and the sensors' own errors all go
into it. All of it is charged to the neutral pose: the posture is set by something firm, and the other parts are small.
Halving the variance, as if pose and posture varied alike, would make the zero look better on an assumption that this
check does not test. So the zero term errs on the large side, never on the small one.

What it can't show. How far the person's usual neutral pose is from foot flat and shank upright: that needs a posture
whose angle is known. Without one, the zero term holds for angles that count from the person's own neutral pose.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from imu_rom.errors import CannotAnswerError, SettingError
from imu_rom.findings import Finding
from imu_rom.motion.small_samples import Spread, coverage_factor, effective_degrees, spread_of
from imu_rom.recording.model import InputFile, Recording
from imu_rom.session.measurement import measure_angle, still_stretches
from imu_rom.session.result import AngleMeasurement, StillStretch
from imu_rom.settings import Settings, UncertaintySettings

__all__ = ["Taping", "TapingCheck", "check_tapings"]

FEWEST = 3
USUAL = 5
SHORTEST_POSE_S = 7.0
SHORTEST_NAMED_S = 2.0
SMALLEST_POSTURE_DEG = 5.0
SPREADS_FROM_ZERO = 3.0
POOR_QUALITY = 0.3
LARGEST_ZERO_DEG = 20.0

Stretch = tuple[float, float]


@dataclass(frozen=True)
class Taping:
    """One taping.

    Parameters
    ----------
    label : str
        Name of its recording.
    neutral_start_s, neutral_stop_s, posture_start_s, posture_stop_s : float
        Where neutral pose and posture are.
    angle_deg : float
        Angle of the posture from the neutral pose; its size, because without a plan nothing says which way counts.
    axis_quality : float
        0 (movement does not show the axis) to 1 (a clean hinge).
    """

    label: str
    neutral_start_s: float
    neutral_stop_s: float
    posture_start_s: float
    posture_stop_s: float
    angle_deg: float
    axis_quality: float


@dataclass(frozen=True)
class TapingCheck:
    """What taping again and again shows.

    Parameters
    ----------
    recordings : tuple of Recording
        What was measured, one a taping.
    proximal, distal : str
        Tracked points of the two sensors.
    tapings : tuple of Taping
        In the order of the recordings.
    spread : Spread
        Of their angles, in degrees.
    posture_deg, u_posture_deg : float or None
        Known angle of the posture from true neutral, and its standard uncertainty; None: not known.
    offset_deg : float or None
        Mean of the angles less the known one: the person's usual neutral pose is off by so much the other way.
    offset_low_deg, offset_high_deg : float or None
        Its 95 % interval.
    own_standing_deg : float
        Standard uncertainty of a zero that is the person's own neutral pose: how well it repeats.
    zero_pose_deg : float or None
        Standard uncertainty of a zero that is the joint's own: that, and the offset; None where no angle is known.
    plan_parts : dict of str to float
        What a plan may take from this, by the settings' names; empty where it is too large to work with.
    inputs : tuple of InputFile
        What was read.
    settings : Settings
        All settings.
    findings : tuple of Finding
        What was noticed.
    """

    recordings: tuple[Recording, ...]
    proximal: str
    distal: str
    tapings: tuple[Taping, ...]
    spread: Spread
    posture_deg: float | None
    u_posture_deg: float | None
    offset_deg: float | None
    offset_low_deg: float | None
    offset_high_deg: float | None
    own_standing_deg: float
    zero_pose_deg: float | None
    plan_parts: dict[str, float]
    inputs: tuple[InputFile, ...]
    settings: Settings
    findings: tuple[Finding, ...]


def check_tapings(
    recordings: Sequence[Recording],
    proximal: str,
    distal: str,
    *,
    poses_s: Sequence[tuple[Stretch, Stretch]] = (),
    posture_deg: float | None = None,
    u_posture_deg: float = 0.0,
    settings: Settings | None = None,
    inputs: Sequence[InputFile] = (),
) -> TapingCheck:
    """Work out how well the zero repeats from one taping to the next.

    Parameters
    ----------
    recordings : sequence of Recording
        One a taping, three or more.
    proximal, distal : str
        Tracked points of the two sensors.
    poses_s : sequence of ((float, float), (float, float)), optional
        Neutral pose and posture of each recording, in seconds; empty finds them.
    posture_deg : float, optional
        Known angle of the posture from true neutral; its sign does not matter.
    u_posture_deg : float
        Standard uncertainty of that.
    settings : Settings, optional
        All tunables; None takes the defaults.
    inputs : sequence of InputFile, optional
        Further files that were read, for provenance.

    Returns
    -------
    TapingCheck
        Angles, their spread and the zero term that it implies.

    Raises
    ------
    SettingError
        There are too few recordings, or the posture's angle can't be used.
    RecordingError
        A tracked point is not in a recording.
    CannotAnswerError
        A recording does not show both poses, the joint does not move in it, or the posture is too near neutral.
    """
    settings = settings or Settings()
    _check_requests(recordings, poses_s, posture_deg, u_posture_deg)
    tapings = []
    for index, recording in enumerate(recordings):
        if poses_s:
            neutral, posture = poses_s[index]
            for each in (neutral, posture):
                _check_stretch(recording, each, (proximal, distal))
        else:
            neutral, posture = _found(recording, still_stretches(recording, proximal, distal, settings=settings))
        measured = measure_angle(recording, proximal, distal, neutral=neutral, settings=settings)
        tapings.append(_taping(recording, neutral, posture, measured))
    spread = spread_of([each.angle_deg for each in tapings])
    _check_posture(tapings, spread)
    own_deg = spread.standard_uncertainty
    offset = low = high = zero_deg = None
    if posture_deg is not None:
        offset = spread.mean - abs(posture_deg)
        of_mean = (spread.standard_deviation / math.sqrt(spread.count), float(spread.degrees))
        parts = [of_mean, (u_posture_deg, math.inf)]
        half = coverage_factor(effective_degrees(parts)) * math.hypot(of_mean[0], u_posture_deg)
        low, high = offset - half, offset + half
        # an offset that nobody corrects counts as if it were chance
        zero_deg = math.hypot(own_deg, offset, u_posture_deg)
    return TapingCheck(
        recordings=tuple(recordings),
        proximal=proximal,
        distal=distal,
        tapings=tuple(tapings),
        spread=spread,
        posture_deg=posture_deg,
        u_posture_deg=None if posture_deg is None else u_posture_deg,
        offset_deg=offset,
        offset_low_deg=low,
        offset_high_deg=high,
        own_standing_deg=own_deg,
        zero_pose_deg=zero_deg,
        plan_parts=_plan_parts(own_deg, zero_deg, settings.uncertainty),
        inputs=(*(file for each in recordings for file in each.files), *inputs),
        settings=settings,
        findings=tuple(_findings(tapings, spread, own_deg, settings.uncertainty)),
    )


def _plan_parts(own_deg: float, zero_deg: float | None, usual: UncertaintySettings) -> dict[str, float]:
    parts = {"own_standing_deg": own_deg}
    if zero_deg is not None:
        parts["zero_pose_deg"] = zero_deg
    elif own_deg > usual.zero_pose_deg:
        # a pose that repeats no better than that is no nearer to the joint's own zero either
        parts["zero_pose_deg"] = own_deg
    return parts if max(parts.values()) <= LARGEST_ZERO_DEG else {}


def _check_requests(
    recordings: Sequence[Recording],
    poses_s: Sequence[tuple[Stretch, Stretch]],
    posture_deg: float | None,
    u_posture_deg: float,
) -> None:
    if len(recordings) < FEWEST:
        raise SettingError(
            f"must be {FEWEST} or more, one a taping, got {len(recordings)}",
            where="recordings",
            do=f"tape the same person again; {USUAL} tapings are a good number",
        )
    digests = [tuple(file.sha256 for file in each.files) for each in recordings]
    for index, digest in enumerate(digests):
        if digest and digest in digests[:index]:
            raise SettingError(f"must all differ, but {recordings[index].label} is there twice", where="recordings")
    if poses_s and len(poses_s) != len(recordings):
        raise SettingError(
            f"must be given once for each of the {len(recordings)} recordings, got {len(poses_s)}", where="poses"
        )
    if posture_deg is not None and not SMALLEST_POSTURE_DEG <= abs(posture_deg) <= 180:
        raise SettingError(
            f"must lie {SMALLEST_POSTURE_DEG:g} to 180 deg from neutral, got {posture_deg:g}", where="posture angle"
        )
    if not 0 <= u_posture_deg <= 20:
        raise SettingError(f"must lie in 0 to 20 deg, got {u_posture_deg:g}", where="posture uncertainty")


def _check_stretch(recording: Recording, stretch: Stretch, points: Sequence[str]) -> None:
    start_s, stop_s = stretch
    said = f"the pose {start_s:g}:{stop_s:g}"
    if stop_s > recording.duration_s:
        raise CannotAnswerError(
            f"{said} must lie within the recording, which ends at {recording.duration_s:.1f} s", where=recording.label
        )
    if stop_s - start_s < SHORTEST_NAMED_S:
        raise CannotAnswerError(f"{said} must be {SHORTEST_NAMED_S:g} s or longer", where=recording.label)
    for gap in recording.gaps:
        if gap.tracked_point in points and gap.start_s < stop_s and gap.stop_s > start_s:
            raise CannotAnswerError(
                f"{said} must lie outside the gaps in the data, such as {gap.start_s:.1f} to {gap.stop_s:.1f} s",
                where=recording.label,
            )


def _found(recording: Recording, still: Sequence[StillStretch]) -> tuple[Stretch, Stretch]:
    """Take the two long still stretches of a living body; sensors on a table are none."""
    long = [each for each in still if each.sways and each.stop_s - each.start_s >= SHORTEST_POSE_S]
    if len(long) != 2:
        places = ", ".join(f"{each.start_s:.1f} to {each.stop_s:.1f} s" for each in long)
        raise CannotAnswerError(
            f"neutral pose and posture must be the only two stretches of {SHORTEST_POSE_S:g} s or longer in which the "
            f"person keeps still, but there are {len(long)}{f': {places}' if places else ''}",
            where=recording.label,
            do="name both poses of each recording by --poses START:STOP,START:STOP",
        )
    first, second = long
    return (first.start_s, first.stop_s), (second.start_s, second.stop_s)


def _taping(recording: Recording, neutral: Stretch, posture: Stretch, measured: AngleMeasurement) -> Taping:
    trace = measured.trace
    inside = (trace.time_s >= posture[0]) & (trace.time_s <= posture[1])
    return Taping(
        label=recording.label,
        neutral_start_s=neutral[0],
        neutral_stop_s=neutral[1],
        posture_start_s=posture[0],
        posture_stop_s=posture[1],
        angle_deg=abs(float(np.median(trace.angle_deg[inside]))),
        axis_quality=measured.alignment.quality,
    )


def _check_posture(tapings: Sequence[Taping], spread: Spread) -> None:
    smallest = min(tapings, key=lambda each: each.angle_deg)
    if smallest.angle_deg < SMALLEST_POSTURE_DEG or spread.mean < SPREADS_FROM_ZERO * spread.standard_deviation:
        raise CannotAnswerError(
            f"the posture is too near the neutral pose to tell on which side of it it lies: {smallest.angle_deg:.1f} "
            f"deg, with a standard deviation of {spread.standard_deviation:.1f} deg",
            where=smallest.label,
            do="take a posture that is 10 deg or more away, such as the foot on a wedge",
        )


def _findings(
    tapings: Sequence[Taping], spread: Spread, own_deg: float, usual: UncertaintySettings
) -> Iterator[Finding]:
    if spread.count < USUAL:
        yield Finding(
            "few-tapings",
            "note",
            f"{spread.count} tapings know their own spread badly: the true standard deviation lies between "
            f"{spread.low:.1f} and {spread.high:.1f} deg; {USUAL} or more would narrow that.",
        )
    for each in tapings:
        if each.axis_quality < POOR_QUALITY:
            yield Finding(
                "poor-axis",
                "caution",
                f"{each.label}: the movement hardly shows the joint's axis (quality {each.axis_quality:.2f} of 1); "
                "three slow movements after the neutral pose would.",
            )
    if own_deg > LARGEST_ZERO_DEG:
        yield Finding(
            "zero-too-uncertain",
            "problem",
            f"A zero that is uncertain by {own_deg:.0f} deg can't be used; look for the taping that went wrong.",
        )
    elif spread.low > usual.zero_pose_deg:
        yield Finding(
            "zero-worse-than-usual",
            "caution",
            f"Surely worse than the usual {usual.zero_pose_deg:g} deg: the neutral pose was not the same each time, "
            "the posture was not, or a sensor was loose.",
        )

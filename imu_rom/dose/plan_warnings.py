"""What a clinician may want to look at again in a plan that has no contradictions: facts, never a refusal.

Depth and load that rise together from one stage to the next (common practice, no source: one at a time, so that a flare
can be traced to what changed); drops below a step and calf stretches in an early stage at the Achilles insertion (the
site's customary early limit; which stage is early is common practice, no source); steps of depth that are finer than
the change between two days that can be detected.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from imu_rom.dose.detectable_change import known_change, smallest_change
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure_answer import DetectableChange
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.sites import TendonSite, tendon_site
from imu_rom.dose.stage_depth import OVER_AN_EDGE, Depth, compresses, exercise_depth, stage_depth
from imu_rom.dose.stage_periods import stage_periods
from imu_rom.dose.totals import stage_totals

__all__ = ["DepthAndLoad", "EarlyCompression", "FineSteps", "LoadRise", "PlanWarnings", "Step", "plan_warnings"]

EARLY_SITE = "achilles insertion"
NEUTRAL_DEG = 0.0

LoadKind = Literal[
    "added weight",
    "share of body weight",
    "one leg",
    "repetition maximum",
    "repetitions a week",
    "holds a week",
    "stretches a week",
]


@dataclass(frozen=True)
class LoadRise:
    """One way in which the load rises from one stage to the next.

    Parameters
    ----------
    kind : str
        What rises; a repetition maximum that falls is a heavier weight, and "one leg" follows both legs.
    before, after : Fraction or None
        In kg, as a share or as a count; None for "one leg".
    """

    kind: LoadKind
    before: Fraction | None = None
    after: Fraction | None = None


@dataclass(frozen=True)
class DepthAndLoad:
    """Depth and load that rise together.

    Parameters
    ----------
    before, after : str
        Names of the stages.
    side : {"left", "right"}
        Side of the body.
    depth_before, depth_after : Depth
        How far each goes at the deepest.
    load : tuple of LoadRise
        At least one.
    """

    before: str
    after: str
    side: Literal["left", "right"]
    depth_before: Depth
    depth_after: Depth
    load: tuple[LoadRise, ...]


@dataclass(frozen=True)
class EarlyCompression:
    """An exercise that compresses the Achilles insertion before any stage of the plan went as far as neutral.

    Parameters
    ----------
    stage, exercise : str
        Their names.
    kind : {"drop", "stretch"}
        Below a step with an end range past neutral, or a stretch of the calf.
    deg : float or None
        How deep; None: nothing says where it ends.
    """

    stage: str
    exercise: str
    kind: Literal["drop", "stretch"]
    deg: float | None


@dataclass(frozen=True)
class Step:
    """A step of depth from one stage to the next.

    Parameters
    ----------
    before, after : str
        Names of the stages.
    side : {"left", "right"}
        Side of the body.
    from_deg, to_deg : float
        How far each goes, in degrees.
    """

    before: str
    after: str
    side: Literal["left", "right"]
    from_deg: float
    to_deg: float


@dataclass(frozen=True)
class FineSteps:
    """Steps of depth that two days' measurements can't tell apart.

    Parameters
    ----------
    steps : tuple of Step
        At least one.
    change : DetectableChange
        What two days must differ by.
    """

    steps: tuple[Step, ...]
    change: DetectableChange


@dataclass(frozen=True)
class PlanWarnings:
    """All that was found.

    Parameters
    ----------
    depth_and_load : tuple of DepthAndLoad
        In the order of the stages.
    early : tuple of EarlyCompression
        The same.
    fine_steps : FineSteps or None
        None where there are none.
    """

    depth_and_load: tuple[DepthAndLoad, ...] = ()
    early: tuple[EarlyCompression, ...] = ()
    fine_steps: FineSteps | None = None


def plan_warnings(plan: Plan, u_deg: float, published_sem: str = "none") -> PlanWarnings:
    """Look a plan through.

    Parameters
    ----------
    plan : Plan
        A plan without contradictions.
    u_deg : float
        Combined standard uncertainty of the joint angle in degrees.
    published_sem : str
        Name of a published error between days, or ``"none"`` (setting ``course.published_sem``).

    Returns
    -------
    PlanWarnings
        Facts to look at again; empty where there are none.

    Raises
    ------
    SettingError
        There is no published error of that name.
    """
    site = tendon_site(plan.tendon_site)
    return PlanWarnings(
        depth_and_load=tuple(_depth_and_load(plan, site)),
        early=tuple(_early(plan, site)),
        fine_steps=_fine_steps(plan, site, u_deg, published_sem),
    )


def _steps_on(plan: Plan) -> list[tuple[Stage, Stage]]:
    """Pairs of a stage and one that follows it: in the plan's order, and where the calendar leaves stages out."""
    order = {each.name: index for index, each in enumerate(plan.stages)}
    pairs = [(index, index + 1) for index in range(len(plan.stages) - 1)]
    for earlier, later in pairwise(stage_periods(plan)):
        pair = order[earlier.stage], order[later.stage]
        if pair[1] > pair[0] and pair not in pairs:
            pairs.append(pair)
    return [(plan.stages[before], plan.stages[after]) for before, after in sorted(pairs)]


def _sides(*stages: Stage) -> tuple[Literal["left", "right"], ...]:
    return tuple(dict.fromkeys(each.side for stage in stages for each in stage.exercises))


def _depth_and_load(plan: Plan, site: TendonSite) -> Iterator[DepthAndLoad]:
    for before, after in _steps_on(plan):
        for side in _sides(before, after):
            shallow, deep = stage_depth(before, side, site), stage_depth(after, side, site, before)
            if shallow is None or deep is None or not deep.is_deeper_than(shallow):
                continue
            load = tuple(_load_rises(_loading(before, side), _loading(after, side)))
            if load:
                yield DepthAndLoad(before.name, after.name, side, shallow, deep, load)


def _loading(stage: Stage, side: str) -> Stage:
    of_side = (each for each in stage.exercises if each.side == side)
    return replace(stage, exercises=tuple(each for each in of_side if each.load.eccentric != "unweighted"))


def _load_rises(before: Stage, after: Stage) -> Iterator[LoadRise]:
    weights = [_largest([each.load.external_kg for each in stage.exercises]) for stage in (before, after)]
    shares = [_largest([each.load.share_of_body_weight for each in stage.exercises]) for stage in (before, after)]
    yield from _risen("added weight", *weights)
    yield from _risen("share of body weight", *shares)
    maxima = [
        [each.repetition_maximum for each in stage.exercises if each.repetition_maximum is not None]
        for stage in (before, after)
    ]
    # the fewer times it can be moved, the heavier the weight
    if all(maxima) and min(maxima[1]) < min(maxima[0]):
        yield LoadRise("repetition maximum", Fraction(min(maxima[0])), Fraction(min(maxima[1])))
    legs = [{each.load.eccentric for each in stage.exercises} - {None} for stage in (before, after)]
    if legs[0] == {"both legs"} and "single leg" in legs[1]:
        yield LoadRise("one leg")
    yield from _more_often(before, after)


def _largest(values: Sequence[float | None]) -> Fraction | None:
    known = [Fraction(repr(each)) for each in values if each is not None]
    return max(known, default=None)


def _risen(kind: LoadKind, before: Fraction | None, after: Fraction | None) -> Iterator[LoadRise]:
    if before is not None and after is not None and after > before:
        yield LoadRise(kind, before, after)


def _more_often(before: Stage, after: Stage) -> Iterator[LoadRise]:
    kinds: dict[str, LoadKind] = {
        "repetitions": "repetitions a week",
        "hold": "holds a week",
        "stretch": "stretches a week",
    }
    weekly = [{each.kind: each.repetitions.a_week for each in stage_totals(stage)} for stage in (before, after)]
    # holds in the place of repetitions are no more of anything; holds beside as many repetitions are
    kept = all(_at_least(weekly[1].get(kind), count) for kind, count in weekly[0].items())
    for kind, count in weekly[1].items():
        if kind in weekly[0]:
            yield from _risen(kinds[kind], weekly[0][kind], count)
        elif kept and weekly[0]:
            yield from _risen(kinds[kind], Fraction(0), count)


def _at_least(count: Fraction | None, bound: Fraction | None) -> bool:
    return count is not None and bound is not None and count >= bound


def _early(plan: Plan, site: TendonSite) -> Iterator[EarlyCompression]:
    if site.name != EARLY_SITE:
        return
    reached: set[str] = set()
    for stage in plan.stages:
        found: set[str] = set()
        for each in stage.exercises:
            if not compresses(each, site):
                continue
            depth = exercise_depth(each)
            if each.side not in reached:
                yield from _early_compression(stage, each, depth)
            if depth is not None and depth.deg >= NEUTRAL_DEG:
                found.add(each.side)
        reached |= found


def _early_compression(stage: Stage, exercise: Exercise, depth: Depth | None) -> Iterator[EarlyCompression]:
    past = depth is not None and depth.deg > NEUTRAL_DEG
    deg = depth.deg if depth is not None and math.isfinite(depth.deg) else None
    if exercise.kind == "stretch":
        if depth is None or past:
            yield EarlyCompression(stage.name, exercise.name, "stretch", deg)
    elif exercise.surface == OVER_AN_EDGE and past:
        yield EarlyCompression(stage.name, exercise.name, "drop", deg)


def _fine_steps(plan: Plan, site: TendonSite, u_deg: float, published_sem: str) -> FineSteps | None:
    known = known_change(site.joint, site.motion, plan.own_uncertainty, published_sem)
    change = smallest_change(u_deg) if known is None else known
    steps: list[Step] = []
    for before, after in pairwise(plan.stages):
        for side in _sides(before, after):
            shallow, deep = stage_depth(before, side, site), stage_depth(after, side, site)
            if shallow is None or deep is None or not (math.isfinite(shallow.deg) and math.isfinite(deep.deg)):
                continue
            if 0 < deep.deg - shallow.deg < change.mdc95_deg:
                steps.append(Step(before.name, after.name, side, shallow.deg, deep.deg))
    return FineSteps(tuple(steps), change) if steps else None

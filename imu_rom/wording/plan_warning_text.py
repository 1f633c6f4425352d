"""What a clinician may want to look at again in a plan, in sentences."""

import math
from fractions import Fraction

from imu_rom.dose.exposure_answer import DetectableChange
from imu_rom.dose.plan_warnings import DepthAndLoad, EarlyCompression, FineSteps, LoadRise, PlanWarnings
from imu_rom.dose.sites import tendon_site
from imu_rom.dose.stage_depth import Depth
from imu_rom.wording.figures import one_decimal
from imu_rom.wording.prescription_text import how_known

__all__ = ["warning_sentences"]


def warning_sentences(site: str, warnings: PlanWarnings) -> list[str]:
    """Say what to look at again.

    Parameters
    ----------
    site : str
        The plan's tendon site.
    warnings : PlanWarnings
        What was found.

    Returns
    -------
    list of str
        Sentences that each begin with "Look again"; empty where nothing was found.
    """
    said = [_early(each) for each in warnings.early]
    if warnings.early:
        limit = tendon_site(site).early_limit
        said.append(
            f"Customary early on at this site: {limit.text} {how_known(limit)}. Which stage counts as early is common "
            "practice, no source."
        )
    said += [_depth_and_load(each) for each in warnings.depth_and_load]
    if warnings.depth_and_load:
        said.append(
            "Where both rise at once, nobody can tell afterwards which of them brought on a flare; raising one at a "
            "time is common practice, no source."
        )
    if warnings.fine_steps is not None:
        said.append(_fine_steps(warnings.fine_steps))
    return said


def _early(found: EarlyCompression) -> str:
    what = "stretches the calf" if found.kind == "stretch" else "takes the heel below the edge of a step"
    deep = "with nothing that says where it ends" if found.deg is None else f"to {found.deg:g} deg past neutral"
    return (
        f"Look again: {found.exercise} of stage {found.stage!r} {what}, {deep}, and no stage before it in this plan "
        "goes as far as neutral."
    )


def _depth_and_load(found: DepthAndLoad) -> str:
    shallow, deep = found.depth_before, found.depth_after
    crossed = ""
    if deep.is_past and shallow.is_past is False:
        crossed = f", past the compressive angle of {deep.past_deg:g} deg"
    depth = f"from {_depth(shallow)} to {_depth(deep)}{crossed}"
    if shallow.deg == deep.deg:
        now = "and no limit now" if math.isinf(deep.limit_deg) else f"and one of {deep.limit_deg:g} deg now"
        depth = f"under a limit of {shallow.limit_deg:g} deg before {now}"
    return (
        f"Look again: from stage {found.before!r} to {found.after!r} depth and load rise together on the {found.side} "
        f"side: depth {depth}; {'; '.join(map(_load, found.load))}."
    )


def _depth(depth: Depth) -> str:
    ends = {"floor": "the floor", "open": f"an end that nothing sets ({depth.exercise})"}
    return ends.get(depth.by, f"{depth.deg:g} deg")


def _load(rise: LoadRise) -> str:
    before, after = _number(rise.before), _number(rise.after)
    return {
        "added weight": f"added weight from {before} to {after} kg",
        "share of body weight": f"share of body weight from {before} to {after}",
        "one leg": "from both legs to one leg",
        "repetition maximum": f"a heavier weight, from {before} to {after} repetitions maximum",
    }.get(rise.kind, f"{rise.kind} from {before} to {after}")


def _number(value: Fraction | None) -> str:
    return "" if value is None else f"{float(value):g}"


def _fine_steps(found: FineSteps) -> str:
    sides = len({each.side for each in found.steps}) > 1
    steps = [
        f"{each.from_deg:g} to {each.to_deg:g} deg from {each.before!r} to {each.after!r}"
        + (f" ({each.side})" if sides else "")
        for each in found.steps
    ]
    them = "This step of depth is" if len(steps) == 1 else "These steps of depth are"
    return (
        f"{them} finer than the {one_decimal(found.change.mdc95_deg)} deg by which two days must differ to be told "
        f"apart ({_basis(found.change)}): {'; '.join(steps)}. The plan may ask for them; a measured end range will "
        "often leave undecided which of the two stages a day was like."
    )


def _basis(change: DetectableChange) -> str:
    factor = f"1.96 x sqrt(2) x {change.sem_deg:.2f} deg"
    if change.basis == "lower bound":
        return f"{factor}, this tool's own uncertainty, so a lower bound"
    if change.basis == "own check":
        return f"{factor}, from {change.source}"
    return f"{factor}, {change.source}"

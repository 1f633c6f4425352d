"""Two clocks become one: offset and skew between two sensors that were started separately.

Coarse stage (`clock_search`), fine stage (`clock_evidence`), a line through the evidence (`clock_fit`). The line stands
only where far more stretches lie on it than chance would put there, where no other line has nearly as many, and where
no stretch of the recording keeps to a line of its own, as after a clock has jumped.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from imu_rom.errors import CannotAnswerError
from imu_rom.recording.clock_evidence import (
    FINE_SMOOTH_S,
    MOTION_AGREEMENT,
    ROUGH_AGREEMENT,
    WINDOW_S,
    jolt_evidence,
    movement_evidence,
)
from imu_rom.recording.clock_fit import ClockEvidence, ClockFit, Line, fit_clock
from imu_rom.recording.clock_search import ClockCandidate, SensorMotion, clock_candidates
from imu_rom.settings import ReadingSettings

__all__ = ["HOW_TO_KNOCK", "compare_clocks"]

HOW_TO_KNOCK = (
    "record again and let both sensors feel the same: hold them together in one hand and knock three times on a table, "
    "before taping and after taking them off, or tap the toes on the floor three times while seated"
)
# lags looked at about the coarse line, and about the finer ones
REACH_S, FINE_REACH_S, LAST_REACH_S = 0.6, 0.15, 0.06
COARSE_SMOOTH_S, ROUGH_ROUNDS = 0.2, 3
JOLT_REACH_S = 0.3
# lags that differ by less lie on one line, at first and with the joint's centre known
ROUGHLY_TOGETHER_S, TOGETHER_S = 0.03, 0.012
# largest error of the coarse stage's skew
STEEPEST = 1e-3
# so unlikely must it be that chance puts so many lags on one line
CHANCE = 1e-5
# a line with more than this share of the best one's worth is its rival
RIVAL = 0.7
# a coarse peak below this share of the highest is none
RIVAL_SCORE = 0.5
FEWEST_AFTER_JUMP = 2
# stretches that agree so well are believed; where two in a row lie off the line alike, a clock jumped
STRONG, WIDE_REACH_S = 0.85, 10.0
# where lags scatter by more against what they claim, or fewer of them are kept, a step is looked for; it is one where
# the scatter falls by so much (in units of twice the logarithm of likelihood)
SUSPECT_SPREAD, FEWEST_KEPT = 2.2, 0.8
STEP_GAIN, SMALLEST_STEP_S, LEAST_CLAIM_S = 10.0, 0.005, 0.001
# a longer end of the recording without evidence is looked through for a line of its own
SILENT_S = 60.0
SILENT_CHANCE = 1e-3
DO_CUT = "cut both files there and give one part"


@dataclass(frozen=True)
class _Vote:
    """A line that lags agree on; its worth counts how little of the signals it leaves unexplained."""

    offset_s: float
    skew: float
    worth: float
    chance: float
    by_jolts: bool

    @property
    def line(self) -> tuple[float, float]:
        return self.offset_s, self.skew


def compare_clocks(
    reference: tuple[str, SensorMotion], other: tuple[str, SensorMotion], settings: ReadingSettings, *, where: str
) -> ClockFit:
    """Find how the other sensor's clock runs against the reference's.

    Parameters
    ----------
    reference, other : tuple of str and SensorMotion
        Tracked point and motion of each sensor.
    settings : ReadingSettings
        Largest skew and the skew of ordinary clocks.
    where : str
        Files, for errors.

    Returns
    -------
    ClockFit
        Offset and skew with their standard uncertainty; ``start_s`` is the start of what both recorded.

    Raises
    ------
    CannotAnswerError
        Nothing shared, two offsets that fit nearly alike, or a clock that jumped.
    """
    first, second = reference[1], other[1]
    pair = f"the clocks of {reference[0]!r} and {other[0]!r}"
    largest_skew = 1e-6 * settings.largest_clock_skew_ppm
    votes = _votes(first, second, largest_skew)
    best = _without_rival(votes)
    if best is None:
        _check_halves(first, second, largest_skew, where)
    if not votes:
        raise CannotAnswerError(
            f"{pair} can't be compared: no movement or jolt that both felt was found", where=where, do=HOW_TO_KNOCK
        )
    if best is None:
        raise CannotAnswerError(
            f"two offsets between {pair} fit nearly alike, {votes[0].offset_s:.2f} and {votes[1].offset_s:.2f} s, as "
            "when all movement repeats itself evenly",
            where=where,
            do=HOW_TO_KNOCK,
        )
    offset_s, skew = best.offset_s, best.skew
    evidence: list[ClockEvidence] = []
    for reach_s in (FINE_REACH_S, LAST_REACH_S, LAST_REACH_S):
        evidence = _evidence(
            first, second, (offset_s, skew), reach_s, jolts=best.by_jolts, least_agreement=MOTION_AGREEMENT
        )
        if not evidence:
            break
        line = fit_clock(evidence, skew, 1e-6 * settings.clock_skew_ppm)
        # lag = change of the reference time at a stamp, and the line is against reference time
        turn = line.slope * (1 + skew)
        offset_s, skew = offset_s + float(line.at(np.array([offset_s]))[0]), skew + turn
    if not evidence:
        raise CannotAnswerError(f"{pair} can't be compared closely", where=where, do=HOW_TO_KNOCK)
    _check_step(evidence, line, where)
    _check_contradictions(first, second, (offset_s, skew), where)
    _check_silent_ends(first, second, (offset_s, skew), evidence, largest_skew, where)
    left_s = line.at(np.array([each.time_s for each in evidence]))
    used = tuple(
        replace(each, lag_s=each.lag_s - float(lag_s))
        for each, lag_s, kept in zip(evidence, left_s, line.kept, strict=True)
        if kept
    )
    return ClockFit(
        reference=reference[0],
        other=other[0],
        offset_s=offset_s,
        skew=skew,
        start_s=max(first.start_s, offset_s + (1 + skew) * second.start_s),
        pivot_s=line.pivot_s,
        pivot_standard_uncertainty_s=line.lag_uncertainty_s,
        skew_standard_uncertainty=line.slope_uncertainty,
        evidence=used,
        contradicting=len(evidence) - len(used),
        spread=line.spread,
    )


def _evidence(
    first: SensorMotion,
    second: SensorMotion,
    line: tuple[float, float],
    reach_s: float,
    *,
    jolts: bool,
    smooth_s: float = FINE_SMOOTH_S,
    least_agreement: float = ROUGH_AGREEMENT,
) -> list[ClockEvidence]:
    moved = movement_evidence(first, second, *line, reach_s=reach_s, smooth_s=smooth_s, least_agreement=least_agreement)
    if not jolts:
        return moved
    felt = jolt_evidence(first, second, *line, reach_s=min(reach_s, JOLT_REACH_S))
    # a window of movement holds its jolts already
    middles = np.array([each.time_s for each in moved])
    alone = [each for each in felt if not len(middles) or np.min(np.abs(middles - each.time_s)) > WINDOW_S / 2]
    return sorted([*moved, *alone], key=lambda each: each.time_s)


def _votes(first: SensorMotion, second: SensorMotion, largest_skew: float, chance: float = CHANCE) -> list[_Vote]:
    """Find the lines by movement; by jolts, which come late through a limb, only where movement gives none."""
    candidates = clock_candidates(first, second, largest_skew)
    return _votes_by(first, second, candidates, chance, jolts=False) or _votes_by(
        first, second, candidates, chance, jolts=True
    )


def _votes_by(
    first: SensorMotion, second: SensorMotion, candidates: Sequence[ClockCandidate], chance: float, *, jolts: bool
) -> list[_Vote]:
    """Find the lines that more evidence lies on than chance would put there, the best one first."""
    votes: list[_Vote] = []
    for candidate in candidates:
        if candidate.score < RIVAL_SCORE * candidates[0].score:
            break
        rough: _Vote | None = _Vote(candidate.offset_s, candidate.skew, 0.0, 1.0, jolts)
        for _ in range(ROUGH_ROUNDS):
            # with the clocks a little nearer the joint's centre is found a little better, and so on
            rough = rough and _vote(first, second, rough.line, COARSE_SMOOTH_S, ROUGHLY_TOGETHER_S, jolts=jolts)
        vote = rough and _vote(first, second, rough.line, FINE_SMOOTH_S, TOGETHER_S, jolts=jolts)
        if vote and vote.chance < chance and not any(_same(vote, each, first) for each in votes):
            votes.append(vote)
    return sorted(votes, key=lambda vote: -vote.worth)


def _without_rival(votes: Sequence[_Vote]) -> _Vote | None:
    """Give the best line, unless another is worth nearly as much."""
    if not votes or (len(votes) > 1 and votes[1].worth > RIVAL * votes[0].worth):
        return None
    return votes[0]


def _vote(
    first: SensorMotion,
    second: SensorMotion,
    assumed: tuple[float, float],
    smooth_s: float,
    together_s: float,
    *,
    jolts: bool,
) -> _Vote | None:
    """Find the line about an assumed one that most evidence lies on."""
    evidence = _evidence(first, second, assumed, REACH_S, jolts=jolts, smooth_s=smooth_s)
    if not evidence:
        return None
    time_s = np.array([each.time_s for each in evidence])
    lag_s = np.array([each.lag_s for each in evidence])
    held = np.array([each.kind == "held together" for each in evidence])
    # as a logarithm of likelihood: stretches that agree on all but a tenth count twice those that leave a third
    worth = -np.log(np.clip(1 - np.array([each.agreement for each in evidence]), 1e-3, 1.0))
    middle_s = float(np.mean(time_s))
    reach_s = max(float(np.max(np.abs(time_s - middle_s))), 1.0)
    steepest = min(REACH_S / reach_s, STEEPEST)
    slopes = np.linspace(-steepest, steepest, 2 * math.ceil(2 * steepest * reach_s / together_s) + 1)
    best, near_best = (0.0, 0.0, 0.0), np.zeros(len(evidence), dtype=bool)
    for slope in sorted(slopes, key=abs):
        left_s = lag_s - slope * (time_s - middle_s)
        near = np.abs(left_s[:, None] - left_s) < together_s
        sums = near @ worth
        at = int(np.argmax(sums))
        if sums[at] > best[0]:
            best, near_best = (float(sums[at]), float(slope), float(np.median(left_s[near[at]]))), near[at]
    most, slope, lag = best
    lines = len(slopes) * REACH_S / together_s
    # one hand's hold on both can't be chance
    by_chance = lines * _chance(len(evidence), int(near_best.sum()), together_s / REACH_S)
    chance = 0.0 if held[near_best].any() else by_chance
    # lag against reference time into offset and skew against the other's stamps
    return _Vote(
        offset_s=assumed[0] + lag + slope * (assumed[0] - middle_s),
        skew=assumed[1] + slope * (1 + assumed[1]),
        worth=most,
        chance=chance,
        by_jolts=jolts,
    )


def _chance(n: int, k: int, share: float) -> float:
    """Give the probability that at least so many of n lags lie in a share of their range (binomial tail)."""
    return float(sum(math.comb(n, i) * share**i * (1 - share) ** (n - i) for i in range(k, n + 1)))


def _same(one: _Vote, two: _Vote, first: SensorMotion) -> bool:
    middle_s = (first.start_s + first.stop_s) / 2
    at = [each.offset_s + (1 + each.skew) * (middle_s - one.offset_s) for each in (one, two)]
    return abs(at[0] - at[1]) < 4 * TOGETHER_S


def _check_step(evidence: Sequence[ClockEvidence], line: Line, where: str) -> None:
    """Refuse a clock that jumped by part of a second: two parts that each keep to a lag of their own."""
    if line.spread < SUSPECT_SPREAD and line.kept.mean() > FEWEST_KEPT:
        return
    # jolts come late by what is theirs alone
    evidence = [each for each in evidence if each.kind != "jolt"]
    time_s = np.array([each.time_s for each in evidence])
    lag_s = np.array([each.lag_s for each in evidence])
    # so that the few stretches that claim most don't settle it alone
    weight = 1 / np.hypot([each.standard_uncertainty_s for each in evidence], LEAST_CLAIM_S)
    steps = []
    for split in range(FEWEST_AFTER_JUMP, len(evidence) - FEWEST_AFTER_JUMP + 1):
        after = np.arange(len(evidence)) >= split
        design = np.column_stack([np.ones(len(evidence)), time_s - line.pivot_s, after]) * weight[:, None]
        found = np.linalg.lstsq(design, lag_s * weight, rcond=None)[0]
        steps.append((float(np.sum((lag_s * weight - design @ found) ** 2)), split, float(found[2])))
    if not steps:
        return
    straight = float(np.sum((lag_s - line.at(time_s)) ** 2 * weight**2))
    scatter, split, step_s = min(steps)
    if len(evidence) * np.log(straight / scatter) < STEP_GAIN or abs(step_s) < SMALLEST_STEP_S:
        return
    raise CannotAnswerError(
        f"the offset between the clocks changes by some {1e3 * abs(step_s):.0f} ms between "
        f"{evidence[split - 1].time_s:.0f} and {evidence[split].time_s:.0f} s, as when one clock jumps",
        where=where,
        do=DO_CUT,
    )


def _check_contradictions(first: SensorMotion, second: SensorMotion, line: tuple[float, float], where: str) -> None:
    """Refuse a clock that jumped by more than the last stage looked at: neighbours agree well, but off the line."""
    strong = [
        each
        for each in movement_evidence(first, second, *line, reach_s=WIDE_REACH_S, smooth_s=FINE_SMOOTH_S)
        if each.agreement > STRONG
    ]
    for one, two in itertools.pairwise(strong):
        off_s = min(abs(one.lag_s), abs(two.lag_s))
        if off_s > ROUGHLY_TOGETHER_S and abs(one.lag_s - two.lag_s) < ROUGHLY_TOGETHER_S:
            _refuse_jump(off_s, one.time_s, two.time_s, where)


def _part(motion: SensorMotion, start_s: float, stop_s: float) -> SensorMotion:
    first, stop = (
        min(max(round((at_s - motion.start_s) * motion.rate_hz), 0), len(motion.missing)) for at_s in (start_s, stop_s)
    )
    return SensorMotion(
        motion.start_s + first / motion.rate_hz,
        motion.rate_hz,
        motion.accelerometer_m_s2[first:stop],
        motion.gyroscope_rad_s[first:stop],
        motion.missing[first:stop],
    )


def _check_halves(first: SensorMotion, second: SensorMotion, largest_skew: float, where: str) -> None:
    """Refuse a clock that jumped so that no line serves: each half of the recording has one of its own."""
    middle_s = (first.start_s + first.stop_s) / 2
    one, two = (
        _without_rival(_votes(_part(first, *span), second, largest_skew))
        for span in ((first.start_s, middle_s), (middle_s, first.stop_s))
    )
    if one is not None and two is not None:
        step_s = two.offset_s - one.offset_s + (two.skew - one.skew) * (middle_s - one.offset_s)
        if abs(step_s) > 2 * TOGETHER_S:
            _refuse_jump(step_s, first.start_s, first.stop_s, where)


def _check_silent_ends(
    first: SensorMotion,
    second: SensorMotion,
    line: tuple[float, float],
    evidence: Sequence[ClockEvidence],
    largest_skew: float,
    where: str,
) -> None:
    """Refuse a clock that jumped by more than was looked at: a long end without evidence has a line of its own."""
    offset_s, skew = line
    shared_s = (
        max(first.start_s, offset_s + (1 + skew) * second.start_s),
        min(first.stop_s, offset_s + (1 + skew) * second.stop_s),
    )
    for start_s, stop_s in ((shared_s[0], evidence[0].time_s), (evidence[-1].time_s, shared_s[1])):
        if stop_s - start_s < SILENT_S:
            continue
        for vote in _votes(_part(first, start_s, stop_s), second, largest_skew, SILENT_CHANCE)[:1]:
            middle_s = (start_s + stop_s) / 2
            step_s = vote.offset_s + (1 + vote.skew) * (middle_s - offset_s) / (1 + skew) - middle_s
            if abs(step_s) > 2 * TOGETHER_S:
                _refuse_jump(step_s, start_s, stop_s, where)


def _refuse_jump(step_s: float, start_s: float, stop_s: float, where: str) -> None:
    raise CannotAnswerError(
        f"the offset between the clocks changes by some {abs(step_s):.2f} s between {start_s:.0f} and {stop_s:.0f} s, "
        "as when one clock jumps",
        where=where,
        do=DO_CUT,
    )

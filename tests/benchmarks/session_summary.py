"""Figures of many simulated sessions put together."""

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from session_figures import END_RANGE_WITHIN_DEG, SessionFigures

__all__ = ["Summary", "summary"]


@dataclass(frozen=True)
class Summary:
    """Figures of many sessions of one row; NaN where there is nothing to take them from.

    Parameters
    ----------
    sessions : int
        Sessions simulated.
    refusals : dict of str to int
        Sessions refused, by kind of error.
    sets_exact, totals_exact : float
        Shares.
    partial_done, partial_found, invented_sets : int
        Counts.
    rmse_median_deg, rmse_high_deg : float
        Median and 95th percentile over the sessions.
    end_range_within : float
        Share of repetitions.
    held_bias_deg, end_range_bias_deg : float
        Mean error on holds.
    time_within : float
        Share of sets.
    covered : float
        Share of sessions.
    hold_bias_s, eccentric_bias_s, concentric_bias_s : float
        Mean errors.
    wrong_answers : float
        Share of the repetitions answered by yes or no.
    wrong_zeros, wrong_signs : float
        Shares of the sessions answered.
    """

    sessions: int
    refusals: dict[str, int]
    sets_exact: float
    totals_exact: float
    partial_done: int
    partial_found: int
    invented_sets: int
    rmse_median_deg: float
    rmse_high_deg: float
    end_range_within: float
    held_bias_deg: float
    end_range_bias_deg: float
    time_within: float
    covered: float
    hold_bias_s: float
    eccentric_bias_s: float
    concentric_bias_s: float
    wrong_answers: float
    wrong_zeros: float
    wrong_signs: float


def refusal_kind(sentence: str) -> str:
    """Return the part of a refusal that does not speak of this one recording."""
    return re.split(r":| \(", sentence, maxsplit=1)[0].strip()


def mean(values: Iterable[float]) -> float:
    """Return the mean, NaN of nothing."""
    kept = list(values)
    return float(np.mean(kept)) if kept else math.nan


def summary(all_figures: Sequence[SessionFigures]) -> Summary:
    """Put the figures of many sessions together.

    Parameters
    ----------
    all_figures : sequence of SessionFigures
        One entry a session.

    Returns
    -------
    Summary
        Their summary; shares are of the sessions answered.
    """
    answered = [each for each in all_figures if not each.refusal]
    rmse = [each.rmse_deg for each in answered]
    holds = [pair for each in answered for pair in each.hold_errors_deg]
    phases = [triple for each in answered for triple in each.phase_errors_s]
    answers = sum(each.answers for each in answered)
    return Summary(
        sessions=len(all_figures),
        refusals=dict(Counter(refusal_kind(each.refusal) for each in all_figures if each.refusal)),
        sets_exact=mean(exact for each in answered for exact in each.sets_exact),
        totals_exact=mean(each.total_exact for each in answered),
        partial_done=sum(each.partial_done for each in answered),
        partial_found=sum(each.partial_found for each in answered),
        invented_sets=sum(each.invented_sets for each in answered),
        rmse_median_deg=float(np.median(rmse)) if rmse else math.nan,
        rmse_high_deg=float(np.quantile(rmse, 0.95)) if rmse else math.nan,
        end_range_within=mean(
            abs(error) <= END_RANGE_WITHIN_DEG for each in answered for error in each.end_range_errors_deg
        ),
        held_bias_deg=mean(held for held, _ in holds),
        end_range_bias_deg=mean(end for _, end in holds),
        time_within=mean(abs(error) <= 1 for each in answered for error in each.time_errors),
        covered=mean(each.covered for each in answered),
        hold_bias_s=mean(hold for hold, _, _ in phases),
        eccentric_bias_s=mean(eccentric for _, eccentric, _ in phases),
        concentric_bias_s=mean(concentric for _, _, concentric in phases),
        wrong_answers=sum(each.wrong_answers for each in answered) / answers if answers else math.nan,
        wrong_zeros=mean(each.zero_is_wrong for each in answered),
        wrong_signs=mean(each.sign_is_wrong for each in answered),
    )

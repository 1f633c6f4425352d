"""Means of sessions that belong to people: the person is what is independent, not the session.

References
----------
J. N. S. Matthews et al., "Analysis of serial measurements in medical research", BMJ 300:230-235, 1990,
doi:10.1136/bmj.300.6719.230 (one summary measure a person, then ordinary methods; from memory). B. L. Welch,
Biometrika 34:28-35, 1947, doi:10.1093/biomet/34.1-2.28 (two means of unlike variance). N. M. Laird and J. H. Ware,
"Random-effects models for longitudinal data", Biometrics 38:963-974, 1982, doi:10.2307/2529876 (the mixed model, as
statsmodels fits it). B. Efron and R. J. Tibshirani, "An introduction to the bootstrap", 1993 (percentile interval; from
memory).
"""

import math
import warnings
from collections.abc import Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.cohort_summary import Estimate
from imu_rom.motion.small_samples import coverage_factor, effective_degrees

__all__ = ["FEWEST_PEOPLE", "mean_of_people", "mean_of_sessions", "model_difference", "share_of_people", "welch"]

FEWEST_PEOPLE = 3
"""With fewer people no interval over people is given; common practice, no source."""
DRAWS = 2000

T_METHOD = "Student's t over participants' means"
WELCH_METHOD = "Welch's t over participants' means"
OWN_METHOD = "Student's t over the participant's sessions"
MODEL_METHOD = "mixed model, statsmodels MixedLM, REML, random intercept for each participant; Wald interval"
DRAWN_METHOD = "percentile bootstrap of whole participants, 2000 draws, seed 1"
FEW = f"no interval: fewer than {FEWEST_PEOPLE} participants"

Values = Sequence[tuple[str, float]]
Floats = NDArray[np.float64]


def _means(values: Values) -> Floats:
    ordered = sorted(values, key=lambda each: each[0])
    return np.array([np.mean([one for _, one in each]) for _, each in groupby(ordered, key=lambda each: each[0])])


def _interval(values: Floats, people: int, sessions: int, method: str, few: str, fewest: int) -> Estimate:
    if not len(values):
        return Estimate(None, None, None, people, sessions, "no session counts")
    mean = float(values.mean())
    if len(values) < fewest:
        return Estimate(mean, None, None, people, sessions, few)
    half = coverage_factor(len(values) - 1) * float(values.std(ddof=1)) / math.sqrt(len(values))
    return Estimate(mean, mean - half, mean + half, people, sessions, method)


def mean_of_sessions(values: Sequence[float]) -> Estimate:
    """Give the mean of one participant's sessions.

    Parameters
    ----------
    values : sequence of float
        One a session.

    Returns
    -------
    Estimate
        By Student's t, from two sessions on.
    """
    array = np.asarray(values, dtype=np.float64)
    few = "no interval: fewer than 2 sessions"
    return _interval(array, min(len(array), 1), len(array), OWN_METHOD, few, 2)


def mean_of_people(values: Values) -> Estimate:
    """Give the mean over participants of their sessions' means.

    Parameters
    ----------
    values : sequence of (str, float)
        Participant and one session's value.

    Returns
    -------
    Estimate
        By Student's t over people; a person of many sessions counts as much as one of few.
    """
    means = _means(values)
    return _interval(means, len(means), len(values), T_METHOD, FEW, FEWEST_PEOPLE)


def welch(values: Values, others: Values) -> Estimate:
    """Give what two arms' means differ by.

    Parameters
    ----------
    values, others : sequence of (str, float)
        Participant and one session's value.

    Returns
    -------
    Estimate
        The first less the second, by Welch's t over people.
    """
    first, second = _means(values), _means(others)
    people, sessions = len(first) + len(second), len(values) + len(others)
    if not len(first) or not len(second):
        return Estimate(None, None, None, people, sessions, "an arm without sessions")
    difference = float(first.mean() - second.mean())
    if min(len(first), len(second)) < FEWEST_PEOPLE:
        return Estimate(difference, None, None, people, sessions, f"{FEW} in an arm")
    parts = [(float(each.std(ddof=1)) / math.sqrt(len(each)), float(len(each) - 1)) for each in (first, second)]
    u = math.hypot(*(each for each, _ in parts))
    half = coverage_factor(effective_degrees(parts)) * u if u else 0.0
    return Estimate(difference, difference - half, difference + half, people, sessions, WELCH_METHOD)


def model_difference(values: Values, others: Values) -> Estimate:
    """Give what two arms differ by, by a mixed model of the sessions.

    Parameters
    ----------
    values, others : sequence of (str, float)
        Participant and one session's value.

    Returns
    -------
    Estimate
        The first less the second; None with the reason where the model can't be fitted.
    """
    rows = [*((who, 1.0, value) for who, value in values), *((who, 0.0, value) for who, value in others)]
    counts = [len({who for who, _ in each}) for each in (values, others)]
    nothing = Estimate(None, None, None, sum(counts), len(rows), "")
    if min(counts) < FEWEST_PEOPLE:
        return _without(nothing, f"{FEW} in an arm")
    if len(rows) <= sum(counts):
        return _without(nothing, "no participant has two sessions, so that people and sessions can't be told apart")
    try:
        from statsmodels.regression.mixed_linear_model import MixedLM  # noqa: PLC0415  an extra
    except ImportError:
        return _without(nothing, "statsmodels is not installed (pip install 'imu-rom[cohort]')")
    names = {who: number for number, who in enumerate(dict.fromkeys(who for who, _, _ in rows))}
    exog = np.array([[1.0, arm] for _, arm, _ in rows])
    with warnings.catch_warnings():
        # that a variance lies at nought is no fault of people who are alike
        warnings.simplefilter("ignore")
        try:
            fitted = MixedLM([value for *_, value in rows], exog, groups=[names[who] for who, *_ in rows]).fit(
                reml=True
            )
            value, (low, high) = float(fitted.fe_params[1]), fitted.conf_int()[1]
        except (np.linalg.LinAlgError, ValueError) as error:
            return _without(nothing, f"the mixed model could not be fitted: {error}"[:200])
    if not fitted.converged or not math.isfinite(low + high):
        return _without(nothing, "the mixed model did not converge")
    return Estimate(value, float(low), float(high), sum(counts), len(rows), MODEL_METHOD)


def _without(nothing: Estimate, why: str) -> Estimate:
    return Estimate(None, None, None, nothing.people, nothing.sessions, why)


def share_of_people(held: Sequence[tuple[str, bool]]) -> Estimate:
    """Give a share of repetitions that people did.

    Parameters
    ----------
    held : sequence of (str, bool)
        Participant, and whether it is so.

    Returns
    -------
    Estimate
        Share of all; the interval by drawing whole participants. ``sessions`` counts the repetitions.
    """
    names = list(dict.fromkeys(who for who, _ in held))
    if not names:
        return Estimate(None, None, None, 0, 0, "no such repetition")
    counts = np.zeros((len(names), 2))
    place = {who: number for number, who in enumerate(names)}
    for who, so in held:
        counts[place[who]] += (so, 1)
    share = float(counts[:, 0].sum() / counts[:, 1].sum())
    if len(names) < FEWEST_PEOPLE:
        return Estimate(share, None, None, len(names), len(held), FEW)
    drawn = counts[np.random.default_rng(1).integers(0, len(names), (DRAWS, len(names)))].sum(axis=1)
    low, high = np.percentile(drawn[:, 0] / drawn[:, 1], [2.5, 97.5]).tolist()
    return Estimate(share, low, high, len(names), len(held), DRAWN_METHOD)

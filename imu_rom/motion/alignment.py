"""Sensor to joint: the hinge axis in both sensors' own axes, from the movement itself.

Two constraints hold for two sensors on segments that a hinge joins, whatever the mounting and whatever the segments do
together (Seel, Schauer and Raisch 2012, doi:10.1109/CCA.2012.6402423; Olsson, Kok, Seel and Halvorsen 2020,
doi:10.3390/s20123534):

* the parts of both angular rates across the axis have the same size, ``|w1 x j1| = |w2 x j2|``;
* the axis is tilted against gravity by the same angle for both, ``g1 . j1 = g2 . j2``.

Here the second constraint takes gravity from the attitude filter instead of the raw accelerometer, so that walking and
fast movement do no harm, and both enter one robust fit (iterated reweighting), so that minutes in which the sensors
were not worn yet, and joints that are no perfect hinges while walking, do not pull the axis away.
"""

import math
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["HingeAxis", "estimate_hinge_axis", "tilt_disagreement_rad"]

Floats = NDArray[np.float64]

# Spread of each constraint for worn sensors: soft tissue wobbles by about a degree at a few hertz.
RATE_SPREAD_RAD_S = 0.08
RATE_SPREAD_SHARE = 0.05
TILT_SPREAD_RAD = 0.02
# On foam a sensor leans with gravity by several degrees; by the spread above half of such a recording is outliers.
LOOSE_TILT_SPREAD_RAD = 0.06
# Fits use at most this many samples, spread evenly over those that move.
MOST_SAMPLES = 2400
# Neighbouring samples share their error (wobble, sway): one in so many counts as independent.
NEIGHBOURS = 10.0
# Both segments turning in one plane, in proportion, fit a whole family of axes: then the axis is across the plane.
PLANAR_SHARE = 25.0
PLANE_SPREAD_RAD = math.radians(10.0)
ITERATIONS = 25
# A fit has settled where a step lowers its cost by less than this share; of many starts the best is fitted on.
SETTLED = 1e-7
START_SETTLED = 1e-4


@dataclass(frozen=True)
class HingeAxis:
    """Direction of the joint's axis in both sensors.

    The common sign of both vectors is arbitrary.

    Parameters
    ----------
    proximal, distal : ndarray of shape (3,)
        Unit vectors in each sensor's axes.
    residual_deg : float
        Robust spread of the tilt disagreement over the samples used.
    standard_uncertainty_deg : float
        Standard uncertainty of the directions from the fit's curvature, each vector weighted by its sensor's share of
        the movement: the axis of a segment that stands still can't be seen and does no harm.
    inlier_share : float
        Share of the samples that agree with the hinge within three spreads.
    excitation_rad_s : float
        Root mean square of the relative angular rate about the axis over the samples used.
    cost : float
        Robust cost of the fit; of two fits to the same samples the lower one agrees better with a hinge.
    """

    proximal: Floats
    distal: Floats
    residual_deg: float
    standard_uncertainty_deg: float
    inlier_share: float
    excitation_rad_s: float
    cost: float

    @property
    def quality(self) -> float:
        """From 0 (the movement does not show the axis) to 1 (a clean, well-moved hinge)."""
        moved = min(1.0, self.excitation_rad_s / 0.3)
        sure = 1.0 / (1.0 + (self.standard_uncertainty_deg / 5.0) ** 2)
        return float(moved * sure * self.inlier_share)


def _tangents(axis: Floats) -> Floats:
    """Two unit vectors across a unit vector, shape (2, 3)."""
    # written out, as it is called thousands of times and np.cross takes its time over three numbers
    x, y, z = axis.tolist()
    if abs(x) <= abs(y) and abs(x) <= abs(z):
        a, b, c = 0.0, z, -y
    elif abs(y) <= abs(z):
        a, b, c = -z, 0.0, x
    else:
        a, b, c = y, -x, 0.0
    length = math.sqrt(a * a + b * b + c * c)
    a, b, c = a / length, b / length, c / length
    return np.array([[a, b, c], [y * c - z * b, z * a - x * c, x * b - y * a]])


def _across(rate: Floats, axis: Floats) -> tuple[Floats, Floats]:
    """Size of the rate across the axis and its gradient with respect to the axis."""
    along = rate @ axis
    across = rate - along[:, None] * axis
    size = np.sqrt(np.einsum("ij,ij->i", across, across)) + 1e-9
    # d|w - (w.j) j| / dj = -(w.j) across / size, taken in the tangent plane
    return size, -(along / size)[:, None] * across


@dataclass(frozen=True)
class _Plane:
    """Main direction of one sensor's rate, and how much it pulls the axis."""

    main: Floats
    pull: float

    def off(self, axis: Floats) -> Floats:
        return np.asarray(axis - (axis @ self.main) * self.main)

    def slope(self, axis: Floats, tangents: Floats) -> tuple[Floats, Floats]:
        """Give normal matrix and slope in the tangent plane."""
        rows = tangents - np.outer(tangents @ self.main, self.main)
        return self.pull * (rows @ rows.T), self.pull * (rows @ self.off(axis))


def _planes(rates: tuple[Floats, Floats], weight: Floats, *, in_plane: bool) -> tuple[_Plane, _Plane]:
    """Give main directions, which pull only where both sensors turn in one plane each."""
    found = [np.linalg.eigh(rate.T @ (weight[:, None] * rate)) for rate in rates]
    planar = all(values[2] > PLANAR_SHARE * values[1] for values, _ in found)
    pull = NEIGHBOURS / PLANE_SPREAD_RAD**2 if in_plane and planar else 0.0
    return _Plane(found[0][1][:, 2], pull), _Plane(found[1][1][:, 2], pull)


@dataclass(frozen=True)
class _Samples:
    proximal_rate: Floats
    distal_rate: Floats
    proximal_up: Floats
    distal_up: Floats
    rate_spread: Floats
    weight: Floats
    planes: tuple["_Plane", "_Plane"]
    tilt_spread: float


def _residuals(samples: _Samples, proximal: Floats, distal: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    size_p, gradient_p = _across(samples.proximal_rate, proximal)
    size_d, gradient_d = _across(samples.distal_rate, distal)
    rate = (size_p - size_d) / samples.rate_spread
    tilt = (samples.proximal_up @ proximal - samples.distal_up @ distal) / samples.tilt_spread
    return rate, tilt, gradient_p / samples.rate_spread[:, None], gradient_d / samples.rate_spread[:, None]


def _robust_weight(residual: Floats) -> Floats:
    """Geman-McClure weight: samples far off lose their say altogether."""
    return 1.0 / (1.0 + (residual / 3.0) ** 2) ** 2


def _cost(samples: _Samples, rate: Floats, tilt: Floats, axes: tuple[Floats, Floats]) -> float:
    bounded = [(each / 3.0) ** 2 / (1.0 + (each / 3.0) ** 2) for each in (rate, tilt)]
    pulled = sum(
        plane.pull * float(np.sum(plane.off(axis) ** 2)) for plane, axis in zip(samples.planes, axes, strict=True)
    )
    return float(np.sum(samples.weight * (bounded[0] + bounded[1]))) + pulled / 9.0


def _fit(
    samples: _Samples, proximal: Floats, distal: Floats, settled: float = SETTLED
) -> tuple[float, Floats, Floats, Floats]:
    """Gauss-Newton on two unit spheres with iterated reweighting; returns cost, both axes and the normal matrix."""
    normal = np.eye(4)
    damping = 1e-3
    rate, tilt, gradient_p, gradient_d = _residuals(samples, proximal, distal)
    cost = _cost(samples, rate, tilt, (proximal, distal))
    for _ in range(ITERATIONS):
        plane_p, plane_d = _tangents(proximal), _tangents(distal)
        rate_rows = np.hstack([gradient_p @ plane_p.T, -gradient_d @ plane_d.T])
        tilt_rows = np.hstack([samples.proximal_up @ plane_p.T, -samples.distal_up @ plane_d.T]) / samples.tilt_spread
        rate_weight = samples.weight * _robust_weight(rate)
        tilt_weight = samples.weight * _robust_weight(tilt)
        normal = rate_rows.T @ (rate_weight[:, None] * rate_rows) + tilt_rows.T @ (tilt_weight[:, None] * tilt_rows)
        slope = rate_rows.T @ (rate_weight * rate) + tilt_rows.T @ (tilt_weight * tilt)
        for at, plane, axis, tangents in zip(
            (0, 2), samples.planes, (proximal, distal), (plane_p, plane_d), strict=True
        ):
            pulled = plane.slope(axis, tangents)
            normal[at : at + 2, at : at + 2] += pulled[0]
            slope[at : at + 2] += pulled[1]
        step = -np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-9), slope)
        moved_p = proximal + step[:2] @ plane_p
        moved_d = distal + step[2:] @ plane_d
        moved_p /= np.linalg.norm(moved_p)
        moved_d /= np.linalg.norm(moved_d)
        trial = _residuals(samples, moved_p, moved_d)
        trial_cost = _cost(samples, trial[0], trial[1], (moved_p, moved_d))
        if trial_cost <= cost:
            finished = cost - trial_cost < settled * (1.0 + cost)
            proximal, distal, cost = moved_p, moved_d, trial_cost
            rate, tilt, gradient_p, gradient_d = trial
            damping = max(damping / 5.0, 1e-6)
            if finished:
                break
        else:
            damping *= 10.0
            if damping > 1e6:
                break
    return cost, proximal, distal, normal


def _starts(samples: _Samples) -> list[tuple[Floats, Floats]]:
    """Pairs of directions to start from: the main axes of each sensor's angular rate, with both relative signs."""
    main = []
    for rate in (samples.proximal_rate, samples.distal_rate):
        _, vectors = np.linalg.eigh(rate.T @ (samples.weight[:, None] * rate))
        main.append(vectors.T[::-1])
    return [(sign * p, d) for p in main[0] for d in main[1][:2] for sign in (1.0, -1.0)]


def tilt_disagreement_rad(proximal_up: Floats, distal_up: Floats, proximal_axis: Floats, distal_axis: Floats) -> Floats:
    """Difference of the axis' tilt against gravity as each sensor sees it.

    Parameters
    ----------
    proximal_up, distal_up : ndarray of shape (n, 3)
        Unit vectors to the sky in each sensor's axes.
    proximal_axis, distal_axis : ndarray of shape (3,)
        Unit vector of the joint's axis in each sensor's axes.

    Returns
    -------
    ndarray of shape (n,)
        Radians; near 0 while both are worn as when the axes were found.
    """
    tilts = [
        np.arcsin(np.clip(up @ axis, -1, 1)) for up, axis in ((proximal_up, proximal_axis), (distal_up, distal_axis))
    ]
    return np.asarray(tilts[0] - tilts[1])


def estimate_hinge_axis(
    proximal_rate: Floats,
    distal_rate: Floats,
    proximal_up: Floats,
    distal_up: Floats,
    weight: Floats | None = None,
    *,
    start: tuple[Floats, Floats] | None = None,
    in_plane: bool = False,
    loose: bool = False,
) -> HingeAxis:
    """Find the axis of a hinge-like joint in both sensors' axes.

    Parameters
    ----------
    proximal_rate, distal_rate : ndarray of shape (n, 3)
        Angular rates in rad/s, each in its sensor's axes, low-passed to a few hertz.
    proximal_up, distal_up : ndarray of shape (n, 3)
        Unit vectors to the sky in each sensor's axes, from an attitude filter.
    weight : ndarray of shape (n,), optional
        Say of each sample, 0 to 1; None gives all the same.
    start : tuple of ndarray, optional
        Proximal and distal direction from which to start; None tries many.
    in_plane : bool
        True: where each sensor turns in one plane only, the axis is taken to lie across it, within 10 degrees.
    loose : bool
        True where the sensors may lean with gravity on a soft layer: samples a few degrees off then keep their say.

    Returns
    -------
    HingeAxis
        The axis with its spread; its common sign is arbitrary.

    Notes
    -----
    Several starts are tried and the best robust cost wins, since the rate constraint alone has four mirror minima.
    """
    say = np.ones(len(proximal_rate)) if weight is None else weight
    speed = np.sqrt(
        np.einsum("ij,ij->i", proximal_rate, proximal_rate) + np.einsum("ij,ij->i", distal_rate, distal_rate)
    )
    moving = np.flatnonzero((say > 0) & (speed > min(0.15, np.quantile(speed[say > 0], 0.7))))
    chosen = moving[np.linspace(0, len(moving) - 1, min(MOST_SAMPLES, len(moving))).astype(int)]
    samples = _Samples(
        proximal_rate=proximal_rate[chosen],
        distal_rate=distal_rate[chosen],
        proximal_up=proximal_up[chosen],
        distal_up=distal_up[chosen],
        rate_spread=RATE_SPREAD_RAD_S + RATE_SPREAD_SHARE * speed[chosen],
        weight=say[chosen],
        planes=_planes((proximal_rate[chosen], distal_rate[chosen]), say[chosen], in_plane=in_plane),
        tilt_spread=LOOSE_TILT_SPREAD_RAD if loose else TILT_SPREAD_RAD,
    )
    whole = {"planes", "tilt_spread"}
    some = {each.name: getattr(samples, each.name)[::4] for each in fields(samples) if each.name not in whole}
    coarse = replace(samples, **some)
    if start is None:
        fits = sorted((_fit(coarse, *each, START_SETTLED) for each in _starts(coarse)), key=lambda fit: fit[0])
        best = min((_fit(samples, *fit[1:3]) for fit in fits[:2]), key=lambda fit: fit[0])
    else:
        best = _fit(samples, *start)
    cost, axis_p, axis_d, normal = best
    rate, tilt, _, _ = _residuals(samples, axis_p, axis_d)
    inlier = (np.abs(rate) < 3.0) & (np.abs(tilt) < 3.0)
    covariance = np.linalg.inv(normal + 1e-9 * np.eye(4))
    turns = [rate @ axis for rate, axis in ((samples.proximal_rate, axis_p), (samples.distal_rate, axis_d))]
    excitation = float(np.sqrt(np.mean((turns[0] - turns[1]) ** 2)))
    shares = [min(1.0, float(np.sqrt(np.mean(turn**2))) / (excitation + 1e-9)) for turn in turns]
    spread = np.sqrt(
        NEIGHBOURS * (shares[0] ** 2 * np.trace(covariance[:2, :2]) + shares[1] ** 2 * np.trace(covariance[2:, 2:]))
    )
    return HingeAxis(
        proximal=axis_p,
        distal=axis_d,
        residual_deg=float(np.degrees(1.4826 * np.median(np.abs(tilt)) * samples.tilt_spread)),
        standard_uncertainty_deg=float(min(90.0, np.degrees(spread))),
        inlier_share=float(np.mean(inlier)),
        excitation_rad_s=excitation,
        cost=cost,
    )

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
from dataclasses import dataclass, fields

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
# Many starts are tried on one sample in so many.
COARSE = 4
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


def _bases(axes: Floats) -> Floats:
    """Each unit vector with two across it: shape (k, 3, 3), the vector itself in the first row."""
    return np.array([_basis(*axis) for axis in axes.tolist()])


def _basis(x: float, y: float, z: float) -> tuple[tuple[float, float, float], ...]:
    # written out, as it is called thousands of times and np.cross takes its time over three numbers
    if abs(x) <= abs(y) and abs(x) <= abs(z):
        a, b, c = 0.0, z, -y
    elif abs(y) <= abs(z):
        a, b, c = -z, 0.0, x
    else:
        a, b, c = y, -x, 0.0
    length = math.sqrt(a * a + b * b + c * c)
    a, b, c = a / length, b / length, c / length
    return (x, y, z), (a, b, c), (y * c - z * b, z * a - x * c, x * b - y * a)


@dataclass(frozen=True)
class _Plane:
    """Main direction of one sensor's rate, and how much it pulls the axis."""

    main: Floats
    pull: float

    def off(self, axes: Floats) -> Floats:
        return np.asarray(axes - (axes @ self.main)[..., None] * self.main)

    def slope(self, axes: Floats, tangents: Floats) -> tuple[Floats, Floats]:
        """Give normal matrix and slope in the tangent plane of each axis."""
        rows = self.off(tangents)
        slopes = (rows @ self.off(axes)[:, :, None])[:, :, 0]
        return self.pull * (rows @ rows.swapaxes(1, 2)), self.pull * slopes


def _planes(rates: tuple[Floats, Floats], weight: Floats, *, in_plane: bool) -> tuple[_Plane, _Plane]:
    """Give main directions, which pull only where both sensors turn in one plane each."""
    found = [np.linalg.eigh(rate.T @ (weight[:, None] * rate)) for rate in rates]
    planar = all(values[2] > PLANAR_SHARE * values[1] for values, _ in found)
    pull = NEIGHBOURS / PLANE_SPREAD_RAD**2 if in_plane and planar else 0.0
    return _Plane(found[0][1][:, 2], pull), _Plane(found[1][1][:, 2], pull)


@dataclass(frozen=True)
class _Samples:
    """Rates and directions to the sky in spreads of their constraints, shape (3, n), and weight, shape (n,).

    The distal direction is that to the ground, so that both tilts are added, and ``least`` keeps a rate along the axis
    from having no direction across it.
    """

    proximal_rate: Floats
    distal_rate: Floats
    proximal_up: Floats
    distal_down: Floats
    least: Floats
    weight: Floats
    planes: tuple["_Plane", "_Plane"]

    def every(self, step: int) -> "_Samples":
        parts = {each.name: getattr(self, each.name) for each in fields(self)}
        planes = parts.pop("planes")
        return _Samples(**{name: each[..., ::step].copy() for name, each in parts.items()}, planes=planes)


@dataclass
class _Fits:
    """Fits under way, k of them side by side, so that many starts cost little more than one.

    ``axes`` are both sensors' unit vectors, shape (2, k, 3), ``tangents`` the two across each, shape (2, k, 2, 3);
    ``rate`` and ``tilt`` the residuals in spreads, shape (k, n), with their slopes in the tangent planes as rows,
    shape (k, 4, n); ``cost`` and ``damping`` have shape (k,).
    """

    axes: Floats
    tangents: Floats
    rate: Floats
    tilt: Floats
    rate_rows: Floats
    tilt_rows: Floats
    cost: Floats
    damping: Floats

    def only(self, kept: NDArray[np.bool_]) -> "_Fits":
        split = {name: getattr(self, name)[:, kept] for name in ("axes", "tangents")}
        rest = {each.name: getattr(self, each.name)[kept] for each in fields(self) if each.name not in split}
        return _Fits(**split, **rest)

    def move(self, there: "_Fits", better: NDArray[np.bool_]) -> None:
        """Go to where it is better."""
        for each in fields(self):
            mine, theirs = getattr(self, each.name), getattr(there, each.name)
            at = (slice(None), better) if each.name in ("axes", "tangents") else better
            mine[at] = theirs[at]


def _at(samples: _Samples, axes: Floats, damping: Floats) -> _Fits:
    """Residuals, slopes and cost of pairs of axes.

    What of a rate lies across the axis has the size of its two parts along the tangents, and turning the axis towards
    them changes that size by minus the part along it, in proportion: d|w - (w.j) j| / dj = -(w.j) across / size.
    """
    bases = np.stack([_bases(axes[0]), _bases(axes[1])])
    ups = bases[0] @ samples.proximal_up, bases[1] @ samples.distal_down
    tilt = ups[0][:, 0] + ups[1][:, 0]
    tilt_rows = np.concatenate([ups[0][:, 1:], ups[1][:, 1:]], axis=1)
    rate_rows = np.empty_like(tilt_rows)
    sizes = []
    for which, part in enumerate((bases[0] @ samples.proximal_rate, bases[1] @ samples.distal_rate)):
        along, first, second = part[:, 0], part[:, 1], part[:, 2]
        size = np.sqrt(first * first + second * second)
        size += samples.least
        along /= size
        np.multiply(along[:, None], part[:, 1:], out=rate_rows[:, 2 * which : 2 * which + 2])
        sizes.append(size)
    np.negative(rate_rows[:, :2], out=rate_rows[:, :2])
    rate = sizes[0] - sizes[1]
    cost = (_bounded(rate) + _bounded(tilt)) @ samples.weight
    for plane, each in zip(samples.planes, axes, strict=True):
        cost += plane.pull * np.sum(plane.off(each) ** 2, axis=1) / 9.0
    return _Fits(axes, bases[:, :, 1:], rate, tilt, rate_rows, tilt_rows, cost, damping)


def _bounded(residual: Floats) -> Floats:
    squared = (residual / 3.0) ** 2
    return np.asarray(squared / (1.0 + squared))


def _robust_weight(residual: Floats) -> Floats:
    """Geman-McClure weight: samples far off lose their say altogether."""
    return 1.0 / (1.0 + (residual / 3.0) ** 2) ** 2


def _normals(samples: _Samples, fits: _Fits) -> tuple[Floats, Floats]:
    """Give normal matrices, shape (k, 4, 4), and slopes, shape (k, 4)."""
    rate_rows = fits.rate_rows * (samples.weight * _robust_weight(fits.rate))[:, None]
    tilt_rows = fits.tilt_rows * (samples.weight * _robust_weight(fits.tilt))[:, None]
    normal = rate_rows @ fits.rate_rows.swapaxes(1, 2) + tilt_rows @ fits.tilt_rows.swapaxes(1, 2)
    slope = (rate_rows @ fits.rate[:, :, None] + tilt_rows @ fits.tilt[:, :, None])[:, :, 0]
    for at, plane, axes, tangents in zip((0, 2), samples.planes, fits.axes, fits.tangents, strict=True):
        pulled = plane.slope(axes, tangents)
        normal[:, at : at + 2, at : at + 2] += pulled[0]
        slope[:, at : at + 2] += pulled[1]
    return normal, slope


def _moved(fits: _Fits, step: Floats) -> Floats:
    steps = np.stack([step[:, :2], step[:, 2:]])
    axes = fits.axes + (steps[:, :, None] @ fits.tangents)[:, :, 0]
    return np.asarray(axes / np.linalg.norm(axes, axis=2, keepdims=True))


def _fit(samples: _Samples, axes: Floats, settled: float = SETTLED) -> tuple[Floats, Floats, Floats]:
    """Gauss-Newton on two unit spheres with iterated reweighting, from k starts, shape (2, k, 3).

    Returns costs, axes and normal matrices, each in the order of the starts.
    """
    count = axes.shape[1]
    cost, found, normals = np.empty(count), np.empty_like(axes), np.empty((count, 4, 4))
    live, fits = np.arange(count), _at(samples, axes, np.full(count, 1e-3))
    diagonal = np.arange(4)
    for _ in range(ITERATIONS):
        normal, slope = _normals(samples, fits)
        normals[live] = normal
        damped = normal.copy()
        damped[:, diagonal, diagonal] += fits.damping[:, None] * (normal[:, diagonal, diagonal] + 1e-9)
        step = np.asarray(-np.linalg.solve(damped, slope[:, :, None])[:, :, 0], dtype=np.float64)
        trial = _at(samples, _moved(fits, step), np.maximum(fits.damping / 5.0, 1e-6))
        better = trial.cost <= fits.cost
        finished = better & (fits.cost - trial.cost < settled * (1.0 + fits.cost))
        if better.all():
            fits = trial
        else:
            fits.damping[~better] *= 10.0
            fits.move(trial, better)
        finished |= ~better & (fits.damping > 1e6)
        cost[live], found[:, live] = fits.cost, fits.axes
        if finished.all():
            break
        if finished.any():
            live, fits = live[~finished], fits.only(~finished)
    return cost, found, normals


def _starts(rates: tuple[Floats, Floats], weight: Floats) -> Floats:
    """Pairs of directions to start from: the main axes of each sensor's angular rate, with both relative signs."""
    main = []
    for each in rates:
        rate = each[:, ::COARSE]
        _, vectors = np.linalg.eigh(rate @ (weight[::COARSE] * rate).T)
        main.append(vectors.T[::-1])
    pairs = [(sign * p, d) for p in main[0] for d in main[1][:2] for sign in (1.0, -1.0)]
    return np.array(pairs).swapaxes(0, 1)


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
    rate_spread = RATE_SPREAD_RAD_S + RATE_SPREAD_SHARE * speed[chosen]
    tilt_spread = LOOSE_TILT_SPREAD_RAD if loose else TILT_SPREAD_RAD
    rates = proximal_rate[chosen].T.copy(), distal_rate[chosen].T.copy()
    samples = _Samples(
        proximal_rate=rates[0] / rate_spread,
        distal_rate=rates[1] / rate_spread,
        proximal_up=proximal_up[chosen].T / tilt_spread,
        distal_down=distal_up[chosen].T / -tilt_spread,
        least=1e-9 / rate_spread,
        weight=say[chosen],
        planes=_planes((proximal_rate[chosen], distal_rate[chosen]), say[chosen], in_plane=in_plane),
    )
    if start is None:
        coarse = samples.every(COARSE)
        costs, axes, _ = _fit(coarse, _starts(rates, samples.weight), START_SETTLED)
        costs, axes, normals = _fit(samples, axes[:, np.argsort(costs, kind="stable")[:2]])
    else:
        costs, axes, normals = _fit(samples, np.stack(start)[:, None])
    best = int(np.argmin(costs))
    axis_p, axis_d = axes[0, best], axes[1, best]
    at_best = _at(samples, axes[:, best : best + 1], np.zeros(1))
    rate, tilt = at_best.rate[0], at_best.tilt[0]
    inlier = (np.abs(rate) < 3.0) & (np.abs(tilt) < 3.0)
    covariance = np.linalg.inv(normals[best] + 1e-9 * np.eye(4))
    turns = [axis @ rate for rate, axis in zip(rates, (axis_p, axis_d), strict=True)]
    excitation = float(np.sqrt(np.mean((turns[0] - turns[1]) ** 2)))
    shares = [min(1.0, float(np.sqrt(np.mean(turn**2))) / (excitation + 1e-9)) for turn in turns]
    spread = np.sqrt(
        NEIGHBOURS * (shares[0] ** 2 * np.trace(covariance[:2, :2]) + shares[1] ** 2 * np.trace(covariance[2:, 2:]))
    )
    return HingeAxis(
        proximal=axis_p,
        distal=axis_d,
        residual_deg=float(np.degrees(1.4826 * np.median(np.abs(tilt)) * tilt_spread)),
        standard_uncertainty_deg=float(min(90.0, np.degrees(spread))),
        inlier_share=float(np.mean(inlier)),
        excitation_rad_s=excitation,
        cost=float(costs[best]),
    )

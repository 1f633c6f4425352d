"""How each sensor leans with gravity on its soft layer, found together with the joint's axis.

Flesh and foam give way: a sensor's own weight, and that of the flesh under it, turns it a little against the bone, to
one side with the segment upright and to the other with it upside down. To first order this turn is ``l x u`` in sensor
axes, u the direction to the sky and l a vector of the sensor's own: its normal times the lean per g (own derivation,
no source). An accelerometer's offset b, which an attitude filter takes for gravity, looks the same with l = b/g. So a
rigid sensor has a small l, one on foam a large one, and both bend the joint's angle as the segments turn.

The axis of a hinge has one direction in the world, whichever sensor it is seen from. That holds in every pose only if
axes and leans are right, so both are fitted to it together, robustly, in turn with the relative heading. The leans are
held towards 0 by what is usual, so that a recording which does not show them is left as it is.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import axis_world, up_in_sensor
from imu_rom.motion.heading import heading_difference_rad

__all__ = ["Lean", "fit_lean", "leant_axis"]

Floats = NDArray[np.float64]

# How far sensors usually lean where gravity pulls along the skin; common practice, no source.
USUAL_RAD = np.radians(1.5)
# Disagreement of the axis' direction in one look; looks closer in time than this share their error.
SPREAD_RAD = np.radians(1.5)
LOOK_S = 0.4
OUTLIER_SPREADS = 4.0
MOST_ROUNDS, STEPS = 15, 2
SETTLED_RAD = np.radians(0.1)
# Fits use at most this many samples, spread evenly.
MOST_SAMPLES = 2400
# Less disagreement than this needs no explaining, and more is no leaning but an axis or heading that is not seen.
SMALLEST_EXPLAINED_RAD, LARGEST_EXPLAINED_RAD = np.radians(0.5), np.radians(12.0)
# So much may be left of it on the whole, and in each third: a slip is explained on the whole at one third's cost.
LEFT_SHARE, LEFT_SHARE_OF_THIRD = 0.5, 0.6
LITTLE_LEFT_RAD, MOST_LEFT_RAD = np.radians(0.6), np.radians(1.6)
# Nothing that is fastened leans farther with its weight; a slip would have to. Common practice, no source.
FARTHEST_RAD = np.radians(15.0)


@dataclass(frozen=True)
class Lean:
    """The joint's axis in both sensors, and how each sensor leans with gravity.

    Parameters
    ----------
    proximal_axis, distal_axis : ndarray of shape (3,)
        Unit vectors in each sensor's axes where it does not lean.
    proximal_rad, distal_rad : ndarray of shape (3,)
        Lean vector l in radians per g: the sensor is turned by ``l x u`` in its own axes, u the direction to the sky.
    covariance : ndarray of shape (6, 6)
        Of both lean vectors, the proximal one first, in rad^2.
    before_rad, after_rad : ndarray of shape (3,)
        Median disagreement about the axis' direction in the world in each third of the samples, as it was and as it is
        fitted.
    """

    proximal_axis: Floats
    distal_axis: Floats
    proximal_rad: Floats
    distal_rad: Floats
    covariance: Floats
    before_rad: Floats
    after_rad: Floats

    @property
    def explains(self) -> bool:
        """True where leaning accounts for most of a disagreement, all the time: a sensor that slips disagrees later."""
        before, after = self.before_rad, self.after_rad
        disagrees = before.mean() > SMALLEST_EXPLAINED_RAD and before.max() < LARGEST_EXPLAINED_RAD
        on_the_whole = after.mean() < LEFT_SHARE * before.mean() and after.max() < MOST_LEFT_RAD
        every_third = after < np.maximum(LEFT_SHARE_OF_THIRD * before, LITTLE_LEFT_RAD)
        farthest = max(np.linalg.norm(self.proximal_rad), np.linalg.norm(self.distal_rad))
        return bool(disagrees and on_the_whole and every_third.all() and farthest < FARTHEST_RAD)

    def _weights(self, proximal_up: Floats, distal_up: Floats) -> Floats:
        # (l x u) . j = l . (u x j): what each part of the leans does to the angle, shape (n, 6)
        return np.hstack([np.cross(proximal_up, self.proximal_axis), -np.cross(distal_up, self.distal_axis)])

    def correction_rad(self, proximal_up: Floats, distal_up: Floats) -> Floats:
        """Return what to add to the angle between the sensors to have that between the segments.

        Parameters
        ----------
        proximal_up, distal_up : ndarray of shape (n, 3)
            Unit vectors to the sky in each sensor's axes.

        Returns
        -------
        ndarray of shape (n,)
            Radians, right-handed about the axis.
        """
        return np.asarray(self._weights(proximal_up, distal_up) @ np.concatenate([self.proximal_rad, self.distal_rad]))

    def standard_uncertainty_rad(self, proximal_up: Floats, distal_up: Floats) -> Floats:
        """Return the standard uncertainty of the correction, its mean over the samples left aside.

        Parameters
        ----------
        proximal_up, distal_up : ndarray of shape (n, 3)
            Unit vectors to the sky in each sensor's axes.

        Returns
        -------
        ndarray of shape (n,)
            Radians.
        """
        weights = self._weights(proximal_up, distal_up)
        # a part that is the same all the time moves the zero, not the course
        weights -= weights.mean(axis=0)
        return np.asarray(np.sqrt(np.einsum("ni,ij,nj->n", weights, self.covariance, weights)))


def _matrix(quaternion: Floats) -> Floats:
    """Rotation matrices of scalar-first quaternions, shape (n, 3, 3)."""
    return np.stack([axis_world(quaternion, each) for each in np.eye(3)], axis=-1)


def _tangents(axis: Floats) -> Floats:
    """Two unit vectors across a unit vector, shape (2, 3)."""
    across = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    across /= np.linalg.norm(across)
    return np.stack([across, np.cross(axis, across)])


def leant_axis(axis: Floats, lean: Floats, up: Floats) -> Floats:
    """Give the axis as a leaning sensor sees it: j - (l x u) x j.

    Parameters
    ----------
    axis : ndarray of shape (3,)
        Unit vector of the joint's axis where the sensor does not lean.
    lean : ndarray of shape (3,)
        Lean vector in radians per g.
    up : ndarray of shape (n, 3)
        Unit vectors to the sky in the sensor's axes.

    Returns
    -------
    ndarray of shape (n, 3)
        In the sensor's axes; of unit length to first order.
    """
    return axis - (up * (lean @ axis) - np.outer(up @ axis, lean))


def _columns(matrix: Floats, up: Floats, axis: Floats) -> Floats:
    """How the axis' direction in the world changes with the axis (2) and with the lean (3), shape (n, 3, 5)."""
    across = matrix @ _tangents(axis).T
    turned = np.einsum("nij,nj->ni", matrix, up)[:, :, None] * axis
    return np.concatenate([across, (up @ axis)[:, None, None] * matrix - turned], axis=2)


def fit_lean(
    quaternions: tuple[Floats, Floats],
    axes: tuple[Floats, Floats],
    weight: Floats,
    rate_hz: float,
    heading_rad: Callable[[Floats, Floats], Floats],
    first_heading_rad: Floats | None = None,
) -> Lean:
    """Fit the axis and both leans to the axis' one direction in the world.

    Parameters
    ----------
    quaternions : tuple of two ndarrays of shape (m, 4)
        Attitude of the proximal and of the distal sensor, sensor -> world with z up, each with its own heading.
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in both sensors' axes, to start from; they point the same way.
    weight : ndarray of shape (m,)
        Say of each sample: 0 where a sensor is not worn or delivers nothing.
    rate_hz : float
        Rate of these arrays.
    heading_rad : callable
        Smooths the relative heading over the recording: takes `heading.heading_difference_rad`'s two arrays and returns
        radians, one a sample.
    first_heading_rad : ndarray of shape (m,), optional
        What it returns for the axes to start from, where that is known.

    Returns
    -------
    Lean
        Axes and leans, as far as the recording shows them.
    """
    used = np.flatnonzero(weight > 0)
    used = used[:: max(1, -(-len(used) // MOST_SAMPLES))]
    proximal_matrix, distal_matrix = (_matrix(each[used]) for each in quaternions)
    ups = [up_in_sensor(each) for each in quaternions]
    proximal_up, distal_up = (each[used] for each in ups)
    proximal, distal = axes
    leans = np.zeros((2, 3))
    # samples closer than one look count together as one
    say = weight[used] * min(1.0, weight.sum() / max(len(used), 1) / (LOOK_S * rate_hz)) / SPREAD_RAD**2
    held = np.concatenate([np.zeros(4), np.full(6, USUAL_RAD**-2)])
    normal = np.diag(held + 1e-9)
    order = [0, 1, 5, 6, 2, 3, 4, 7, 8, 9]
    disagreements: list[Floats] = []
    for _ in range(MOST_ROUNDS):
        before = np.concatenate([proximal, distal, leans.ravel()])
        if first_heading_rad is None:
            seen = [
                axis_world(quaternion, leant_axis(axis, lean, up))
                for quaternion, axis, lean, up in zip(quaternions, (proximal, distal), leans, ups, strict=True)
            ]
            heading = heading_rad(*heading_difference_rad(*seen))[used]
        else:
            heading, first_heading_rad = first_heading_rad[used], None
        cosine, sine = np.cos(heading), np.sin(heading)
        turned = distal_matrix.copy()
        turned[:, 0] = cosine[:, None] * distal_matrix[:, 0] - sine[:, None] * distal_matrix[:, 1]
        turned[:, 1] = sine[:, None] * distal_matrix[:, 0] + cosine[:, None] * distal_matrix[:, 1]
        for _ in range(STEPS):
            off = np.einsum("nij,nj->ni", proximal_matrix, leant_axis(proximal, leans[0], proximal_up))
            off -= np.einsum("nij,nj->ni", turned, leant_axis(distal, leans[1], distal_up))
            apart = np.linalg.norm(off, axis=1)
            disagreements.append(np.array([np.median(each) if len(each) else 0.0 for each in np.array_split(apart, 3)]))
            far = apart / (OUTLIER_SPREADS * SPREAD_RAD)
            rows = np.concatenate(
                [_columns(proximal_matrix, proximal_up, proximal), -_columns(turned, distal_up, distal)], axis=2
            )[:, :, order]
            weighted = (say / (1.0 + far**2) ** 2)[:, None, None] * rows
            normal = np.tensordot(weighted, rows, ([0, 1], [0, 1])) + np.diag(held + 1e-9)
            slope = np.tensordot(weighted, off, ([0, 1], [0, 1]))
            step = -np.linalg.solve(normal, slope + held * np.concatenate([np.zeros(4), leans.ravel()]))
            proximal = proximal + step[:2] @ _tangents(proximal)
            distal = distal + step[2:4] @ _tangents(distal)
            proximal, distal = (each / np.linalg.norm(each) for each in (proximal, distal))
            leans = leans + step[4:].reshape(2, 3)
        if np.abs(np.concatenate([proximal, distal, leans.ravel()]) - before).max() < SETTLED_RAD:
            break
    covariance = np.asarray(np.linalg.inv(normal)[4:, 4:], dtype=np.float64)
    return Lean(proximal, distal, leans[0], leans[1], covariance, disagreements[0], disagreements[-1])

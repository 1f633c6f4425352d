"""Drift of a hinge whose axis stands upright, seen by what little of gravity acts across it.

Gravity along the axis says nothing of the angle, and gyroscopes alone drift by the difference of their biases. But no
axis stands quite upright: its lean leaves a small share of gravity across it, and seen from a segment that turns, this
share turns the other way round while the accelerometer's own offset stays. In windows of a minute the force across the
axis is therefore fitted by a constant, by what the lever to the joint's centre adds, and by a vector that turns with
the angle; how far that vector has turned on from window to window is the drift. The smoother of `heading_looks` joins
the windows, with a drift rate that walks at random, so that uncertainty grows where they show little.

It needs one segment that keeps still and an axis that keeps its lean. Where either is not so, residuals are large and
nothing is claimed. How much the lean itself may change does not average out and is added (``LEAN_CHANGE_RAD``).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import CoarseMotion, block_mean
from imu_rom.motion.heading_looks import Drift, Look, looks_of, smooth_looks
from imu_rom.motion.hinge_fusion import HingeFusion, along_axis

__all__ = ["without_upright_drift"]

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

GRAVITY_M_S2 = 9.81
WINDOW_S = 60.0
# Residuals over one movement belong together: their means over this long are taken as independent.
TOGETHER_S = 2.0
ROUNDS = 3
# Gravity shows the angle by the usual way where it is seen for more than this share of the time.
OBSERVED_SHARE = 0.02
# A segment keeps still: share of its turning of that of the other.
STILL_SHARE = 0.03
# Looks that are less sure say nothing, because angles of a small vector are not normally distributed.
UNSURE_RAD = np.radians(25.0)
# How much the axis' lean may change while it stands there. Common practice, no source.
LEAN_CHANGE_RAD = np.radians(0.05)
# What is left of a cheap gyroscope's bias, and its walk: 0.05 deg/s in a minute. Common practice, no source.
DRIFT = Drift(rate_rad_s=float(np.radians(1.0)), time_constant_s=48000.0, noise_rad_sqrt_s=float(np.radians(0.05)))
UNKNOWN_RAD = np.pi
# Levers from the joint's centre, and noise of one look at their force. Common practice, no source.
LEVER_SPREAD_M = 0.3
LEVER_NOISE_M_S2 = 0.05
FEWEST_LOOKS = 4


def _window(force: Complex, regressors: Complex, rate_hz: float) -> tuple[complex, float, float]:
    """Fit one window: the turning vector, its standard uncertainty each direction, and what lasting misfit does to it.

    The smaller the swing, the more the vector looks like a constant, and the more does a lasting misfit turn it.
    """
    found, *_ = np.linalg.lstsq(regressors, force, rcond=None)
    left = force - regressors @ found
    together = max(1, round(TOGETHER_S * rate_hz))
    count = len(left) // together
    parts = left[: count * together].reshape(count, together)
    rows = regressors[: count * together].reshape(count, together, -1)
    scores = np.einsum("ijk,ij->ik", rows.conj(), parts)
    spare = count / max(1, count - regressors.shape[1])
    inverse = np.linalg.pinv(regressors.conj().T @ regressors)
    # sandwich of White 1980 (doi:10.2307/1912934), by stretches
    covariance = inverse @ (scores.T @ scores.conj()) @ inverse.conj().T * spare
    spread = float(np.sqrt(max(0.0, covariance[0, 0].real) / 2.0))
    magnified = np.sqrt(len(left) * inverse[0, 0].real)
    lasting = np.sqrt(np.mean(np.abs(parts.mean(axis=1)) ** 2) / 2.0)
    return complex(found[0]), spread, float(magnified * lasting)


def _levers(force: Complex, lever: Complex, windows: list[slice], columns: list[Complex]) -> Complex:
    """Fit what the levers add, the same in all windows, beside what each window has of its own.

    In a steady swing a lever's force looks much like a turning vector; what it then takes of one it takes of all alike,
    and only how far they turn from window to window counts.
    """
    normal: Complex = np.eye(lever.shape[1], dtype=np.complex128) * (LEVER_NOISE_M_S2 / LEVER_SPREAD_M) ** 2
    right = np.zeros(lever.shape[1], dtype=complex)
    for inside, regressors in zip(windows, columns, strict=True):
        basis, _ = np.linalg.qr(regressors)
        own = lever[inside] - basis @ (basis.conj().T @ lever[inside])
        normal = normal + own.conj().T @ own
        right += own.conj().T @ force[inside]
    return np.asarray(np.linalg.solve(normal, right))


def _looks(
    motion: CoarseMotion, forces: tuple[Complex, Complex], rate: Floats, angle: Floats, worn: NDArray[np.bool_]
) -> tuple[Look, float]:
    """How far gravity has turned on against an angle, window by window; and how unsure all of it is together.

    ``forces`` are what the segment that keeps still and the one that turns feel across the axis.
    """
    still, force = forces
    size = round(WINDOW_S * motion.rate_hz)
    step = size // 2
    turned = np.exp(-1j * angle)
    time = np.linspace(-1.0, 1.0, size)
    starts = [each for each in range(0, len(force) - size + 1, step) if worn[each : each + size].all()]
    windows = [slice(each, each + size) for each in starts]
    columns = [np.stack([turned[each], time * turned[each], np.ones(size)], axis=1) for each in windows]
    lever = np.stack([rate**2, np.gradient(rate) * motion.rate_hz], axis=1).astype(complex)
    force = force - lever @ _levers(force, lever, windows, columns)
    found = []
    for inside, regressors in zip(windows, columns, strict=True):
        vector, spread, left = _window(force[inside], regressors, motion.rate_hz)
        length = max(abs(vector), 1e-9)
        # windows overlap by half: each says half as much
        unsure = np.sqrt(2.0) * spread / length
        held = still[inside].mean()
        middle_s = motion.time_s[inside.start + step]
        found.append((middle_s, -np.angle(vector), unsure, length, left, held.real, held.imag))
    if not found:
        return looks_of("gravity across the axis", np.zeros(0), np.zeros(0), 0.0), UNKNOWN_RAD
    times, behind, spreads, lengths, lefts, *held = (np.array(each) for each in zip(*found, strict=True))
    # what the still segment feels of the axis' lean shows whether it changes, and whether that segment turns
    changes = float(np.hypot(*(np.std(each) for each in held)))
    lean = float(np.linalg.norm([LEAN_CHANGE_RAD * GRAVITY_M_S2, np.median(lefts), changes]))
    together = lean / float(np.median(lengths))
    spreads = np.where(spreads < UNSURE_RAD, spreads, np.inf)
    return looks_of("gravity across the axis", times, behind, spreads), together


def without_upright_drift(
    fusion: HingeFusion, motion: CoarseMotion, axes: tuple[Floats, Floats], worn: NDArray[np.bool_]
) -> HingeFusion:
    """Take the drift out of the angle of a hinge whose axis stood upright, as far as it shows.

    Parameters
    ----------
    fusion : HingeFusion
        The angle by the gyroscopes.
    motion : CoarseMotion
        Both sensors.
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in the proximal and the distal sensor's axes.
    worn : ndarray of bool of shape (m,)
        True where both sensors are worn and deliver.

    Returns
    -------
    HingeFusion
        With another drift and its uncertainty; the same where gravity shows the angle anyway, where both segments move,
        or where nothing is seen of the drift.
    """
    if worn.sum() < 2 * WINDOW_S * motion.rate_hz or np.mean(fusion.observed[worn]) > OBSERVED_SHARE:
        return fusion
    rates = [motion.proximal_rate @ axes[0], motion.distal_rate @ axes[1]]
    turning = [float(np.sqrt(np.mean(each[worn] ** 2))) for each in rates]
    moving = int(np.argmax(turning))
    if turning[1 - moving] > STILL_SHARE * turning[moving]:
        return fusion
    measured = (motion.proximal_force_m_s2, motion.distal_force_m_s2)
    still, turned = (
        aligned[:, 0] + 1j * aligned[:, 1]
        for aligned in (along_axis(measured[each], axes[each]) for each in (1 - moving, moving))
    )
    sense = 1.0 if moving else -1.0
    angle = block_mean(fusion.angle_rad, motion.block)
    drift = np.zeros(len(angle))
    heading, together = None, UNKNOWN_RAD
    for _ in range(ROUNDS):
        look, together = _looks(motion, (still, turned), rates[moving], sense * (angle + drift), worn)
        if len(look.time_s) < FEWEST_LOOKS or together > UNSURE_RAD:
            return fusion
        # the vector's own direction is another constant; the angle's zero is arbitrary anyway
        turns = np.unwrap(look.heading_rad)
        behind = sense * (turns - np.median(turns))
        heading = smooth_looks([replace(look, heading_rad=behind)], motion.time_s, motion.missing, DRIFT)
        drift = drift + heading.angle_rad
    if heading is None:
        return fusion
    sample = np.arange(len(fusion.angle_rad))
    middle = (np.arange(len(drift)) + 0.5) * motion.block - 0.5
    return replace(
        fusion,
        angle_rad=fusion.angle_rad + np.interp(sample, middle, drift),
        drift_standard_uncertainty_rad=np.hypot(heading.standard_uncertainty_rad, together),
    )

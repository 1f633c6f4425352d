"""Relative heading of two sensors from the one point that both segments share: the centre of their joint.

Whatever a joint lets its segments do, both carry its centre. Each sensor's specific force, moved to the centre by the
lever arm, must be the same vector in both worlds; they differ by the heading alone (Weygers, Kok, De Vroey, Verbeerst,
Versteyhe, Hallez, Claeys 2020, "Drift-free inertial sensor-based joint kinematics for long-term arbitrary movements",
IEEE Sensors J 20:7969-7979, from memory; lever arms after Seel, Schauer, Raisch 2012, doi:10.1109/CCA.2012.6402423).
No axis, no mounting and no posture enters, so it serves joints of any kind. Where the centre is not pushed sideways
(standing, slow movement on the spot) it shows nothing.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import axis_world
from imu_rom.motion.coarse import CoarseMotion, moving_mean

__all__ = ["CentreLooks", "looks_from_centre"]

Floats = NDArray[np.float64]

LOOK_S = 1.0
# Faster than this is wobble of the flesh and the ring of steps, slower than that leans of the attitude and biases.
FAST_S = 0.2
SLOW_S = 4.0
# What wobbling flesh and the filters leave in the force at the centre, even while nobody pushes.
NOISE_M_S2 = 0.15
NOISE_SHARE = 0.15
# Lever arms of a person's joints: a guess of nothing, give or take this.
LEVER_M = 0.3
# Neighbouring samples share their error: so many count as one.
SAMPLES_A_LOOK = 6.0
# A weak push comes again with each repetition, and so does what falsifies it (a lever arm that is off, flesh that gives
# way): such looks don't average out as if they knew nothing of each other, and the weakest say nothing.
WEAK_M_S2 = 0.5
WEAKEST_M_S2 = 0.15
# Two sensors on one body are pushed alike; hands that tape one on push it otherwise. Share of the push that both have
# in common: from the first on a look counts for something, from the second on in full.
ALIKE = (0.5, 0.85)
# A few looks may agree by chance, so many (counted by their say) don't.
FEWEST_LOOKS = 6.0
ROUNDS = 4
ROBUST = 3.0


@dataclass(frozen=True)
class CentreLooks:
    """Looks at the relative heading, one a second.

    Parameters
    ----------
    time_s : ndarray of shape (k,)
        Middle of each look.
    heading_rad : ndarray of shape (k,)
        Rotation about the vertical from distal world to proximal world, -pi to pi.
    standard_uncertainty_rad : ndarray of shape (k,)
        Of each; infinite where the centre was not pushed.
    proximal_lever_m, distal_lever_m : ndarray of shape (3,)
        From the joint's centre to each sensor, in its axes.
    """

    time_s: Floats
    heading_rad: Floats
    standard_uncertainty_rad: Floats
    proximal_lever_m: Floats
    distal_lever_m: Floats


def _turned(columns: Floats, quaternion: Floats) -> Floats:
    """Turn the columns of a 3 x 3 matrix a sample into the world, shape (m, 3, 3)."""
    return np.stack([axis_world(quaternion, columns[:, :, each]) for each in range(3)], axis=2)


def _lever_matrix(rate: Floats, rate_hz: float) -> Floats:
    """Matrix that takes a lever arm to the force it adds, from turning: alpha x r + w x (w x r), shape (m, 3, 3)."""
    slope = np.gradient(rate, 1.0 / rate_hz, axis=0)
    outer = rate[:, :, None] * rate[:, None, :]
    matrix = outer - np.einsum("ij,ij->i", rate, rate)[:, None, None] * np.eye(3)
    x, y, z = slope.T
    nothing = np.zeros_like(x)
    skew = np.stack([nothing, -z, y, z, nothing, -x, -y, x, nothing], axis=1).reshape(-1, 3, 3)
    return np.asarray(matrix + skew)


def _band(values: Floats, rate_hz: float) -> Floats:
    fast = moving_mean(values, max(1, round(FAST_S * rate_hz)))
    return fast - moving_mean(fast, max(2, round(SLOW_S * rate_hz)))


def _looks(
    proximal: Floats, distal: Floats, weight: Floats, width: int
) -> tuple[NDArray[np.complex128], Floats, Floats]:
    """Sum of products, power and noise of each look; horizontal forces as complex numbers."""
    first, second = (each[:, 0] + 1j * each[:, 1] for each in (proximal, distal))
    edges = np.arange(0, len(weight) - width + 1, width)
    product = np.add.reduceat(weight * first * np.conj(second), edges)
    power = np.add.reduceat(weight * np.abs(second) * np.abs(first), edges)
    turn = np.repeat(np.exp(1j * np.angle(product)), width)
    turn = np.concatenate([turn, np.full(len(weight) - len(turn), turn[-1] if len(turn) else 1.0)])[: len(weight)]
    left = np.abs(first - turn * second) ** 2 / 2
    count = np.maximum(np.add.reduceat(weight, edges), 1e-9)
    # the size of a fourth of the force is no sign that it is known
    floor = NOISE_M_S2**2 + NOISE_SHARE**2 * power / count
    noise = np.add.reduceat(weight * left, edges) / count + floor
    return product, power, noise


def looks_from_centre(motion: CoarseMotion, usable: NDArray[np.bool_]) -> CentreLooks:
    """Look at the relative heading once a second, by the force on the joint's centre.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    usable : ndarray of bool of shape (m,)
        False where a sensor was not worn or delivered nothing.

    Returns
    -------
    CentreLooks
        Looks with their standard uncertainty; all infinite where nothing pushed the centre.
    """
    width = max(2, round(LOOK_S * motion.rate_hz))
    forces, levers = [], []
    for rate, force, quaternion in (
        (motion.proximal_rate, motion.proximal_force_m_s2, motion.proximal_quaternion),
        (motion.distal_rate, motion.distal_force_m_s2, motion.distal_quaternion),
    ):
        forces.append(_band(axis_world(quaternion, force), motion.rate_hz))
        levers.append(_band(_turned(_lever_matrix(rate, motion.rate_hz), quaternion), motion.rate_hz))
    weight = usable.astype(float)
    arms = np.zeros((2, 3))
    count = len(weight) // width
    nothing = CentreLooks(np.zeros(0), np.zeros(0), np.zeros(0), arms[0], arms[1])
    if count < 1 or not usable.any():
        return nothing
    samples = np.add.reduceat(weight, np.arange(count) * width)
    heading: Floats | None = None
    product = np.zeros(count, dtype=complex)
    power = noise = np.ones(count)
    for _ in range(ROUNDS):
        if heading is not None:
            arms = _arms(
                forces, levers, heading, weight * (_spread(power, noise, samples)[_look_of(len(weight), width)] < 0.5)
            )
        centre = [force - lever @ arm for force, lever, arm in zip(forces, levers, arms, strict=True)]
        product, power, noise = _looks(centre[0], centre[1], weight, width)
        # look and neighbours together, so that one odd second does not lead the lever arms astray
        share = product / noise
        heading = np.angle(np.convolve(share, np.ones(15), mode="same"))[_look_of(len(weight), width)]
    time_s = (np.arange(count) + 0.5) * width / motion.rate_hz
    alike = np.clip((np.abs(product) / np.maximum(power, 1e-12) - ALIKE[0]) / (ALIKE[1] - ALIKE[0]), 1e-3, 1.0)
    spread: Floats = np.where((samples < width / 2) | (alike < 2e-3), np.inf, _spread(power, noise, samples) / alike)
    say = spread**-2.0
    if say.sum() ** 2 < FEWEST_LOOKS * np.sum(say**2):
        spread = np.full_like(spread, np.inf)
    return CentreLooks(
        np.asarray(time_s, dtype=float), np.asarray(np.angle(product), dtype=float), spread, arms[0], arms[1]
    )


def _look_of(samples: int, width: int) -> NDArray[np.int64]:
    return np.minimum(np.arange(samples) // width, samples // width - 1)


def _spread(power: Floats, noise: Floats, count: Floats) -> Floats:
    """Give the standard uncertainty of a look's angle: noise over the force's size, more for a weak push."""
    push = np.maximum(power / np.maximum(count, 1e-9), 1e-9)
    weak = WEAK_M_S2**4 / push**2
    spread = np.sqrt(noise * SAMPLES_A_LOOK * (1.0 + weak) / np.maximum(power, 1e-12))
    return np.where(push > WEAKEST_M_S2**2, spread, np.inf)


def _arms(forces: list[Floats], levers: list[Floats], heading: Floats, weight: Floats) -> Floats:
    """Lever arms by least squares on all three components, once the headings are brought together."""
    cosine, sine = np.cos(heading), np.sin(heading)

    def turned(values: Floats) -> Floats:
        shape = (-1, *([1] * (values.ndim - 2)))
        c, s = cosine.reshape(shape), sine.reshape(shape)
        return np.stack([c * values[:, 0] - s * values[:, 1], s * values[:, 0] + c * values[:, 1], values[:, 2]], 1)

    rows = np.concatenate([levers[0], -turned(levers[1])], axis=2).reshape(-1, 6)
    wanted = (forces[0] - turned(forces[1])).reshape(-1)
    say = np.repeat(weight, 3)
    found = np.zeros(6)
    # what is known before: lever arms of a person, against the noise that neighbouring samples share
    ridge = np.eye(6) * SAMPLES_A_LOOK * (NOISE_M_S2 / LEVER_M) ** 2
    for _ in range(4):
        left = wanted - rows @ found
        robust = say / (1.0 + (left / (ROBUST * 2 * NOISE_M_S2)) ** 2) ** 2
        found = np.linalg.solve(rows.T @ (robust[:, None] * rows) + ridge, rows.T @ (robust * wanted))
    return found.reshape(2, 3)

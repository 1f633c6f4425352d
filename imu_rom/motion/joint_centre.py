"""Where the joint lies from both sensors, seen by what both feel of its movement.

The centre of a joint belongs to both segments, so it has one acceleration. A sensor at the lever r from it feels the
specific force f = f_c + (w' x + w x w x) r, with its angular rate w; taken back to the centre, both sensors must have
felt the same force, whatever the body does. With the joint angle known this is linear in both levers, in both
accelerometers' offsets and in small faults of the angle (after Seel, Schauer and Raisch 2012,
doi:10.1109/CCA.2012.6402423, and Kok, Hol and Schon 2014, doi:10.3182/20140824-6-ZA-1003.02252). It asks for no rest,
works while the whole body is thrown about, and corrects what an attitude filter can not know: that a swinging sensor
never feels gravity alone.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["AngleFaults", "JointCentre", "Segment", "fit_joint_centre"]

Floats = NDArray[np.float64]

# Spread of what is not known before, common practice for sensors taped to limbs and for cheap accelerometers.
LEVER_SPREAD_M = 0.3
OFFSET_SPREAD_M_S2 = 0.12
PRECISION_BEFORE = np.repeat([LEVER_SPREAD_M**-2.0, OFFSET_SPREAD_M_S2**-2.0], 6)
SMALLEST_SPREAD_M_S2 = 0.05
MOST_SAMPLES = 4000
# What is not in the model (cross-axis sensitivity, a joint that is no perfect hinge) does not average out over a long
# recording: all samples together count as so many independent ones.
INDEPENDENT_SAMPLES = 60.0
ROUNDS = 6
# Below this neither way of joining the sensors is the better one.
NO_CLOSER_M_S2 = 0.01


@dataclass(frozen=True)
class Segment:
    """What one sensor felt, in axes whose z is the joint's axis.

    Parameters
    ----------
    force_m_s2 : ndarray of shape (m, 3)
        Specific force.
    rate_rad_s, acceleration_rad_s2 : ndarray of shape (m, 3)
        Angular rate and its derivative.
    """

    force_m_s2: Floats
    rate_rad_s: Floats
    acceleration_rad_s2: Floats

    @classmethod
    def of(cls, force_m_s2: Floats, rate_rad_s: Floats, rate_hz: float) -> "Segment":
        """Make a segment of evenly sampled force and angular rate.

        Parameters
        ----------
        force_m_s2, rate_rad_s : ndarray of shape (m, 3)
            Specific force and angular rate, in axes whose z is the joint's.
        rate_hz : float
            Rate of these arrays.

        Returns
        -------
        Segment
            With the angular acceleration.
        """
        return cls(force_m_s2, rate_rad_s, np.asarray(np.gradient(rate_rad_s, 1.0 / rate_hz, axis=0)))

    def lever_rows(self, at: NDArray[np.intp]) -> Floats:
        """Matrix that takes a lever to the specific force that rotation adds at its end.

        Parameters
        ----------
        at : ndarray of int of shape (k,)
            Samples.

        Returns
        -------
        ndarray of shape (3, 3, k)
            Angular acceleration crossed plus angular rate crossed twice, in 1/s^2; parts of the lever, directions,
            samples.
        """
        x, y, z = self.rate_rad_s[at].T
        u, v, w = self.acceleration_rad_s2[at].T
        rows = np.empty((3, 3, len(at)))
        rows[0] = -(y * y + z * z), x * y + w, x * z - v
        rows[1] = x * y - w, -(x * x + z * z), y * z + u
        rows[2] = x * z + v, y * z - u, -(x * x + y * y)
        return rows

    def added_m_s2(self, lever_m: Floats) -> Floats:
        """Specific force that rotation adds at the end of a lever: what `lever_rows` gives, for all samples.

        Parameters
        ----------
        lever_m : ndarray of shape (3,)
            From the joint's centre to the sensor.

        Returns
        -------
        ndarray of shape (m, 3)
            w' x r + w x (w x r).
        """
        a, b, c = lever_m.tolist()
        # r x as a matrix on the right of rows: w' x r
        across = np.array([[0.0, -c, b], [c, 0.0, -a], [-b, a, 0.0]])
        along = self.rate_rad_s @ lever_m
        squared = np.einsum("ij,ij->i", self.rate_rad_s, self.rate_rad_s)
        added = self.acceleration_rad_s2 @ across
        added += along[:, None] * self.rate_rad_s
        added -= squared[:, None] * lever_m
        return np.asarray(added)


@dataclass(frozen=True)
class AngleFaults:
    """What the angle may be off by: a sum of known courses with unknown small shares.

    Parameters
    ----------
    course : ndarray of shape (m, k)
        Radians a unit of share.
    share : ndarray of shape (k,)
        Shares that are in the angle already.
    spread : ndarray of shape (k,)
        Standard deviation of each share before anything was measured.
    """

    course: Floats
    share: Floats
    spread: Floats


@dataclass(frozen=True)
class JointCentre:
    """Levers from the joint's centre to both sensors, and both accelerometers' offsets, in axes whose z is the joint's.

    Parameters
    ----------
    levers_m, offsets_m_s2 : ndarray of shape (2, 3)
        Proximal and distal. Along the axis only the difference of the levers is known.
    fault_share : ndarray of shape (k,)
        How much of each fault of the angle there is.
    spread_m_s2 : float
        Robust standard deviation of the disagreement of both forces, each direction.
    cost : float
        Robust cost of the fit; of two ways to join the same sensors the lower one agrees better.
    """

    levers_m: Floats
    offsets_m_s2: Floats
    fault_share: Floats
    spread_m_s2: float
    cost: float

    def at_centre(self, segment: Segment, which: int) -> Floats:
        """Take one sensor's force back to the joint's centre.

        Parameters
        ----------
        segment : Segment
            What it felt.
        which : {0, 1}
            Proximal or distal.

        Returns
        -------
        ndarray of shape (m, 3)
            Specific force of the joint's centre in m/s^2.
        """
        return np.asarray(segment.force_m_s2 - segment.added_m_s2(self.levers_m[which]) - self.offsets_m_s2[which])


def _regressors(
    proximal: Segment, distal: Segment, angle_rad: Floats, fault_course: Floats, at: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Give what levers, offsets and faults add to the difference of both forces, and that difference itself.

    Shapes (12 + faults, 3, k) and (3, k): samples last, as the fit goes over all of them again and again.
    """
    cosine, sine = np.cos(angle_rad[at]), np.sin(angle_rad[at])

    def turned(rows: Floats) -> None:
        """Take vectors, their directions last but one, from distal to proximal axes."""
        first = cosine * rows[..., 0, :] - sine * rows[..., 1, :]
        rows[..., 1, :] = sine * rows[..., 0, :] + cosine * rows[..., 1, :]
        rows[..., 0, :] = first

    felt = distal.force_m_s2[at].T.copy()
    turned(felt)
    added = np.zeros((12 + fault_course.shape[1], 3, len(at)))
    added[:3] = proximal.lever_rows(at)
    np.negative(distal.lever_rows(at), out=added[3:6])
    added[6:9] = np.eye(3)[:, :, None]
    added[9:12] = -np.eye(3)[:, :, None]
    turned(added[3:6])
    turned(added[9:12])
    # how the distal force turns with the angle
    np.multiply(-felt[1], fault_course[at].T, out=added[12:, 0])
    np.multiply(felt[0], fault_course[at].T, out=added[12:, 1])
    return added, np.asarray(proximal.force_m_s2[at].T - felt)


def fit_joint_centre(
    proximal: Segment, distal: Segment, angle_rad: Floats, faults: AngleFaults, usable: NDArray[np.bool_]
) -> JointCentre:
    """Fit levers, accelerometer offsets and faults of the angle to what both sensors felt.

    Parameters
    ----------
    proximal, distal : Segment
        Both sensors, in axes whose z is the joint's axis.
    angle_rad : ndarray of shape (m,)
        Rotation about z that takes distal to proximal axes.
    faults : AngleFaults
        What the angle may be off by.
    usable : ndarray of bool of shape (m,)
        Samples to use.

    Returns
    -------
    JointCentre
        Levers, offsets, shares of the faults, and how well both forces then agree.

    Raises
    ------
    ValueError
        No sample is usable.
    """
    at = np.flatnonzero(usable)
    if len(at) == 0:
        raise ValueError("a joint centre needs samples, got none that are usable")
    at = at[:: max(1, len(at) // MOST_SAMPLES)]
    added, differs = _regressors(proximal, distal, angle_rad, faults.course, at)
    weighted = np.empty_like(added)
    flat, rows = (each.reshape(len(added), -1) for each in (added, weighted))
    known_before = np.concatenate([PRECISION_BEFORE, faults.spread**-2.0])
    expected = np.concatenate([np.zeros(12), -faults.share])
    say = min(1.0, INDEPENDENT_SAMPLES / len(at))
    found, spread, middle = expected, SMALLEST_SPREAD_M_S2, 0.0
    for _ in range(ROUNDS):
        left = differs - (found @ flat).reshape(3, -1)
        size = np.sqrt(np.einsum("ij,ij->j", left, left))
        # the median of the length of three normal deviates is 1.54 of one's standard deviation
        middle = float(np.median(size)) / 1.54
        spread = max(SMALLEST_SPREAD_M_S2, middle)
        # roots of the weights: numpy works out a matrix times itself, turned, in half the time
        root = math.sqrt(say) / (1.0 + (size / (3.0 * spread)) ** 2) / spread
        np.multiply(added, root, out=weighted)
        normal = rows @ rows.T + np.diag(known_before)
        found = np.linalg.solve(normal, rows @ (differs * root).ravel() + known_before * expected)
    odd = float(known_before @ (found - expected) ** 2)
    return JointCentre(
        levers_m=found[:6].reshape(2, 3),
        offsets_m_s2=found[6:12].reshape(2, 3),
        fault_share=faults.share + found[12:],
        spread_m_s2=spread,
        cost=2.0 * math.log(middle + NO_CLOSER_M_S2) + odd / (len(at) * say),
    )

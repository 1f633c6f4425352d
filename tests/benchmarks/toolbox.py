"""The general-purpose toolbox's angle of a hinge: ``qmt`` (Laidig et al.), as the tables' yardstick.

Hinge-axis estimation after Olsson, Kok, Seel and Halvorsen 2020 (doi:10.3390/s20123534), attitudes by its offline
filter, heading correction after Laidig, Schauer and Seel 2017 (doi:10.1109/ICORR.2017.8009375) and its successors.

It has settings that nobody could choose well without the truth; they are all tried, so that a table can take the one
that is best over a whole row. That is kinder to it than any use of it can be.
"""

import contextlib
import io
import warnings
from itertools import product

import numpy as np

__all__ = ["SETTINGS", "hinge_angles_deg", "toolbox_axes"]

STARTS = ((0.0, 0.0, 0.0, 0.0), (0.0, 1.6, 0.0, 1.6), (1.0, 0.0, 0.0, 1.6), (0.0, 1.6, 1.0, 0.0))
MOST_SAMPLES = 4000
# euler_1d and proj take five times as long and came out the same or worse on every rig
CONSTRAINTS = ("1d_corr",)
SELECTIONS = ("all samples", "selected samples")
RATES = ("rates as measured", "mean of neighbouring rates")
SETTINGS = tuple(", ".join(each) for each in product(SELECTIONS, RATES, CONSTRAINTS))


def toolbox_axes(proximal, distal, *, select):
    """Both axes; of four starts the one with the lowest cost, as it has local minima.

    ``proximal`` and ``distal`` are pairs of accelerometer in m/s^2 and gyroscope in rad/s.
    """
    import qmt

    step = max(1, len(proximal[0]) // MOST_SAMPLES)
    samples = [np.ascontiguousarray(each[::step]) for each in (proximal[0], distal[0], proximal[1], distal[1])]
    fits = []
    for start in STARTS:
        first, second, debug = qmt.jointAxisEstHingeOlsson(
            *samples,
            estSettings={"x0": np.array(start).reshape(4, 1), "useSampleSelection": select, "dataSize": 1000},
            debug=True,
        )
        fits.append((float(np.squeeze(debug["optimVarsAxis"]["f"])), tuple(first.ravel()), tuple(second.ravel())))
    _, first, second = min(fits)
    return np.array(first), np.array(second)


def _turned(attitude, rate, axis):
    """Attitude and rate with the axis as x."""
    import qmt

    across = np.cross([1.0, 0.0, 0.0], axis)
    align = qmt.quatFromAngleAxis(np.arctan2(np.linalg.norm(across), axis[0]), across)
    return qmt.qmult(attitude, align), qmt.rotate(qmt.qinv(align), rate)


def _angle_deg(attitudes, rates, axes, rate_hz, constraint):
    import qmt

    (first, first_rate), (second, second_rate) = (_turned(*each) for each in zip(attitudes, rates, axes, strict=True))
    corrected = qmt.headingCorrection(
        first_rate,
        second_rate,
        first,
        second,
        np.arange(len(first)) / rate_hz,
        np.array([1.0, 0.0, 0.0]),
        {},
        # the rate must be a multiple of the data rate, 5 Hz by default, or it stops
        estSettings={"constraint": constraint, "alignment": "center", "dataRate": rate_hz / round(rate_hz / 5.0)},
    )[0]
    relative = qmt.qmult(qmt.qinv(first), corrected)
    return np.degrees(np.unwrap(2.0 * np.arctan2(relative[:, 1], relative[:, 0])))


@contextlib.contextmanager
def _quiet():
    """Keep what the toolbox prints, and its divisions by zero, off the table."""
    with contextlib.redirect_stdout(io.StringIO()), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def hinge_angles_deg(proximal, distal, rate_hz, settings=SETTINGS):
    """Angle by each setting, in degrees with arbitrary sign and zero; None where the toolbox stops or gives no number.

    ``proximal`` and ``distal`` are pairs of accelerometer in m/s^2 and gyroscope in rad/s, each of shape (n, 3).
    """
    import qmt

    angles, axes, attitudes = {}, {}, {}
    for selection, rates, constraint in product(SELECTIONS, RATES, CONSTRAINTS):
        name = f"{selection}, {rates}, {constraint}"
        if name not in settings:
            continue
        if rates not in attitudes:
            turning = [each[1] for each in (proximal, distal)]
            if rates != RATES[0]:
                turning = [np.vstack([each[:1], (each[1:] + each[:-1]) / 2.0]) for each in turning]
            attitudes[rates] = [
                qmt.oriEstOfflineVQF(
                    np.ascontiguousarray(rate), np.ascontiguousarray(force), params={"Ts": 1.0 / rate_hz}
                )
                for rate, (force, _) in zip(turning, (proximal, distal), strict=True)
            ]
        try:
            with _quiet():
                if selection not in axes:
                    axes[selection] = toolbox_axes(proximal, distal, select=selection != SELECTIONS[0])
                angle = _angle_deg(attitudes[rates], (proximal[1], distal[1]), axes[selection], rate_hz, constraint)
        except (ValueError, ArithmeticError, IndexError, np.linalg.LinAlgError, AssertionError):
            angle = None
        angles[name] = angle if angle is not None and np.isfinite(angle).all() else None
    return angles

"""Closed-form exposure of three invented movements, written beside this file by ``python exposure_values.py``.

Sinusoid: angle(t) = m + A sin(w t) over whole cycles. Share of time past c: f = 1/2 - asin(x)/pi with x = (c - m)/A;
mean excess A sqrt(1 - x^2)/pi - (c - m) f; df/dc = -1/(pi A sqrt(1 - x^2)); the softened share is f averaged over an
error N(0, u) of the zero (adaptive quadrature of SciPy, split where f has its corners).

Trapezoid: straight ramps between top and bottom, a hold at the bottom; time past c is the hold plus the share
(bottom - c)/(bottom - top) of both ramps, excess is hold (bottom - c) + ramps (bottom - c)^2 / (bottom - top) / 2.

Floor repetition: the same trapezoid with its hold exactly on the threshold, its zero off by a given offset; with an
error N(0, u) of the zero the mean time past 0 is hold/2 + ramps u / (sqrt(2 pi) (bottom - top)).
"""

import csv
import itertools
import math
from pathlib import Path

from scipy.integrate import quad

HERE = Path(__file__).parent
U_DEG = 2.7


def sinusoid_share(threshold, middle, amplitude):
    x = (threshold - middle) / amplitude
    return 0.5 - math.asin(min(1.0, max(-1.0, x))) / math.pi


def sinusoid(threshold, middle=-10.0, amplitude=20.0, duration=90.0):
    x = (threshold - middle) / amplitude
    share = sinusoid_share(threshold, middle, amplitude)
    mean_excess = amplitude * math.sqrt(1 - x * x) / math.pi - (threshold - middle) * share
    slope = -1 / (math.pi * amplitude * math.sqrt(1 - x * x))

    def softened(delta):
        return sinusoid_share(threshold - delta, middle, amplitude) * math.exp(-0.5 * (delta / U_DEG) ** 2)

    corners = sorted({-9 * U_DEG, 9 * U_DEG, *(d for d in (threshold - middle - amplitude,) if abs(d) < 9 * U_DEG)})
    area = sum(quad(softened, a, b, epsabs=1e-13)[0] for a, b in itertools.pairwise(corners))
    return {
        "threshold_deg": threshold,
        "time_past_s": duration * share,
        "excess_deg_s": duration * mean_excess,
        "slope_per_deg": slope,
        "linear_standard_uncertainty_s": duration * abs(slope) * U_DEG,
        "softened_share": area / (U_DEG * math.sqrt(2 * math.pi)),
    }


def trapezoid(threshold, top=-30.0, bottom=10.0, ramp=3.0, hold=2.0):
    share = (bottom - threshold) / (bottom - top)
    return {
        "threshold_deg": threshold,
        "time_past_s": hold + 2 * ramp * share,
        "excess_deg_s": hold * (bottom - threshold) + ramp * share * (bottom - threshold),
    }


def floor_repetition(offset, top=-30.0, ramp=3.0, hold=2.0):
    past = 0.0 if offset <= 0 else hold + 2 * ramp * offset / -top
    return {"offset_deg": offset, "time_past_s": past}


def floor_mean_s(top=-30.0, ramp=3.0, hold=2.0):
    return hold / 2 + 2 * ramp * U_DEG / (math.sqrt(2 * math.pi) * -top)


def tables():
    return {
        "sinusoid_exposure.csv": [sinusoid(0.0), sinusoid(5.0)],
        "trapezoid_exposure.csv": [trapezoid(0.0), trapezoid(5.0)],
        "floor_repetition.csv": [floor_repetition(offset) for offset in (-2.7, 0.0, 2.7, 5.4)],
    }


def main():
    for name, rows in tables().items():
        with (HERE / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows([{key: f"{value:.9g}" for key, value in row.items()} for row in rows])


if __name__ == "__main__":
    main()

"""Conformance probabilities and global risks, written beside this file by ``python conformance_values.py``.

Computed by other means than the code under test: normal probabilities by ``statistics.NormalDist``, global risks as
rectangle probabilities of the two-dimensional normal distribution of the true and the measured value (SciPy), not by
integrating over the true value.

Inputs: "JCGM 106 7.4" is the example of JCGM 106:2012, clause 7.4, whose printed answer is 0.66 (from memory);
"ankle limit" is an end range y against a limit of 0 degrees and "ankle window" one against [5, 15] degrees, both with
u = sqrt(2^2 + 1.5^2 + 1^2) rounded to 2.7 degrees. "resistors" is the lot of JCGM 106:2012, clause 9.5: process
N(1500, 0.12) ohm, measuring system u = 0.04 ohm, tolerance 1500 +- 0.2 ohm, acceptance 1500 +- 0.18 ohm; printed
consumer's risk 0.01 and producer's risk 0.07 (from memory).
"""

import csv
import math
from pathlib import Path
from statistics import NormalDist

from scipy.stats import multivariate_normal

HERE = Path(__file__).parent
PHI = NormalDist().cdf


def probability(value, u, lower, upper):
    return PHI((upper - value) / u) - PHI((lower - value) / u)


def conformance():
    cases = [("JCGM 106 7.4", 13.6, 1.8, 12.5, 16.3)]
    cases += [
        ("ankle limit", y, 2.7, -math.inf, 0.0) for y in (-6.0, -5.4, -4.4415, -3.0, -1.0, 0.0, 1.0, 3.0, 5.4, 6.0)
    ]
    cases.append(("ankle window", 12.0, 2.7, 5.0, 15.0))
    names = ("case", "value", "standard_uncertainty", "lower", "upper")
    return [{**dict(zip(names, case, strict=True)), "probability": f"{probability(*case[1:]):.6f}"} for case in cases]


def risks(mean, spread, u, tolerance, acceptance):
    cross = spread**2
    both = multivariate_normal(
        [mean, mean], [[spread**2, cross], [cross, spread**2 + u**2]], abseps=1e-10, maxpts=10**7
    )

    def rectangle(x, y):
        return float(both.cdf([x[1], y[1]], lower_limit=[x[0], y[0]]))

    conforming = NormalDist(mean, spread).cdf(tolerance[1]) - NormalDist(mean, spread).cdf(tolerance[0])
    measured = NormalDist(mean, math.hypot(spread, u))
    accepted = measured.cdf(acceptance[1]) - measured.cdf(acceptance[0])
    good_and_accepted = rectangle(tolerance, acceptance)
    return conforming, accepted - good_and_accepted, conforming - good_and_accepted


def global_risks():
    names = ("conforming", "consumers_risk", "producers_risk")
    inputs = {"mean": 1500.0, "spread": 0.12, "standard_uncertainty": 0.04}
    inputs |= {"lower": 1499.8, "upper": 1500.2, "accept_lower": 1499.82, "accept_upper": 1500.18}
    answers = risks(1500.0, 0.12, 0.04, (1499.8, 1500.2), (1499.82, 1500.18))
    return [
        {"case": "resistors", **inputs, **{n: f"{v:.5f}" for n, v in zip(names, answers, strict=True)}},
    ]


def tables():
    return {"conformance_probability.csv": conformance(), "global_risk.csv": global_risks()}


def main():
    for name, rows in tables().items():
        with (HERE / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()

import csv
import importlib.util
import itertools
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.conformance import (
    acceptance_limits,
    answer,
    at_least_probability,
    capability_index,
    conformance_probability,
    global_risk,
    normal_cdf,
    shared_error_nodes,
)

REFERENCES = Path(__file__).parents[1] / "references"


def reference_table(name):
    with (REFERENCES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def reference_script(name):
    spec = importlib.util.spec_from_file_location(name, REFERENCES / f"{name}.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    return script


def numbers(row, *names):
    return [float(row[name]) for name in names]


@pytest.mark.parametrize("row", reference_table("coverage_factors.csv"))
def test_coverage_factors_of_nist_technical_note_1297(row):
    factor, percent = numbers(row, "coverage_factor", "coverage_percent")
    tolerance = 0.005 if "." in row["coverage_percent"] else 0.02  # as many digits as are printed
    assert 100 * conformance_probability(0.0, 1.0, -factor, factor) == pytest.approx(percent, abs=tolerance)


@pytest.mark.parametrize("row", reference_table("conformance_probability.csv"))
def test_conformance_probability_agrees_with_the_table(row):
    value, u, lower, upper, probability = numbers(row, "value", "standard_uncertainty", "lower", "upper", "probability")
    assert conformance_probability(value, u, lower, upper) == pytest.approx(probability, abs=6e-7)


def test_the_printed_example_of_jcgm_106_clause_7_4():
    assert round(float(conformance_probability(13.6, 1.8, 12.5, 16.3)), 2) == 0.66
    assert capability_index(1.8, 12.5, 16.3) == pytest.approx(0.5278, abs=5e-5)


@pytest.mark.parametrize("row", reference_table("global_risk.csv"))
def test_global_risks_of_the_resistors_of_jcgm_106(row):
    mean, spread, u, *limits = numbers(
        row, "mean", "spread", "standard_uncertainty", "lower", "upper", "accept_lower", "accept_upper"
    )
    risk = global_risk(mean, spread, u, tuple(limits[:2]), tuple(limits[2:]))
    found = (risk.conforming, risk.consumers_risk, risk.producers_risk)
    assert found == pytest.approx(numbers(row, "conforming", "consumers_risk", "producers_risk"), abs=6e-6)
    assert (round(risk.consumers_risk, 2), round(risk.producers_risk, 2)) == (0.01, 0.07)  # as printed


def test_a_one_sided_global_risk_agrees_with_drawing_lots():
    draw = np.random.default_rng(11)
    true = draw.normal(2.0, 3.0, 400_000)
    measured = true + draw.normal(0, 1.5, len(true))
    risk = global_risk(2.0, 3.0, 1.5, (-math.inf, 5.0), (-math.inf, 4.0))
    assert risk.conforming == pytest.approx((true <= 5).mean(), abs=0.003)
    assert risk.consumers_risk == pytest.approx(((true > 5) & (measured <= 4)).mean(), abs=0.001)
    assert risk.producers_risk == pytest.approx(((true <= 5) & (measured > 4)).mean(), abs=0.002)


def test_reference_tables_are_what_their_script_writes():
    for name, rows in reference_script("conformance_values").tables().items():
        assert reference_table(name) == [{key: str(value) for key, value in row.items()} for row in rows]


def test_risk_at_a_guarded_acceptance_limit():
    # JCGM 106:2012 clause 8; the specific risk at the acceptance limit is 1 - Phi(w/u)
    _, upper = acceptance_limits(2.7, upper=0.0)
    assert upper == pytest.approx(-5.4)
    assert 1 - conformance_probability(upper, 2.7, upper=0.0) == pytest.approx(0.02275, abs=5e-6)
    _, upper = acceptance_limits(1.0, upper=3.0, guard_factor=1.645 / 2)
    assert 1 - conformance_probability(upper, 1.0, upper=3.0) == pytest.approx(0.05, abs=5e-5)
    assert acceptance_limits(1.0, -1.0, 1.0, guard_factor=-1.0) == (-3.0, 3.0)
    assert acceptance_limits(1.0, -1.0, 1.0, guard_factor=0.0) == (-1.0, 1.0)


@given(st.floats(-50, 50), st.floats(0.01, 10), st.floats(-50, 50), st.floats(0, 50))
def test_the_parts_of_the_line_add_up_to_one(value, u, lower, width):
    upper = lower + width
    below = conformance_probability(value, u, upper=lower)
    within = conformance_probability(value, u, lower, upper)
    above = conformance_probability(value, u, lower=upper)
    assert below + within + above == pytest.approx(1.0, abs=1e-12)
    assert min(below, within, above) >= 0


def test_without_uncertainty_the_limit_itself_belongs_to_the_tolerance():
    values = np.array([-0.1, 0.0, 0.5, 1.0, 1.1])
    assert conformance_probability(values, 0.0, 0.0, 1.0).tolist() == [0, 1, 1, 1, 0]
    assert conformance_probability(values, 0.0, upper=1.0).tolist() == [1, 1, 1, 1, 0]
    assert conformance_probability(-math.inf, 2.0, upper=1.0) == 1
    assert conformance_probability(-math.inf, 0.0, upper=1.0) == 1


@pytest.mark.parametrize(
    ("probability", "decide", "expected"),
    [
        (0.80, 0.80, "yes"),
        (0.7999, 0.80, "undecided"),
        (0.2001, 0.80, "undecided"),
        (0.20, 0.80, "no"),
        (0.05, 0.95, "no"),
        (0.0501, 0.95, "undecided"),
        (1.0, 1.0, "yes"),
        (0.0, 1.0, "no"),
        (0.5, 0.51, "undecided"),
    ],
)
def test_answers_at_the_decide_value(probability, decide, expected):
    assert answer(probability, decide) == expected


def test_a_floor_level_end_is_never_decided_by_a_guard_band_of_two_uncertainties():
    # an end range of 0 +- 5.4 degrees against a limit of 0
    for end_deg in np.arange(-5.3, 5.4, 0.1):
        assert answer(float(conformance_probability(end_deg, 2.7, upper=0.0)), 0.97725) == "undecided"


@given(st.lists(st.floats(0, 1), min_size=1, max_size=7), st.integers(0, 8))
def test_at_least_agrees_with_going_through_all_outcomes(probabilities, count):
    total = sum(
        math.prod(p if happens else 1 - p for p, happens in zip(probabilities, outcome, strict=True))
        for outcome in itertools.product([False, True], repeat=len(probabilities))
        if sum(outcome) >= count
    )
    assert at_least_probability(np.array([probabilities]), count) == pytest.approx(total, abs=1e-12)


def test_at_least_averages_over_the_nodes_of_a_shared_error():
    # all or nothing together: sharing makes two of two as likely as one of two
    together = np.array([[1.0, 1.0], [0.0, 0.0]])
    assert at_least_probability(together, 1) == at_least_probability(together, 2) == 0.5
    apart = np.full((2, 2), 0.5)
    assert (at_least_probability(apart, 1), at_least_probability(apart, 2)) == (0.75, 0.25)


@given(st.floats(-6, 6), st.floats(0.1, 5), st.floats(0, 3))
def test_nodes_and_the_rest_together_give_the_whole_uncertainty(room, shared, own):
    nodes = shared_error_nodes(shared)
    given_node = conformance_probability(nodes, own, upper=room).mean()
    assert given_node == pytest.approx(float(normal_cdf(room / math.hypot(shared, own))), abs=1e-3)


def test_the_module_loads_without_the_slow_statistics():
    code = "import sys, imu_rom.dose.conformance; print('scipy' in sys.modules)"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "False"

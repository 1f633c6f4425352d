"""The normal distribution as the verdicts use it, against SciPy's."""

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from imu_rom.dose.conformance import normal_cdf, standard_nodes


def test_distribution_function_is_scipys_far_into_both_tails():
    z = np.linspace(-37.0, 9.0, 4001)
    assert np.abs(normal_cdf(z) / ndtr(z) - 1.0).max() < 1e-12
    assert normal_cdf(np.inf) == 1.0
    assert normal_cdf(-np.inf) == 0.0
    assert normal_cdf(0.0) == 0.5


@pytest.mark.parametrize("count", [1, 2, 9, 1001])
def test_nodes_are_scipys_quantiles(count):
    assert np.abs(standard_nodes(count) - ndtri((np.arange(count) + 0.5) / count)).max() < 1e-13

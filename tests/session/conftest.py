"""What several tests of sessions share: readings of two sensors on a straight edge, from an independent simulator."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom.recording.model import Recording, Sensor


@pytest.fixture(scope="session")
def straight_edge():
    """Load the independent simulator, which lies beside the tests of motion and is no part of the package."""
    path = Path(__file__).parents[1] / "motion" / "independent" / "straight_edge.py"
    spec = importlib.util.spec_from_file_location("independent_straight_edge", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["independent_straight_edge"] = module
    spec.loader.exec_module(module)
    return module


def as_recording(edge, points=("shank", "foot"), missing=None):
    missing = np.zeros(len(edge.forces_m_s2[0]), dtype=bool) if missing is None else missing
    return Recording(
        rate_hz=edge.rate_hz,
        sensors={
            point: Sensor(point, force, rate, None, missing)
            for point, force, rate in zip(points, edge.forces_m_s2, edge.rates_rad_s, strict=False)
        },
        label="edge",
    )


@pytest.fixture(scope="session")
def recorded():
    """Function that makes a recording of an edge: ``recorded(edge, points, missing)``."""
    return as_recording

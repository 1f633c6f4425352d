"""What several tests of motion share: an independent simulator, and real recordings inside installed packages."""

import importlib.util
import sys
from dataclasses import dataclass
from importlib.metadata import files
from pathlib import Path

import numpy as np
import pytest

STANDARD_GRAVITY_M_S2 = 9.80665


def beside_the_tests(name):
    """Load a module of the folder ``independent``, which is no part of the package."""
    path = Path(__file__).parent / "independent" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"independent_{name}", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def leg():
    """Load the independent simulator of a leg."""
    return beside_the_tests("leg")


@pytest.fixture(scope="session")
def throw():
    """Throw a hinge about: a function of a seed that gives what both sensors felt, and the truth."""
    return beside_the_tests("thrown_hinge").throw


@pytest.fixture(scope="session")
def ball():
    """Load the generator of ball-joint sessions, which shares no code with the package."""
    return beside_the_tests("ball")


@pytest.fixture(scope="session")
def perfect(leg):
    """Replay a session without noise, bias and skin."""
    return leg.replay(1, leg.Course(sets=1, repetitions=3), perfect=True)


def installed_file(package, ending):
    """Find a file that an installed package brings along, without importing the package."""
    (found,) = [each for each in files(package) if str(each).endswith(ending)]
    return Path(found.locate())


@pytest.fixture(scope="session")
def knee_walk():
    """A person who stands for two seconds and walks, sensors on thigh and shank (scikit-kinematics, BSD licence).

    Text files with a comment, a row of column names and one row a sample: counter, acceleration in m/s^2, angular rate
    in rad/s (at rest 9.8 and 0), 120 Hz. Both have the same counter.
    """
    tables = [
        np.loadtxt(installed_file("scikit-kinematics", f"walking_xsens_{part}Leg.txt"), skiprows=5, usecols=range(7))
        for part in ("upper", "lower")
    ]
    assert np.array_equal(tables[0][:, 0], tables[1][:, 0])
    return 120.0, [(each[:, 1:4], each[:, 4:7]) for each in tables]


@dataclass(frozen=True)
class ShoulderSet:
    """One set of a shoulder exercise with one sensor on the wrist."""

    person: int
    exercise: str
    side: int
    accelerometer_m_s2: np.ndarray
    gyroscope_rad_s: np.ndarray


@pytest.fixture(scope="session")
def shoulder_people():
    """Give the same sets as ``shoulder_sets`` with person and side."""
    data = np.load(installed_file("seglearn", "watch_dataset.npy"), allow_pickle=True).item()
    columns = (data["subject"], data["y"], data["side"], data["X"])
    return 50.0, [
        ShoulderSet(
            int(person),
            data["y_labels"][exercise],
            int(side),
            samples[:, :3] * STANDARD_GRAVITY_M_S2,
            samples[:, 3:],
        )
        for person, exercise, side, samples in zip(*columns, strict=True)
    ]


@pytest.fixture(scope="session")
def shoulder_sets():
    """140 sets of shoulder exercises, one sensor on the wrist, nominally 20 repetitions each (seglearn, BSD licence).

    Ten people, seven exercises, both sides; 50 Hz. The array holds g and rad/s (six columns), and says which exercise.
    Returned as (exercise, acceleration in m/s^2, angular rate in rad/s).
    """
    data = np.load(installed_file("seglearn", "watch_dataset.npy"), allow_pickle=True).item()
    assert data["X_labels"] == ["ax", "ay", "az", "wx", "wy", "wz"]
    return 50.0, [
        (data["y_labels"][number], samples[:, :3] * STANDARD_GRAVITY_M_S2, samples[:, 3:])
        for number, samples in zip(data["y"], data["X"], strict=True)
    ]

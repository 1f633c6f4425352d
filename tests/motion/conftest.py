"""What several tests of motion share: an independent simulator, and real recordings inside installed packages."""

import importlib.util
import sys
from importlib.metadata import files
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def leg():
    """Load the independent simulator, which lies beside the tests and is no part of the package."""
    path = Path(__file__).parent / "independent" / "leg.py"
    spec = importlib.util.spec_from_file_location("independent_leg", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["independent_leg"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def perfect(leg):
    """Replay a session without noise, bias and skin."""
    return leg.replay(1, leg.Course(sets=1, repetitions=3), perfect=True)


@pytest.fixture(scope="session")
def installed_file():
    """Find a file that an installed package brings along, without importing the package."""

    def find(package, ending):
        (found,) = [each for each in files(package) if str(each).endswith(ending)]
        return Path(found.locate())

    return find

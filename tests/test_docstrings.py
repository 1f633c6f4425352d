"""Docstrings of all public things follow numpydoc: the checks that pyproject.toml names, on the things themselves."""

import importlib
import inspect
import operator
import pkgutil
import re
import tomllib
from dataclasses import is_dataclass
from pathlib import Path
from typing import Protocol

import pytest

import imu_rom
import imu_rom_cli

ROOT = Path(__file__).parents[1]
RULES = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["numpydoc_validation"]
MODULES = sorted(
    each.name
    for package in (imu_rom, imu_rom_cli)
    for each in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
)


def public_things(module):
    """Names of the module, its public functions and classes, and the public members of these."""
    # numpydoc can't look at packages, nor at modules without a function or class
    if not hasattr(module, "__path__") and module.__name__ != "imu_rom.version":
        yield module.__name__
    for name in getattr(module, "__all__", ()):
        thing = getattr(module, name)
        if getattr(thing, "__module__", None) != module.__name__ or not callable(thing):
            continue
        yield f"{module.__name__}.{name}"
        if inspect.isclass(thing):
            given = thing.__dataclass_fields__ if is_dataclass(thing) else {}
            for member, value in vars(thing).items():
                if not member.startswith("_") and member not in given and (callable(value) or hasattr(value, "fget")):
                    yield f"{module.__name__}.{name}.{member}"


def said_elsewhere(thing):
    """Parameters that a class does not describe itself: those that it inherits, and settings, which carry a meaning.

    A protocol is never made, so it has none: the ``__init__`` in it is the typing module's own. What it asks for is
    written as properties and methods, each with a docstring of its own; `undescribed` finds what is not.
    """
    if not inspect.isclass(thing):
        return False
    if getattr(thing, "_is_protocol", False):
        return True
    if is_dataclass(thing):
        return all("meaning" in each.metadata for each in thing.__dataclass_fields__.values())
    return "__init__" not in vars(thing)


def undescribed(thing):
    """Attributes that a protocol asks for without a place for a docstring."""
    return sorted(inspect.get_annotations(thing)) if getattr(thing, "_is_protocol", False) else []


def test_what_a_protocol_asks_for_in_passing_is_seen():
    class Asks(Protocol):
        silent: int

        @property
        def told(self):
            """With a docstring."""

    assert undescribed(Asks) == ["silent"]
    assert undescribed(dict) == []


@pytest.mark.parametrize("name", MODULES)
def test_public_docstrings_follow_numpydoc(name):
    from numpydoc.validate import validate

    module = importlib.import_module(name)
    faults = []
    for each in public_things(module):
        if any(re.search(pattern, each) for pattern in RULES["exclude"]):
            continue
        checks = set(RULES["checks"])
        thing = operator.attrgetter(each.removeprefix(f"{name}."))(module) if each != name else module
        if said_elsewhere(thing):
            checks.remove("PR01")
        faults += [f"{each}.{attribute}: a property with a docstring is needed" for attribute in undescribed(thing)]
        faults += [f"{each}: {code} {text}" for code, text in validate(each)["errors"] if code in checks]
    assert faults == []


@pytest.mark.parametrize("name", MODULES)
def test_every_module_says_what_it_is_and_what_is_public(name):
    module = importlib.import_module(name)
    assert module.__doc__
    assert module.__doc__.strip().splitlines()[0].endswith((".", ":"))
    if not hasattr(module, "__path__"):
        assert module.__all__
    for each in getattr(module, "__all__", ()):
        assert hasattr(module, each)

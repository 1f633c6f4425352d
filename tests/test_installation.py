"""What an installation puts on a machine: two packages with their data, one program, and nothing else at the top."""

import json
from importlib.metadata import distribution
from importlib.resources import files

import pytest

import imu_rom

INSTALLED = distribution("imu-rom")


def test_nothing_but_the_two_packages_is_installed():
    if json.loads(INSTALLED.read_text("direct_url.json") or "{}").get("dir_info", {}).get("editable"):
        pytest.skip("an editable installation holds no files of its own")
    tops = {each.parts[0] for each in INSTALLED.files if each.parts[0] != ".."}
    assert tops == {"imu_rom", "imu_rom_cli", f"imu_rom-{imu_rom.__version__}.dist-info"}


def test_its_data_lie_beside_it():
    for place in (
        "py.typed",
        "exchange/result_schema.json",
        "report/templates/page.html",
        "wording/languages/de/LC_MESSAGES/patient.mo",
        "dose/protocols/rio-2015.toml",
    ):
        assert files("imu_rom").joinpath(place).is_file()


def test_program_and_version():
    assert INSTALLED.version == imu_rom.__version__
    assert [(each.name, each.value) for each in INSTALLED.entry_points] == [("imu-rom", "imu_rom_cli:main")]

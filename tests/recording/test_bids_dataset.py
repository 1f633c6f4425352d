"""Datasets that are written here pass the BIDS validator (bids-validator-deno, which works offline)."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom.recording.bids import write_dataset_description, write_participants, write_readme
from imu_rom.recording.model import Event, ReferenceChannel


def issues_of(folder):
    beside_python = Path(sys.executable).with_name("bids-validator-deno")
    program = beside_python if beside_python.exists() else shutil.which("bids-validator-deno")
    assert program is not None, "bids-validator-deno belongs to the test extra"
    ran = subprocess.run([str(program), str(folder), "--format", "json"], capture_output=True, text=True, check=False)
    issues = json.loads(ran.stdout)["issues"]["issues"]
    return {each["code"] for each in issues if each["severity"] == "error"}


@pytest.fixture
def dataset(write_recording, make_sensor, tmp_path):
    folder = tmp_path / "dataset"
    write_dataset_description(
        folder,
        name="Invented heel drops",
        authors=["imu_rom", "nobody else"],
        acknowledgements="All data are invented.",
        generated_by={"Name": "imu-rom", "Version": "0"},
    )
    write_readme(folder, "# Invented heel drops\n\nMade by a simulation; no person was measured.")
    write_participants(folder, [{"participant_id": "sub-P0017", "side": "left"}], {"side": "Side of the exercise"})
    missing = np.zeros(2000, dtype=bool)
    missing[100:130] = True
    write_recording(recorded_at="2026-12-01T08:00:00+01:00")
    write_recording(
        session="02",
        run="01",
        task="kneebend",
        side="right",
        sensors=[
            make_sensor("thigh", mounting="z outward, x up", placement="side of the thigh"),
            make_sensor("shank", missing=missing, magnetometer_t=np.full((2000, 3), 2e-5), full_scale_m_s2=156.9),
        ],
        latency_s=np.arange(2000) / 100,
        references=[ReferenceChannel("knee_flexion", "knee", np.linspace(0, 90, 2000))],
        events=[Event(1.5, None, "kneebend", "right"), Event(7.5, 2.25, "kneebend")],
        description="Knee bends with a long hold",
    )
    return folder


def test_the_dataset_is_valid(dataset):
    assert issues_of(dataset) == set()


def test_the_validator_sees_faults(dataset):
    motion = next(dataset.rglob("*_motion.tsv"))
    motion.write_text("1\t2\n")
    next(dataset.rglob("*_motion.json")).write_text("{}")
    assert issues_of(dataset)

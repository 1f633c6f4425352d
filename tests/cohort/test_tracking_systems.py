"""Several tracking systems of one session: a sensor each is one recording, anything else is a recording each."""

import csv
import shutil

import pytest

from imu_rom.cohort.dataset import recordings_among
from imu_rom_cli import main

STEM = "sub-A/motion/sub-A_task-drop_tracksys-"


def found_among(points):
    """Places and partners of the recordings found where each tracking system has sensors on these points."""
    places = [f"{STEM}{name}_motion.tsv" for name in points]
    found = recordings_among(places, lambda place: points[place.removeprefix(STEM).removesuffix("_motion.tsv")])
    return [
        tuple(each and each.removeprefix(STEM).removesuffix("_motion.tsv") for each in (one.place, one.partner))
        for one in found
    ]


@pytest.mark.parametrize(
    ("points", "recordings"),
    [
        ({"left": ("shank",), "right": ("foot",)}, [("left", "right")]),
        # both on one point, or both whole, or one without sensors: a recording each
        ({"a": ("shank",), "b": ("shank",)}, [("a", None), ("b", None)]),
        ({"a": ("shank", "foot"), "b": ("shank", "foot")}, [("a", None), ("b", None)]),
        ({"imu": ("shank", "foot"), "optical": ()}, [("imu", None), ("optical", None)]),
        # of three nobody can tell which two belong together
        ({"a": ("shank",), "b": ("foot",), "c": ("thigh",)}, [("a", None), ("b", None), ("c", None)]),
    ],
)
def test_a_sensor_each_is_one_recording(points, recordings):
    assert found_among(points) == recordings


def test_runs_and_sessions_are_never_joined():
    places = [
        "sub-A/motion/sub-A_task-drop_tracksys-shank_run-1_motion.tsv",
        "sub-A/motion/sub-A_task-drop_tracksys-foot_run-2_motion.tsv",
    ]
    points = {place: (place.split("tracksys-")[1].split("_")[0],) for place in places}
    assert [each.partner for each in recordings_among(places, points.get)] == [None, None]


def test_two_sensors_started_by_themselves_are_analysed_as_one_recording(plan_text, tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text(plan_text.format(patient="A-01", task="drop", side="left"))
    dataset = tmp_path / "dataset"
    words = ["simulate", "--plan", str(plan), "--seed", "5", "--rate", "50", "--routine", "shared_jolts=knocks"]
    words += ["--fault", "clock=foot:6.5:60:52", "--recorded-at", "2026-12-02T07:31:40+01:00"]
    assert main([*words, "--out", str(dataset)]) == 0
    # another system beside them, without inertial sensors, in another session of the same person
    other = dataset / "sub-A01" / "ses-2" / "motion"
    other.mkdir(parents=True)
    for each in (dataset / "sub-A01" / "motion").glob("*shank*"):
        shutil.copy(each, other / each.name.replace("sub-A01_", "sub-A01_ses-2_").replace("shank", "optical"))
    (channels,) = other.glob("*_channels.tsv")
    channels.write_text(channels.read_text().replace("ACCEL", "POS").replace("GYRO", "POS"))
    capsys.readouterr()
    out = tmp_path / "out"
    assert main(["cohort", str(dataset), "--plan", str(plan), "--out", str(out), "--workers", "1"]) == 0
    assert capsys.readouterr().out.startswith("2 recordings of 1 participant: 1 in the tables, 1 failed.")
    (table,) = (out / "tables" / "sessions").glob("*.csv")
    with table.open() as text:
        (session,) = csv.DictReader(text)
    assert (session["sets"], session["recorded_at"]) == ("1", "2026-12-02T07:31:40+01:00")
    with (out / "tables" / "failures.csv").open() as text:
        (failure,) = csv.DictReader(text)
    assert "optical" in failure["recording"]
    assert failure["code"] == "unreadable-recording"
    # a change of either file is seen
    motion = next((dataset / "sub-A01" / "motion").glob("*shank*_motion.tsv"))
    motion.write_bytes(motion.read_bytes().rsplit(b"\n", 2)[0] + b"\n")
    assert main(["cohort", str(dataset), "--plan", str(plan), "--out", str(out), "--workers", "1"]) == 0
    assert "Worked on now: 1; unchanged since an earlier run: 1." in capsys.readouterr().out

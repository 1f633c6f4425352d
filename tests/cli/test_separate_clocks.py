"""Two sensors that were started separately: the same answer as with one clock, and what is said about the clocks."""

import json
from pathlib import Path

import numpy as np
import pytest

from imu_rom_cli import main

OFFSET_S, SKEW_PPM = 9.37, 140.0


def simulate(folder, plan, *options):
    words = ["simulate", "--plan", str(plan), "--seed", "4", "--rate", "50", "--routine", "shared_jolts=knocks"]
    assert main([*words, *options, "--out", str(folder)]) == 0
    return sorted(folder.rglob("*_motion.tsv"))


@pytest.fixture(scope="module")
def shared(tmp_path_factory, plan):
    (file,) = simulate(tmp_path_factory.mktemp("shared") / "dataset", plan)
    return file


@pytest.fixture(scope="module")
def separate(tmp_path_factory, plan):
    """The same session, the foot's sensor switched on later, with another rate and a slow clock."""
    files = simulate(
        tmp_path_factory.mktemp("separate") / "dataset", plan, "--fault", f"clock=foot:{OFFSET_S}:{SKEW_PPM}:52"
    )
    foot, shank = files
    assert "tracksys-foot" in foot.name
    return ["--proximal-file", str(shank), "--distal-file", str(foot), "--clocks", "separate"]


@pytest.fixture(scope="module")
def results(tmp_path_factory, plan, shared, separate):
    folder = tmp_path_factory.mktemp("results")
    for name, words in (("shared", [str(shared)]), ("separate", separate)):
        assert main(["analyse", *words, "--plan", str(plan), "--out", str(folder / name)]) == 0
    return folder


def angle(results, name):
    table = np.genfromtxt(results / name / "angle.csv", delimiter=",", names=True, dtype=None, encoding="utf-8")
    return table["time_s"], table["angle_deg"], table["standard_uncertainty_deg"]


def test_verdicts_are_those_of_one_clock(results):
    one, two = (json.loads((results / name / "result.json").read_bytes()) for name in ("shared", "separate"))
    sets = [each["exercises"][0]["sets"] for each in (one, two)]
    assert [each["verdict"] for each in sets[1]] == [each["verdict"] for each in sets[0]]
    for before, after in zip(*sets, strict=True):
        assert len(after["repetitions"]) == len(before["repetitions"])
        assert after["past_threshold_s"] == pytest.approx(before["past_threshold_s"], abs=1.0)
    assert one["recording"]["clocks"] is None


def test_angle_is_nearly_that_of_one_clock(results):
    (one_s, one_deg, one_u_deg), (two_s, two_deg, two_u_deg) = (angle(results, name) for name in ("shared", "separate"))
    # times count from the first sample that both have
    start_s = np.ceil((OFFSET_S + 0.02) * 50) / 50
    other_u_deg = np.interp(one_s - start_s, two_s, two_u_deg, left=180.0)
    # worn by either account: beyond, hands turn the sensors
    known = np.flatnonzero((one_u_deg < 10) & (other_u_deg < 10))
    assert len(known) > 0.5 * len(one_s)
    other_deg = np.interp(one_s[known] - start_s, two_s, two_deg)
    off_deg = other_deg - one_deg[known]
    assert np.sqrt(np.mean(off_deg**2)) < 0.5
    assert np.abs(np.median(off_deg)) < 0.2


def test_result_says_how_the_clocks_were_brought_together(results):
    result = json.loads((results / "separate" / "result.json").read_bytes())
    clocks = result["recording"]["clocks"]
    # the first sample of 52 Hz is stamped 1/52 s, that of 50 Hz 0 s; and its mean comes from 1/104 s earlier, not 1/100
    middle_s = OFFSET_S + (1 + 1e-6 * SKEW_PPM) * 0.5 / 52 + 0.5 / 50
    assert clocks["offset_ms"] == pytest.approx(1e3 * middle_s, abs=5)
    assert clocks["skew_ppm"] == pytest.approx(SKEW_PPM, abs=10)
    assert (clocks["reference"], clocks["other"]) == ("shank", "foot")
    assert clocks["evidence"]["held together"] >= 1
    assert 0 < clocks["start_standard_uncertainty_ms"] <= clocks["largest_standard_uncertainty_ms"] < 5
    assert "clocks-brought-together" in [each["code"] for each in result["findings"]]
    (budget,) = result["provenance"]["uncertainty_budget"]
    assert 0 < budget["parts_deg"]["clock"] < 0.2


def test_inspect_tells_offset_skew_and_residual(run, separate):
    code, out, _ = run("inspect", *separate)
    assert code == 0
    assert "Separate clocks: foot was started 9.3" in out
    assert "ppm longer." in out
    assert "held together in one hand" in out
    assert "Standard uncertainty of the offset: " in out


def test_angle_takes_them_too(run, separate, tmp_path):
    code, out, _ = run("angle", *separate, "--proximal", "shank", "--distal", "foot", "--out", tmp_path / "angle.csv")
    assert code == 0
    assert "Its zero is the neutral pose" in out


def test_two_bids_recordings_without_the_word_are_refused(refused, separate):
    sentence = refused("inspect", *separate[:-2])
    assert "two BIDS recordings don't say that they share a clock; add --clocks separate" in sentence


def test_one_recording_whose_sensors_were_joined_wrongly(run, shared, tmp_path):
    rows = shared.read_text("utf-8").splitlines()
    late = 37
    joined = ["\t".join(a.split("\t")[:6] + b.split("\t")[6:]) for a, b in zip(rows[:-late], rows[late:], strict=True)]
    folder = tmp_path / "motion"
    folder.mkdir()
    for beside in shared.parent.glob(f"{shared.name.removesuffix('_motion.tsv')}*"):
        (folder / beside.name).write_bytes(beside.read_bytes())
    (folder / shared.name).write_text("\n".join(joined) + "\n", "utf-8")
    code, out, _ = run("inspect", folder / shared.name, "--clocks", "separate")
    assert code == 0
    told = out.split("was started ")[1].split(" s ")[0]
    assert float(told) == pytest.approx(late / 50, abs=0.005)


def test_delimited_files_of_two_clocks(run, refused, separate, tmp_path):
    files = []
    for bids in (separate[1], separate[3]):
        name = bids.split("tracksys-")[1].split("_")[0]
        heading = [
            "time [s]",
            *(f"{kind}_{axis} [{unit}]" for kind, unit in (("acc", "m/s^2"), ("gyro", "rad/s")) for axis in "xyz"),
        ]
        rows = [line.replace("\t", ",") for line in Path(bids).read_text("utf-8").splitlines()]
        if name == "foot":
            # counted from another moment altogether
            rows = [f"{float(row.split(',')[0]) + 5000:.5f},{row.split(',', 1)[1]}" for row in rows]
        file = tmp_path / f"{name}.csv"
        file.write_text("\n".join([",".join(heading), *rows]) + "\n", "utf-8")
        files.append(file)
    words = ["--proximal-file", files[0], "--distal-file", files[1], "--proximal", "shank", "--distal", "foot"]
    assert "add --clocks separate where each sensor was started by itself" in refused("inspect", *words)
    code, out, _ = run("inspect", *words, "--clocks", "separate")
    assert code == 0
    assert "Separate clocks: foot was started 9.3" in out

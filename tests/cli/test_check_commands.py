"""``imu-rom sensor-check`` and ``taping-check``: what they print and write, and every refusal in one sentence."""

import importlib.util
import json
import re
import sys
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from imu_rom.dose.plan_file import read_plan
from imu_rom.exchange.check import check_schema
from imu_rom.simulation import Person, Routine, simulate_session
from imu_rom.wording.cautions import CAUTION


def write(path, rate_hz, sensors):
    """One comma-separated file of some sensors: (name, specific force, angular rate)."""
    count = len(sensors[0][1])
    names, columns = ["time_s"], [np.arange(count) / rate_hz]
    for point, force, rate in sensors:
        for kind, unit, samples in (("acc", "m/s2", force), ("gyr", "rad/s", rate)):
            names += [f"{point}_{kind}_{axis}_{unit}" for axis in "xyz"]
            columns += list(samples.T)
    np.savetxt(path, np.stack(columns, axis=1), delimiter=",", header=",".join(names), comments="", fmt="%.5f")
    return path


@pytest.fixture(scope="module")
def edge(tmp_path_factory):
    """A recording of an edge at 0, 45 and 90 deg, the foot's accelerometer off by 0.4 m/s2."""
    path = Path(__file__).parents[1] / "motion" / "independent" / "straight_edge.py"
    spec = importlib.util.spec_from_file_location("independent_straight_edge_of_commands", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    bad = module.Faults(accelerometer_bias_m_s2=(0.4, 0.0, 0.0))
    seats = (module.Rotation.identity(),) * 2
    done = module.edge(5, module.Handling(seats=seats), (module.Faults(), bad))
    sensors = list(zip(("shank", "foot"), done.forces_m_s2, done.rates_rad_s, strict=True))
    return write(tmp_path_factory.mktemp("edge") / "edge.csv", done.rate_hz, sensors)


@pytest.fixture(scope="module")
def tapings(tmp_path_factory):
    """Three tapings of a person, each as long as the check needs, and nothing else in them."""
    folder = tmp_path_factory.mktemp("tapings")
    routine = Routine(
        sets=1,
        repetitions=1,
        start_deg=-5.0,
        start_sd_deg=0.0,
        end_range_deg=15.0,
        end_range_sd_deg=0.0,
        hold_s=14.0,
        pause_probability=0.0,
        sits_before=False,
        walks_in_rests=False,
        time_variation=0.0,
    )
    paths = []
    for seed in (40, 41, 44):
        session = simulate_session(seed, routine, replace(Person(), zero_shift_sd_deg=1.0), rate_hz=50.0)
        start_s, stop_s = session.truth.pose.start_s - 2.0, session.truth.sets[0].repetitions[0].hold_stop_s + 6.0
        part = slice(round(start_s * 50), round(stop_s * 50))
        sensors = [
            (point, each.accelerometer_m_s2[part], each.gyroscope_rad_s[part])
            for point, each in session.recording.sensors.items()
        ]
        paths.append(write(folder / f"taping{seed}.csv", 50.0, sensors))
    return paths


PAIR = ("--proximal", "shank", "--distal", "foot")


def checked(path):
    layout = json.loads(path.read_bytes())
    jsonschema.Draft202012Validator(check_schema(), format_checker=jsonschema.FormatChecker()).validate(layout)
    return layout


def test_the_sensor_check_prints_writes_and_serves_a_plan(run, edge, plan_text, tmp_path):
    code, said, talk = run("sensor-check", edge, "--angles", "0,45,90", "--out", tmp_path / "sensors")
    assert (code, talk) == (0, f"Written to {tmp_path / 'sensors'}.\n")
    assert sorted(each.name for each in (tmp_path / "sensors").iterdir()) == ["check.html", "check.json"]
    assert CAUTION in said
    assert CAUTION in (tmp_path / "sensors" / "check.html").read_text("utf-8")
    layout = checked(tmp_path / "sensors" / "check.json")
    assert layout["cautions"] == [CAUTION]
    worst = layout["answer"]["pair"]["positions"][2]
    assert worst["error_deg"] == pytest.approx(-2.33, abs=0.03)
    assert f"changed by up to {worst['error_deg']:.2f} deg ({worst['low_deg']:.2f} to {worst['high_deg']:.2f})" in said
    for finding in layout["findings"]:
        assert finding["sentence"] in said
    assert max(len(line) for line in said.splitlines()[:7]) < 110
    (tmp_path / "plan.toml").write_text(f'{plan_text}\n[uncertainty]\nfrom = "sensors/check.json"\n', "utf-8")
    assert read_plan(tmp_path / "plan.toml").own_uncertainty.parts == layout["for_the_plan"]["parts"]


def test_the_taping_check_prints_writes_and_serves_a_plan(run, tapings, plan_text, tmp_path):
    out = tmp_path / "taping"
    code, said, _ = run("taping-check", *tapings, *PAIR, "--out", out)
    assert code == 0
    assert said.count(CAUTION) == 1
    layout = checked(out / "check.json")
    assert [each["label"] for each in layout["answer"]["tapings"]] == [each.stem for each in tapings]
    assert [each["name"] for each in layout["provenance"]["inputs"]] == [each.name for each in tapings]
    spread = layout["answer"]["spread"]
    assert f"standard deviation of {spread['standard_deviation']:.1f} deg" in said
    assert "The posture is known" not in said
    (tmp_path / "plan.toml").write_text(f'{plan_text}\n[uncertainty]\nfrom = "taping/check.json"\n', "utf-8")
    own = read_plan(tmp_path / "plan.toml").own_uncertainty
    assert own.parts == layout["for_the_plan"]["parts"]
    assert own.sources["own_standing_deg"] == "the taping check check.json"
    known = ("--posture-angle", "15", "--posture-uncertainty", "0.5")
    code, said, _ = run("taping-check", *tapings, *PAIR, *known, "--out", out, "--overwrite")
    assert code == 0
    assert "The posture is known to be at 15 deg" in said
    assert checked(out / "check.json")["for_the_plan"]["parts"]["zero_pose_deg"] > 0


def test_json_is_what_is_written_and_the_same_each_time(run, edge, tmp_path):
    words = ("sensor-check", edge, "--angles", "0,45,90", "--json")
    assert run(*words)[1] == run(*words, "--out", tmp_path / "out")[1] == (tmp_path / "out" / "check.json").read_text()


def test_stretches_and_poses_can_be_named(run, edge, tapings):
    code, said, _ = run("sensor-check", edge, "--angles", "0,90", "--at", "1:7,24:29.5")
    assert code == 0
    assert "1.0-7.0" in said
    poses = [word for _ in tapings for word in ("--poses", "2:8,46:52")]
    code, said, _ = run("taping-check", *tapings, *PAIR, *poses)
    assert code == 0
    assert said.count("46.0-52.0") == 3


def test_a_folder_that_holds_something_else_is_left_alone(run, refused, edge, tmp_path):
    (tmp_path / "kept.txt").write_text("mine")
    words = ("sensor-check", edge, "--angles", "0,45,90", "--out", tmp_path)
    assert "exists already" in refused(*words)
    assert "holds 'kept.txt', which is no part of a result" in refused(*words, "--overwrite")
    (tmp_path / "kept.txt").rename(tmp_path / "result.json")
    assert "holds 'result.json'" in refused(*words, "--overwrite")
    assert [each.name for each in tmp_path.iterdir()] == ["result.json"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["--angles", "0,x"], "must be angles in degrees such as 0,45,90, got '0,x'"),
        (["--angles", "0,inf"], "must be angles in degrees such as 0,45,90, got '0,inf'"),
        (["--angles", ""], "must be angles in degrees such as 0,45,90, got ''"),
        (["--angles", "0"], "angles: must be at least two, got 1"),
        (["--angles", "0,3"], "two of them must differ by 10 deg or more"),
        ([], "missing option '--angles'"),
        (["--angles", "0,90"], "2 angles are named but 3 still stretches of 4 s or longer were found: 0.0 to "),
        (["--angles", "0,30,60,90"], "4 angles are named but 3 still stretches"),
        (["--angles", "90,45,0", "--proximal", "thigh"], "no sensor on 'thigh'"),
        (
            ["--angles", "0,45,90", "--proximal", "foot", "--distal", "foot"],
            "--proximal and --distal must be two sensors, got 'foot' for both",
        ),
        (
            ["--angles", "0,45,90", "--reference-uncertainty", "x"],
            "'--reference-uncertainty': must be a number, got 'x'",
        ),
        (["--angles", "0,45,90", "--at", "1-7"], "must be START:STOP in seconds for each angle"),
        (["--angles", "0,45,90", "--at", "1:7,2:9,20:99"], "must begin after the one before it ends"),
        (["--angles", "0,45,90", "--at", "1:7"], "3 angles are named but 1 stretches were named"),
        (["--angles", "0,45,90", "--reference-uncertainty", "-1"], "must lie in 0 to 10 deg, got -1"),
        (["--angles", "0,45,90", "--reference-uncertainty", "nan"], "must lie in 0 to 10 deg, got nan"),
        (["--angles", "0,45,90", "--overwrite"], "--overwrite needs --out FOLDER"),
    ],
)
def test_a_sensor_check_that_can_not_be_done_is_one_sentence(refused, edge, words, expected):
    assert expected in refused("sensor-check", edge, *words)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["--posture-angle", "15"], "--posture-angle and --posture-uncertainty belong together"),
        (["--poses", "1:2"], "must be the neutral pose and the posture, START:STOP,START:STOP in seconds"),
        (["--poses", "1:8,9:20"], "poses: must be given once for each of the 3 recordings, got 1"),
        (["--posture-angle", "1", "--posture-uncertainty", "1"], "must lie 5 to 180 deg from neutral, got 1"),
        (["--distal", "hand"], "no sensor on 'hand'"),
        (["--distal", "shank"], "--proximal and --distal must be two sensors, got 'shank' for both"),
    ],
)
def test_a_taping_check_that_can_not_be_done_is_one_sentence(refused, tapings, words, expected):
    assert expected in refused("taping-check", *tapings, *PAIR, *words)


def test_too_few_tapings_are_refused(refused, tapings):
    assert "recordings: must be 3 or more, one a taping, got 2" in refused("taping-check", *tapings[:2], *PAIR)
    assert "must all differ, but " in refused("taping-check", *tapings[:2], tapings[0], *PAIR)
    assert re.search(r"missing argument 'recordings", refused("taping-check", *PAIR).lower())

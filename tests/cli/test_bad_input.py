"""Bad input through the command line: exit code 2, one sentence that says what and where, and nothing written."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

RATE_HZ = 50
SAMPLES = Path(__file__).parents[2] / "sample_recordings"


class Copy:
    """A copy of a session that a test spoils."""

    def __init__(self, folder, source, plan, truth):
        self.folder = folder
        shutil.copytree(source, folder / "in" / source.name)
        self.plan = folder / "in" / "plan.toml"
        shutil.copy(plan, self.plan)
        (self.motion,) = (folder / "in").rglob("*_motion.tsv")
        self.truth = json.loads(truth.read_text("utf-8"))["done"]

    def beside(self, suffix):
        return self.motion.with_name(self.motion.name.replace("_motion.tsv", suffix))

    def edit(self, path, old, new):
        text = path.read_text("utf-8")
        assert old in text
        path.write_text(text.replace(old, new), "utf-8")

    @property
    def samples(self):
        return np.loadtxt(self.motion, delimiter="\t")

    @samples.setter
    def samples(self, values):
        rows = ["\t".join("n/a" if np.isnan(each) else f"{each:.5f}" for each in row) for row in values]
        self.motion.write_text("\n".join(rows) + "\n", "utf-8")

    def lose(self, *stretches, columns=slice(6, 12)):
        """Take the foot's values out of some stretches."""
        lines = [line.split("\t") for line in self.motion.read_text("utf-8").splitlines()]
        for start_s, stop_s in stretches:
            for cells in lines[round(start_s * RATE_HZ) : round(stop_s * RATE_HZ)]:
                cells[columns] = ["n/a"] * len(cells[columns])
        self.motion.write_text("".join("\t".join(cells) + "\n" for cells in lines), "utf-8")

    def keep(self, *stretches):
        """Keep the rows of some stretches only."""
        lines = self.motion.read_text("utf-8").splitlines(keepends=True)
        kept = [lines[round(start_s * RATE_HZ) : round(stop_s * RATE_HZ)] for start_s, stop_s in stretches]
        self.motion.write_text("".join(line for part in kept for line in part), "utf-8")

    @property
    def sets(self):
        """Start of the first and stop of the last repetition of each set."""
        done = [each["repetitions"] for each in self.truth["sets"]]
        return [(each[0]["start_s"], each[-1]["stop_s"]) for each in done]

    def listing(self):
        return sorted(
            (each.relative_to(self.folder).as_posix(), each.stat().st_size) for each in self.folder.rglob("*")
        )


@pytest.fixture
def spoiled(tmp_path, session_folder, plan):
    """A copy of two short sets, for what is seen before any movement is looked at."""
    (truth,) = session_folder.rglob("*_truth.json")
    return Copy(tmp_path, session_folder / "dataset" / "sub-P0017", plan, truth)


@pytest.fixture
def moving(tmp_path):
    """A copy of a sample session, two sets of ten, for what is seen in the movement."""
    (truth,) = (SAMPLES / "dataset" / "sourcedata" / "truth").glob("sub-P0003_*_truth.json")
    return Copy(tmp_path, SAMPLES / "dataset" / "sub-P0003", SAMPLES / "plans" / "P-0003.toml", truth)


@pytest.fixture
def refused_whole(refused):
    """Function: ``analyse`` refuses a copy in one sentence and writes nothing; gives the sentence."""

    def called(copy, *words, recording=None):
        before = copy.listing()
        first = [copy.motion if recording is None else recording] if recording != () else []
        sentence = refused("analyse", *first, "--plan", copy.plan, "--out", copy.folder / "out", *words)
        assert copy.listing() == before
        # a sentence is for people: no values as code has them, except those that it quotes
        assert not re.search(r"(?<!')\b(nan|inf|None|Error|array|dtype)\b", sentence.replace(str(copy.folder), ""))
        return sentence

    return called


def test_the_copy_itself_is_answered(run, spoiled):
    assert run("analyse", spoiled.motion, "--plan", spoiled.plan, "--out", spoiled.folder / "out")[0] == 0


# --------------------------------------------------------------------------------------------------------- the files


@pytest.mark.parametrize("suffix", ["_channels.tsv", "_motion.json"])
def test_a_missing_sidecar(refused_whole, spoiled, suffix):
    path = spoiled.beside(suffix)
    path.unlink()
    assert f"{path}: the sidecar is missing; put it beside the recording" in refused_whole(spoiled)


def test_columns_that_differ_from_channels(refused_whole, spoiled):
    channels = spoiled.beside("_channels.tsv")
    lines = channels.read_text("utf-8").splitlines(keepends=True)
    channels.write_text("".join(lines[:-1]), "utf-8")
    sentence = refused_whole(spoiled)
    assert f"{spoiled.motion.name}:1: the line has 12 columns where there must be 11" in sentence
    assert channels.name in sentence


@pytest.mark.parametrize("text", ["9,81", "nan", "", "1e999", "--", "0x1f", "1.5 2"])
def test_a_cell_that_is_no_number(refused_whole, spoiled, text):
    lines = spoiled.motion.read_text("utf-8").splitlines()
    cells = lines[7000].split("\t")
    cells[4] = text
    lines[7000] = "\t".join(cells)
    spoiled.motion.write_text("\n".join(lines) + "\n", "utf-8")
    words = f"{spoiled.motion.name}:7001:5: column 5 (shank_gyro_y) must be a number, got {text!r}"
    assert words in refused_whole(spoiled)


@pytest.mark.parametrize("name", ["_channels.tsv", "_motion.json", "_motion.tsv"])
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty|no JSON"),
        (bytes(range(256)) * 40, "binary|no UTF-8 text"),
        (b"hello, world\n" * 9, "required|no JSON|columns where there must be"),
        (b"[" * 200_000, "lists no channels|JSON|columns where there must be"),
    ],
    ids=["empty", "binary", "prose", "brackets"],
)
def test_a_file_that_holds_something_else(refused_whole, spoiled, name, content, words):
    spoiled.beside(name).write_bytes(content)
    sentence = refused_whole(spoiled)
    assert re.search(words, sentence)
    assert spoiled.beside(name).name in sentence


@pytest.mark.parametrize("kept", [0.999, 0.4])
def test_a_truncated_file(refused_whole, spoiled, kept):
    content = spoiled.motion.read_bytes()[: int(spoiled.motion.stat().st_size * kept)]
    spoiled.motion.write_bytes(content.rsplit(b"\t", 3)[0])
    assert "so it was cut off; copy the whole file again" in refused_whole(spoiled)


def test_a_file_too_large(refused_whole, spoiled):
    for path in (spoiled.motion, spoiled.beside("_channels.tsv"), spoiled.beside("_motion.json"), spoiled.plan):
        size = path.stat().st_size
        with path.open("r+b") as sparse:
            sparse.truncate(10**12)
        sentence = refused_whole(spoiled)
        assert path.name in sentence
        assert "MB" in sentence
        with path.open("r+b") as sparse:
            sparse.truncate(size)
    assert "at most" in sentence


def test_the_largest_size_is_a_setting(refused_whole, spoiled):
    settings = spoiled.folder / "in" / "settings.toml"
    settings.write_text("[reading]\nlargest_file_mb = 1.0\n")
    assert "more than the 1 MB that are read at most" in refused_whole(spoiled, "--settings", settings)


def test_a_folder_with_none_or_several(refused_whole, spoiled):
    assert "holds 2 recordings" in refused_whole(
        spoiled, recording=shutil.copytree(spoiled.motion.parent, spoiled.motion.parent / "again").parent
    )
    empty = spoiled.folder / "in" / "empty"
    empty.mkdir()
    assert "holds no *_motion.tsv" in refused_whole(spoiled, recording=empty)


def test_a_file_that_may_not_be_read(refused_whole, spoiled, monkeypatch):
    opened = Path.open

    def denied(path, *arguments, **named):
        if path == spoiled.motion:
            raise PermissionError(13, "Permission denied")
        return opened(path, *arguments, **named)

    monkeypatch.setattr(Path, "open", denied)
    assert "the file can't be read (Permission denied)" in refused_whole(spoiled)


def test_a_pipe_is_no_recording(refused_whole, spoiled):
    pipe = spoiled.folder / "in" / "pipe.csv"
    os.mkfifo(pipe)
    assert "is no file" in refused_whole(spoiled, recording=pipe)


# ------------------------------------------------------------------------------------------------ what was measured


@pytest.mark.parametrize("value", [0.0, 4.2])
@pytest.mark.parametrize(("kind", "columns"), [("accelerometer", slice(6, 9)), ("gyroscope", slice(9, 12))])
def test_a_sensor_that_is_zero_or_constant(refused_whole, spoiled, kind, columns, value):
    samples = spoiled.samples
    samples[:, columns] = value
    spoiled.samples = samples
    state = "gives the same value" if value else "is zero"
    assert f"sensor on foot: the {kind} {state} throughout; record again" in refused_whole(spoiled)


@pytest.mark.parametrize(
    ("stretches", "words"),
    [
        ([(40, 111)], "the sensor delivered nothing for 71 s, from 40.0 s to 111.0 s; at most 60 s"),
        (
            [(start_s, start_s + 0.5) for start_s in range(0, 240, 2)],
            "% of the samples are missing; at most 20% can be",
        ),
        ([(0, 1000)], "no sample without a missing value"),
    ],
    ids=["one run", "many runs", "everything"],
)
def test_long_runs_without_values(refused_whole, spoiled, stretches, words):
    spoiled.lose(*stretches)
    sentence = refused_whole(spoiled)
    assert words in sentence
    assert re.match(r"imu-rom: sub-P0017_task-heeldrop_tracksys-imu(_motion\.tsv)?, sensor on foot: ", sentence)


@pytest.mark.parametrize("columns", [[9, 10, 11], [3, 4, 5, 9, 10, 11]], ids=["one sensor", "both"])
def test_degrees_marked_as_radians(refused_whole, spoiled, columns):
    samples = spoiled.samples
    samples[:, columns] = np.degrees(samples[:, columns])
    spoiled.samples = samples
    assert "probably in deg/s and were taken for rad/s; correct the unit" in refused_whole(spoiled)


def test_an_accelerometer_without_gravity(refused_whole, spoiled):
    samples = spoiled.samples
    kernel = np.ones(101) / 101
    for column in (0, 1, 2, 6, 7, 8):
        samples[:, column] -= np.convolve(np.pad(samples[:, column], 50, mode="edge"), kernel, mode="valid")
    spoiled.samples = samples
    sentence = refused_whole(spoiled)
    assert "gravity was removed from it or its unit is wrong; export the accelerometer as measured" in sentence


def test_fewer_than_20_samples_a_second(refused_whole, spoiled):
    spoiled.samples = spoiled.samples[::4]
    spoiled.edit(spoiled.beside("_motion.json"), '"SamplingFrequency": 50', '"SamplingFrequency": 12.5')
    assert "the recording has 12.5 samples a second, 20 are needed" in refused_whole(spoiled)


def test_three_seconds(refused_whole, spoiled):
    spoiled.keep((100, 103))
    assert "the recording lasts 3 s, 5 s are needed" in refused_whole(spoiled)


def test_two_sensors_without_a_common_time(refused_whole, spoiled):
    samples, files = spoiled.samples, []
    for point, first_s in (("shank", 0.0), ("foot", 500.0)):
        columns = slice(0, 6) if point == "shank" else slice(6, 12)
        table = np.column_stack([first_s + np.arange(len(samples)) / RATE_HZ, samples[:, columns]])
        heading = "time [s],acc_x [m/s^2],acc_y [m/s^2],acc_z [m/s^2],gyro_x [rad/s],gyro_y [rad/s],gyro_z [rad/s]"
        files.append(spoiled.folder / "in" / f"{point}.csv")
        np.savetxt(files[-1], table, fmt="%.5f", delimiter=",", header=heading, comments="")
    words = ("--proximal-file", files[0], "--distal-file", files[1])
    sentence = refused_whole(spoiled, *words, recording=())
    assert re.search(r"no time in common: foot.csv starts 2\d\d\.\d+ s after shank.csv stops; give files of", sentence)


def test_a_wrong_tracked_point(refused_whole, spoiled):
    spoiled.edit(spoiled.beside("_channels.tsv"), "\tfoot\t", "\ttoes\t")
    assert "no sensor on 'foot'; the recording has shank, toes" in refused_whole(spoiled)


def test_a_plan_for_another_exercise(refused_whole, spoiled):
    spoiled.edit(spoiled.plan, '"heeldrop"', '"squat"')
    sentence = refused_whole(spoiled)
    assert "the recording is of the task 'heeldrop', but the plan's stage 'into range' has 'squat'" in sentence


# --------------------------------------------------------------------------------------------------- pose and movement


def test_no_neutral_pose(refused_whole, moving):
    moving.keep(moving.sets[0])
    sentence = refused_whole(moving)
    assert "no neutral pose: no still stretch of a person wearing both sensors was found" in sentence
    assert "--neutral START:STOP" in sentence


def test_a_table_is_no_neutral_pose(refused_whole, moving):
    moving.keep((0, 40))
    assert re.search("no neutral pose|does not show which way both sensors face", refused_whole(moving))


def test_no_movement(refused_whole, moving):
    pose = moving.truth["pose"]
    standing = moving.samples[round(pose["start_s"] * RATE_HZ) : round(pose["stop_s"] * RATE_HZ)]
    moving.samples = np.concatenate([standing, standing[::-1]] * 5)
    assert "the joint does not move: 'shank' and 'foot' never turn against each other" in refused_whole(moving)


def test_two_sensors_on_one_segment(refused_whole, moving):
    samples = moving.samples
    samples[:, 6:] = samples[:, :6] + np.random.default_rng(1).normal(0, 0.002, (len(samples), 6))
    moving.samples = samples
    assert "the joint does not move" in refused_whole(moving)


def test_a_sign_that_nothing_settles(refused_whole, moving):
    line = next(each for each in moving.plan.read_text("utf-8").splitlines(True) if "calibration_movement" in each)
    moving.edit(moving.plan, line, "")
    sentence = refused_whole(moving)
    assert "the sign of the angle can't be settled: neither a declared mounting nor a calibration movement" in sentence


@pytest.mark.parametrize("lost", ["the movement", "the pose", "both", "all before the sets"])
def test_a_session_without_its_calibration(refused_whole, moving, lost):
    pose, calibration = moving.truth["pose"], moving.truth["calibration"]
    stop_s, start_s = {
        "the movement": (calibration["start_s"] - 0.3, calibration["stop_s"] + 1),
        "the pose": (pose["start_s"] - 2, calibration["start_s"]),
        "both": (pose["start_s"] - 2, calibration["stop_s"] + 1),
        "all before the sets": (0, moving.sets[0][0] - 4),
    }[lost]
    moving.keep((0, stop_s), (start_s, 10_000))
    assert "no calibration movement" in refused_whole(moving)


def test_a_first_set_of_five_is_no_calibration_movement(refused_whole, spoiled):
    calibration = spoiled.truth["calibration"]
    spoiled.keep((0, calibration["start_s"] - 0.3), (calibration["stop_s"] + 1, 10_000))
    assert "no calibration movement" in refused_whole(spoiled)


@pytest.mark.parametrize("over", ["the pose", "the calibration", "part of the calibration"])
def test_a_gap_over_pose_or_calibration(refused_whole, moving, over):
    pose, calibration = moving.truth["pose"], moving.truth["calibration"]
    stretch = {
        "the pose": (pose["start_s"] - 2, pose["stop_s"] + 0.2),
        "the calibration": (calibration["start_s"], calibration["stop_s"]),
        "part of the calibration": (calibration["start_s"] + 5, calibration["start_s"] + 5.5),
    }[over]
    moving.lose(stretch)
    sentence = refused_whole(moving)
    assert "over the calibration movement" in sentence or "no calibration movement" in sentence


def test_a_gap_elsewhere_is_a_finding(run, moving):
    first, second = (each["repetitions"] for each in moving.truth["sets"])
    there_s, short_s = second[4]["end_range_s"], first[2]["start_s"] + 1
    moving.lose((there_s - 0.5, there_s + 0.5), (short_s, short_s + 0.16))
    code, _, talk = run("analyse", moving.motion, "--plan", moving.plan, "--out", moving.folder / "out")
    assert (code, talk) == (0, f"Written to {moving.folder / 'out'}.\n")
    layout = json.loads((moving.folder / "out" / "result.json").read_bytes())
    assert {"gap", "samples-filled"} <= {each["code"] for each in layout["findings"]}
    sets = layout["exercises"][0]["sets"]
    assert [len(done["repetitions"]) for done in sets] == [10, 10]
    undecided = [[each["reached"] == "undecided" for each in done["repetitions"]] for done in sets]
    assert undecided == [[False] * 10, [False] * 4 + [True] + [False] * 5]


def test_clipping_within_a_set(refused_whole, moving):
    samples, full_scale_rad_s = moving.samples, 4.36332
    knocked = round((moving.truth["sets"][1]["repetitions"][3]["start_s"] + 1) * RATE_HZ)
    samples[knocked : knocked + 10, 10] += [9] * 7 + [-9] * 3
    samples[:, 9:] = np.clip(samples[:, 9:], -full_scale_rad_s, full_scale_rad_s)
    moving.samples = samples
    sentence = refused_whole(moving)
    said = re.search(
        r"the sensor on 'foot' stuck at its full scale for 0\.\d+ s of set 2, from ([\d.]+) s on", sentence
    )
    assert float(said[1]) == pytest.approx(knocked / RATE_HZ, abs=0.1)
    assert "set the sensor to a larger range" in sentence


# ----------------------------------------------------------------------------------------------------- what is written


@pytest.mark.parametrize("kind", ["folder", "file", "link"])
def test_an_out_folder_that_exists(refused, spoiled, kind):
    out = spoiled.folder / "out"
    {"folder": out.mkdir, "file": lambda: out.write_text("x"), "link": lambda: out.symlink_to("in")}[kind]()
    before = spoiled.listing()
    assert "exists" in refused("analyse", spoiled.motion, "--plan", spoiled.plan, "--out", out)
    assert spoiled.listing() == before


def test_a_disk_that_is_full(refused_whole, moving, monkeypatch):
    def full(*_arguments, **_named):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("imu_rom.exchange.folder._flush", full)
    assert "can't be written: no space left on device" in refused_whole(moving)


def process(copy, code, *words):
    """Run the command line in a process of its own, after some lines of code."""
    main = f"import sys\n{code}\nfrom imu_rom_cli import main\nsys.exit(main())"
    words = ["analyse", copy.motion, "--plan", copy.plan, "--out", copy.folder / "out", *words]
    return subprocess.run([sys.executable, "-c", main, *map(str, words)], capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    "halfway",
    ["imu_rom.session.analyse", "imu_rom.report.page.page_blocks", "imu_rom.exchange.folder._flush"],
    ids=["analysing", "writing", "nearly done"],
)
def test_an_interrupt_halfway(moving, halfway):
    module, name = halfway.rsplit(".", 1)
    code = f"""
import os, signal, time
import {module} as room

# a shell may have started the tests deaf to it
signal.signal(signal.SIGINT, signal.default_int_handler)

def interrupted(*arguments, **named):
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(10)

room.{name} = interrupted
"""
    before = moving.listing()
    done = process(moving, code)
    # the empty line ends the one on which a terminal shows ^C
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "\nInterrupted; nothing was written.\n")
    assert moving.listing() == before


def test_an_interrupt_that_python_throws_away_ends_the_command_all_the_same(moving):
    code = """
import os, signal, time
import imu_rom.session as room

signal.signal(signal.SIGINT, signal.default_int_handler)

class Deleted:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)

def interrupted(*arguments, **named):
    Deleted()
    time.sleep(60)

room.analyse = interrupted
"""
    before = moving.listing()
    done = process(moving, code)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "\nInterrupted; nothing was written.\n")
    assert moving.listing() == before


def test_a_process_of_its_own_refuses_alike(spoiled):
    spoiled.beside("_motion.json").unlink()
    before = spoiled.listing()
    done = process(spoiled, "")
    assert (done.returncode, done.stdout) == (2, "")
    assert re.fullmatch(r"imu-rom: [^\n]+_motion\.json: the sidecar is missing; [^\n]+\.\n", done.stderr)
    assert spoiled.listing() == before

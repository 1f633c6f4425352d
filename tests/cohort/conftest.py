"""A small dataset of invented people: two runs of a session, left and right, and some files that can't be read."""

import hashlib
import shutil

import pytest

from imu_rom_cli import main

PLAN = """\
[plan]
format = 1
title = "Heel, into range"
patient = "{patient}"
tendon_site = "achilles insertion"
stage = "into range"

[[stage]]
name = "into range"

[[stage.exercise]]
name = "{task}"
joint = "ankle"
motion = "dorsiflexion"
side = "{side}"
proximal = "shank"
distal = "foot"
calibration_movement = "plantarflexion"
sets = 1
repetitions = 5
tempo_s = {{ eccentric = 2, end_range_hold = 1, concentric = 1.5, top_pause = 0.6 }}
start_deg = -25
end_range_deg = [5, 15]
limit_deg = 22
compression_threshold = {{ deg = 4, basis = "clinician" }}
past_threshold_s_per_set = [5, 25]
"""

ALL = (
    # plan, subject, task, side, session, run, seed
    ("A-01.toml", "A-01", "drop", "left", "1", "1", 4),
    ("A-01.toml", "A-01", "drop", "left", "1", "2", 5),
    ("B-02-left.toml", "B-02", "dropleft", "left", "1", "1", 6),
    ("B-02-right.toml", "B-02", "dropright", "right", "1", "1", 8),
)
GOOD = len(ALL)
BROKEN = "sub-C03/motion/sub-C03_task-drop_tracksys-imu_motion.tsv"
NOBODYS = "sub-D04/motion/sub-D04_task-drop_tracksys-imu_motion.tsv"
COPY = "sub-E05/motion/sub-E05_task-drop_tracksys-imu_motion.tsv"


@pytest.fixture(scope="session")
def plan_text():
    """A plan with places for patient, task and side."""
    return PLAN


@pytest.fixture(scope="session")
def simulated(tmp_path_factory):
    """Folder with ``dataset`` and ``plans``."""
    folder = tmp_path_factory.mktemp("cohort")
    (folder / "plans").mkdir()
    for file, patient, task, side, session, run, seed in ALL:
        plan = folder / "plans" / file
        plan.write_text(PLAN.format(patient=patient, task=task, side=side))
        words = ["simulate", "--plan", str(plan), "--seed", str(seed), "--rate", "50", "--session", session]
        # one has another measurement of the joint beside the sensors
        words += ["--with-reference"] if seed == 4 else []
        words += ["--run", run, "--recorded-at", f"2026-12-0{seed}T18:02:11+01:00", "--out", str(folder / "dataset")]
        assert main(words) == 0
    dataset = folder / "dataset"
    for place in (BROKEN, NOBODYS, COPY):
        (dataset / place).parent.mkdir(parents=True)
    (dataset / BROKEN).write_bytes(b"\x00\xff" * 40)
    (dataset / NOBODYS).write_text("0\t0\n")
    one = next(dataset.glob("sub-A01/**/*run-1*_motion.tsv"))
    for each in one.parent.glob("*run-1*"):
        kind = each.name.rsplit("_", 1)[1]
        shutil.copy(each, (dataset / COPY).with_name(f"sub-E05_task-drop_tracksys-imu_{kind}"))
    (folder / "plans" / "C-03.toml").write_text(PLAN.format(patient="C-03", task="drop", side="left"))
    (folder / "plans" / "E-05.toml").write_text(PLAN.format(patient="E-05", task="drop", side="left"))
    (folder / "plans" / "torn.toml").write_text("[plan\n")
    return folder


@pytest.fixture
def copied(simulated, tmp_path):
    """A copy of the same that a test may change."""
    shutil.copytree(simulated, tmp_path / "copied")
    return tmp_path / "copied"


def digest_of(folder):
    """SHA-256 of all names and bytes below a folder."""
    digest = hashlib.sha256()
    for each in sorted(folder.rglob("*")):
        digest.update(each.relative_to(folder).as_posix().encode() + b"\0")
        if each.is_file():
            digest.update(hashlib.sha256(each.read_bytes()).digest())
    return digest.hexdigest()


@pytest.fixture(scope="session")
def digest():
    return digest_of


@pytest.fixture(scope="session")
def by_one_worker(simulated, tmp_path_factory):
    """The cohort's folder as one worker writes it, undisturbed; only to be looked at."""
    out = tmp_path_factory.mktemp("one") / "out"
    words = ["cohort", str(simulated / "dataset"), "--plan", str(simulated / "plans"), "--out", str(out)]
    assert main([*words, "--workers", "1"]) == 0
    return out


@pytest.fixture
def begun(by_one_worker, tmp_path):
    """A copy of the same that a test may go on in."""
    shutil.copytree(by_one_worker, tmp_path / "out-begun")
    return tmp_path / "out-begun"

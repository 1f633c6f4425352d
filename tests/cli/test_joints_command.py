"""``imu-rom joints``: what can be measured, and what it compresses."""

import json
import subprocess
import sys

import pytest

from imu_rom.dose.sites import SITES
from imu_rom.motion.joints import JOINTS


def test_without_a_word_all_joints_and_sites_are_listed(run):
    code, said, talk = run("joints")
    assert (code, talk) == (0, "")
    places = [said.index(f"\n{each.name}: ") for each in (*JOINTS.values(), *SITES.values())]
    assert places == sorted(places)
    assert said.rstrip().endswith("[P] common practice, no source")


def test_a_joint_comes_with_the_sites_that_it_compresses(run):
    code, said, _ = run("joints", "knee")
    assert code == 0
    headings = [block.split(":")[0] for block in said.split("\n\n") if block[0].islower()]
    assert headings == ["knee", "patellar", "quadriceps"]
    assert "Grood, Suntay 1983" in said


def test_a_site_comes_with_the_joint_that_compresses_it(run):
    code, said, _ = run("joints", "--site", "gluteal")
    assert code == 0
    headings = [block.split(":")[0] for block in said.split("\n\n") if block[0].islower()]
    assert headings == ["hip", "gluteal"]
    assert "[M: Grimaldi" in said


def test_json_narrows_down_in_the_same_way(run):
    for words, joints, sites in (
        ((), list(JOINTS), list(SITES)),
        (("wrist",), ["wrist"], []),
        (("--site", "gluteal"), ["hip"], ["gluteal"]),
    ):
        code, said, talk = run("joints", *words, "--json")
        assert (code, talk) == (0, "")
        listed = json.loads(said)
        assert [each["name"] for each in listed["joints"]] == joints
        assert [each["name"] for each in listed["tendon_sites"]] == sites


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("toe",), "joint must be one of ankle, knee, hip, shoulder, elbow, wrist, got 'toe'."),
        (("--site", "heel"), "imu-rom: --site must be one of achilles insertion, "),
        (("--site", "patelar"), "got 'patelar'; perhaps 'patellar' was meant."),
        (("knee", "--site", "patellar"), "name a JOINT or a --site, not both"),
    ],
)
def test_what_is_not_known_is_one_sentence(refused, words, sentence):
    assert sentence in refused("joints", *words)


def test_a_joint_that_compresses_no_site_says_so(run):
    assert "No tendon site is listed for the wrist." in run("joints", "wrist")[1]


def test_help_loads_no_numpy():
    code = (
        "import sys; from imu_rom_cli import main; assert main(['joints', '--help']) == 0; "
        "assert not {'numpy', 'pandas', 'scipy', 'pydantic', 'rich', 'jinja2'} & set(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "imu-rom joints [OPTIONS] [JOINT]" in done.stdout

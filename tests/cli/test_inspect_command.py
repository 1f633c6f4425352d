"""``imu-rom inspect``: what is in a recording."""

import subprocess
import sys

import pytest


def test_it_says_what_is_in_the_recording(run, recording):
    code, said, talk = run("inspect", recording)
    assert (code, talk) == (0, "")
    assert "subject P0017, task heeldrop." in said
    assert "2 sensors: shank" in said
    assert "at 50 Hz" in said
    assert "Recorded at 2026-12-03T18:02:11+01:00 (from the scans.tsv)." in said
    assert "inclination" in said
    assert "no, as on a table" in said
    assert "as a standing person" in said
    assert run("inspect", recording.parent)[1] == said


def test_the_sensors_can_be_named(run, refused, recording):
    code, said, _ = run("inspect", recording, "--proximal", "foot", "--distal", "shank")
    assert code == 0
    table = said[said.index("Still stretches") :]
    assert table.index("foot") < table.index("shank")
    assert "'hand'" in refused("inspect", recording, "--distal", "hand")


def test_what_cant_be_read_is_one_sentence(refused, tmp_path):
    assert "nothing_motion.tsv" in refused("inspect", tmp_path / "nothing_motion.tsv")
    refused("inspect", tmp_path)
    assert "name a RECORDING" in refused("inspect")


@pytest.mark.parametrize("command", ["analyse", "angle", "inspect"])
def test_help_of_a_command_loads_no_numpy(command):
    code = (
        "import sys; from imu_rom_cli import main; "
        f"assert main([{command!r}, '--help']) == 0; "
        "assert not {'numpy', 'pandas', 'scipy', 'pydantic', 'rich', 'jinja2'} & set(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert f"imu-rom {command} [OPTIONS] [RECORDING]" in done.stdout

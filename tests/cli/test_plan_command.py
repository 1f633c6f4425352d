"""``imu-rom plan check``: sentences and exit codes."""

import subprocess
import sys
from pathlib import Path

import pytest

from imu_rom.motion.uncertainty import angle_budget
from imu_rom.settings import UncertaintySettings
from imu_rom_cli import main

PLANS = Path(__file__).parents[2] / "sample_recordings" / "plans"


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.toml")), ids=lambda path: path.stem)
def test_a_good_plan_is_said_in_sentences(path, capsys):
    assert main(["plan", "check", str(path)]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    lines = said.out.splitlines()
    assert lines[0].startswith("Plan ")
    assert path.stem.removesuffix("-floor") in lines[0]
    assert all(line.endswith(".") for line in lines)
    assert any("stays undecided" in line for line in lines)


def test_the_uncertainty_is_that_of_the_default_budget(capsys):
    main(["plan", "check", str(PLANS / "P-0004.toml")])
    said = capsys.readouterr().out
    u_deg = angle_budget(UncertaintySettings()).u_common_deg
    assert f"standard uncertainty is about {u_deg:.1f} deg" in said
    assert "is measured to stop exactly at neutral" in said


def test_a_wrong_plan_is_one_sentence_on_stderr_and_exit_code_2(tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text((PLANS / "P-0001.toml").read_text().replace("limit_deg = 20", "limit_deg = 12"))
    line = path.read_text()[: path.read_text().index("limit_deg")].count("\n") + 1
    assert main(["plan", "check", str(path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == (
        f"imu-rom: {path}:{line}:13: field stage.exercise.limit_deg: must not lie within the end_range_deg window "
        "[5, 15], got 12.\n"
    )


def test_a_missing_plan_is_exit_code_2(tmp_path, capsys):
    assert main(["plan", "check", str(tmp_path / "nowhere.toml")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_help_of_the_command_loads_no_numpy():
    code = (
        "import sys; from imu_rom_cli import main; "
        "assert main(['plan', 'check', '--help']) == 0; "
        "print('loaded', sorted({'numpy', 'pydantic', 'tree_sitter'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "PLAN.toml" in done.stdout
    assert done.stdout.splitlines()[-1] == "loaded []"


def test_a_plans_own_uncertainty_is_said_and_used(run, plan, tmp_path):
    usual = run("plan", "check", plan)[1]
    assert "standard uncertainty is about 2.1 deg, most of it the neutral pose's" in usual
    own = tmp_path / "own.toml"
    own.write_text(plan.read_text("utf-8") + "\n[uncertainty]\nzero_pose_deg = 0.6\n", "utf-8")
    code, said, _ = run("plan", "check", own)
    assert code == 0
    assert "standard uncertainty is about 1.0 deg, with the clinic's own values" in said
    assert "Of that, the clinic's own: zero_pose_deg = 0.6 from the plan." in said


@pytest.mark.parametrize(
    # 1.96 x sqrt 2 x 1.4 deg is 3.9 deg, less than the plan's steps of 5; 2.8 deg gives 7.8
    ("published", "said"),
    [
        ("konor-2012-inclinometer", None),
        ("konor-2012-goniometer", "finer than the 7.8 deg"),
        ("none", "finer than the"),
    ],
)
def test_check_takes_a_published_error_from_the_settings(tmp_path, capsys, published, said):
    settings = tmp_path / "settings.toml"
    settings.write_text(f'[course]\npublished_sem = "{published}"\n')
    assert main(["plan", "check", str(PLANS.parent / "course" / "plan.toml"), "--settings", str(settings)]) == 0
    out = capsys.readouterr().out
    assert ("finer than" not in out) if said is None else (said in out)

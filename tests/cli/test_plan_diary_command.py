"""``imu-rom plan diary``: an empty diary, never over a file."""

from pathlib import Path

from imu_rom_cli import main

PLAN = str(Path(__file__).parents[2] / "sample_recordings" / "course" / "plan.toml")


def test_it_writes_a_line_for_each_session_and_never_over_a_file(tmp_path, capsys):
    out = tmp_path / "diary.csv"
    words = ["plan", "diary", PLAN, "--start", "2026-12-14", "--days", "7"]
    assert main([*words, "--out", str(out)]) == 0
    assert main(words) == 0
    assert capsys.readouterr().out == out.read_text()
    lines = out.read_text().splitlines()
    assert [line[:10] for line in lines[1::2]] == [f"2026-12-{day}" for day in range(14, 21)]
    assert all(",lowstepdrop,left," in line for line in lines[1:])
    assert main([*words, "--out", str(out)]) == 2
    assert capsys.readouterr().err == (
        f"imu-rom: {out}: exists, and a diary is never written over a file; name another file.\n"
    )
    assert main(["plan", "diary", PLAN, "--start", "2025-01-01"]) == 2
    assert "no stage of the plan applies from 2025-01-01 to 2025-01-28" in capsys.readouterr().err

"""``imu-rom plan new``: printed or written once, never over a file, and accepted by ``imu-rom plan check``."""

import pytest

from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol

WORDS = ("plan", "new", "--from", "alfredson-1998", "--side", "left", "--start", "2026-12-01")


def test_the_list_names_every_programme_with_its_citation(run, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    code, out, err = run("plan", "new", "--list")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert [line.split()[0] for line in lines if not line.startswith(" ")] == list(protocol_names())
    for name in protocol_names():
        assert (
            read_protocol(name).protocol.citation
            in lines[next(index for index, line in enumerate(lines) if line.startswith(f"{name} ")) + 1]
        )
    assert max(map(len, lines)) <= 120


def test_a_written_plan_is_the_printed_one(run, tmp_path):
    code, printed, err = run(*WORDS)
    assert (code, err) == (0, "")
    code, out, err = run(*WORDS, "--out", tmp_path / "plan.toml")
    assert (code, out, err) == (0, "", f"Written to {tmp_path / 'plan.toml'}.\n")
    assert (tmp_path / "plan.toml").read_text("utf-8") == printed
    assert [each.name for each in tmp_path.iterdir()] == ["plan.toml"]


@pytest.mark.parametrize("name", protocol_names())
def test_plan_check_takes_every_new_plan(name, run, tmp_path):
    for side in ("left", "right"):
        path = tmp_path / f"{side}.toml"
        assert run("plan", "new", "--from", name, "--side", side, "--start", "2026-12-01", "--out", path)[0] == 0
        code, out, err = run("plan", "check", path)
        assert (code, err) == (0, "")
        assert f" of {side} " in out


def test_nothing_is_ever_overwritten(run, tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text("[plan]\n")
    code, out, err = run(*WORDS, "--out", path)
    assert (code, out) == (2, "")
    assert err == f"imu-rom: {path}: exists, and a plan is never written over a file; name another file.\n"
    assert path.read_text() == "[plan]\n"
    path.unlink()
    path.symlink_to(tmp_path / "elsewhere.toml")
    assert run(*WORDS, "--out", path)[0] == 2
    assert not (tmp_path / "elsewhere.toml").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("--from", "alfredsen", "--side", "left", "--start", "2026-12-01"),
            "protocol must be one of alfredson-1998, ",
        ),
        (("--from", "rio-2015"), "--side and --start must be given, or --list alone"),
        ((), "--from and --side and --start must be given, or --list alone"),
        (("--from", "rio-2015", "--side", "both", "--start", "2026-12-01"), "'both' is not one of 'left', 'right'"),
        (("--from", "rio-2015", "--side", "left", "--start", "1.12.2026"), "must be a day such as 2026-12-01"),
        (("--from", "rio-2015", "--side", "left", "--start", "9999-12-30"), "start must be a day from 1990-01-01 to"),
        (("--list", "--side", "left"), "--list takes no other option"),
        ((*WORDS[2:], "--own-range", "nan"), "field own_range.deg: must be a finite number"),
        ((*WORDS[2:], "--patient", "two\nlines"), "field plan.patient: must be text on one line"),
        ((*WORDS[2:], "--out", "nowhere/plan.toml"), "there is no folder"),
    ],
)
def test_what_can_not_be_is_said_in_one_sentence(words, said, run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, err = run("plan", "new", *words)
    assert (code, out) == (2, "")
    assert err.startswith("imu-rom: ")
    assert said in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []

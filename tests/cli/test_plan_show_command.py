"""``imu-rom plan show``: every published programme from new to check to show, and nothing from the clock."""

import pytest

from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol
from imu_rom.wording.cautions import RED_FLAGS


@pytest.mark.parametrize("name", protocol_names())
def test_every_programme_goes_from_new_to_check_to_show(name, run, tmp_path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    path = tmp_path / "plan.toml"
    words = ("--from", name, "--side", "right", "--start", "2026-12-01", "--out", path)
    assert run("plan", "new", *words)[0] == 0
    code, checked, err = run("plan", "check", path)
    assert (code, err) == (0, "")
    code, shown, err = run("plan", "show", path, "--on", "2026-12-01")
    assert (code, err) == (0, "")
    published = read_protocol(name)
    text = " ".join(shown.split())
    for stage in published.stages:
        assert f"{stage.name!r}" in text
        for exercise in stage.exercises:
            assert f" {exercise.name}: right {exercise.joint} {exercise.motion} " in text
    assert text.count("(holds on 2026-12-01)") == 1
    assert "2026-12-01" in checked
    for said in (text, " ".join(checked.split())):
        assert all(flag.sign in said for flag in RED_FLAGS)
        assert all(each not in said for each in ("None", "nan ", "Fraction"))


@pytest.mark.parametrize(
    ("name", "totals"), [("alfredson-1998", (180, 1260, 15120)), ("jonsson-2008", (90, 630, 7560))]
)
def test_published_totals_are_shown(name, totals, run, tmp_path):
    path = tmp_path / "plan.toml"
    run("plan", "new", "--from", name, "--side", "left", "--start", "2026-12-01", "--out", path)
    shown = " ".join(run("plan", "show", path)[1].split())
    a_day, a_week, in_all = totals
    assert f"{a_day} a day, {a_week} a week, {in_all} in the programme's 12 weeks" in shown
    assert "holds on" not in shown


def test_what_is_no_day_or_no_plan_is_one_sentence(run, plan, tmp_path):
    for words, sentence in (
        ((plan, "--on", "1.12.2026"), "'--on': must be a day such as 2026-12-01, got '1.12.2026'"),
        ((tmp_path / "none.toml",), "none.toml: can't be read"),
    ):
        code, out, err = run("plan", "show", *words)
        assert (code, out) == (2, "")
        assert err.startswith("imu-rom: ")
        assert sentence in err
        assert err.count("\n") == 1

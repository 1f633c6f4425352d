"""The power of a study: the level where nothing differs, the textbook's where nothing is measured wrongly, seeded."""

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from scipy import stats

from imu_rom.cohort import power
from imu_rom.dose.plan_file import read_plan
from imu_rom.dose.study_power import PowerAssumptions
from imu_rom.errors import CannotAnswerError
from imu_rom_cli import main

PLAN = Path(__file__).parents[2] / "sample_recordings" / "plans" / "P-0001.toml"
ASSUMED = PowerAssumptions("heeldrop", 4.0, 60.0, 90.0, 0.3, 0.0, trials=2000)


@pytest.fixture(scope="module")
def exercise():
    return read_plan(PLAN).exercise()


def rows_of(exercise, assumptions, **ways):
    return power.study_power(
        exercise, assumptions, **{"sensors": ("exact",), "zeros_deg": (0.0,), "sessions": (1,), **ways}
    ).rows


def test_where_nothing_differs_the_power_is_the_level(exercise, monkeypatch):
    monkeypatch.setattr(power, "PEOPLE", (12,))
    (row,) = rows_of(exercise, replace(ASSUMED, second_s=60.0, within_share=0.2), zeros_deg=(2.0,), sessions=(3,))
    assert row.people is None
    assert row.power == pytest.approx(0.05, abs=3 * math.sqrt(0.05 * 0.95 / 2000))


def test_without_errors_it_is_the_power_of_the_t_test(exercise, monkeypatch):
    monkeypatch.setattr(power, "PEOPLE", (14,))
    (row,) = rows_of(exercise, replace(ASSUMED, wanted=0.99))
    spread = math.sqrt(math.expm1(0.3**2))
    variances = [(mean * spread) ** 2 / 14 for mean in (60, 90)]
    degrees = sum(variances) ** 2 / sum(each**2 / 13 for each in variances)
    shift, edge = 30 / math.sqrt(sum(variances)), stats.t.ppf(0.975, degrees)
    expected = stats.nct.sf(edge, degrees, shift) + stats.nct.cdf(-edge, degrees, shift)
    # lognormal people are a little skewed, which the formula does not know
    assert row.power == pytest.approx(expected, abs=0.04)
    assert row.ratio == 1.0


def test_a_worse_zero_asks_for_more_people_and_more_sessions_for_fewer(exercise):
    assumptions = replace(ASSUMED, within_share=0.5, trials=400)
    found = {
        (each.zero_deg, each.sessions): each
        for each in rows_of(exercise, assumptions, zeros_deg=(0.0, 4.0), sessions=(1, 8))
    }
    assert found[4.0, 1].people > found[0.0, 1].people
    assert found[4.0, 8].people < found[4.0, 1].people
    assert found[4.0, 1].ratio < 1.0
    for each in found.values():
        assert each.power_low <= each.power <= each.power_high
        assert each.power >= 0.8


def test_a_way_does_not_depend_on_which_others_are_asked_for(exercise):
    assumptions = replace(ASSUMED, trials=200)
    alone = rows_of(exercise, assumptions, zeros_deg=(2.0,))
    among = rows_of(exercise, assumptions, zeros_deg=(1.0, 2.0), sessions=(1, 2))
    assert alone[0] in among
    assert rows_of(exercise, replace(assumptions, seed=2), zeros_deg=(2.0,)) != alone


def test_the_command_prints_what_it_rests_on(capsys, tmp_path):
    words = ["power", "--plan", str(PLAN), "--zero", "2", "--sessions", "2", "--trials", "200"]
    assert main(words) == 0
    first = capsys.readouterr().out
    assert "Assumed, with no source" in first
    assert "60 s from 90 s past 4 deg" in first
    assert main(words) == 0
    assert capsys.readouterr().out == first
    assert main([*words, "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["rows"]
    assert (row["zero_deg"], row["sessions"], row["sensors"]) == (2.0, 2, "usual")
    assert main([*words, "--second", "60"]) == 2
    assert "must differ" in capsys.readouterr().err
    without = tmp_path / "plan.toml"
    without.write_text(
        "\n".join(
            line for line in PLAN.read_text().splitlines() if not line.startswith(("compression_", "past_", "load"))
        )
    )
    assert main(["power", "--plan", str(without)]) == 2
    assert "has no compression_threshold" in capsys.readouterr().err


def test_an_exercise_that_never_passes_the_angle_is_refused(exercise):
    with pytest.raises(CannotAnswerError, match="heeldrop never passes 80 deg"):
        rows_of(exercise, replace(ASSUMED, threshold_deg=80.0))


def test_the_commands_grades_are_those_that_there_are():
    from imu_rom_cli.power import GRADES

    assert set(power.SENSORS) == set(GRADES)

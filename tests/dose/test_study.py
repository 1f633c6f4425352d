"""A study's declaration: read with the plan, refused with its place, and what it says of a recording."""

from datetime import date

import pytest

from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.dose.study import Study, ValidRecording, why_not_valid
from imu_rom.errors import PlanError
from imu_rom.wording.plan_text import asked_for

PLAN = """\
[plan]
format = 1
tendon_site = "achilles insertion"
{study}
[[stage]]
name = "one"
[[stage.exercise]]
name = "drop"
joint = "ankle"
motion = "dorsiflexion"
side = "left"
proximal = "shank"
distal = "foot"
calibration_movement = "plantarflexion"
sets = 2
repetitions = 5
"""


def plan_with(study):
    return plan_from_bytes(PLAN.format(study=study).encode(), "plan.toml")


def test_a_plan_declares_a_study():
    assert plan_with("").study is None
    assert plan_with("[study]\ndeclared_on = 2026-11-01").study == Study(date(2026, 11, 1))
    whole = plan_with(
        '[study]\ndeclared_on = 2026-11-01\nprimary_threshold_deg = 4\nregistration = "here"\n[study.valid_recording]\n'
        "least_repetitions_share = 0.8\nlargest_u_shared_deg = 3\nlargest_unseen_share = 0\n"
        'without_findings = ["slip"]\n'
    )
    assert whole.study == Study(date(2026, 11, 1), 4.0, "here", ValidRecording(0.8, 3.0, 0.0, ("slip",)))
    assert asked_for(whole)[-1] == ("Of a study, declared on 2026-11-01: its main answer is about the time past 4 deg.")


@pytest.mark.parametrize(
    ("study", "said"),
    [
        ("[study]", "declared_on"),
        ('[study]\ndeclared_on = "soon"', "plan.toml:5:"),
        ("[study]\ndeclared_on = 2026-11-01\nprimary_threshold_deg = 400", "plan.toml:6:"),
        ("[study]\ndeclared_on = 2026-11-01\nthreshold = 4", "threshold"),
        ("[study]\ndeclared_on = 2026-11-01\nvalid_recording = { least_repetitions_share = 80 }", "plan.toml:6:"),
    ],
)
def test_a_declaration_that_can_not_be_meant_is_refused_with_its_place(study, said):
    with pytest.raises(PlanError, match=r"plan\.toml") as refused:
        plan_with(study)
    assert said in str(refused.value)


def test_each_part_of_the_rule_gives_its_own_reason():
    rule = ValidRecording(0.8, 3.0, 0.1, ("slip", "gap"))
    good = {
        "repetitions": 8,
        "prescribed_repetitions": 10,
        "u_shared_deg": 3.0,
        "unseen_share": 0.1,
        "findings": frozenset({"walked"}),
    }
    assert why_not_valid(rule, **good) == ()
    assert why_not_valid(ValidRecording(), **{**good, "u_shared_deg": None, "repetitions": 0}) == ()
    for change, reason in (
        ({"repetitions": 7}, "too-few-repetitions"),
        ({"u_shared_deg": 3.01}, "zero-too-unsure"),
        ({"u_shared_deg": None}, "zero-too-unsure"),
        ({"unseen_share": 0.11}, "too-much-unseen"),
        ({"findings": frozenset({"gap"})}, "finding-gap"),
    ):
        assert why_not_valid(rule, **{**good, **change}) == (reason,)
    assert why_not_valid(rule, **{**good, "prescribed_repetitions": None, "repetitions": 0}) == ()

"""A plan's own uncertainty: values, checks that it names, which wins, and mistakes in one sentence with their place."""

import hashlib
import json
from dataclasses import fields

import pytest

from imu_rom.dose.plan_file import plan_from_bytes, read_plan
from imu_rom.errors import PlanError
from imu_rom.settings import UncertaintySettings

PLAN = """\
[plan]
format = 1
tendon_site = "patellar"
[uncertainty]
{table}
[[stage]]
name = "holds"
[[stage.exercise]]
name = "squat"
joint = "knee"
motion = "flexion"
side = "right"
proximal = "thigh"
distal = "shank"
sets = 3
repetitions = 5
"""
CHECK = {
    "format": "imu-rom check",
    "schema_version": 1,
    "check": "taping",
    "for_the_plan": {"parts": {"zero_pose_deg": 1.25}},
}


@pytest.fixture
def plan_with(tmp_path):
    """Function that reads a plan with the given lines under [uncertainty] and files beside it."""

    def read(table, **files):
        for name, content in files.items():
            path = tmp_path / "checks" / f"{name}.json"
            path.parent.mkdir(exist_ok=True)
            path.write_text(content if isinstance(content, str) else json.dumps(content), "utf-8")
        (tmp_path / "plan.toml").write_text(PLAN.format(table=table), "utf-8")
        return read_plan(tmp_path / "plan.toml")

    return read


@pytest.fixture
def sentence(plan_with):
    """Function: the one sentence that such a plan gets."""

    def said(table, **files):
        with pytest.raises(PlanError) as caught:
            plan_with(table, **files)
        text = str(caught.value)
        assert "\n" not in text
        assert text.endswith(".")
        return text

    return said


def test_without_the_table_nothing_is_its_own(plan_with):
    assert plan_from_bytes(PLAN.replace("[uncertainty]\n{table}\n", "").encode(), "plan.toml").own_uncertainty is None
    assert plan_with("").own_uncertainty.parts == {}
    assert plan_with("").own_uncertainty.applied_to(UncertaintySettings()) == UncertaintySettings()


@pytest.mark.parametrize("name", [each.name for each in fields(UncertaintySettings) if each.name != "mount"])
def test_every_part_of_the_settings_can_be_the_plans_own(plan_with, name):
    own = plan_with(f"{name} = 0.4").own_uncertainty
    assert own.parts == {name: 0.4}
    assert own.sources == {name: "the plan"}
    applied = own.applied_to(UncertaintySettings())
    for each in fields(UncertaintySettings):
        assert getattr(applied, each.name) == (0.4 if each.name == name else each.default)


def test_a_check_is_read_beside_the_plan_and_the_plans_own_value_wins(plan_with):
    own = plan_with('from = "checks/taping.json"\nattitude_deg = 0.3', taping=CHECK).own_uncertainty
    assert own.parts == {"zero_pose_deg": 1.25, "attitude_deg": 0.3}
    assert own.sources == {"zero_pose_deg": "the taping check taping.json", "attitude_deg": "the plan"}
    (file,) = own.checks
    assert (file.name, file.role) == ("taping.json", "check")
    assert file.sha256 == hashlib.sha256(json.dumps(CHECK).encode()).hexdigest()
    own = plan_with('from = "checks/taping.json"\nzero_pose_deg = 3', taping=CHECK).own_uncertainty
    assert own.parts == {"zero_pose_deg": 3}
    assert own.sources == {"zero_pose_deg": "the plan"}
    assert [each.name for each in own.checks] == ["taping.json"]


def test_several_checks_each_give_their_part(plan_with):
    sensors = {**CHECK, "check": "sensor", "for_the_plan": {"parts": {"attitude_deg": 0.8}}}
    own = plan_with('from = ["checks/taping.json", "checks/sensors.json"]', taping=CHECK, sensors=sensors)
    assert own.own_uncertainty.parts == {"zero_pose_deg": 1.25, "attitude_deg": 0.8}
    assert [each.name for each in own.own_uncertainty.checks] == ["taping.json", "sensors.json"]


@pytest.mark.parametrize(
    ("table", "files", "expected"),
    [
        ("zero_pose_deg = 21", {}, "5:17: field uncertainty.zero_pose_deg: must be at most 20 deg, got 21"),
        ("zero_pose_deg = -1", {}, "5:17: field uncertainty.zero_pose_deg: must be at least 0 deg, got -1"),
        ('zero_pose_deg = "2"', {}, "must be a number in deg, got '2'"),
        ("zero_pose_deg = nan", {}, "must be a finite number in deg, got nan"),
        ("zero_pose = 2", {}, "5:1: field uncertainty.zero_pose: must be a field of uncertainty, got unknown field"),
        ("from = 3", {}, "5:8: field uncertainty.from: must be a list in [brackets], got 3"),
        ("from = []", {}, "5:8: field uncertainty.from: must hold at least one entry, got []"),
        ('from = "checks/x.json"', {}, "5:8: field uncertainty.from: must name the check.json of a check, got "),
        ('from = "checks/x.json"', {}, "'checks/x.json', which is not there"),
        ('from = "."', {}, "which is no file"),
        ('from = "checks/x.json"', {"x": "{"}, "which is damaged or no JSON text"),
        ('from = "checks/x.json"', {"x": "[" * 100_000}, "which is damaged or no JSON text"),
        ('from = "checks/x.json"', {"x": {**CHECK, "format": "imu-rom result"}}, "which is no check"),
        ('from = "checks/x.json"', {"x": {**CHECK, "schema_version": 2}}, "which has the schema_version 2"),
        ('from = "checks/x.json"', {"x": {**CHECK, "for_the_plan": None}}, "which lacks its for_the_plan"),
        (
            'from = "checks/x.json"',
            {"x": {**CHECK, "for_the_plan": {"parts": {"zero": 1}}}},
            "which gives an unknown part of the uncertainty, 'zero'",
        ),
        (
            'from = "checks/x.json"',
            {"x": {**CHECK, "for_the_plan": {"parts": {"zero_pose_deg": 99}}}},
            "which gives 99 for zero_pose_deg, which must lie in 0 to 20 deg",
        ),
        (
            'from = "checks/x.json"',
            {"x": {**CHECK, "for_the_plan": {"parts": {}}}},
            "which gives nothing to take from it, because the usual value was found to be enough",
        ),
        (
            'from = ["checks/x.json", "checks/y.json"]',
            {"x": CHECK, "y": CHECK},
            "5:26: field uncertainty.from: must name checks of which only one gives zero_pose_deg, got 'checks/y.json'",
        ),
    ],
)
def test_a_mistake_is_named_with_its_place(sentence, table, files, expected):
    assert expected in sentence(table, **files)


def test_a_plan_read_without_its_folder_can_name_no_check():
    with pytest.raises(PlanError, match="must be left out where a plan is read without its folder, got 'a"):
        plan_from_bytes(PLAN.format(table='from = "a.json"').encode(), "plan.toml")

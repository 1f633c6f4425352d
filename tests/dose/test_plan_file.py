"""Plan files: the example of the format, every kind of mistake in one sentence with line and column, samples."""

import hashlib
import math
import os
import re
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.dose.exercise import CompressionThreshold, Decide, Load, Tempo
from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_file import plan_from_bytes, plan_sha256, read_plan
from imu_rom.errors import PlanError
from imu_rom.motion.joints import JOINTS

EXAMPLE = """\
[plan]
format = 1
title = "Left heel, into range"
patient = "P-0017"                # a pseudonym
tendon_site = "achilles insertion"
stage = "into range"
[[stage]]
name = "into range"
from = 2026-12-01                 # optional
[[stage.exercise]]
name = "heeldrop"                 # the BIDS task label of its recordings
kind = "repetitions"              # repetitions | hold | stretch
joint = "ankle"
motion = "dorsiflexion"           # the positive direction
side = "left"
proximal = "shank"                # tracked_point names in the recording
distal = "foot"
calibration_movement = "plantarflexion"
sets = 3
repetitions = 15
tempo_s = { eccentric = 2.5, end_range_hold = 2.0, concentric = 1.5, top_pause = 0.6 }
rest_s = 60
start_deg = -25
end_range_deg = [5, 15]           # [5, inf] = at least 5
end_range_reference = "neutral"   # neutral | own range | floor
limit_deg = 18                    # not to be passed
compression_threshold = { deg = 4, basis = "clinician" }
past_threshold_s_per_set = [20, 60]
load = { eccentric = "single leg", concentric = "both legs", share_of_body_weight = 1.0, external_kg = 0 }
surface = "step"
footwear = "trainers"
heel_lift_mm = 0
mounting = { shank = "z outward, x up", foot = "z up, x forward" }   # only if known
per_day = 2
days_per_week = 7
decide = { reached = 0.80, limit = 0.95, share_of_repetitions = 0.80 }
placement = {shank = "calf"}
"""

MINIMAL = """\
[plan]
format = 1
tendon_site = "patellar"
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

SAMPLES = Path(__file__).parents[2] / "sample_recordings" / "plans"


def plan_of(text):
    return plan_from_bytes(text.encode(), "plan.toml")


def sentence(text):
    """The one sentence that a wrong plan gets."""
    with pytest.raises(PlanError) as caught:
        plan_from_bytes(text if isinstance(text, bytes) else text.encode(), "plan.toml")
    said = str(caught.value)
    assert "\n" not in said
    assert said.endswith(".")
    return said


def changed(old, new, text=EXAMPLE):
    assert text.count(old) == 1, old
    return text.replace(old, new)


def test_the_example_is_read_field_by_field():
    plan = plan_of(EXAMPLE)
    assert (plan.title, plan.patient, plan.tendon_site) == ("Left heel, into range", "P-0017", "achilles insertion")
    assert (plan.current_stage, plan.stage.from_date) == ("into range", date(2026, 12, 1))
    drop = plan.exercise("heeldrop")
    assert (drop.kind, drop.joint, drop.motion, drop.side) == ("repetitions", "ankle", "dorsiflexion", "left")
    assert (drop.proximal, drop.distal, drop.calibration_movement) == ("shank", "foot", "plantarflexion")
    assert (drop.sets, drop.repetitions, drop.rest_s, drop.start_deg, drop.limit_deg) == (3, 15, 60, -25, 18)
    assert drop.tempo == Tempo(2.5, 2.0, 1.5, 0.6)
    assert (drop.end_range_deg, drop.end_range_reference) == ((5, 15), "neutral")
    assert drop.compression_threshold == CompressionThreshold(4, "clinician")
    assert drop.past_threshold_s_per_set == (20, 60)
    assert drop.load == Load("single leg", "both legs", 1.0, 0)
    assert (drop.surface, drop.footwear, drop.heel_lift_mm) == ("step", "trainers", 0)
    assert drop.placement == {"shank": "calf"}
    assert drop.mounting == {"shank": "z outward, x up", "foot": "z up, x forward"}
    assert (drop.per_day, drop.days_per_week) == (2, 7)
    assert drop.decide == Decide(0.80, 0.95, 0.80)


def test_what_is_left_out_is_not_prescribed():
    plan = plan_of(MINIMAL)
    assert (plan.title, plan.current_stage, plan.patient, plan.subject) == ("Patellar", "holds", None, None)
    squat = plan.exercise()
    for name in ("start_deg", "end_range_deg", "limit_deg", "compression_threshold", "past_threshold_s_per_set"):
        assert getattr(squat, name) is None
    for name in ("rest_s", "surface", "footwear", "heel_lift_mm", "per_day", "days_per_week", "calibration_movement"):
        assert getattr(squat, name) is None
    assert (squat.tempo, squat.load, squat.mounting, squat.decide) == (Tempo(), Load(), {}, Decide())


def test_an_open_window_and_tables_in_other_notations():
    assert plan_of(changed("[5, 15]", "[5, inf]")).exercise().end_range_deg == (5, math.inf)
    spread = changed("[[stage.exercise]]\n", "", MINIMAL)
    inner = spread[spread.index('name = "squat"') :]
    inline = spread[: spread.index('name = "squat"')] + "exercise = [{" + ", ".join(inner.splitlines()) + "}]\n"
    assert plan_of(inline) == plan_of(MINIMAL)
    assert plan_of("\ufeff" + EXAMPLE.replace("\n", "\r\n")) == plan_of(EXAMPLE)


@pytest.mark.parametrize(
    "field",
    ["format", "tendon_site", "name", "joint", "motion", "side", "proximal", "distal", "sets", "repetitions"],
)
def test_each_required_field_is_missed_at_its_table(field):
    lines = MINIMAL.splitlines()
    # the exercise's name, not the stage's
    index = max(number for number, line in enumerate(lines) if line.startswith(f"{field} ="))
    header = max(number for number in range(index) if lines[number].startswith("["))
    table = {"[plan]": "plan", "[[stage.exercise]]": "stage.exercise"}[lines[header]]
    del lines[index]
    assert sentence("\n".join(lines)) == (
        f"plan.toml:{header + 1}:1: field {table}.{field}: must be given, got nothing."
    )


VALUE_LINES = [
    (number, match[1])
    for number, line in enumerate(EXAMPLE.splitlines(), 1)
    if (match := re.match(r"(\w+) = ", line)) and match[1] not in {"mounting", "placement"}
]


@pytest.mark.parametrize(("number", "field"), VALUE_LINES)
def test_a_value_of_the_wrong_kind_is_found_at_its_line_and_column(number, field):
    lines = EXAMPLE.splitlines()
    lines[number - 1] = f"{field} =  true # wrong"
    said = sentence("\n".join(lines))
    assert said.startswith(f"plan.toml:{number}:{len(field) + 5}: field ")
    assert f".{field}: must be " in said
    assert said.endswith("got true.")


FAULTS = [
    # unknown fields
    (
        "limit_deg = 18",
        "limt_deg = 18",
        "26:1: .limt_deg: must be a field of stage.exercise, got unknown field 'limt_deg'; perhaps 'limit_deg' was",
    ),
    (
        "sets = 3",
        "set = 3",
        "19:1: .set: must be a field of stage.exercise, got unknown field 'set'; perhaps 'sets' was",
    ),
    ("sets = 3", 'sets = 3\npatient = "P"', "20:1: .patient: must be a field of stage.exercise, got unknown"),
    ("top_pause = 0.6", "pause = 0.6", "21:70: .tempo_s.pause: must be a field of stage.exercise.tempo_s, got unknown"),
    ("rest_s = 60", "colour = 60", "22:1: .colour: must be one of name, kind, joint, "),
    # numbers out of range
    ("sets = 3", "sets = 0", "19:8: .sets: must be at least 1, got 0."),
    ("sets = 3", "sets = 3.5", "19:8: .sets: must be a whole number, got 3.5."),
    ("eccentric = 2.5", "eccentric = -2.5", "21:25: .tempo_s.eccentric: must be more than 0 s, got -2.5."),
    ("rest_s = 60", "rest_s = -1", "22:10: .rest_s: must be at least 0 s, got -1."),
    ("start_deg = -25", 'start_deg = "-25"', "23:13: .start_deg: must be a number in deg, got '-25'."),
    ("start_deg = -25", "start_deg = nan", "23:13: .start_deg: must be a finite number in deg, got nan."),
    ("limit_deg = 18", "limit_deg = inf", "26:13: .limit_deg: must be a finite number in deg, got inf."),
    (
        "limit_deg = 18",
        f"limit_deg = 1{'0' * 400}",
        "26:13: .limit_deg: must be a number in deg, got a very large number.",
    ),
    ("per_day = 2", "per_day = 0", "34:11: .per_day: must be more than 0, got 0."),
    ("days_per_week = 7", "days_per_week = 8", "35:17: .days_per_week: must be at most 7, got 8."),
    ("reached = 0.80", "reached = 0.5", "36:22: .decide.reached: must be more than 0.5, got 0.5."),
    ("limit = 0.95", "limit = 95", "36:36: .decide.limit: must be less than 1, got 95."),
    ("[20, 60]", "[20]", "28:28: .past_threshold_s_per_set: must be [low, high], got [20]."),
    ("[20, 60]", "[20, 60, 80]", "28:28: .past_threshold_s_per_set: must be [low, high], got [20, 60, 80]."),
    ("[20, 60]", "[-1, 60]", "28:29: .past_threshold_s_per_set: must be at least 0 s, got -1."),
    # words
    ('side = "left"', 'side = "both"', "15:8: .side: must be 'left' or 'right', got 'both'."),
    (
        'basis = "clinician"',
        'basis = "guess"',
        "27:44: .compression_threshold.basis: must be 'neutral by convention', 'first pain', 'share of own range' or '",
    ),
    ('"heeldrop" ', '"heel-drop"', "11:8: .name: must be plain letters and digits only, as in BIDS labels, got 'heel-"),
    (
        "2026-12-01",
        '"2026-12-01"',
        "9:8: stage.from: must be a date such as 2026-12-01, without quotes or time, got '2",
    ),
    ("2026-12-01", "2026-12-01T10:00:00", "9:8: stage.from: must be a date such as 2026-12-01, without quotes or time"),
    ('"P-0017" ', '"P\\n17" ', "4:11: plan.patient: must be text on one line, without spaces around it, got 'P\\n17'."),
    (
        '"P-0017" ',
        '"-- -" ',
        "4:11: plan.patient: must hold plain letters or digits, because recordings are matched by",
    ),
    (
        '"P-0017" ',
        '"P-Ü17"',
        "4:11: plan.patient: must hold plain letters or digits, because recordings are matched by",
    ),
    ('"P-0017" ', '"P-0017"\nbids_subject = "P-17"', "5:16: plan.bids_subject: must be plain letters and digits only"),
    (
        '"achilles insertion"',
        '"achiles insertion"',
        "5:15: plan.tendon_site: must be one of achilles insertion, achilles",
    ),
    (
        'stage = "into range"',
        'stage = "in range"',
        "6:9: plan.stage: must be the name of a stage of the plan (into range), got 'in range'; perhaps 'into range'",
    ),
    ("format = 1", "format = 2", "2:10: plan.format: must be 1, the only format that is read here, got 2."),
    ("format = 1", "format = true", "2:10: plan.format: must be 1, the only format that is read here, got true."),
    # not served yet, refused by name
    (
        'kind = "repetitions" ',
        'kind = "jumps"',
        "12:8: .kind: must be 'repetitions', 'hold' or 'stretch', got 'jumps'",
    ),
    (
        'reference = "neutral"',
        'reference = "floor"',
        "25:23: .end_range_reference: must be 'neutral' or 'own range', got 'floor'; write end_range = 'floor' instead",
    ),
    ('surface = "step"', 'surface = "stone"', "30:11: .surface: must be 'floor', 'step' or 'wedge', got 'stone'"),
    # the zero and the floor
    (
        'surface = "step"',
        'zero = "sitting"',
        "30:8: .zero: must be 'foot flat, shank upright' or 'own standing', got 'sitting'",
    ),
    ('surface = "step"', "neutral_deg = 4", "30:15: .neutral_deg: must come with neutral_uncertainty_deg, got 4 alone"),
    (
        'surface = "step"',
        "neutral_uncertainty_deg = 1",
        "30:27: .neutral_uncertainty_deg: must come with neutral_deg, got 1 alone",
    ),
    (
        'surface = "step"',
        'neutral_deg = 4\nneutral_uncertainty_deg = 1\nzero = "own standing"',
        "30:15: .neutral_deg: must be left out with zero = 'own standing', where angles count from that pose, got 4;",
    ),
    (
        'surface = "step"',
        "neutral_deg = 95\nneutral_uncertainty_deg = 1",
        "30:15: .neutral_deg: must lie in what ankle dorsiflexion can reach",
    ),
    (
        'surface = "step"',
        'surface = "floor"\nstep_height_mm = 150',
        "31:18: .step_height_mm: must come with surface = 'step' or 'wedge', got 150 with 'floor'",
    ),
    (
        'surface = "step"',
        'surface = "step"\nend_range = "floor"',
        "24:17: .end_range_deg: must be left out with end_range = 'floor', which is a surface and not an angle, got [5",
    ),
    (
        'surface = "step"',
        'surface = "floor"\nend_range = "floor"\nfloor_tolerance_deg = 0',
        "32:23: .floor_tolerance_deg: must be more than 0 deg, got 0",
    ),
    # contradictions
    (
        "[5, 15]",
        "[15, 5]",
        "24:17: .end_range_deg: must be [low, high] with low below high (high may be inf), got [15, 5].",
    ),
    (
        "[5, 15]",
        "[5, 5]",
        "24:17: .end_range_deg: must be [low, high] with low below high (high may be inf), got [5, 5].",
    ),
    (
        "[5, 15]",
        "[nan, 15]",
        "24:17: .end_range_deg: must be [low, high] with low below high (high may be inf), got [nan",
    ),
    (
        "[5, 15]",
        "[-inf, 15]",
        "24:17: .end_range_deg: must be [low, high] with low below high (high may be inf), got [-i",
    ),
    ("limit_deg = 18", "limit_deg = 5", "26:13: .limit_deg: must lie above the end_range_deg window [5, 15], got 5."),
    (
        "limit_deg = 18",
        "limit_deg = 14",
        "26:13: .limit_deg: must not lie within the end_range_deg window [5, 15], got 14.",
    ),
    (
        "start_deg = -25",
        "start_deg = 5",
        "23:13: .start_deg: must lie below the end_range_deg window (below 5), got 5.",
    ),
    (
        "limit_deg = 18",
        "limit_deg = 51",
        "26:13: .limit_deg: must lie in what ankle dorsiflexion can reach, -80 to 50 deg",
    ),
    (
        "start_deg = -25",
        "start_deg = -81",
        "23:13: .start_deg: must lie in what ankle dorsiflexion can reach, -80 to 50",
    ),
    (
        "[5, 15]",
        "[5, 60]",
        "24:21: .end_range_deg: must lie in what ankle dorsiflexion can reach, -80 to 50 deg, got 60 (a",
    ),
    (
        "deg = 4,",
        "deg = 60,",
        "27:33: .compression_threshold.deg: must lie in what ankle dorsiflexion can reach, -80 to 50",
    ),
    (
        "[20, 60]",
        "[60, 20]",
        "28:28: .past_threshold_s_per_set: must be [low, high] in seconds with low below high, got [60",
    ),
    (
        "deg = 4,",
        "deg = 20,",
        "28:28: .past_threshold_s_per_set: must start at 0, because end_range_deg ends at 15 and compr",
    ),
    ('joint = "ankle"', 'joint = "toe"', "13:9: .joint: must be one of ankle, knee, hip, shoulder, "),
    (
        '"plantarflexion"',
        '"flexion"',
        "18:24: .calibration_movement: must be the exercise's motion or its opposite (dorsiflexion or plantar",
    ),
    (
        '"plantarflexion"',
        '"inversion"',
        "18:24: .calibration_movement: must be the exercise's motion or its opposite (dorsiflexion or plantar",
    ),
    (
        'motion = "dorsiflexion"',
        'motion = "flexion"',
        "14:10: .motion: must be a motion of the ankle (dorsiflexion or pl",
    ),
    ('distal = "foot"', 'distal = "shank"', "17:10: .distal: must be another sensor than proximal, got 'shank' (and 1"),
    (
        "{ shank = ",
        "{ thigh = ",
        "33:14: .mounting.thigh: must be for a sensor of the exercise (shank or foot), got 'thigh'.",
    ),
    (
        "z outward, x up",
        "z outward, x in",
        "33:22: .mounting.shank: must be two axes with a direction each, such as 'z",
    ),
    (
        "z outward, x up",
        "z up, x down",
        "33:22: .mounting.shank: must name directions at right angles to each other, got",
    ),
    ('shank = "calf"', 'shank = "somewhere"', "37:22: .placement.shank: must name one of rigid, midfoot, thigh, calf,"),
    ('shank = "calf"', 'toe = "calf"', "37:14: .placement.toe: must be for a sensor of the exercise (shank or"),
]


@pytest.mark.parametrize(("old", "new", "expected"), FAULTS)
def test_a_mistake_is_named_with_place_field_must_and_got(old, new, expected):
    place, _, rest = expected.partition(" ")
    field = f"stage.exercise{rest}" if rest.startswith(".") else rest
    assert sentence(changed(old, new)).startswith(f"plan.toml:{place} field {field}")


@pytest.mark.parametrize(
    "motion",
    [each for joint in JOINTS.values() for each in joint.motions],
    ids=lambda motion: f"{motion.joint} {motion.name}",
)
def test_every_motion_of_every_joint_can_be_planned_within_its_range(motion):
    low, high = motion.possible_range_deg
    text = changed('joint = "knee"', f'joint = "{motion.joint}"', MINIMAL)
    text = changed('motion = "flexion"', f'motion = "{motion.name}"', text)
    text += f'calibration_movement = "{motion.opposite}"\nstart_deg = {low}\nend_range_deg = [0, {high}]\n'
    exercise = plan_of(text).stage.exercises[0]
    assert (exercise.joint, exercise.motion) == (motion.joint, motion.name)
    assert f"must lie in what {motion.joint} {motion.name} can reach, {low:g} to {high:g} deg, got {high + 1:g}" in (
        sentence(text.replace(f"[0, {high}]", f"[0, {high + 1}]"))
    )


def test_the_first_of_several_mistakes_is_named_and_the_others_counted():
    text = changed("sets = 3", "sets = 0", changed("side = ", "sid = ", changed("per_day = 2", "per_day = 99")))
    said = sentence(text)
    assert said.startswith("plan.toml:15:1: field stage.exercise.sid: ")
    assert "got unknown field 'sid' (and 2 more); perhaps 'side' was meant." in said


def test_names_that_occur_twice():
    body = EXAMPLE[EXAMPLE.index("[[stage.exercise]]") :]
    assert sentence(EXAMPLE + body).startswith(
        "plan.toml:11:8: field stage.exercise.name: must differ from exercise to exercise of a stage, "
        "got 'heeldrop' twice"
    )
    stage = EXAMPLE[EXAMPLE.index("[[stage]]") :]
    assert sentence(EXAMPLE + stage).startswith(
        "plan.toml:8:8: field stage.name: must differ from stage to stage, got 'into range' twice"
    )
    # the same exercise may come back in another stage
    later = stage.replace('"into range"', '"deeper"').replace("2026-12-01", "2026-12-15")
    assert len(plan_of(EXAMPLE + later).stages) == 2


def test_a_mistake_in_a_later_stage_is_found_there():
    later = EXAMPLE[EXAMPLE.index("[[stage]]") :].replace('"into range"', '"deeper"').replace("sets = 3", "sets = -3")
    line = EXAMPLE.count("\n") + 1 + later[: later.index("sets = -3")].count("\n")
    assert sentence(EXAMPLE + later) == (f"plan.toml:{line}:8: field stage.exercise.sets: must be at least 1, got -3.")


def test_seconds_past_an_angle_need_the_angle():
    text = re.sub(r"compression_threshold.*\n", "", EXAMPLE)
    assert "must come with a compression_threshold" in sentence(text)


def test_columns_count_characters():
    said = sentence(
        changed("z outward, x up", "z outward, x ü", changed("{ shank = ", '{ "ß" = "z up, x left", shank = '))
    )
    # ß stands before, in one character of two bytes
    assert said.startswith("plan.toml:33:14: field stage.exercise.mounting.ß: must be for a sensor of the exercise")
    assert sentence("plan = { title = 'ü', format = 3 }").startswith("plan.toml:1:32: field plan.format: ")


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "plan.toml: must hold a plan, got an empty file."),
        (b"# only a comment\n", "plan.toml: must hold a plan, got an empty file."),
        (b"PK\x03\x04\x00\x01", "plan.toml:1:3: must be valid TOML, got an error: "),
        (b"[plan]\nformat = \xff\xfe", "plan.toml:2:10: must be TOML text in UTF-8, got bytes that are no such text; "),
        (EXAMPLE.encode("utf-16"), "plan.toml:1:1: must be TOML text in UTF-8"),
        (EXAMPLE[:40].encode(), "plan.toml:3:23: must be valid TOML, got an error: "),
        (
            b"[plan]\nformat = 1\nformat = 1\n",
            "plan.toml:3:11: must be valid TOML, got an error: cannot overwrite a value",
        ),
        (b"a = " + b"[" * 100_000, "plan.toml: must be a plan, got numbers or brackets beyond reason."),
        (b"a = " + b"9" * 5_000, "plan.toml: must be a plan, got numbers or brackets beyond reason."),
        (b"stage = 3\n", "plan.toml:1:1: field plan: must be given, got nothing (and 1 more)."),
        (
            b"[pln]\nformat = 1\n[[stage]]\n",
            "plan.toml:1:1: field pln: must be one of plan, uncertainty, own_range, calendar, study, stage, got",
        ),
        (b"[plan]\nformat = 1\n[stage]\n", "plan.toml:1:1: field plan.tendon_site: must be given, got nothing (and 1"),
    ],
)
def test_files_that_hold_no_plan(data, expected):
    assert sentence(data).startswith(expected)


def test_single_brackets_are_put_right():
    assert sentence(changed("[[stage.exercise]]", "[stage.exercise]")) == (
        "plan.toml:10:1: field stage.exercise: must be a list of tables, each under [[stage.exercise]], got a table."
    )


@settings(max_examples=150)
@given(cut=st.integers(0, len(EXAMPLE)), junk=st.text(max_size=5))
def test_a_broken_file_is_a_plan_or_one_sentence(cut, junk):
    try:
        plan = plan_of(EXAMPLE[:cut] + junk + EXAMPLE[cut + len(junk) :])
    except PlanError as error:
        said = str(error)
    else:
        assert isinstance(plan, Plan)
        return
    assert re.match(r"plan\.toml(:\d+:\d+)?: ", said)
    assert len(said) < 900


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(PlanError, match=r"nowhere\.toml: can't be read: no such file or directory; check the name"):
        read_plan(tmp_path / "nowhere.toml")
    with pytest.raises(PlanError, match=r"must be a plan file, got a folder"):
        read_plan(tmp_path)
    sparse = tmp_path / "sparse.toml"
    with sparse.open("wb") as file:
        file.truncate(5_000_000_000)
    with pytest.raises(PlanError, match=r"must be at most 1 MB, got 5e\+03 MB; name a plan file"):
        read_plan(sparse)
    with pytest.raises(PlanError, match=r"got a device or pipe"):
        read_plan(os.devnull)


def test_the_fingerprint_is_that_of_the_bytes(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_bytes(EXAMPLE.encode())
    assert plan_sha256(path) == hashlib.sha256(EXAMPLE.encode()).hexdigest()


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_the_samples_are_plans_of_invented_people(path):
    plan = read_plan(path)
    assert plan.patient == path.stem.removesuffix("-floor")
    assert "Invented" in path.read_text()
    assert plan.exercise().calibration_movement is not None


def test_there_are_eight_samples_and_the_fourth_twice():
    assert len(list(SAMPLES.glob("*.toml"))) == 9


def test_a_joint_of_more_axes_may_be_calibrated_by_another_of_its_motions_and_a_hinge_may_not():
    """Turning a hanging arm shows no front; raising it forward does. A hinge has one axis, and needs its sign."""
    text = EXAMPLE.replace('"ankle"', '"shoulder"').replace('"dorsiflexion" ', '"internal rotation" ')
    text = text.replace('"plantarflexion"', '"flexion"').replace("achilles insertion", "subscapularis")
    plan = plan_from_bytes(text.encode(), "plan.toml")
    assert plan.stages[0].exercises[0].calibration_movement == "flexion"
    for movement in ("dorsiflexion", "lifting"):
        with pytest.raises(PlanError, match="calibration_movement: must be a motion of the shoulder"):
            plan_from_bytes(text.replace('"flexion"', f'"{movement}"').encode(), "plan.toml")
    with pytest.raises(PlanError, match="calibration_movement: must be the exercise's motion or its opposite"):
        plan_from_bytes(EXAMPLE.replace('"plantarflexion"', '"inversion"').encode(), "plan.toml")

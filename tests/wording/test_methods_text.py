"""The methods text: every value that it is about shows in it, so that it can't disagree with the result."""

import copy
import json
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exercise import CompressionThreshold, Exercise, SecondPose
from imu_rom.exchange.document import ClockSummary, result_document
from imu_rom.exchange.result import parse_result, write_result
from imu_rom.session.result import Allotment
from imu_rom.wording.markdown import as_text
from imu_rom.wording.methods_checklists import CERT, TIDIER, checklists
from imu_rom.wording.methods_references import WORKS
from imu_rom.wording.methods_text import methods_text

CLOCKS = ClockSummary("shank", "foot", 13.5, 42.0, {"shared jolts": 4, "shared motion": 9}, 2, 0.7, 0.4, 1.1, 0.9)

# What a session found, whom it was of and when: results, not methods. All else must change the text.
RESULTS = {
    ("format",),
    ("schema_version",),
    ("program", "name"),
    ("recorded_at",),
    ("recorded_at_source",),
    ("patient",),
    ("bids_subject",),
    ("stage_from",),
    ("recording", "label"),
    ("recording", "task"),
    ("recording", "subject"),
    ("recording", "clocks", "start_standard_uncertainty_ms"),
    ("recording", "clocks", "end_standard_uncertainty_ms"),
    ("findings",),
    ("exercises", "zero", "candidates"),
    ("exercises", "later_poses", "start_s"),
    ("exercises", "later_poses", "stop_s"),
    ("exercises", "later_poses", "difference_deg"),
    ("exercises", "later_poses", "standard_uncertainty_deg"),
    ("exercises", "slips", "time_s"),
    ("exercises", "slips", "earliest_s"),
    ("exercises", "slips", "latest_s"),
    ("exercises", "slips", "sensor"),
    ("exercises", "slips", "size_deg"),
    ("exercises", "slips", "new_zero_s"),
    ("exercises", "alignment", "proximal_axis"),
    ("exercises", "alignment", "distal_axis"),
    ("provenance", "inputs", "name"),
    ("provenance", "marks", "start_s"),
    ("provenance", "marks", "stop_s"),
    ("provenance", "marks", "reason"),
    ("provenance", "marks", "by"),
    ("provenance", "marks", "at"),
    # another name for the exercise, and another sum of the terms
    ("provenance", "uncertainty_budget", "exercise"),
    ("provenance", "uncertainty_budget", "side"),
    ("provenance", "uncertainty_budget", "parts_deg"),
}
OF_THE_TOTAL = {"complete", "partial", "prescribed_sets", "prescribed_repetitions"}
OF_A_SET = {"verdict", "prescribed_low_s", "prescribed_high_s", "prescribed_derived"}
OTHER_WORDS = {  # where only some words are allowed
    "left": "right",
    "distal only": "both",
    "repetitions": "stretch",
    "neutral": "own range",
    "angle": "floor",
    "single leg": "other leg",
    "both legs": "unweighted",
    "clinician": "first pain",
    "step": "wedge",
    "straight": "bent",
    "strike": "join",
    "session": "set",
    "set": "session",
    "sample": "repetition",
    "nothing": "time",
    "excursion": "angular rate",
    "recording": "settings",
    "plan": "check",
    "auto": "given",
    "order": "task",
    "axis": "repetitions",
    "met": "short",
    "short": "met",
    "over": "met",
    "undecided": "met",
}


def is_a_result(path):
    if path[:2] == ("exercises", "total"):
        return path[2] not in OF_THE_TOTAL
    if path[:2] == ("exercises", "sets"):
        return path[2] not in OF_A_SET
    return any(path[: len(each)] == each for each in RESULTS)


def leaves(value, keys=(), names=()):
    if isinstance(value, dict):
        for key, each in value.items():
            yield from leaves(each, (*keys, key), (*names, key))
    elif isinstance(value, list):
        for index, each in enumerate(value):
            yield from leaves(each, (*keys, index), names)
    else:
        yield keys, names, value


def another(value):
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return value + 0.001
    return OTHER_WORDS.get(value, f"{value} q")


def full(session, strike):
    """A document in which nothing is left out."""
    document = result_document(session)
    (answer,) = document.exercises
    exercise = replace(
        answer.exercise,
        still_segment="foot flat",
        sensors="distal only",
        repetition_maximum=15,
        per_day=2.0,
        days_per_week=6.0,
        in_words="heel drop",
        share_of_own_range=(0.5, 0.8),
        zero="own standing",
        neutral_deg=1.5,
        neutral_uncertainty_deg=0.7,
        second_pose=SecondPose("flexion", 90.0, 5.0),
        step_height_mm=120.0,
        knee="straight",
        heel_lift_mm=6.0,
        mounting={"shank": "z outward, x up"},
        placement={"foot": "midfoot"},
        load=replace(answer.exercise.load, share_of_body_weight=0.9, external_kg=5.0),
    )
    answer = replace(answer, exercise=exercise, allotment=Allotment("order", ("one", "two"), "they are alike"))
    recording = replace(document.recording, clocks=CLOCKS, reference_channels=("ankle",))
    sensors = tuple(replace(each, mounting="z outward, x up") for each in recording.sensors)
    return replace(
        document,
        exercises=(answer,),
        recording=replace(recording, sensors=sensors),
        marks=(strike,),
        own_uncertainty={"zero_pose_deg": "re-taping by the clinic"},
    )


@pytest.fixture(scope="module")
def document(made_session, strike):
    return full(made_session, strike)


def changed(layout, keys, value):
    layout = copy.deepcopy(layout)
    *way, last = keys
    place = layout
    for each in way:
        place = place[each]
    place[last] = value
    return parse_result(json.dumps(layout).encode(), "changed.json")


def test_each_value_of_the_result_that_is_no_finding_of_the_session_changes_the_text(make_session, strike):
    layout = json.loads(write_result(full(make_session(((10.0,),)), strike)))
    before = methods_text(parse_result(json.dumps(layout).encode(), "result.json"))
    unseen, tried = [], 0
    for keys, names, value in leaves(layout):
        if value is None or is_a_result(names):
            continue
        # the floor's tolerance matters only where the plan asks for the floor
        start = layout
        if names[-1] == "floor_tolerance_deg":
            start = copy.deepcopy(layout)
            start["exercises"][0]["exercise"]["end_range"] = "floor"
        reference = before if start is layout else methods_text(parse_result(json.dumps(start).encode(), "x"))
        tried += 1
        if methods_text(changed(start, keys, another(value))) == reference:
            unseen.append(keys)
    assert not unseen
    assert tried > 150


def test_what_is_left_out_of_the_full_document_is_nothing_that_an_exercise_can_say(document):
    (answer,) = document.exercises
    left_out = {each.name for each in fields(Exercise) if getattr(answer.exercise, each.name) is None}
    assert not left_out


def test_what_the_plan_leaves_out_is_named(make_session, unprescribed):
    text = methods_text(result_document(make_session(exercise=unprescribed)))
    assert "Not prescribed: tempo, rest, start angle, end range, limit, compressive angle, frequency." in text
    assert "No compressive angle was prescribed" in text
    assert "Nothing was prescribed that a set could be judged by." in text
    assert (
        "| 13 | dose: sets, repetitions, frequency, load | 3 sets of 15 repetitions; frequency not recorded |" in text
    )


def test_both_guidelines_have_all_their_items_and_what_is_unknown_says_so(document):
    # CERT has 16 items, three of them in two parts (Slade 2016); TIDieR has 12 (Hoffmann 2014)
    assert [item for item, _ in CERT] == [
        *"123456", "7a", "7b", "8", "9", "10", "11", "12", "13", "14a", "14b", "15", "16a", "16b",
    ]  # fmt: skip
    assert [item for item, _ in TIDIER] == [str(each) for each in range(1, 13)]
    text = methods_text(document)
    cert, tidier = text.split("### ")[1:]
    for part, items in ((cert, CERT), (tidier, TIDIER)):
        rows = [line for line in part.splitlines() if line.startswith("| ")][2:]
        assert [row.split(" | ")[0] for row in rows] == [f"| {item}" for item, _ in items]
        assert all(row.count(" | ") == 2 and not row.endswith("|  |") for row in rows)
    for unknown in ("| 2 | who taught it: qualification, training", "| 11 | adverse events during exercise"):
        assert f"{unknown} | not recorded |" in cert
    assert "| 5 | who provided it | not recorded |" in tidier


def test_each_work_cited_is_listed_and_each_listed_is_cited(document):
    text, listed = methods_text(document).split("## References\n\n")
    numbers = [line.split(".")[0] for line in listed.strip().splitlines()]
    assert numbers == [str(each) for each in range(1, len(numbers) + 1)]
    assert all(f"[{each}]" in text for each in numbers)
    assert f"[{len(numbers) + 1}]" not in text
    assert len(numbers) == len(WORKS) - 1  # the made session's angle is not from the joint's centre


def test_another_filter_is_not_cited_as_vqf(document):
    settings = {**document.settings, "angle": {**document.settings["angle"], "attitude_filter": "mahony"}}
    text = methods_text(replace(document, settings=settings))
    assert "Attitudes came from the filter mahony of the package ahrs" in text
    assert "Information Fusion" not in text


def test_a_setting_that_is_not_the_default_has_not_the_defaults_source(document):
    settings = {**document.settings, "repetitions": {**document.settings["repetitions"], "rest_s": 9.0}}
    text = methods_text(replace(document, settings=settings, own_uncertainty={}))
    row = next(line for line in text.splitlines() if line.startswith("| repetitions.rest\\_s"))
    assert row.startswith("| repetitions.rest\\_s | 9 | s | ")
    assert row.endswith(" | chosen for this analysis |")
    assert "a pause longer than 9 s ended a set" in text


def test_a_measured_part_of_the_uncertainty_has_its_own_source(document):
    row = next(line for line in methods_text(document).splitlines() if "uncertainty.zero" in line)
    assert row.endswith("| re-taping by the clinic |")


def test_times_asked_for_are_those_of_the_result_not_derived_anew(document):
    (answer,) = document.exercises
    sets = tuple(
        replace(each, prescribed_low_s=7.125, prescribed_high_s=float("inf")) for each in answer.comparison.sets
    )
    comparison = replace(answer.comparison, sets=sets)
    text = methods_text(replace(document, exercises=(replace(answer, comparison=comparison),)))
    assert "the time past the compressive angle was at least 7.125 s a set" in text


def test_several_exercises_are_told_apart_by_name(document):
    (answer,) = document.exercises
    other = replace(answer, exercise=replace(answer.exercise, name="squat", compression_threshold=None))
    text = methods_text(replace(document, exercises=(answer, other)))
    assert text.count("**heeldrop.**") == text.count("**squat.**") == 5
    assert "heeldrop: 3 sets of 15" in text


def test_no_people_no_dates_and_no_files_are_in_it(document):
    text = methods_text(document)
    for private in (
        document.patient,
        document.recording.recorded_at,
        document.recording.label,
        "clinician 3",
        "coughed",
    ):
        assert private not in text


@pytest.mark.parametrize(
    "name",
    ["<script>alert(1)</script>", "a | b", "\u202etxet", "line\n# Heading", "[x](http://x)", "*b* `c`", "x" * 200],
)
def test_hostile_words_stay_words(document, name):
    text = methods_text(replace(document, plan_title=name, stage=name))
    assert "<script" not in text
    assert "\n# Heading" not in text
    assert "](http" not in text.replace("\\]", "")
    assert "\u202e" not in text
    assert as_text(name) in text
    rows = [line for line in text.split("### ")[2].splitlines() if line.startswith("| 1 |")]
    assert len(rows[0].replace("\\|", "").split(" | ")) == 3


@given(st.text())
def test_escaped_text_is_one_line_without_bare_marks(text):
    shown = as_text(text)
    assert "\n" not in shown
    bare = shown.replace("\\\\", "")
    assert all(bare[index - 1] == "\\" for index, each in enumerate(bare) if each in "|<[*`")


def test_the_threshold_and_its_basis_are_said(document):
    (answer,) = document.exercises
    exercise = replace(answer.exercise, compression_threshold=CompressionThreshold(-3.5, "share of own range"))
    text = methods_text(replace(document, exercises=(replace(answer, exercise=exercise),)))
    assert "strictly past -3.5 deg (basis: share of own range)" in text


def test_what_was_taken_out_of_a_result_is_not_recorded(document):
    inputs = tuple(replace(each, sha256="") for each in document.inputs)
    text = methods_text(replace(document, plan_title="", stage="", tendon_site="", inputs=inputs))
    assert "Plan: not recorded; stage not recorded; tendon site not recorded [1]." in text
    assert "Files read, by SHA-256: not recorded." in text
    assert "| 1 | name | not recorded |" in text


def test_one_sensors_own_turn_is_not_called_the_joints_angle(document):
    (answer,) = document.exercises
    exercise = replace(answer.exercise, still_segment=None, proximal="none")
    text = methods_text(replace(document, exercises=(replace(answer, exercise=exercise),)))
    assert "every angle here is that sensor's own turn, not the joint's." in text
    assert "No joint angle is known, so no time past one is given." in text
    assert "Exposure is the time" not in text
    assert "own turn" not in methods_text(document)


def test_sets_that_are_undecided_are_not_called_otherwise_than_planned(made_session):
    document = result_document(made_session)
    (answer,) = document.exercises
    first, *others = answer.comparison.sets
    sets = (replace(first, verdict="undecided"), *others)
    told = replace(document, exercises=(replace(answer, comparison=replace(answer.comparison, sets=sets)),))
    assert "45 of 45 done, in 3 of 3 sets; verdicts: met 2, undecided 1" in checklists(told, "[1]", "[2]")

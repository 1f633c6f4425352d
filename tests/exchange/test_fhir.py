"""FHIR Bundles: R4B's shape by a library; status values, units and code systems by rules of the standard written here.

The library (``fhir.resources``) lets any status, unit and code pass, so each rule is seen to refuse a wrong one.
"""

import copy
import json
from dataclasses import replace
from datetime import date
from uuid import UUID

import pytest
from fhir.resources.R4B.bundle import Bundle
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import ResultError
from imu_rom.exchange import fhir_codes
from imu_rom.exchange.document import result_document
from imu_rom.exchange.exported import Exported, ExportedCourse, ExportedResult
from imu_rom.exchange.fhir import fhir_bundle, write_fhir
from imu_rom.exchange.fhir_parts import clean, observation, own_code
from imu_rom.findings import Finding
from imu_rom.recording.model import InputFile
from imu_rom.session.result import Allotment

# R4B, Observation.status, whole value set; here only two of them have a meaning
STATUSES = {"final", "preliminary"}
UNITS = {"deg", "s", "deg.s", "1", "{score}"}
SYSTEMS = {
    # R4B, value set observation-category
    "http://terminology.hl7.org/CodeSystem/observation-category": {"therapy", "survey"},
    # R4B, value set provenance-agent-type
    "http://terminology.hl7.org/CodeSystem/provenance-participant-type": {"assembler"},
    "http://loinc.org": {"72514-3"},
    "http://snomed.info/sct": {"6685009", "51636004", "6757004", "82169009", "91774008", "91775009"},
}
SITES = {  # joint and side by hand, as published value sets have them
    ("ankle", "right"): "6685009",
    ("ankle", "left"): "51636004",
    ("knee", "right"): "6757004",
    ("knee", "left"): "82169009",
    ("shoulder", "right"): "91774008",
    ("shoulder", "left"): "91775009",
}


@pytest.fixture(scope="module")
def document(made_session):
    return result_document(made_session)


@pytest.fixture(scope="module")
def made(document):
    return json.loads(write_result_bundle(document))


def result_bundle(document):
    return fhir_bundle(Exported((ExportedResult("a recording", document, None),)))


def write_result_bundle(document):
    return write_fhir(Exported((ExportedResult("a recording", document, None),)))


def diary_document(*entries, patient="P-0009"):
    drop = Exercise("heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15, per_day=2)
    plan = Plan("Heel", "achilles insertion", (Stage("early", (drop,), date(2026, 12, 1)),), "early", patient=patient)
    answer = follow_up([plan], [], list(entries), date(2026, 12, 9))
    read = (InputFile("diary of somebody.csv", "ab" * 32, "diary"),)
    return Exported((), ExportedCourse(patient, tuple(entries), answer, read))


@pytest.fixture
def diary():
    return diary_document(
        DiaryEntry(
            date(2026, 12, 3),
            exercise="heeldrop",
            side="left",
            pain_before=1.0,
            pain_during=2.0,
            pain_after=3.5,
            pain_next_morning=4.0,
            stiffness_min=12.0,
            load_test_pain=0.0,
            note="my neighbour Maria drove me",
        )
    )


def check_shape(made):
    Bundle.model_validate(made)


def check_codes(made):
    """Every code, unit and status of a Bundle, and every reference."""
    resources = [each["resource"] for each in made["entry"]]
    own = next(each for each in resources if each["resourceType"] == "CodeSystem")
    systems = {**SYSTEMS, own["url"]: {each["code"] for each in own["concept"]}}
    ids = {each["id"] for each in resources}
    assert len(ids) == len(resources)
    for each in made["entry"]:
        assert each["fullUrl"] == f"urn:uuid:{each['resource']['id']}"
        assert UUID(each["resource"]["id"]).version == 5
    for resource in resources:
        if resource["resourceType"] == "Observation":
            assert resource["status"] in STATUSES, resource["status"]
            assert len(resource["category"]) == 1
        for value in walk(resource):
            if "value" in value and "code" in value:
                assert value["system"] == "http://unitsofmeasure.org"
                assert value["code"] in UNITS, value["code"]
            for coding in value.get("coding", ()):
                assert coding["code"] in systems[coding["system"]], coding
            if "reference" in value:
                assert value["reference"].removeprefix("urn:uuid:") in ids
            for empty in ([], {}, "", None):
                assert empty not in value.values()


def walk(value):
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from walk(each)
    elif isinstance(value, list):
        for each in value:
            yield from walk(each)


def named(made, code):
    """The Observations of one code of any system."""
    return [
        each["resource"]
        for each in made["entry"]
        if each["resource"]["resourceType"] == "Observation"
        and code in {coding["code"] for coding in each["resource"]["code"]["coding"]}
    ]


def components(resource):
    found = {}
    for each in resource["component"]:
        value = next(value for key, value in each.items() if key.startswith("value"))
        if isinstance(value, dict):
            value = value["value"] if "value" in value else value["coding"][0]["code"]
        found[each["code"]["coding"][0]["code"]] = value
    return found


def test_a_session_has_the_shape_of_r4b_and_codes_that_are_known(made):
    check_shape(made)
    check_codes(made)


def test_a_diary_has_the_shape_of_r4b_and_codes_that_are_known(diary):
    made = json.loads(write_fhir(diary))
    check_shape(made)
    check_codes(made)


def changed(made, change):
    made = copy.deepcopy(made)
    change([each["resource"] for each in made["entry"]])
    return made


def of_kind(resources, kind="Observation"):
    return next(each for each in resources if each["resourceType"] == kind)


def quantity_of(resources):
    return next(each["valueQuantity"] for each in resources if "valueQuantity" in each)


@pytest.mark.parametrize(
    "change",
    [
        lambda found: of_kind(found).update(status="finished"),
        lambda found: of_kind(found).update(status="amended"),
        lambda found: quantity_of(found).update(code="degree"),
        lambda found: quantity_of(found).update(code="°"),
        lambda found: quantity_of(found).update(system="http://example.org/units"),
        lambda found: of_kind(found)["code"]["coding"][0].update(code="ankle-dorsiflexion"),
        lambda found: of_kind(found)["code"]["coding"][0].update(system="http://loinc.org"),
        lambda found: of_kind(found)["category"][0]["coding"][0].update(code="exercise"),
        lambda found: of_kind(found)["bodySite"]["coding"][0].update(code="344002"),
        lambda found: of_kind(found, "Provenance")["agent"][0]["type"]["coding"][0].update(code="robot"),
        lambda found: of_kind(found)["hasMember"][0].update(reference="urn:uuid:0"),
        lambda found: of_kind(found).update(id="00000000-0000-4000-8000-000000000000"),
    ],
)
def test_a_wrong_status_unit_code_system_or_reference_is_seen_though_the_shape_is_right(made, change):
    wrong = changed(made, change)
    check_shape(wrong)
    with pytest.raises((AssertionError, KeyError)):
        check_codes(wrong)


@pytest.mark.parametrize(
    "change",
    [
        lambda found: of_kind(found).pop("status"),
        lambda found: of_kind(found).update(code="x"),
        lambda found: of_kind(found).update(unknown=1),
        lambda found: quantity_of(found).update(value="many"),
        lambda found: of_kind(found, "Provenance").pop("target"),
        lambda found: of_kind(found, "Provenance").pop("agent"),
        lambda found: of_kind(found, "Provenance").pop("_recorded"),
    ],
)
def test_a_wrong_shape_is_seen(made, change):
    with pytest.raises(ValueError, match="validation error"):
        check_shape(changed(made, change))


def test_no_observation_is_put_together_with_a_status_or_category_that_is_not_used():
    for category, status in (("therapy", "finished"), ("exercise", "final")):
        with pytest.raises(ValueError, match="no Observation"):
            observation(own_code("set"), category, status, {})


def test_every_end_range_is_there_with_its_interval_and_probability(document, made):
    done = [each for one in document.exercises[0].comparison.sets for each in one.repetitions]
    found = named(made, "end-range")
    assert len(found) == len(done) > 0
    for one, each in zip(found, done, strict=True):
        said = components(one)
        assert one["valueQuantity"] == {
            "value": each.repetition.end_range_deg,
            "unit": "deg",
            "system": "http://unitsofmeasure.org",
            "code": "deg",
        }
        assert (said["interval-low"], said["interval-high"]) == (each.end_range_low_deg, each.end_range_high_deg)
        assert (said["probability-reached"], said["reached"]) == (each.probability_reached, each.reached)
        assert (said["prescribed-low"], said["prescribed-high"], said["limit"]) == (5.0, 15.0, 18.0)
        assert said["repetition-number"] == each.number


def test_time_past_the_compressive_angle_and_counts_are_those_of_the_result(document, made):
    total = document.exercises[0].comparison
    whole, *of_sets = named(made, "time-past-compressive-angle")
    for one, each in zip([whole, *of_sets], [total, *total.sets], strict=True):
        said = components(one)
        assert one["valueQuantity"]["value"] == each.exposure.past_threshold_s
        assert one["valueQuantity"]["code"] == "s"
        assert (said["interval-low"], said["interval-high"]) == (
            each.exposure.past_threshold_low_s,
            each.exposure.past_threshold_high_s,
        )
        assert (said["excess"], said["compressive-angle"]) == (each.exposure.excess_deg_s, 4.0)
        assert said["compressive-angle-basis"] == "clinician"
    counts = [each["valueQuantity"]["value"] for each in named(made, "repetitions")]
    assert counts == [total.complete, *(each.complete for each in total.sets)]
    verdicts = [components(each)["verdict"] for each in named(made, "set")]
    assert verdicts == [each.verdict.replace(" ", "-") for each in total.sets]


def test_all_of_an_exercise_hangs_together(made):
    (whole,) = named(made, "exercise")
    below = {each["reference"] for each in whole["hasMember"]}
    for one in named(made, "set"):
        assert f"urn:uuid:{one['id']}" in below
        below |= {each["reference"] for each in one["hasMember"]}
    all_of_them = {each["fullUrl"] for each in made["entry"] if each["resource"]["resourceType"] == "Observation"}
    assert all_of_them == below | {f"urn:uuid:{whole['id']}"}


@pytest.mark.parametrize("joint", ["ankle", "knee", "shoulder", "hip", "wrist"])
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_body_site_is_the_exercises_joint_and_side(document, joint, side):
    answer = document.exercises[0]
    exercise = replace(answer.exercise, joint=joint, side=side)
    made = result_bundle(replace(document, exercises=(replace(answer, exercise=exercise),)))
    sites = [each["bodySite"] for each in walk(made) if "bodySite" in each]
    code = SITES.get((joint, side))
    for each in sites:
        assert each["text"] == f"{side} {joint}"
        assert [one["code"] for one in each.get("coding", [])] == ([code] if code else [])


def test_provenance_has_program_version_and_digests_and_no_file_name(document, made):
    found = of_kind([each["resource"] for each in made["entry"]], "Provenance")
    digests = [each["what"]["identifier"]["value"] for each in found["entity"]]
    assert digests == [f"nih:sha-256;{each.sha256}" for each in document.inputs]
    observations = [each["fullUrl"] for each in made["entry"] if each["resource"]["resourceType"] == "Observation"]
    assert [each["reference"] for each in found["target"]] == observations
    program = of_kind([each["resource"] for each in made["entry"]], "Device")
    assert found["agent"][0]["who"]["reference"] == f"urn:uuid:{program['id']}"
    versions = {each["type"]["text"]: each["value"] for each in program["version"]}
    assert versions == {"imu-rom": document.program_version, **document.versions}
    for each in document.inputs:
        assert each.name not in json.dumps(made)


def test_the_person_is_a_pseudonym_and_nothing_else(document, made, diary):
    for each in walk(made):
        if "subject" in each:
            assert each["subject"] == {"type": "Patient", "identifier": {"value": document.patient}}
    assert not named(made, "Patient")
    text = json.dumps([made, fhir_bundle(diary)])
    assert "Maria" not in text
    assert "diary of somebody" not in text
    nobody = result_bundle(replace(document, patient=None, bids_subject=None))
    check_shape(nobody)
    assert not [each for each in walk(nobody) if "subject" in each]


def test_the_same_document_gives_the_same_bytes_and_another_number_other_ids(document, diary):
    assert write_result_bundle(document) == write_result_bundle(document)
    assert write_fhir(diary) == write_fhir(diary)
    other = replace(document, inputs=(replace(document.inputs[0], sha256="0" * 64), *document.inputs[1:]))
    ids = [{each["id"] for each in walk(result_bundle(one)) if "status" in each} for one in (document, other)]
    # only the code system is the same for all
    assert len(ids[0] & ids[1]) == 1


def test_two_exercises_that_did_the_same_stay_two(document):
    twice = result_bundle(replace(document, exercises=document.exercises * 2))
    check_codes(json.loads(json.dumps(twice)))
    assert len(named(twice, "exercise")) == 2
    assert len(named(twice, "end-range")) == 2 * len(named(result_bundle(document), "end-range"))


def test_what_is_undecided_is_preliminary(document):
    def statuses(changed):
        return {
            each["resource"]["status"] for each in result_bundle(changed)["entry"] if "bodySite" in each["resource"]
        }

    answer = document.exercises[0]
    calm = replace(document, findings=())
    assert statuses(calm) <= STATUSES
    doubt = Finding("gap", "problem", "Something is wrong.", 1.0, 2.0, None)
    assert statuses(replace(document, findings=(doubt,))) == {"preliminary"}
    whose = replace(answer, allotment=Allotment("order", ("one", "two"), "nobody can tell"))
    assert statuses(replace(calm, exercises=(whose,))) == {"preliminary"}


def test_one_sensor_beside_a_segment_that_may_move_gives_no_end_range_of_the_joint(document):
    answer = document.exercises[0]
    exercise = replace(answer.exercise, sensors="distal only", proximal="none")
    made = result_bundle(replace(document, exercises=(replace(answer, exercise=exercise),)))
    assert not named(made, "end-range")
    assert named(made, "own-turn")


def test_times_are_the_recordings_with_their_offset(document, made):
    done = document.exercises[0].comparison.sets[0]
    (start, stop) = (named(made, "set")[0]["effectivePeriod"][key] for key in ("start", "end"))
    assert start.endswith(document.recording.recorded_at[-6:])
    assert len(start) == len("2026-12-01T18:32:10.000+01:00")
    assert start < stop
    later = replace(document, recording=replace(document.recording, recorded_at="2026-12-01T10:00:00+01:00"))
    first = named(result_bundle(later), "set")[0]["effectivePeriod"]["start"]
    minutes, seconds = divmod(done.start_s, 60)
    assert first == f"2026-12-01T10:{int(minutes):02d}:{seconds:06.3f}+01:00"
    unknown = result_bundle(replace(document, recording=replace(document.recording, recorded_at=None)))
    check_shape(unknown)
    assert not [each for each in walk(unknown) if "effectivePeriod" in each]


@pytest.mark.parametrize("when", ["yesterday", "2026-12-01T10:00:00", "9999-12-31T23:59:59+00:00", ""])
def test_a_time_that_is_none_is_one_sentence(document, when):
    with pytest.raises(ResultError, match="recorded_at must be a time with its offset"):
        result_bundle(replace(document, recording=replace(document.recording, recorded_at=when)))


def test_an_offset_with_seconds_which_the_standard_does_not_know_becomes_utc(document):
    odd = replace(document, recording=replace(document.recording, recorded_at="2026-12-01T10:00:00+01:00:30"))
    made = json.loads(write_result_bundle(odd))
    check_shape(made)
    assert named(made, "exercise")[0]["effectivePeriod"]["start"] == "2026-12-01T08:59:30.000+00:00"


def test_pain_is_loincs_0_to_10_rating_and_next_morning_is_a_day_later(diary):
    made = fhir_bundle(diary)
    found = {
        each["code"]["coding"][1]["code"]: (each["effectiveDateTime"], each["valueQuantity"]["value"])
        for each in named(made, "72514-3")
    }
    assert found == {
        "pain-before": ("2026-12-03", 1.0),
        "pain-during": ("2026-12-03", 2.0),
        "pain-after": ("2026-12-03", 3.5),
        "pain-next-morning": ("2026-12-04", 4.0),
        "pain-load-test": ("2026-12-03", 0.0),
    }
    assert {each["valueQuantity"]["code"] for each in named(made, "72514-3")} == {"{score}"}
    (stiff,) = named(made, "morning-stiffness")
    assert (stiff["valueQuantity"]["value"], stiff["valueQuantity"]["code"]) == (720.0, "s")
    assert stiff["effectiveDateTime"] == "2026-12-04"


def test_an_answer_keeps_its_id_while_the_diary_grows_and_differs_between_people():
    first = DiaryEntry(date(2026, 12, 3), pain_during=2.0)

    def ids(document):
        return {each["id"] for each in named(fhir_bundle(document), "72514-3")}

    one, more = diary_document(first), diary_document(first, DiaryEntry(date(2026, 12, 4), pain_during=2.0))
    assert ids(one) < ids(more)
    assert not ids(one) & ids(diary_document(first, patient="P-0010"))


def test_a_diary_that_says_nothing_gives_a_bundle_without_provenance():
    made = json.loads(write_fhir(diary_document()))
    check_shape(made)
    assert {each["resource"]["resourceType"] for each in made["entry"]} == {"CodeSystem", "Device"}


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "\u202eevil", "x" * 200, "\U0001f9b6", '=HYPERLINK("x")', "a\x00b", "\ud800"]
)
def test_a_hostile_name_stays_text(document, name):
    made = json.loads(write_result_bundle(replace(document, patient=name)))
    check_shape(made)
    assert named(made, "exercise")[0]["subject"]["identifier"]["value"] == clean(name)


@given(st.text())
@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_cleaned_text_can_be_written_and_has_no_control_character(text):
    cleaned = clean(text)
    cleaned.encode()
    assert not any(ord(each) < 32 for each in cleaned)


UNIT_OF = {  # of each component that is a quantity; intervals and what is prescribed have the unit of their value
    "excess": "deg.s",
    "longest-stretch": "s",
    "compressive-angle": "deg",
    "limit": "deg",
    "partial": "1",
    "prescribed": "1",
    "probability-reached": "1",
    "probability-within-limit": "1",
    "probability-above-window": "1",
    "probability-below-window": "1",
    "uncertainty-session": "deg",
    "uncertainty-set": "deg",
}


def test_each_component_has_its_own_unit(made):
    seen = set()
    for each in made["entry"]:
        value = each["resource"].get("valueQuantity", {}).get("code")
        for one in each["resource"].get("component", ()):
            if "valueQuantity" in one:
                code = one["code"]["coding"][0]["code"]
                seen.add(code)
                assert one["valueQuantity"]["code"] == UNIT_OF.get(code, value), code
    assert seen == {*UNIT_OF, "interval-low", "interval-high", "prescribed-low", "prescribed-high"}


def test_the_units_systems_and_statuses_that_can_be_written_are_those_that_are_checked():
    assert set(fhir_codes.UNITS) == UNITS
    assert set(fhir_codes.STATUSES) == STATUSES
    assert set(fhir_codes.CATEGORIES) == SYSTEMS[fhir_codes.CATEGORY_SYSTEM]
    assert {fhir_codes.LOINC, fhir_codes.SNOMED, fhir_codes.PARTICIPANT_SYSTEM} < set(SYSTEMS)
    assert fhir_codes.BODY_SITES == SITES


def test_a_course_is_its_sessions_and_its_diary_in_one_bundle(document, diary):
    results = tuple(
        ExportedResult(digit, replace(document, inputs=(InputFile("a", digit * 64),)), None) for digit in "12"
    )
    made = json.loads(write_fhir(replace(diary, results=results)))
    check_shape(made)
    check_codes(made)
    assert len(named(made, "exercise")) == 2
    assert len(named(made, "72514-3")) == 5
    sources = [each["resource"] for each in made["entry"] if each["resource"]["resourceType"] == "Provenance"]
    assert [one["entity"][0]["what"]["identifier"]["value"][-2:] for one in sources] == ["11", "22", "ab"]
    assert sum(len(one["target"]) for one in sources) == sum(
        each["resource"]["resourceType"] == "Observation" for each in made["entry"]
    )


@pytest.mark.parametrize("number", [1e999, -1e999, 1e300])
def test_a_number_that_no_recording_gives_is_one_sentence(document, number):
    answer = document.exercises[0]
    done = answer.comparison.sets[0]
    # what is infinite is no JSON, and what is only huge is no time
    sets = replace(done, start_s=number) if abs(number) < 1e999 else replace(done, probability_reached=number)
    comparison = replace(answer.comparison, sets=(sets,))
    with pytest.raises(ResultError, match="a number or a time that no recording gives"):
        write_result_bundle(replace(document, exercises=(replace(answer, comparison=comparison),)))


def test_words_of_a_damaged_result_still_make_a_bundle(document):
    odd = replace(document, program_version="", inputs=(InputFile("a", "\ud800"),), versions={"": "\x00"})
    made = json.loads(write_result_bundle(odd))
    check_shape(made)
    check_codes(made)

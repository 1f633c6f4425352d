"""A course folder: all that can be used is, whatever lies beside it, in whatever order."""

import os
import shutil
from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from imu_rom.course.folder import read_course
from imu_rom.course.placing import placed_results
from imu_rom.course.recorded import result_summary
from imu_rom.course.store import StoredFile, StoredResult
from imu_rom.dose.follow_up import ZERO_ERRORS
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import CourseError, PlanError
from imu_rom.recording.model import Gap

DAYS = ("2026-12-01T08:00:00+01:00", "2026-12-01T18:00:00+01:00", "2026-12-02T08:00:00+01:00")
SAMPLE = Path(__file__).parents[2] / "sample_recordings"


def without_places(recorded):
    return [replace(each, source="") for each in recorded]


def reasons(course):
    return [(each.kind, each.code) for each in course.reading.skipped]


def test_results_are_put_on_days_and_sessions(course_folder):
    folder, put = course_folder
    for number, moment in enumerate(DAYS):
        put(f"{number}", moment)
    (folder / "diary.csv").write_text("date,exercise,done\n2026-12-01,heeldrop,yes\n2026-12-32,heeldrop,yes\n")
    course = read_course(folder)
    assert [(each.day, each.session, each.complete) for each in course.recorded] == [
        (date(2026, 12, 1), "2026-12-01 session 1", 45),
        (date(2026, 12, 1), "2026-12-01 session 2", 45),
        (date(2026, 12, 2), "2026-12-02 session 1", 45),
    ]
    assert (course.reading.results, course.reading.recordings, course.reading.analysed) == (3, 0, ())
    assert reasons(course) == [("diary line", "bad-cell")]
    assert [each.role for each in course.reading.inputs] == ["plan", "diary", "result", "result", "result"]
    # 45 repetitions of 2.5 s, 2 s and 1.5 s
    assert course.recorded[0].under_tension_s == pytest.approx(45 * 6.0)
    # all is declared loaded, so the loaded time is all of the time
    assert course.recorded[0].loaded_s == course.recorded[0].past_threshold_s
    assert course.recorded[0].unloaded_s.high == 0.0


def test_the_order_and_the_names_of_files_do_not_matter(course_folder):
    folder, put = course_folder
    for number, moment in enumerate(DAYS):
        put(f"{number}", moment)
    first = read_course(folder)
    for old, new in (("0", "z"), ("1", "a/b"), ("2", "m")):
        (folder / "results" / new).parent.mkdir(exist_ok=True)
        (folder / "results" / old).rename(folder / "results" / new)
    assert without_places(read_course(folder).recorded) == without_places(first.recorded)


def test_a_repeated_import_changes_nothing(course_folder):
    folder, put = course_folder
    for number, moment in enumerate(DAYS):
        put(f"{number}", moment)
    first = read_course(folder)
    assert read_course(folder) == first
    shutil.copytree(folder / "results" / "1", folder / "results" / "again")
    again = read_course(folder)
    assert without_places(again.recorded) == without_places(first.recorded)
    assert [(each.where, each.code) for each in again.reading.skipped] == [
        ("results/again/result.json", "repeated-result")
    ]


@pytest.mark.parametrize(
    ("changes", "code", "why"),
    [
        ({"patient": "P-0099"}, "other-patient", "is of 'P-0099', but the plan is for 'P-0017'"),
        ({"exercise_changes": {"name": "squat"}}, "not-prescribed", "squat (left) is in no plan of the course"),
        ({"exercise_changes": {"side": "right"}}, "not-prescribed", "stage 'into range' has heeldrop (left)"),
        ({"exercise_changes": {"footwear": "boots"}}, "other-footwear", "footwear of boots, but the plan of that day"),
        ({"exercise_changes": {"heel_lift_mm": 12.0}}, "other-footwear", "heel lift of 12.0 mm"),
        ({"recorded_at": None}, "no-time", "does not say when"),
        ({"recorded_at": "2026-11-30T08:00:00+01:00"}, "no-stage", "on 2026-11-30, when no stage"),
    ],
)
def test_a_result_that_does_not_belong_is_named_and_costs_no_other(course_folder, changes, code, why):
    folder, put = course_folder
    put("good", DAYS[0])
    put("other", **{"recorded_at": DAYS[1], **changes})
    course = read_course(folder)
    assert [each.source for each in course.recorded] == ["results/good/result.json"]
    (skipped,) = course.reading.skipped
    assert (skipped.where, skipped.code) == ("results/other/result.json", code)
    assert why in skipped.why


def test_another_compressive_angle_keeps_all_but_the_time_past_it(course_folder):
    folder, put = course_folder
    from imu_rom.dose.exercise import CompressionThreshold

    put("other", DAYS[0], {"compression_threshold": CompressionThreshold(0.0, "clinician")})
    course = read_course(folder)
    (recorded,) = course.recorded
    assert (recorded.complete, recorded.past_threshold_s, recorded.loaded_s) == (45, None, None)
    assert reasons(course) == [("exercise of a result", "other-compressive-angle")]


@pytest.mark.parametrize(
    ("damage", "place"),
    [(b"", ":1:1"), (b"{", ":1:2"), (b'{"format": "another"}', ""), (b"\xff\xfe\x00", ""), (b"[1, 2]", "")],
)
def test_a_corrupt_result_is_named_and_costs_no_other(course_folder, damage, place):
    folder, put = course_folder
    put("good", DAYS[0])
    put("torn", DAYS[1]).write_bytes(damage)
    course = read_course(folder)
    assert len(course.recorded) == 1
    assert [(each.where, each.code) for each in course.reading.skipped] == [
        (f"results/torn/result.json{place}", "damaged-result")
    ]
    assert str(folder) not in course.reading.skipped[0].why
    assert course.reading.results == 2


def test_a_result_that_was_corrected_by_hand_goes_before_the_other(course_folder, strike):
    folder, put = course_folder
    put("a", DAYS[0])
    put("b", DAYS[0], marks=(strike,))
    (recorded,) = read_course(folder).recorded
    assert recorded.source == "results/b/result.json"


def test_a_folder_without_a_plan_and_two_plans_of_one_day_are_errors(course_folder, tmp_path):
    folder, _ = course_folder
    with pytest.raises(CourseError, match="there is no such folder"):
        read_course(tmp_path / "nowhere")
    with pytest.raises(CourseError, match="got a file"):
        read_course(folder / "plan.toml")
    (tmp_path / "empty").mkdir()
    with pytest.raises(CourseError, match=r"must hold a plan, plan\.toml or plans/\*\.toml"):
        read_course(tmp_path / "empty")
    (folder / "plans").mkdir()
    shutil.copy(folder / "plan.toml", folder / "plans" / "second.toml")
    with pytest.raises(
        CourseError, match=r"got plan\.toml and plans/second\.toml, which both apply from the beginning"
    ):
        read_course(folder)
    (folder / "plan.toml").write_text("[plan")
    with pytest.raises(PlanError, match=r"plan\.toml:1"):
        read_course(folder)


@pytest.fixture
def recorded_course(tmp_path):
    """A course of one recording that was not analysed yet, beside one of another patient and one that is none."""
    folder = tmp_path / "course"
    folder.mkdir()
    for subject in ("sub-P0003", "sub-P0004"):
        shutil.copytree(SAMPLE / "dataset" / subject, folder / "data" / subject)
    shutil.copy(SAMPLE / "plans" / "P-0003.toml", folder / "plan.toml")
    (folder / "data" / "notes.txt").write_text("no recording\n")
    return folder


def test_unchanged_sessions_are_not_analysed_again(recorded_course, monkeypatch):
    waiting = read_course(recorded_course, analyse=False)
    assert (len(waiting.reading.waiting), waiting.recorded) == (2, ())
    assert not (recorded_course / "results").exists()
    told = []
    first = read_course(recorded_course, told=lambda *each: told.append(each))
    assert first.reading.analysed == ("data/sub-P0003/motion/sub-P0003_task-heeldrop_tracksys-imu_motion.tsv",)
    assert [each[:2] for each in told] == [(0, 2), (1, 2)]
    assert [each.complete for each in first.recorded] == [20]
    assert reasons(first) == [("recording", "unreadable-recording"), ("recording", "other-patient")]
    results = [each for each in (recorded_course / "results").rglob("*") if each.is_file()]
    before = {each: (each.read_bytes(), each.stat().st_mtime_ns) for each in results}
    assert len(before) == 5

    def never(*_, **__):
        raise AssertionError("was analysed again")

    monkeypatch.setattr("imu_rom.session.analyse", never)
    again = read_course(recorded_course)
    assert (again.recorded, again.reading.skipped, again.reading.analysed) == (
        first.recorded,
        first.reading.skipped,
        (),
    )
    assert {each: (each.read_bytes(), each.stat().st_mtime_ns) for each in results} == before
    # neither without the index, nor with files that were only touched, nor with other words in the plan
    (recorded_course / "results" / "imu-rom-index.json").unlink()
    for each in recorded_course.rglob("*.tsv"):
        os.utime(each, ns=(1, 1))
    plan = recorded_course / "plan.toml"
    text = plan.read_text()
    assert 'title = "' in text
    plan.write_text(text.replace('title = "', 'title = "New: '))
    assert read_course(recorded_course).recorded == first.recorded


def test_a_session_is_analysed_again_by_a_changed_prescription(recorded_course):
    first = read_course(recorded_course)
    plan = recorded_course / "plan.toml"
    text = plan.read_text()
    assert "limit_deg = 18" in text
    plan.write_text(text.replace("limit_deg = 18", "limit_deg = 30"))
    second = read_course(recorded_course)
    assert second.reading.analysed == first.reading.analysed
    assert second.reading.results == 1
    within = [
        [one.within_limit for each in course.recorded[0].sets for one in each.repetitions] for course in (first, second)
    ]
    assert within[0].count("no") > within[1].count("no") == 0


@pytest.mark.parametrize("damage", [b"", b"{", b'{"format": 3}', b"\x00" * 500, b"null"])
def test_a_damaged_index_is_rebuilt(course_folder, monkeypatch, damage):
    folder, put = course_folder
    for number, moment in enumerate(DAYS):
        put(f"{number}", moment)
    first = read_course(folder)
    index = folder / "results" / "imu-rom-index.json"
    whole = index.read_bytes()
    for content in (damage, whole[:-200], whole.replace(b'"complete": true', b'"complete": 7', 1)):
        index.write_bytes(content)
        assert read_course(folder) == first
        assert index.read_bytes() == whole

    def never(*_):
        raise AssertionError("was read again")

    monkeypatch.setattr("imu_rom.course.store.parse_result", never)
    assert read_course(folder) == first


def test_a_changed_result_is_read_again(course_folder):
    folder, put = course_folder
    place = put("one", DAYS[0])
    assert read_course(folder).recorded[0].day == date(2026, 12, 1)
    place.write_bytes(place.read_bytes().replace(b"2026-12-01T08", b"2026-12-05T08"))
    assert read_course(folder).recorded[0].day == date(2026, 12, 5)


def test_all_that_is_bad_at_once_is_named_and_counted_and_the_rest_is_answered_as_if_alone(course_folder):
    folder, put = course_folder
    for number, moment in enumerate(DAYS):
        put(f"good {number}", moment)
    heading = "date,time,exercise,side,done,pain_during,pain_next_morning\n"
    good = "2026-12-01,08:00,heeldrop,left,yes,2,3\n2026-12-02,19:00,heeldrop,left,yes,1,2\n"
    (folder / "diary.csv").write_text(heading + good)
    alone = read_course(folder)

    def answered(course):
        recorded = without_places(course.recorded)
        diary = [replace(each, line=None) for each in course.diary.entries]
        return follow_up(course.plans.plans, recorded, diary, date(2026, 12, 3))

    put("other person", "2026-12-02T10:00:00+01:00", patient="P-0099")
    put("other exercise", "2026-12-02T11:00:00+01:00", {"name": "squat"})
    put("other shoe", "2026-12-02T12:00:00+01:00", {"footwear": "boots"})
    put("before", "2026-11-01T12:00:00+01:00")
    put("torn", "2026-12-02T13:00:00+01:00").write_bytes(b'{"format": "imu-rom result", "schema_version": 1}')
    shutil.copytree(folder / "results" / "good 1", folder / "results" / "once more")
    (folder / "results" / "a folder" / "result.json").mkdir(parents=True)
    bad = "2026-12-02,08:00,heeldrop,left,yes,11,0\n2026-12-02,08:00,squat,left,yes,1,0\n2026-12-99,,,,,,\n"
    (folder / "diary.csv").write_text(heading + bad + good)
    course = read_course(folder)
    assert Counter(reasons(course)) == {
        ("result", "other-patient"): 1,
        ("exercise of a result", "not-prescribed"): 1,
        ("exercise of a result", "other-footwear"): 1,
        ("result", "no-stage"): 1,
        ("result", "damaged-result"): 2,
        ("result", "repeated-result"): 1,
        ("diary line", "bad-cell"): 2,
        ("diary line", "unknown-exercise"): 1,
    }
    assert all(each.where and each.why for each in course.reading.skipped)
    assert (course.reading.results, course.diary.lines) == (10, 5)
    assert answered(course) == answered(alone)
    # reading it again finds the same
    again = read_course(folder)
    assert (again.reading.skipped, answered(again)) == (course.reading.skipped, answered(course))


@pytest.mark.parametrize("name", ["results/x/result.json", "plan.toml", "diary.csv", "results/imu-rom-index.json"])
@given(data=st.data())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
def test_bytes_that_were_changed_by_accident_are_an_error_or_named_never_a_traceback(course_folder, name, data):
    folder, put = course_folder
    place = folder / name
    if not (folder / "results" / "x").exists():
        put("x", DAYS[0])
        (folder / "diary.csv").write_text("date,exercise,done,pain_during\n2026-12-01,heeldrop,yes,2\n")
        read_course(folder)
    whole = place.read_bytes()
    start = data.draw(st.integers(0, len(whole) - 1))
    cut = data.draw(st.integers(0, 40))
    place.write_bytes(whole[:start] + data.draw(st.binary(max_size=4)) + whole[start + cut :])
    try:
        read_course(folder)
    except (CourseError, PlanError):
        refused = True
    else:
        refused = False
    finally:
        place.write_bytes(whole)
    # a plan or a heading that can't be read is an error; a result and the index never are
    assert not refused or name in {"plan.toml", "diary.csv"}
    assert len(read_course(folder).recorded) == 1


def test_a_result_says_how_its_time_past_the_angle_goes_with_the_zeros_error(plain_result, plans_of_course):
    recording = replace(plain_result.recording, recorded_at=DAYS[0], gaps=())
    answer = replace(plain_result.exercises[0], slips=())
    document = replace(plain_result, recording=recording, exercises=(answer,))
    stored = StoredResult(StoredFile(1, 1, ""), result_summary(document))
    ((recorded,), _) = placed_results({"one": stored}, plans_of_course)
    row, past = recorded.past_threshold_by_error_s, recorded.past_threshold_s
    assert list(row) == sorted(row)
    # the interval is that of three sets, each with a slow error of its own; the row that of one error, which is wider
    low, value, high = np.interp((-1.96, 0.0, 1.96), ZERO_ERRORS, row)
    assert value == pytest.approx(past.value, abs=0.1)
    assert low == pytest.approx(past.low, abs=0.1 * (past.high - past.low))
    assert high == pytest.approx(past.high, abs=0.1 * (past.high - past.low))
    assert recorded.u_own_deg == answer.comparison.sets[0].repetitions[0].repetition.end_range_uncertainty_deg


def test_where_a_gap_or_a_slip_adds_to_the_error_the_interval_alone_says_so(plain_result):
    answer = plain_result.exercises[0]
    start_s = answer.comparison.sets[1].start_s
    for gap, slips, known in (
        (Gap(start_s + 2, start_s + 3, "foot"), (), False),
        (Gap(0.0, 1.0, "foot"), (), True),
        (Gap(0.0, 1.0, "foot"), answer.slips, False),
    ):
        recording = replace(plain_result.recording, gaps=(gap,))
        document = replace(plain_result, recording=recording, exercises=(replace(answer, slips=slips),))
        (one,) = result_summary(document).exercises
        assert (one.past_threshold_by_error_s is not None) == known

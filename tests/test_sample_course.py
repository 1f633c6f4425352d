"""The sample course is what its README says: invented, whole, up to date, and with its story in the answer."""

import json
import re
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from imu_rom.course.folder import read_course
from imu_rom.dose.weeks import follow_up

SAMPLES = Path(__file__).parents[1] / "sample_recordings"
COURSE = SAMPLES / "course"
FIRST, LAST = date(2026, 11, 30), date(2027, 2, 21)
KEPT = ["13", "22"]


@pytest.fixture(scope="module")
def course():
    return read_course(COURSE, analyse=False)


@pytest.fixture(scope="module")
def answer_of(course):
    """What is said of the course up to a day."""
    return lambda until=LAST: follow_up(course.plans.plans, course.recorded, course.diary.entries, until)


def patterns(answer):
    return {each.name: each for each in answer.patterns}


def criteria(answer):
    return {each.name: each.answer for each in answer.criteria}


def truth_of(label):
    (path,) = (COURSE / "recordings" / "sourcedata" / "truth").glob(f"*_ses-{label}_*_truth.json")
    return json.loads(path.read_text("utf-8"))


def test_nothing_is_skipped_and_nothing_waits(course):
    assert course.reading.skipped == course.reading.waiting == course.diary.skipped == ()
    assert (course.reading.recordings, course.reading.results, len(course.recorded)) == (len(KEPT), 23, 23)


def test_reading_it_to_analyse_changes_no_file_but_the_index(tmp_path, course):
    def files(folder):
        return {
            each.relative_to(folder): each.read_bytes()
            for each in folder.rglob("*")
            if each.is_file() and each.name != "imu-rom-index.json"
        }

    copy = tmp_path / "course"
    for name, content in files(COURSE).items():
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        (copy / name).write_bytes(content)
    again = read_course(copy)
    assert (again.reading.analysed, again.reading.skipped, again.recorded) == ((), (), course.recorded)
    assert files(copy) == files(COURSE)


def test_git_leaves_the_index_out():
    assert "imu-rom-index.json" in (SAMPLES.parent / ".gitignore").read_text("utf-8").splitlines()


def test_it_lasts_twelve_weeks_with_about_two_recordings_a_week(answer_of):
    answer = answer_of()
    assert (answer.from_day, answer.until) == (FIRST, LAST)
    assert [each.days_recorded for each in answer.weeks] == [2, 2, 2, 0, 2, 2, 2, 2, 2, 2, 3, 2]
    assert answer.days_outside == ()
    assert (answer.repeated_lines, answer.repeated_recordings) == (0, 0)
    assert answer.zero_moved == ()


def test_where_all_is_loaded_the_loaded_time_is_all_of_it(answer_of):
    for week in answer_of().weeks:
        for each in week.measured:
            assert each.loaded == each.past_threshold
            assert each.unloaded.sum_s.high == 0


def test_in_one_week_nothing_was_written(answer_of):
    assert [each.number for each in answer_of().weeks if each.days_unknown == 7] == [4]
    assert patterns(answer_of())["gap in recordings"].answer == "seen"
    assert any(each.days_unknown == 1 for each in answer_of().weeks)


def test_more_than_prescribed_comes_before_the_flare(answer_of):
    answer = answer_of(date(2027, 1, 3))
    more = patterns(answer)["more than prescribed"]
    assert more.answer == "seen"
    assert more.days == (date(2026, 12, 29), date(2026, 12, 31))
    assert more.numbers["largest_share"] > 1.3
    (stop,) = {each.day for each in answer.stops}
    assert stop == date(2027, 1, 2)
    worst = max(answer.flares, key=lambda each: each.highest_pain)
    assert (worst.day, worst.highest_pain) == (stop, 6)
    assert {"after", "next morning"} <= set(worst.kinds)
    assert {each.kind for each in answer.case.step_back} >= {"stop", "flare"}


def test_a_session_after_midnight_is_of_the_evening_before(course):
    (late,) = [each for each in course.recorded if each.started_at.hour < 3]
    assert (late.started_at.date(), late.day) == (date(2027, 1, 1), date(2026, 12, 31))


def test_the_step_back_is_found_with_its_reason(answer_of):
    runs = answer_of().runs
    assert [each.stage for each in runs] == ["floor level", "to +5 deg", "floor level", "to +5 deg", "to +10 deg"]
    (back,) = [each for each in runs if each.step_back]
    assert (back.from_day, back.to_day) == (date(2027, 1, 4), date(2027, 1, 17))
    assert "flare" in back.why


def test_stopping_short_is_seen_and_then_the_window_is_reached(answer_of):
    answer = answer_of(date(2027, 2, 7))
    short = patterns(answer)["stops short"]
    assert short.answer == "seen"
    assert short.days == tuple(date(2027, 1, day) for day in (19, 23, 26, 30))
    assert short.numbers["sessions_reached"] == 2
    assert any(each.pattern == short for each in answer.case.stay)
    last = patterns(answer_of())
    assert last["stops short"].answer == last["past the limit"].answer == "not seen"


def test_each_stage_was_left_when_its_criteria_were_met(answer_of):
    for until in (date(2026, 12, 13), date(2027, 1, 17), date(2027, 2, 7)):
        assert set(criteria(answer_of(until)).values()) == {"met"}


def test_the_last_stages_criteria_are_answered_in_every_way(answer_of):
    answer = answer_of()
    found = criteria(answer)
    assert found.pop("load test") == "not met"
    assert found.pop("side difference") == "not enough data"
    assert found.pop("in words") == "for the clinician"
    assert set(found.values()) == {"met"}
    assert not answer.case.held_back_by_flare
    assert answer.case.step_back == ()


def test_the_kept_recordings_are_measured_near_their_truth(course):
    for label in KEPT:
        (recorded,) = [each for each in course.recorded if f"_ses-{label}_" in each.source]
        done = truth_of(label)["done"]
        for true, seen in zip(done["sets"], recorded.sets, strict=True):
            for one, other in zip(true["repetitions"], seen.repetitions, strict=True):
                assert other.end_range_deg == pytest.approx(one["end_range_deg"] - done["zero_shift_deg"], abs=2.5)


def test_the_readme_tells_this_story(answer_of):
    lines = (SAMPLES / "README.md").read_text("utf-8").splitlines()
    rows = [re.match(r"\| (\d+) to (\d+) \| ([^|]+) \|", line) for line in lines]
    told = [(int(row[1]), int(row[2]), row[3]) for row in rows if row]
    week = timedelta(days=7)
    runs = answer_of().runs
    assert told == [
        ((each.from_day - FIRST) // week + 1, (each.to_day - FIRST) // week + 1, each.stage) for each in runs
    ]


def test_it_says_that_it_is_invented():
    for path in (COURSE / "plan.toml", COURSE / "recordings" / "README.md"):
        assert "nvented" in path.read_text("utf-8")


def test_its_recordings_are_valid_bids():
    validator = Path(sys.executable).parent / "bids-validator-deno"
    done = subprocess.run([validator, "--json", COURSE / "recordings"], capture_output=True, check=False)
    issues = json.loads(done.stdout)["issues"]["issues"]
    assert [each for each in issues if each["severity"] == "error"] == []
    assert done.returncode == 0


def test_the_script_makes_the_same_bytes_again():
    # one session of each stage, the kept recordings among them; without --sessions it makes all
    words = [sys.executable, SAMPLES / "make_course.py", "--check", "--sessions", "01,13,22"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.stdout == "the same, byte for byte\n", done.stderr
    assert done.returncode == 0

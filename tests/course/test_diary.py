"""The diary: what its lines say, and that a bad one costs no other."""

import itertools
from dataclasses import replace
from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.course.diary import read_diary
from imu_rom.course.diary_columns import COLUMNS
from imu_rom.course.empty_diary import empty_diary, sessions_asked
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.errors import CourseError

HEADING = "date,time,exercise,side,done,pain_before,pain_during,pain_after,pain_next_morning,stiffness_min,note"


@pytest.fixture
def diary(tmp_path, plans):
    def read(*lines, heading=HEADING, encoding="utf-8"):
        path = tmp_path / "diary.csv"
        path.write_bytes("\n".join([heading, *lines, ""]).encode(encoding))
        return read_diary(path, plans)

    return read


def test_a_line_says_what_its_columns_say(diary):
    read = diary("2026-12-01,18:30,floordrop,left,yes,1,2.5,2,3,20,stairs")
    assert read.entries == (
        DiaryEntry(
            date(2026, 12, 1), time(18, 30), "floordrop", "left", "yes", 1.0, 2.5, 2.0, 3.0, 20.0, note="stairs", line=2
        ),
    )
    assert (read.skipped, read.lines, read.file.role) == ((), 1, "diary")


def test_all_columns_are_read_in_any_order_and_with_semicolons(diary):
    cells = {
        "date": "2026-12-01", "load_test_pain": "4", "painkiller": "Yes", "other_load": "10 km, hilly",
        "heel_lift": "out", "red_flag": "fever, pop", "side": "LEFT", "exercise": "Floordrop", "done": "part",
    }  # fmt: skip
    for names in itertools.islice(itertools.permutations(cells), 0, 5000, 997):
        read = diary(";".join(cells[name] for name in names), heading=";".join(names))
        assert read.skipped == ()
        entry = read.entries[0]
        assert (entry.load_test_pain, entry.painkiller, entry.other_load) == (4.0, True, "10 km, hilly")
        assert (entry.heel_lift, entry.red_flags) == ("out", ("fever", "pop"))
        assert (entry.exercise, entry.side, entry.done) == ("floordrop", "left", "part")


@pytest.mark.parametrize(
    ("line", "place", "why"),
    [
        ("2026-12-01,,floordrop,left,yes,0,11,0,0,5,", "2:34", "pain_during must be a number from 0 to 10, got '11'"),
        ("2026-12-01,,,,,,-1,,,,", "2:17", "pain_during must be a number from 0 to 10, got '-1'"),
        ("2026-12-01,,,,,,nan,,,,", "2:17", "got 'nan'"),
        ("2027-02-31,,floordrop,,yes,,,,,,", "2:1", "day such as 2026-12-01 that the calendar has, got '2027-02-31'"),
        ("1.12.2026,,floordrop,,yes,,,,,,", "2:1", "date must be a day such as 2026-12-01, got '1.12.2026'"),
        ("0226-12-01,,floordrop,,yes,,,,,,", "2:1", "of the years 2000 to 2099"),
        ("2026-12-01,25:00,floordrop,,yes,,,,,,", "2:12", "time must be a time of day such as 18:30, got '25:00'"),
        ("2026-12-01,,heldrop,,yes,,,,,,", "2:13", "got 'heldrop'; perhaps 'heeldrop' was meant"),
        ("2026-12-01,,floordrop,right,yes,,,,,,", "2:23", "side of floordrop must be left by the plan, got 'right'"),
        ("2026-12-01,,floordrop,,maybe,,,,,,", "2:24", "done must be yes or part or no, got 'maybe'"),
        ('2026-12-01,,floordrop,,yes,"2,5",,,,,', "2:28", "with a decimal point (2.5), got '2,5'"),
        ("2026-12-01,,floordrop,,yes,2,5,1,3,20,,note", "2:40", "has 12 cells where the heading has 11"),
        (",,floordrop,,yes,,,,,,", "2:1", "has no date"),
        ('2026-12-01,,floordrop,,yes,,,,,,"ran', "2:1", "has a quotation mark without its partner"),
        ("2026-12-01,,,,,,,,,1500,", "2:20", "stiffness_min must be a number from 0 to 1440 minutes, got '1500'"),
    ],
)
def test_a_bad_line_is_named_left_out_and_costs_no_other(diary, line, place, why):
    good = "2026-12-02,,floordrop,left,yes,0,1,0,0,5,"
    read = diary(line, good)
    assert [each.day for each in read.entries] == [date(2026, 12, 2)]
    assert read.lines == 2
    (skipped,) = read.skipped
    assert (skipped.kind, skipped.where) == ("diary line", f"diary.csv:{place}")
    assert why in skipped.why


@pytest.mark.parametrize(
    ("heading", "sentence"),
    [
        ("date,pain_durnig", "diary.csv:1:6: column 'pain_durnig' is unknown; perhaps 'pain_during' was meant"),
        ("date,mood", "column 'mood' is unknown; there are date, time, exercise"),
        ("date,note,note", "diary.csv:1:11: column 'note' stands there twice"),
        ("time,note", "diary.csv:1: needs a column date"),
        ("", "diary.csv:1: must begin with a line of column names"),
        ('date,"note', "can't be read as column names"),
    ],
)
def test_a_bad_heading_is_an_error(diary, heading, sentence):
    with pytest.raises(CourseError) as error:
        diary("2026-12-01,2", heading=heading)
    assert sentence in str(error.value)


def test_the_next_morning_belongs_to_the_day_once(diary):
    read = diary(
        "2026-12-01,08:00,floordrop,left,yes,0,1,1,4,30,",
        "2026-12-01,18:00,floordrop,left,yes,0,1,1,4,,",
        "2026-12-02,08:00,floordrop,left,yes,0,1,1,2,,",
        "2026-12-02,18:00,floordrop,left,yes,0,1,1,5,10,",
        "2026-12-03,,,,,,,,3,,",
    )
    assert [(each.day.day, each.pain_next_morning, each.stiffness_min) for each in read.entries] == [
        (1, 4.0, 30.0),
        (1, None, None),
        (2, None, None),
        (2, None, 10.0),
        (3, 3.0, None),
    ]
    (skipped,) = read.skipped
    assert skipped.why == (
        "pain_next_morning of 2026-12-02 is said to be 2 (line 4) and 5 (line 5), so neither is used; keep one, once a "
        "day"
    )


def test_a_line_after_midnight_belongs_to_the_evening_before(diary):
    read = diary("2026-12-02,00:30,floordrop,left,yes,0,1,1,4,30,")
    assert read.entries[0].day == date(2026, 12, 1)


def test_a_line_with_its_time_counts_once_and_ticks_without_one_count_each(diary):
    timed, plain = "2026-12-01,18:00,floordrop,left,yes,,,,,,", "2026-12-01,,floordrop,left,yes,,,,,,"
    read = diary(timed, plain, timed, plain)
    assert [each.line for each in read.entries] == [3, 5, 2]
    assert [(each.where, each.code) for each in read.skipped] == [("diary.csv:4:1", "repeated-line")]


def test_text_of_a_spreadsheet_of_western_europe_is_read(diary):
    assert diary("2026-12-01,,,,,,,,,,Fußball", encoding="cp1252").entries[0].note == "Fußball"


LINES = [
    "2026-12-01,08:00,floordrop,left,yes,0,1,1,4,30,",
    "2026-12-01,18:00,floordrop,left,part,0,1,1,,,",
    "2026-12-02,08:00,floordrop,left,no,,,,2,,",
    "2026-12-02,18:00,floordrop,left,yes,0,1,1,5,10,",
    "2026-12-02,18:00,floordrop,left,yes,0,11,1,5,10,",
    "2026-12-03,,,,,,,,3,,",
]


@given(st.permutations(LINES))
def test_the_order_of_lines_does_not_matter(tmp_path_factory, plans, lines):
    def read(some):
        path = tmp_path_factory.mktemp("diary") / "diary.csv"
        path.write_text("\n".join([HEADING, *some, ""]))
        found = read_diary(path, plans)
        mornings = {(each.day, each.pain_next_morning) for each in found.entries} - {(date(2026, 12, 1), None)}
        return mornings, [(each.day, each.at, each.done) for each in found.entries], len(found.skipped), found.lines

    assert read(lines) == read(LINES)


def test_an_empty_diary_says_nothing_until_it_is_filled_in(tmp_path, plans):
    asked = sessions_asked(plans.latest, date(2026, 12, 1), 28)
    path = tmp_path / "diary.csv"
    path.write_text(empty_diary(asked))
    lines = path.read_text().splitlines()
    assert lines[0] == ",".join(COLUMNS)
    # two sessions on each of 28 days, the second fortnight of another stage
    assert len(lines) == 1 + 56
    assert lines[1].startswith("2026-12-01,,floordrop,left,,")
    assert lines[-1].startswith("2026-12-28,,heeldrop,left,,")
    read = read_diary(path, plans)
    assert (read.skipped, read.entries, read.lines) == ((), (), 0)
    path.write_text("\n".join([lines[0], lines[1].replace("left,,", "left,yes,", 1), *lines[2:]]))
    read = read_diary(path, plans)
    assert [(each.day, each.done, each.line) for each in read.entries] == [(date(2026, 12, 1), "yes", 2)]
    assert read.lines == 1


@pytest.mark.parametrize(("a_week", "days"), [(7.0, 28), (3.0, 12), (1.0, 4), (3.5, 12), (None, 28)])
def test_an_empty_diary_spreads_fewer_days_over_each_week(plans, a_week, days):
    plan = plans.latest
    exercise = replace(plan.stages[0].exercises[0], per_day=1, days_per_week=a_week)
    plan = replace(plan, stages=(replace(plan.stages[0], exercises=(exercise,)),))
    asked = sessions_asked(plan, date(2026, 12, 1), 28)
    assert len(asked) == len({day for day, _ in asked}) == days
    with pytest.raises(CourseError, match="no stage of the plan applies from 2026-11-01 to 2026-11-07"):
        sessions_asked(plan, date(2026, 11, 1), 7)


def test_a_red_flag_is_kept_whatever_else_is_wrong_with_its_line(diary):
    read = diary("2026-12-01;11;pop", heading="date;pain_during;red_flag")
    assert [(each.day, each.red_flags, each.pain_during) for each in read.entries] == [
        (date(2026, 12, 1), ("pop",), None)
    ]
    (skipped,) = read.skipped
    assert skipped.why.endswith("got '11'; of this line only its red_flag is used")

"""Events beside a recording: what is read of them, what is refused with its place, what lies outside."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.errors import RecordingError
from imu_rom.recording.bids import read_bids_motion
from imu_rom.recording.bids_events import event_findings, read_events, write_events
from imu_rom.recording.model import Event


def written(tmp_path, text):
    file = tmp_path / "sub-P0001_task-session_events.tsv"
    file.write_text(text)
    return file


def test_rows_are_read_in_order_of_time_without_further_columns(tmp_path):
    file = written(
        tmp_path,
        "onset\tduration\ttrial_type\tside\tvalue\n"
        "200.5\tn/a\theeldropbent\tn/a\t7\n"
        "60\t120\theeldrop\tleft\tn/a\n"
        "250\t0\theeldropbent\tright\t9\n",
    )
    assert read_events(file) == (
        Event(60.0, 120.0, "heeldrop", "left", 3),
        Event(200.5, None, "heeldropbent", None, 2),
        Event(250.0, None, "heeldropbent", "right", 4),
    )


def test_a_row_that_names_nothing_is_no_event(tmp_path):
    assert read_events(written(tmp_path, "onset\tduration\ttrial_type\n3\t1\tn/a\n4\t1\t\n")) == ()
    assert read_events(written(tmp_path, "onset\tduration\n3\t1\n")) == ()
    assert read_events(written(tmp_path, "onset\tduration\ttrial_type\n")) == ()


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("onset\ttrial_type\n1\theeldrop\n", "events.tsv:1: ", "duration missing"),
        ("onset\tduration\ttrial_type\n1\t2\ta\nsoon\t2\ta\n", "events.tsv:3:1: ", "got 'soon'"),
        ("trial_type\tonset\tduration\na\tn/a\t2\n", "events.tsv:2:2: ", "onset must be a number of seconds, got"),
        ("onset\tduration\ttrial_type\n1\tinf\ta\n", "events.tsv:2:2: ", "a number of seconds or n/a, got 'inf'"),
        ("onset\tduration\ttrial_type\n1\t-2\ta\n", "events.tsv:2:2: ", "must not be negative"),
        ("onset\tduration\ttrial_type\tside\n1\t2\ta\tLinks\n", "events.tsv:2:4: ", "got 'Links'"),
        ("onset\tduration\ttrial_type\n1\t2\n", "events.tsv:2: ", "2 columns where the header has 3"),
    ],
)
def test_a_bad_cell_is_named_by_line_and_column(tmp_path, text, place, what):
    with pytest.raises(RecordingError) as error:
        read_events(written(tmp_path, text))
    assert place in str(error.value)
    assert what in str(error.value)


def test_events_outside_the_recording_are_findings():
    events = (Event(-1.0, 2.0, "a", None, 2), Event(5.0, 5.0, "b", None, 3), Event(8.0, 4.0, "c", None, 4))
    findings = event_findings((*events, Event(11.0, None, "d", None, 5)), 10.0, "x_events.tsv")
    assert [each.sentence.split(", outside")[0] for each in findings] == [
        "The event 'a' (line 2 of x_events.tsv) lies from -1.0 to 1.0 s",
        "The event 'c' (line 4 of x_events.tsv) lies from 8.0 to 12.0 s",
        "The event 'd' (line 5 of x_events.tsv) lies at 11.0 s",
    ]
    assert {each.code for each in findings} == {"event-outside"}


def test_a_recording_carries_its_events_and_says_which_lie_outside(write_recording, make_sensor, settings):
    inside, outside = Event(2.5, 4.0, "heeldrop"), Event(19.0, 4.0, "heeldrop")
    motion = write_recording(sensors=[make_sensor("shank"), make_sensor("foot")], events=[inside, outside])
    recording = read_bids_motion(motion, settings)
    assert [each.onset_s for each in recording.events] == [2.5, 19.0]
    (found,) = [each for each in recording.findings if each.code == "event-outside"]
    assert (found.start_s, found.stop_s) == (19.0, 23.0)


seconds = st.integers(0, 10**7).map(lambda each: each / 1000)
names = st.text("abcdefghijklmnopqrstuvwxyz0123456789", min_size=1, max_size=12)


@given(
    st.lists(
        st.tuples(
            seconds,
            st.none() | seconds.filter(bool),
            names,
            st.sampled_from([None, "left", "right"]),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_what_is_written_is_read_back(tmp_path_factory, drawn):
    events = [Event(*each) for each in sorted(drawn, key=lambda each: each[0])]
    file = tmp_path_factory.mktemp("events") / "x_events.tsv"
    write_events(file, events)
    read = [(each.onset_s, each.duration_s, each.trial_type, each.side) for each in read_events(file)]
    assert read == [(each.onset_s, each.duration_s, each.trial_type, each.side) for each in events]

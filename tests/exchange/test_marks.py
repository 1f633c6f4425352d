"""Marks are strict: about this recording, by time, with who, when and why."""

import hashlib
import json

import pytest

from imu_rom.errors import RecordingError
from imu_rom.exchange.marks import read_marks
from imu_rom.recording.model import InputFile
from imu_rom.session.result import Mark

FILES = (
    InputFile("sub-P0017_task-heeldrop_tracksys-imu_motion.tsv", "a" * 64),
    InputFile("sub-P0017_task-heeldrop_tracksys-imu_channels.tsv", "c" * 64),
    InputFile("sub-P0017_task-heeldrop_tracksys-imu_motion.json", "d" * 64),
)
GOOD = {
    "action": "strike",
    "start_s": 12,
    "stop_s": 13.5,
    "reason": "coughed",
    "by": "clinician 3",
    "at": "2026-12-04T09:00:00+01:00",
}


def read(tmp_path, marks, sha="a" * 64, **extra):
    path = tmp_path / "marks.json"
    path.write_text(json.dumps({"recording_sha256": sha, "marks": marks, **extra}))
    marks, file = read_marks(path, FILES)
    assert (file.name, file.role) == ("marks.json", "marks")
    assert file.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    return marks


def test_good_marks_are_read_in_order(tmp_path):
    marks = read(tmp_path, [GOOD, {**GOOD, "action": "join", "stop_s": 40.0}])
    assert marks == (
        Mark("strike", 12.0, 13.5, "coughed", "clinician 3", "2026-12-04T09:00:00+01:00"),
        Mark("join", 12.0, 40.0, "coughed", "clinician 3", "2026-12-04T09:00:00+01:00"),
    )
    assert read(tmp_path, []) == ()
    assert len(read(tmp_path, [GOOD], sha="A" * 64)) == 1


@pytest.mark.parametrize("sha", ["b" * 64, "c" * 64, "d" * 64, ""])
def test_marks_for_another_recording_are_refused(tmp_path, sha):
    # the sidecars are the same for many recordings, so their digest says nothing
    with pytest.raises(RecordingError, match=r"for another recording: .*heeldrop_tracksys-imu_motion\.tsv"):
        read(tmp_path, [GOOD], sha=sha)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"action": "delete"}, r"marks\[0\]\.action: must be one of 'strike', 'join', 'split', 'hold', got 'delete'"),
        ({"start_s": "12"}, r"marks\[0\]\.start_s: must be a number, got '12'"),
        ({"start_s": 20}, "start_s first, got 20 and 13.5"),
        ({"start_s": -1}, "got -1 and 13.5"),
        ({"stop_s": float("inf")}, "got 12 and inf"),
        ({"start_s": float("nan")}, "got nan and 13.5"),
        ({"reason": " "}, "reason must not be empty"),
        ({"by": ""}, "by must not be empty"),
        ({"at": "yesterday"}, "at must be a time with its offset"),
        ({"at": "2026-12-04T09:00:00"}, "at must be a time with its offset"),
        ({"repetition": 3}, r"marks\[0\]: has the unknown field 'repetition'"),
    ],
)
def test_a_wrong_field_is_named(tmp_path, change, sentence):
    with pytest.raises(RecordingError, match=sentence):
        read(tmp_path, [{**GOOD, **change}])


def test_a_missing_or_unknown_field_is_named(tmp_path):
    without = {key: value for key, value in GOOD.items() if key != "by"}
    with pytest.raises(RecordingError, match=r"marks\[0\]: is missing 'by'"):
        read(tmp_path, [without])
    with pytest.raises(RecordingError, match="unknown field 'session'"):
        read(tmp_path, [GOOD], session=1)
    with pytest.raises(RecordingError, match="marks: must be a list"):
        read(tmp_path, {"a": 1})


@pytest.mark.parametrize("text", [b"", b"{", b"\xff\xfe\x00", b"[]", b"[" * 100_000, b"null"])
def test_a_broken_file_is_one_sentence(tmp_path, text):
    path = tmp_path / "marks.json"
    path.write_bytes(text)
    with pytest.raises(RecordingError, match=r"marks\.json") as caught:
        read_marks(path, FILES)
    assert "\n" not in str(caught.value)


def test_a_missing_or_huge_file_is_one_sentence(tmp_path):
    with pytest.raises(RecordingError, match="can't be read"):
        read_marks(tmp_path / "none.json", FILES)
    with (tmp_path / "huge.json").open("wb") as file:
        file.truncate(2_000_000)
    with pytest.raises(RecordingError, match="at most 1 MB"):
        read_marks(tmp_path / "huge.json", FILES)

"""BIDS Motion recordings are read as they were written, with all that their sidecars say."""

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from imu_rom.errors import OutputError, RecordingError
from imu_rom.recording.bids import find_motion_file, read_bids_motion
from imu_rom.recording.model import Event, ReferenceChannel
from imu_rom.recording.table import sha256_of
from imu_rom.settings import ReadingSettings

READING = ReadingSettings()


def beside(motion, suffix):
    return motion.with_name(motion.name.replace("_motion.tsv", suffix))


def edit(path, old, new):
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=15)
@given(seed=st.integers(0, 1000), digits=st.integers(2, 6), rate_hz=st.sampled_from([50, 100, 204.8, 285.7143]))
def test_what_is_written_is_read_to_the_last_digit(write_recording, make_sensor, seed, digits, rate_hz):
    written = [make_sensor(point, 3, rate_hz, seed) for point in ("shank", "foot")]
    motion = write_recording(sensors=written, rate_hz=rate_hz, digits=digits, folder=f"{seed}-{digits}-{rate_hz}")
    recording = read_bids_motion(motion, READING)
    motion.unlink()  # the same example may come again
    assert recording.rate_hz == rate_hz
    assert list(recording.sensors) == ["shank", "foot"]
    for sensor in written:
        read = recording.sensor(sensor.tracked_point)
        off = np.abs(read.accelerometer_m_s2 - sensor.accelerometer_m_s2)
        assert off.max() <= 0.5000001 * 10.0**-digits
        assert np.abs(read.gyroscope_rad_s - sensor.gyroscope_rad_s).max() <= 0.5000001 * 10.0**-digits
        assert not read.missing.any()
    assert recording.gaps == ()
    assert recording.findings == ()


def test_all_that_a_recording_says(write_recording, make_sensor):
    field = np.tile([2e-5, 0, -4.5e-5], (2000, 1))
    sensors = [
        make_sensor("shank", mounting="z outward, x up", placement="inner face of the shin bone"),
        make_sensor(
            "foot", mounting="z up, x forward", magnetometer_t=field, full_scale_m_s2=156.9, full_scale_rad_s=34.9
        ),
    ]
    reference = ReferenceChannel("ankle_angle", "ankle", np.linspace(-25, 12, 2000))
    motion = write_recording(
        sensors=sensors,
        side="left",
        session="01",
        run="02",
        references=[reference],
        latency_s=np.arange(2000) / 100,
        events=[Event(2.5, 4.0, "heeldrop", "left")],
        recorded_at="2026-12-03T18:02:11+01:00",
        description="Heel drops from a step",
    )
    assert motion.name == "sub-P0017_ses-01_task-heeldrop_tracksys-imu_run-02_motion.tsv"
    assert motion.parent.parent.name == "ses-01"
    recording = read_bids_motion(motion, READING)
    assert (recording.task, recording.subject) == ("heeldrop", "P0017")
    assert recording.label == motion.name.removesuffix("_motion.tsv")
    assert (recording.recorded_at, recording.recorded_at_source) == ("2026-12-03T18:02:11+01:00", "scans.tsv")
    shank, foot = recording.sensor("shank"), recording.sensor("foot")
    assert shank.mounting == "x up, y forward, z left"
    assert foot.mounting == "x forward, y left, z up"
    assert shank.placement == "inner face of the shin bone"
    assert shank.magnetometer_t is None
    assert np.allclose(foot.magnetometer_t, field, atol=1e-11)
    assert (shank.full_scale_m_s2, shank.full_scale_rad_s) == (None, None)
    assert (foot.full_scale_m_s2, foot.full_scale_rad_s) == (156.9, 34.9)
    (angle,) = recording.references
    assert (angle.name, angle.tracked_point) == ("ankle_angle", "ankle")
    assert np.allclose(angle.values_deg, reference.values_deg, atol=1e-5)
    assert recording.events == (Event(2.5, 4.0, "heeldrop", "left", 2),)
    read = {each.name: each.sha256 for each in recording.files}
    # what the columns of the events mean is for people and other programs
    beside = {each.name for each in motion.parent.iterdir() if not each.name.endswith("_events.json")}
    assert set(read) == beside | {"sub-P0017_ses-01_scans.tsv"}
    assert read[motion.name] == sha256_of(motion)


def test_arrays_can_not_be_written_to(write_recording):
    recording = read_bids_motion(write_recording(), READING)
    with pytest.raises(ValueError, match="read-only"):
        recording.sensor("foot").gyroscope_rad_s[0, 0] = 1.0


@pytest.mark.parametrize(
    ("kind", "unit", "old_unit", "factor"),
    [
        ("acc", "g", "m/s^2", 9.80665),
        ("gyro", "deg/s", "rad/s", np.pi / 180),
        ("acc", "m/s²", "m/s^2", 1),
    ],
)
def test_units_of_the_sidecar_become_si(write_recording, kind, unit, old_unit, factor):
    motion = write_recording()
    plain = read_bids_motion(motion, READING).sensor("foot")
    edit(beside(motion, "_channels.tsv"), f"\t{old_unit}\t", f"\t{unit}\t")
    read = read_bids_motion(motion, READING).sensor("foot")
    name = {"acc": "accelerometer_m_s2", "gyro": "gyroscope_rad_s"}[kind]
    assert np.allclose(getattr(read, name), getattr(plain, name) * factor, rtol=1e-14)


def test_channels_may_stand_in_any_order_among_others(write_recording, tmp_path):
    motion = write_recording(latency_s=np.arange(2000) / 100)
    plain = read_bids_motion(motion, READING)
    rows = [line.split("\t") for line in motion.read_text().splitlines()]
    header, *channels = beside(motion, "_channels.tsv").read_text().splitlines()
    order = np.random.default_rng(3).permutation(13)
    others = [f"q{axis}\tquat_{axis}\tORNT\tfoot\tn/a\tn/a\tglobal" for axis in "wxyz"] + [
        "v\tn/a\tMISC\tn/a\tV\tn/a\tn/a"
    ]
    lines = ["\t".join(row[column] for column in order) + "\t1\t0\t0\tn/a\t3.7" for row in rows]
    motion.write_text("\n".join(lines) + "\n")
    beside(motion, "_channels.tsv").write_text(
        "\n".join([header, *(channels[column] for column in order), *others]) + "\n"
    )
    read = read_bids_motion(motion, READING)
    for point in ("shank", "foot"):
        assert np.array_equal(read.sensor(point).accelerometer_m_s2, plain.sensor(point).accelerometer_m_s2)
        assert np.array_equal(read.sensor(point).gyroscope_rad_s, plain.sensor(point).gyroscope_rad_s)


# ------------------------------------------------------------------------------------------------------ which recording


def test_a_folder_means_the_one_recording_in_it(write_recording, tmp_path):
    motion = write_recording()
    assert find_motion_file(tmp_path) == motion
    assert read_bids_motion(tmp_path / "dataset", READING).label == motion.name.removesuffix("_motion.tsv")


def test_a_folder_with_several_lists_them(write_recording, tmp_path):
    names = [write_recording(run=run).name for run in ("01", "02")]
    with pytest.raises(RecordingError) as caught:
        find_motion_file(tmp_path)
    assert all(name in str(caught.value) for name in names)
    assert "2 recordings" in str(caught.value)


def test_an_empty_folder_is_refused(tmp_path):
    with pytest.raises(RecordingError, match=r"holds no \*_motion.tsv"):
        read_bids_motion(tmp_path, READING)


# ------------------------------------------------------------------------------------------------------------- the time


@pytest.mark.parametrize(
    ("acq_time", "expected", "code"),
    [
        ("2026-12-01T08:00:00Z", "2026-12-01T08:00:00+00:00", None),
        ("2026-12-01T08:00:00.250+01:00", "2026-12-01T08:00:00.250000+01:00", None),
        ("2026-12-01T08:00:00", None, "time-without-offset"),
        ("1912-12-01T08:00:00Z", None, "time-hidden"),
        ("n/a", None, None),
    ],
)
def test_a_time_counts_only_with_its_offset(write_recording, acq_time, expected, code):
    motion = write_recording()
    scans = motion.parent.parent / "sub-P0017_scans.tsv"
    scans.write_text(f"filename\tacq_time\nmotion/other_motion.tsv\tn/a\nmotion/{motion.name}\t{acq_time}\n")
    recording = read_bids_motion(motion, READING)
    assert recording.recorded_at == expected
    assert recording.recorded_at_source == ("scans.tsv" if expected else None)
    assert [finding.code for finding in recording.findings] == ([code] if code else [])


def test_the_files_own_date_is_never_taken(write_recording):
    recording = read_bids_motion(write_recording(), READING)
    assert (recording.recorded_at, recording.recorded_at_source) == (None, None)


def test_scans_of_several_recordings_keep_their_rows(write_recording):
    for run in ("02", "01"):
        motion = write_recording(run=run, recorded_at=f"2026-12-{run}T23:30:00-05:00")
    for run in ("01", "02"):
        recording = read_bids_motion(motion.with_name(motion.name.replace("run-01", f"run-{run}")), READING)
        assert recording.recorded_at == f"2026-12-{run}T23:30:00-05:00"


# -------------------------------------------------------------------------------------------------------- what is wrong


@pytest.mark.parametrize("suffix", ["_channels.tsv", "_motion.json"])
def test_a_missing_sidecar_is_named(write_recording, suffix):
    motion = write_recording()
    beside(motion, suffix).unlink()
    with pytest.raises(RecordingError) as caught:
        read_bids_motion(motion, READING)
    assert suffix in str(caught.value)
    assert "the sidecar is missing" in str(caught.value)


def test_another_number_of_columns_than_channels_is_refused(write_recording):
    motion = write_recording()
    channels = beside(motion, "_channels.tsv")
    lines = channels.read_text().splitlines()
    channels.write_text("\n".join([*lines, lines[-1].replace("foot", "hip")]) + "\n")
    with pytest.raises(RecordingError) as caught:
        read_bids_motion(motion, READING)
    assert str(caught.value).startswith(f"{motion.name}:1: the line has 12 columns where there must be 13")
    assert channels.name in str(caught.value)


def test_a_header_is_no_row_of_numbers(write_recording):
    motion = write_recording()
    motion.write_text("\t".join("abcdefghijkl") + "\n" + motion.read_text())
    with pytest.raises(RecordingError, match=r"motion.tsv:1:1: column 1 \(shank_acc_x\) must be a number, got 'a'"):
        read_bids_motion(motion, READING)


def test_a_bad_cell_is_named_by_line_and_column(write_recording):
    motion = write_recording()
    lines = motion.read_text().splitlines()
    cells = lines[1234].split("\t")
    cells[7] = "9,81"
    lines[1234] = "\t".join(cells)
    motion.write_text("\n".join(lines) + "\n")
    with pytest.raises(
        RecordingError, match=r"motion.tsv:1235:8: column 8 \(foot_acc_y\) must be a number, got '9,81'"
    ):
        read_bids_motion(motion, READING)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("\tACCEL\t", "\taccel\t", "type must be one of ACCEL"),
        ("\tm/s^2\t", "\tfurlong\t", "'furlong' is no known unit of acceleration"),
        ("foot_acc_y\ty\t", "foot_acc_y\tx\t", "must be x, y and z once each, got 'x' twice"),
        ("foot_acc_y\ty\t", "foot_acc_y\tn/a\t", "must be x, y and z once each, got ''"),
        ("foot_acc_y\ty\tACCEL", "foot_acc_y\ty\tMISC", "for x, z only"),
        ("\tunits\t", "\tunit\t", "units missing"),
        ("\tACCEL\tfoot\t", "\tACCEL\tn/a\t", "must name their tracked_point"),
        ("\tn/a\tn/a\n", "\tn/a\n", "columns where the header has"),
    ],
)
def test_a_wrong_channels_table_is_named(write_recording, old, new, words):
    motion = write_recording()
    edit(beside(motion, "_channels.tsv"), old, new)
    with pytest.raises(RecordingError) as caught:
        read_bids_motion(motion, READING)
    assert words in str(caught.value)
    assert "_channels.tsv" in str(caught.value)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ('{"TaskName": "heeldrop"}', "SamplingFrequency must be a number of Hz, got nothing"),
        ('{"SamplingFrequency": "100"}', "got '100'"),
        ('{"SamplingFrequency": 0}', "got 0"),
        ('{"SamplingFrequency": true}', "got True"),
        ('{"SamplingFrequency": 100', "is no JSON"),
        ("[]", "must be a JSON object"),
    ],
)
def test_a_wrong_motion_sidecar_is_named(write_recording, content, words):
    motion = write_recording()
    beside(motion, "_motion.json").write_text(content)
    with pytest.raises(RecordingError) as caught:
        read_bids_motion(motion, READING)
    assert words in str(caught.value)
    assert "_motion.json" in str(caught.value)


def test_a_sensor_without_a_gyroscope_is_left_out_and_said(write_recording):
    motion = write_recording()
    edit(beside(motion, "_channels.tsv"), "\tGYRO\tfoot\t", "\tMISC\tfoot\t")
    recording = read_bids_motion(motion, READING)
    assert list(recording.sensors) == ["shank"]
    (finding,) = recording.findings
    assert (finding.code, finding.sensor) == ("sensor-incomplete", "foot")


def test_channels_marked_bad_are_said(write_recording):
    motion = write_recording()
    channels = beside(motion, "_channels.tsv")
    header, *rows = channels.read_text().splitlines()
    marked = [f"{row}\t{'bad' if 'foot_gyro_z' in row else 'good'}" for row in rows]
    channels.write_text("\n".join([f"{header}\tstatus", *marked]) + "\n")
    (finding,) = read_bids_motion(motion, READING).findings
    assert (finding.code, finding.level, finding.sensor) == ("channel-marked-bad", "problem", "foot")
    assert "foot_gyro_z" in finding.sentence


@pytest.mark.parametrize(
    ("level", "mounting"),
    [
        ({"SpatialAxes": "ALS"}, "x forward, y left, z up"),
        ({"SpatialAxes": "ALS", "RotationRule": "left-hand"}, None),
        ({"SpatialAxes": "ARS"}, None),
        ({"SpatialAxes": "A__"}, None),
        ({"Description": "the laboratory"}, None),
    ],
)
def test_a_frame_gives_a_mounting_only_where_its_axes_are_told(write_recording, level, mounting):
    motion = write_recording()
    channels = beside(motion, "_channels.tsv")
    header, *rows = channels.read_text().splitlines()
    named = [row.rsplit("\t", 1)[0] + "\tworn" for row in rows]
    channels.write_text("\n".join([header, *named]) + "\n")
    beside(motion, "_channels.json").write_text(json.dumps({"reference_frame": {"Levels": {"worn": level}}}))
    recording = read_bids_motion(motion, READING)
    assert recording.sensor("foot").mounting == mounting
    unusable = mounting is None and "SpatialAxes" in level
    assert [finding.code for finding in recording.findings] == (["frame-unusable"] if unusable else [])


# ------------------------------------------------------------------------------------------------------------- writing


@pytest.mark.parametrize("options", [{"subject": "P-0017"}, {"task": ""}, {"run": "1 2"}, {"session": "é"}])
def test_a_label_that_is_none_of_bids_is_not_written(write_recording, tmp_path, options):
    with pytest.raises(OutputError, match="letters and digits"):
        write_recording(**options)
    assert not list(tmp_path.iterdir())


def test_a_time_without_offset_is_not_written(write_recording, tmp_path):
    with pytest.raises(OutputError, match="RFC 3339"):
        write_recording(recorded_at="2026-12-01T08:00:00")
    assert not list(tmp_path.iterdir())


def test_a_recording_is_not_written_over(write_recording):
    write_recording()
    with pytest.raises(OutputError, match="exists already"):
        write_recording()


def test_missing_samples_are_written_as_missing(write_recording, make_sensor):
    missing = np.zeros(2000, dtype=bool)
    missing[700:760] = True
    motion = write_recording(sensors=[make_sensor("shank"), make_sensor("foot", missing=missing)])
    cells = motion.read_text().splitlines()[730].split("\t")
    assert cells[6:] == ["n/a"] * 6
    assert "n/a" not in cells[:6]
    recording = read_bids_motion(motion, READING)
    assert np.array_equal(recording.sensor("foot").missing, missing)
    assert not recording.sensor("shank").missing.any()
    (gap,) = recording.gaps
    assert (gap.tracked_point, gap.start_s, gap.stop_s) == ("foot", 6.99, 7.6)

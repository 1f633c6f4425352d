"""Whatever is named is read as what it is, within its limits, or refused by one sentence."""

import numpy as np
import pytest

from imu_rom.errors import RecordingError
from imu_rom.recording.delimited import DelimitedOptions
from imu_rom.recording.reading import read_recording
from imu_rom.settings import ReadingSettings

READING = ReadingSettings()


def refused(path, options=None, **more):
    with pytest.raises(RecordingError) as caught:
        read_recording(path, READING, options, **more)
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


@pytest.fixture
def write_log(tmp_path, make_sensor):
    def write(name="log.csv", seconds=20):
        sensors = [make_sensor(point, seconds) for point in ("shank", "foot")]
        heading = ["time [s]"] + [
            f"{each.tracked_point}_{kind}"
            for each in sensors
            for kind in [f"acc_{axis} [m/s^2]" for axis in "xyz"] + [f"gyro_{axis} [rad/s]" for axis in "xyz"]
        ]
        columns = [np.arange(100 * seconds) / 100]
        columns += [block for each in sensors for block in (each.accelerometer_m_s2, each.gyroscope_rad_s)]
        path = tmp_path / name
        np.savetxt(path, np.column_stack(columns), fmt="%.5f", delimiter=",", header=",".join(heading), comments="")
        return path

    return write


def test_the_same_session_in_either_format_is_the_same_recording(write_recording, write_log):
    as_bids = read_recording(write_recording(), READING)
    as_text = read_recording(write_log(), READING)
    assert as_bids.rate_hz == as_text.rate_hz == 100
    for point in ("shank", "foot"):
        assert np.allclose(
            as_bids.sensor(point).accelerometer_m_s2, as_text.sensor(point).accelerometer_m_s2, atol=2e-5
        )
        assert np.allclose(as_bids.sensor(point).gyroscope_rad_s, as_text.sensor(point).gyroscope_rad_s, atol=2e-5)
    assert as_bids.findings == as_text.findings == ()


def test_a_folder_and_its_one_recording_are_the_same(write_recording, tmp_path):
    motion = write_recording()
    assert read_recording(tmp_path, READING).files == read_recording(motion, READING).files


def test_findings_of_reading_and_checking_come_together(write_recording, make_sensor):
    missing = np.zeros(2000, dtype=bool)
    missing[700:760] = True
    rate = make_sensor("foot").gyroscope_rad_s.copy()
    rate[:, 1] = 0.0
    motion = write_recording(sensors=[make_sensor("shank"), make_sensor("foot", missing=missing, gyroscope_rad_s=rate)])
    assert [each.code for each in read_recording(motion, READING).findings] == ["gap", "axis-constant"]


def test_the_time_given_goes_before_the_data(write_recording):
    motion = write_recording(recorded_at="2026-12-01T08:00:00+01:00")
    recording = read_recording(motion, READING, recorded_at="2026-12-02T08:00:00+01:00")
    assert (recording.recorded_at, recording.recorded_at_source) == ("2026-12-02T08:00:00+01:00", "option")
    assert [each.code for each in recording.findings] == ["time-replaced"]
    same = read_recording(motion, READING, recorded_at="2026-12-01T07:00:00Z")
    assert (same.recorded_at, same.findings) == ("2026-12-01T07:00:00+00:00", ())


@pytest.mark.parametrize("given", ["yesterday", "2026-12-01T08:00:00", "2026-13-01T08:00:00Z"])
def test_a_time_that_is_none_is_refused(write_recording, given):
    assert (
        f"--recorded-at: must be a time with its offset from UTC, such as 2026-12-01T08:00:00+01:00, got {given!r}"
        in (refused(write_recording(), recorded_at=given))
    )


def test_options_of_delimited_files_do_not_go_with_bids(write_recording):
    options = DelimitedOptions(gyroscope_unit="deg/s", rate_hz=100, proximal="shank", distal="foot")
    sentence = refused(write_recording(), options)
    assert "--gyroscope-unit, --rate can't be given with a BIDS recording" in sentence


@pytest.mark.parametrize("suffix", ["_channels.tsv", "_motion.json"])
def test_a_sidecar_is_no_recording(write_recording, suffix):
    motion = write_recording()
    assert "name the _motion.tsv" in refused(motion.with_name(motion.name.replace("_motion.tsv", suffix)))


def test_nothing_named(tmp_path):
    assert "no recording was named" in refused(None)
    assert "there is no such file" in refused(tmp_path / "nothing.csv")
    assert "there is no such file" in refused(tmp_path / "sub-a_motion.tsv")


@pytest.mark.parametrize("bids", [True, False])
@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "empty"), (bytes(range(256)) * 300, "binary"), (b"hello\n" * 50, None)],
)
def test_files_that_are_no_recordings(write_recording, write_log, bids, content, words):
    path = write_recording() if bids else write_log()
    path.write_bytes(content)
    assert (words or ("columns where there must be" if bids else "no line has 6 or more numbers")) in refused(path)


@pytest.mark.parametrize("bids", [True, False])
@pytest.mark.parametrize("kept", [0.999, 0.5, 0.01])
def test_a_truncated_file_is_refused(write_recording, write_log, bids, kept):
    path = write_recording() if bids else write_log()
    content = path.read_bytes()
    cut = int(len(content) * kept)
    path.write_bytes(content[:cut].rsplit(b"\n", 1)[0] + b"\n" + content[cut:].split(b"\n", 2)[1][:20])
    assert "so it was cut off" in refused(path)


@pytest.mark.parametrize("bids", [True, False])
def test_a_file_too_large_is_refused_at_once(write_recording, write_log, bids):
    path = write_recording() if bids else write_log()
    with path.open("r+b") as sparse:
        sparse.truncate(5 * 10**12)
    assert "more than the 2048 MB that are read at most" in refused(path)
    assert "reading.largest_file_mb" in refused(path)


def test_one_zero_sensor_in_a_file(write_recording, make_sensor):
    dead = make_sensor("foot", gyroscope_rad_s=np.zeros((2000, 3)))
    motion = write_recording(sensors=[make_sensor("shank"), dead])
    assert "sensor on foot: the gyroscope is zero throughout" in refused(motion)


def test_a_third_sensor_that_is_not_used_may_be_dead(write_recording, make_sensor):
    dead = make_sensor("hip", gyroscope_rad_s=np.zeros((2000, 3)))
    motion = write_recording(sensors=[make_sensor("shank"), make_sensor("foot"), dead])
    assert read_recording(motion, READING, DelimitedOptions(proximal="shank", distal="foot")).findings == ()
    assert "sensor on hip" in refused(motion)
    # a name that the recording does not have settles nothing
    assert "sensor on hip" in refused(motion, DelimitedOptions(proximal="shank", distal="toes"))


def test_a_wrong_unit_in_the_sidecar(write_recording):
    motion = write_recording()
    channels = motion.with_name(motion.name.replace("_motion.tsv", "_channels.tsv"))
    channels.write_text(channels.read_text().replace("\tm/s^2\t", "\tg\t"))
    assert "probably in m/s^2 and were taken for g" in refused(motion)
    channels.write_text(channels.read_text().replace("\tg\t", "\tm/s^2\t").replace("\trad/s\t", "\tdeg/s\t"))
    assert "probably in rad/s and were taken for deg/s" in refused(motion)


def test_a_wrong_unit_by_option(tmp_path, write_log):
    path = write_log()
    path.write_text(path.read_text().replace(" [rad/s]", "").replace(" [m/s^2]", ""))
    options = DelimitedOptions(accelerometer_unit="g", gyroscope_unit="rad/s")
    assert "probably in m/s^2 and were taken for g" in refused(path, options)
    options = DelimitedOptions(accelerometer_unit="m/s^2", gyroscope_unit="deg/s")
    assert "probably in rad/s and were taken for deg/s" in refused(path, options)


def test_too_short_and_too_slow(write_recording):
    assert "lasts 3 s, 5 s are needed" in refused(write_recording(seconds=3))
    assert "10 samples a second, 20 are needed" in refused(write_recording(seconds=30, rate_hz=10, folder="slow"))

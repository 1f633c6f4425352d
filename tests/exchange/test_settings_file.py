"""Settings from a file: checked, by name, with the file's digest."""

import hashlib

import pytest

from imu_rom.errors import SettingError
from imu_rom.exchange.settings_file import read_settings
from imu_rom.settings import Settings


def write(tmp_path, text):
    path = tmp_path / "settings.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_what_is_left_out_keeps_its_default(tmp_path):
    text = "[reading]\nlongest_filled_gap_s = 0.1\n[angle]\nattitude_filter = 'madgwick'\n"
    settings, file = read_settings(write(tmp_path, text))
    assert settings.reading.longest_filled_gap_s == 0.1
    assert settings.angle.attitude_filter == "madgwick"
    assert settings.repetitions == Settings().repetitions
    assert (file.name, file.role) == ("settings.toml", "settings")
    assert file.sha256 == hashlib.sha256(text.encode()).hexdigest()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "[reading]\nlongest_filled_gap_s = 9\n",
            r"toml: setting reading\.longest_filled_gap_s: must lie",
        ),
        ("[reading]\nlongest = 9\n", r"settings\.toml: setting reading\.longest: unknown setting"),
        ("[read]\n", "unknown group 'read'"),
        ("[reading\n", r"settings\.toml: is no TOML: .*line 1"),
        (b"\xff\xfe", "is no UTF-8 text"),
    ],
)
def test_what_is_wrong_is_named(tmp_path, text, sentence):
    with pytest.raises(SettingError, match=sentence):
        read_settings(write(tmp_path, text))


def test_a_missing_or_huge_file_is_one_sentence(tmp_path):
    with pytest.raises(SettingError, match="can't be read: no such file"):
        read_settings(tmp_path / "none.toml")
    with (tmp_path / "huge.toml").open("wb") as file:
        file.truncate(2_000_000)
    with pytest.raises(SettingError, match="at most 1 MB"):
        read_settings(tmp_path / "huge.toml")

"""Opening all that a request or a job needs."""

import shutil

import pytest

from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.sealing import MAGIC, make_key_file
from imu_rom.clinic.service import open_service
from imu_rom.errors import ClinicError


@pytest.fixture
def home(tmp_path, migrated_file):
    shutil.copy(migrated_file, tmp_path / "clinic.sqlite")
    return tmp_path


def opened(home, **variables):
    service = open_service(read_configuration(home, variables), SystemClock())
    service.database.close()
    return service


def test_a_service_whose_files_are_encrypted_does_not_start_without_the_key(home):
    make_key_file(home / "files.key")
    with_key = {"IMU_ROM_ENCRYPTION_KEY_FILE": str(home / "files.key")}
    name = opened(home, **with_key).files.put(b"what a patient sent").sha256
    with pytest.raises(ClinicError, match="are encrypted, and no key is given"):
        opened(home)
    assert opened(home, **with_key).files.open(name).read() == b"what a patient sent"


def test_a_file_that_only_begins_like_an_encrypted_one_stops_nobody(home):
    kept = opened(home).files.put(MAGIC + b"sent by somebody who means harm")
    assert list(opened(home).files.names()) == [kept.sha256]

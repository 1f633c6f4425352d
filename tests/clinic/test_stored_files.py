import hashlib
import io
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from imu_rom.clinic.folder_files import FolderFiles
from imu_rom.clinic.sealing import Key, make_key_file, read_key
from imu_rom.clinic.stored_files import StoredFile, open_files
from imu_rom.errors import ClinicError

CONTENT = bytes(range(256)) * 3000
SHA256 = hashlib.sha256(CONTENT).hexdigest()
KEY = Key(bytes(range(32)))


@pytest.fixture(params=["folder", "folder, encrypted", "objects", "objects, encrypted"])
def files(request, tmp_path):
    url = f"memory://{tmp_path.name}-{time.monotonic_ns()}" if "objects" in request.param else str(tmp_path / "files")
    return open_files(url, KEY if "encrypted" in request.param else None)


def read(files, sha256):
    with files.open(sha256) as file:
        return file.read()


@pytest.mark.parametrize("content", [CONTENT, b"", b"x", CONTENT[:65536], CONTENT[:65537], CONTENT[: 2 * 65536]])
def test_what_was_put_is_read_and_named_by_its_content(files, content):
    expected = StoredFile(hashlib.sha256(content).hexdigest(), len(content))
    assert files.put(content) == expected
    assert files.put(io.BytesIO(content)) == expected
    assert files.put([content[:3], b"", content[3:]]) == expected
    assert read(files, expected.sha256) == content
    assert list(files.names()) == [expected.sha256]


def test_removing_is_final_and_may_be_repeated(files):
    files.put(CONTENT)
    assert files.has(SHA256)
    files.remove(SHA256)
    files.remove(SHA256)
    assert not files.has(SHA256)
    assert list(files.names()) == []
    with pytest.raises(ClinicError, match="is missing"):
        files.open(SHA256)


def test_too_large_is_refused_and_leaves_nothing(files, tmp_path):
    with pytest.raises(ClinicError, match="at most 1 MB"):
        files.put(CONTENT * 2, largest_bytes=10**6)
    assert list(files.names()) == []
    assert not [each for each in tmp_path.rglob("*") if each.is_file()]


def test_a_source_that_breaks_off_leaves_nothing(files, tmp_path):
    def broken():
        yield CONTENT
        raise ConnectionError("the patient went into a tunnel")

    with pytest.raises((ConnectionError, ClinicError)):
        files.put(broken())
    assert list(files.names()) == []
    assert not [each for each in tmp_path.rglob("*") if each.is_file()]


@pytest.mark.parametrize("name", ["../../etc/passwd", "a" * 63, "A" * 64, "", "coming"])
def test_a_name_that_is_none_never_becomes_a_path(files, name):
    for does in (files.open, files.has, files.remove):
        with pytest.raises(ClinicError, match="must be a SHA-256"):
            does(name)


def test_putting_again_mends_a_damaged_file(tmp_path):
    files = FolderFiles(tmp_path)
    files.put(CONTENT)
    (tmp_path / SHA256[:2] / SHA256).write_bytes(b"rot")
    files.put(CONTENT)
    assert read(files, SHA256) == CONTENT


def test_files_are_for_this_user_alone(tmp_path):
    FolderFiles(tmp_path / "files").put(CONTENT)
    assert {each.stat().st_mode & 0o077 for each in (tmp_path / "files").rglob("*")} == {0}


def test_file_and_folder_are_flushed_before_put_returns(tmp_path, monkeypatch):
    events = []
    flush, move = os.fsync, Path.replace
    monkeypatch.setattr(
        os, "fsync", lambda handle: (events.append(str(Path(f"/proc/self/fd/{handle}").readlink())), flush(handle))
    )
    monkeypatch.setattr(Path, "replace", lambda one, other: (events.append(str(other)), move(one, other))[1])
    files = FolderFiles(tmp_path)
    files.put(CONTENT)
    target = tmp_path / SHA256[:2] / SHA256
    moved = events.index(str(target))
    assert "coming" in Path(events[moved - 2]).parts or "coming" in Path(events[moved - 3]).parts
    assert events[moved + 1] == str(target.parent)


def test_what_a_killed_process_was_writing_is_cleared_after_a_day(tmp_path):
    code = (
        "import os, sys; from pathlib import Path; from imu_rom.clinic.folder_files import FolderFiles\n"
        "def blocks():\n yield b'half'\n os.kill(os.getpid(), 9)\n"
        "FolderFiles(Path(sys.argv[1])).put(blocks())"
    )
    assert subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False).returncode == -9
    files = FolderFiles(tmp_path)
    assert list(files.names()) == []
    now_ms = time.time_ns() // 1_000_000
    assert files.clear_left_behind(now_ms) == 0
    assert files.clear_left_behind(now_ms + 25 * 3_600_000) == 1
    assert not [each for each in tmp_path.rglob("*") if each.is_file()]


def test_nothing_of_the_content_stands_on_the_disk_when_it_is_encrypted(tmp_path):
    files = FolderFiles(tmp_path, KEY)
    files.put(b"the same block again and again. " * 10_000)
    (kept,) = [each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()]
    assert b"the same block" not in kept
    # two files of the same content have nothing alike but their mark
    files.put(b"the same block again and again. " * 10_000)
    (again,) = [each.read_bytes() for each in tmp_path.rglob("*") if each.is_file()]
    assert again[:16] == kept[:16]
    assert again[16:48] != kept[16:48]
    assert again[48:80] != kept[48:80]


@pytest.mark.parametrize(
    "damage",
    [
        lambda kept: kept[:-1],
        lambda kept: kept[: 48 + 65552],
        lambda kept: kept[:48],
        lambda kept: kept[:100] + bytes([kept[100] ^ 1]) + kept[101:],
        lambda kept: kept[:48] + kept[48 + 65552 : 48 + 2 * 65552] + kept[48 : 48 + 65552] + kept[48 + 2 * 65552 :],
        lambda kept: kept + b"x",
        lambda kept: kept[:20] + bytes([kept[20] ^ 1]) + kept[21:],
        lambda kept: kept[16:],
    ],
    ids=["cut", "cut between blocks", "no block", "a bit", "blocks exchanged", "added", "salt", "plain"],
)
def test_a_damaged_encrypted_file_is_never_read_as_if_it_were_whole(tmp_path, damage):
    files = FolderFiles(tmp_path, KEY)
    files.put(CONTENT)
    path = tmp_path / SHA256[:2] / SHA256
    path.write_bytes(damage(path.read_bytes()))
    with pytest.raises(ClinicError):
        read(files, SHA256)


def test_another_key_opens_nothing(tmp_path):
    FolderFiles(tmp_path, KEY).put(CONTENT)
    with pytest.raises(ClinicError, match="another key"):
        read(FolderFiles(tmp_path, Key(bytes(32))), SHA256)


def test_a_key_is_made_once_for_this_user_alone_and_says_nothing_of_itself(tmp_path):
    path = tmp_path / "key"
    key = make_key_file(path)
    assert read_key(path) == key
    assert path.stat().st_mode & 0o777 == 0o600
    assert key.secret.hex() not in repr(key)
    with pytest.raises(ClinicError, match="can't be written"):
        make_key_file(path)
    path.chmod(0o644)
    with pytest.raises(ClinicError, match="its owner alone"):
        read_key(path)
    path.chmod(0o600)
    path.write_text("abc")
    with pytest.raises(ClinicError, match="64 hexadecimal digits"):
        read_key(path)

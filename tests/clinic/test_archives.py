import io
import stat
import struct
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.clinic.archives import ArchiveLimits, is_archive, unpack
from imu_rom.errors import RecordingError


def archive(path, *entries, method=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", method) as made:
        for name, content in entries:
            made.writestr(name, content)
    return path


def test_files_come_out_as_they_went_in(tmp_path):
    entries = [
        ("sub-1/motion/a_motion.tsv", b"1\t2\n" * 50_000),
        ("sub-1/motion/a_channels.tsv", b"name\n"),
        ("x.csv", b""),
    ]
    packed = archive(tmp_path / "a.zip", *entries)
    assert is_archive(packed)
    files = unpack(packed, tmp_path / "out")
    assert {each.relative_to(tmp_path / "out").as_posix(): each.read_bytes() for each in files} == dict(entries)


def test_what_machines_add_is_left_out(tmp_path):
    packed = archive(
        tmp_path / "a.zip", ("__MACOSX/._a.csv", b"x"), (".DS_Store", b"x"), ("a.csv", b"1"), ("._a.csv", b"")
    )
    assert [each.name for each in unpack(packed, tmp_path / "out")] == ["a.csv"]


@pytest.mark.parametrize(
    "name",
    ["../a.csv", "/etc/a.csv", "a/../../b.csv", "C:\\a.csv", "..\\a.csv", "a\nb.csv", "x" * 250, "a/" * 20 + "b"],
)
def test_names_that_lead_elsewhere_are_refused_before_anything_is_written(tmp_path, name):
    packed = tmp_path / "a.zip"
    with zipfile.ZipFile(packed, "w") as made:
        entry = zipfile.ZipInfo("a")
        entry.filename = name
        made.writestr("fine.csv", b"1")
        made.writestr(entry, b"1")
    with pytest.raises(RecordingError):
        unpack(packed, tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR])
def test_links_and_devices_are_refused(tmp_path, kind):
    entry = zipfile.ZipInfo("a.csv")
    entry.create_system, entry.external_attr = 3, (kind | 0o777) << 16
    with pytest.raises(RecordingError, match="link or a device"):
        unpack(archive(tmp_path / "a.zip", (entry, b"/etc/passwd")), tmp_path / "out")


def test_an_archive_in_an_archive_is_refused(tmp_path):
    inner = archive(tmp_path / "inner.zip", ("a.csv", b"1"))
    with pytest.raises(RecordingError, match="another zip"):
        unpack(archive(tmp_path / "a.zip", ("looks-like.csv", inner.read_bytes())), tmp_path / "out")


def test_a_bomb_is_stopped_before_it_fills_the_disk(tmp_path):
    packed = archive(tmp_path / "a.zip", ("a.csv", b"0" * 60_000_000))
    assert packed.stat().st_size < 100_000
    with pytest.raises(RecordingError, match="too large when it is unpacked"):
        unpack(packed, tmp_path / "out")
    assert sum(each.stat().st_size for each in (tmp_path / "out").rglob("*")) <= packed.stat().st_size * 200 + 10e6


def test_an_archive_that_says_it_is_small_is_measured_all_the_same(tmp_path):
    packed = archive(tmp_path / "a.zip", ("a.csv", b"0" * 3_000_000))
    content = bytearray(packed.read_bytes())
    # the unpacked size in both of its headers
    for sign, place in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        content[content.index(sign) + place :][:4] = b""
        at = content.index(sign) + place
        content[at : at + 4] = struct.pack("<I", 10)
    packed.write_bytes(content)
    with pytest.raises(RecordingError):
        unpack(packed, tmp_path / "out", ArchiveLimits(unpacked_mb=1.0))


def test_too_many_and_too_large(tmp_path):
    packed = archive(tmp_path / "a.zip", *((f"{number}.csv", b"1") for number in range(12)))
    with pytest.raises(RecordingError, match="at most 11 files, got 12"):
        unpack(packed, tmp_path / "one", ArchiveLimits(files=11))
    with pytest.raises(RecordingError, match="too large when"):
        unpack(archive(tmp_path / "b.zip", ("a", b"1" * 2_000_001)), tmp_path / "two", ArchiveLimits(unpacked_mb=2))
    with pytest.raises(RecordingError, match="without any files"):
        unpack(archive(tmp_path / "c.zip"), tmp_path / "three")


@pytest.mark.parametrize("names", [("a.csv", "A.csv"), ("a.csv", "a.csv/b.csv")])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_names_that_would_overwrite_each_other_are_refused(tmp_path, names):
    with pytest.raises(RecordingError, match="the same name twice"):
        unpack(archive(tmp_path / "a.zip", *((each, b"1") for each in names)), tmp_path / "out")


def _small_archive():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("a.csv", b"1,2,3\n" * 40)
        made.writestr("b/c.csv", b"4")
    return file.getvalue()


SMALL = _small_archive()


@settings(max_examples=400)
@given(st.lists(st.tuples(st.integers(0, len(SMALL) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_a_damaged_archive_is_refused_in_words_or_unpacked_within_its_folder(tmp_path_factory, changes):
    folder = tmp_path_factory.mktemp("damaged")
    content = bytearray(SMALL)
    for place, value in changes:
        content[place] = value
    (folder / "a.zip").write_bytes(content)
    try:
        files = unpack(folder / "a.zip", folder / "out")
    except RecordingError:
        return
    assert all(each.resolve().is_relative_to(folder / "out") and each.is_file() for each in files)

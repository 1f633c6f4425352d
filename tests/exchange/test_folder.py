"""Folders and files that appear whole or not at all, whatever stops the writing."""

import os
import signal
import subprocess
import sys

import pytest

from imu_rom.errors import OutputError
from imu_rom.exchange import folder
from imu_rom.exchange.folder import RESULT_FILES, check_destination, whole_file, whole_folder


def fill(place, text="new"):
    for name in RESULT_FILES:
        (place / name).write_text(text)


def names(place):
    return sorted(each.name for each in place.iterdir())


def test_a_new_folder_holds_all_and_nothing_else_stays(tmp_path):
    with whole_folder(tmp_path / "out") as place:
        fill(place)
        assert not (tmp_path / "out").exists()
    assert names(tmp_path) == ["out"]
    assert names(tmp_path / "out") == sorted(RESULT_FILES)


def test_an_existing_folder_is_refused_and_kept(tmp_path):
    fill_it = tmp_path / "out"
    fill_it.mkdir()
    fill(fill_it, "old")
    with pytest.raises(OutputError, match=r"out: exists already; .*--overwrite"), whole_folder(fill_it) as place:
        fill(place)
    assert {(fill_it / name).read_text() for name in RESULT_FILES} == {"old"}
    assert names(tmp_path) == ["out"]


def test_overwrite_replaces_the_whole(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    fill(out, "old")
    with whole_folder(out, overwrite=True) as place:
        (place / "result.json").write_text("new")
    assert names(out) == ["result.json"]
    assert (out / "result.json").read_text() == "new"
    assert names(tmp_path) == ["out"]


@pytest.mark.parametrize("stranger", ["notes.txt", "recordings"])
def test_overwrite_never_destroys_what_is_no_result(tmp_path, stranger):
    out = tmp_path / "out"
    (out / stranger).mkdir(parents=True)
    fill(out, "old")
    with pytest.raises(OutputError, match=stranger), whole_folder(out, overwrite=True):
        pass
    assert stranger in names(out)
    assert (out / "result.json").read_text() == "old"


@pytest.mark.parametrize("stop", [KeyboardInterrupt, SystemExit, ValueError])
@pytest.mark.parametrize("old", [False, True])
def test_whatever_stops_it_leaves_the_place_as_it_was(tmp_path, stop, old):
    out = tmp_path / "out"
    if old:
        out.mkdir()
        fill(out, "old")

    def half(place):
        (place / "result.json").write_text("half")
        raise stop

    with pytest.raises(stop), whole_folder(out, overwrite=True) as place:
        half(place)
    assert names(tmp_path) == (["out"] if old else [])
    if old:
        assert {(out / name).read_text() for name in RESULT_FILES} == {"old"}


def test_an_interrupt_between_the_two_renames_puts_the_old_result_back(tmp_path, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    fill(out, "old")
    true_rename = folder.Path.rename

    def rename(self, target):
        if self.name.endswith(".filling"):
            raise KeyboardInterrupt
        return true_rename(self, target)

    monkeypatch.setattr(folder.Path, "rename", rename)
    with pytest.raises(KeyboardInterrupt), whole_folder(out, overwrite=True) as place:
        fill(place)
    assert names(tmp_path) == ["out"]
    assert (out / "result.json").read_text() == "old"


@pytest.mark.parametrize("refusing", ["mkdir", "fsync"])
def test_a_place_that_refuses_is_one_sentence(tmp_path, monkeypatch, refusing):
    def refuse(*_arguments, **_named):
        raise OSError(28, "No space left on device")

    if refusing == "mkdir":
        monkeypatch.setattr(folder.Path, "mkdir", refuse)
    else:
        monkeypatch.setattr(folder.os, "fsync", refuse)
    with (
        pytest.raises(OutputError, match=r"can't be written: no space left on device; "),
        whole_folder(tmp_path / "out") as place,
    ):
        fill(place)
    assert names(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs users")
def test_a_read_only_parent_is_one_sentence(tmp_path):
    # the superuser may write anywhere on an ordinary disk, so it is tried on a file system that takes no folders
    parent = "/proc" if os.geteuid() == 0 else str(tmp_path)
    if parent == "/proc" and not folder.Path(parent).is_dir():
        pytest.skip("no /proc here")
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="can't be written"), whole_folder(folder.Path(parent) / "out") as place:
            fill(place)
    finally:
        tmp_path.chmod(0o700)


def test_a_missing_or_wrong_parent_is_named(tmp_path):
    with pytest.raises(OutputError, match=r"there is no folder .*nowhere; make that folder first"):
        check_destination(tmp_path / "nowhere" / "out")
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="is a file"):
        check_destination(tmp_path / "file" / "out")
    with pytest.raises(OutputError, match="is no folder"):
        check_destination(tmp_path / "file", overwrite=True)
    (tmp_path / "link").symlink_to(tmp_path)
    with pytest.raises(OutputError, match="is no folder"):
        check_destination(tmp_path / "link", overwrite=True)


def test_a_real_interrupt_leaves_nothing(tmp_path):
    program = (
        "import signal, sys, time, pathlib\n"
        # a shell may have started the tests deaf to it
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from imu_rom.exchange.folder import whole_folder\n"
        "with whole_folder(pathlib.Path(sys.argv[1])) as place:\n"
        "    (place / 'result.json').write_text('half')\n"
        "    print('half', flush=True)\n"
        "    time.sleep(60)\n"
    )
    words = [sys.executable, "-c", program, str(tmp_path / "out")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        said = process.stdout.readline()
        assert said == "half\n", process.stderr.read()
        assert len(names(tmp_path)) == 1
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=120)
    assert "KeyboardInterrupt" in err
    assert process.returncode != 0
    assert names(tmp_path) == []


def test_a_file_is_whole_or_absent(tmp_path):
    def broken():
        yield b"a,b\n"
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        whole_file(tmp_path / "table.csv", broken())
    assert names(tmp_path) == []
    whole_file(tmp_path / "table.csv", [b"a,b\n", b"1,2\n"])
    assert (tmp_path / "table.csv").read_bytes() == b"a,b\n1,2\n"


def test_a_file_of_the_same_kind_is_replaced_and_no_other(tmp_path):
    table, other = tmp_path / "table.csv", tmp_path / "plan.toml"
    table.write_bytes(b"a,b\n1,2\n")
    other.write_text("[plan]")
    whole_file(table, [b"a,b\n3,4\n"], replaces=b"a,b\n")
    assert table.read_bytes() == b"a,b\n3,4\n"
    with pytest.raises(OutputError, match="another kind"):
        whole_file(other, [b"a,b\n"], replaces=b"a,b\n")
    with pytest.raises(OutputError, match="can't be replaced"):
        whole_file(table, [b"a,b\n"], replaces=b"a,b\n", inputs=[table])
    with pytest.raises(OutputError, match="can't be replaced"):
        whole_file(tmp_path, [b"a,b\n"], replaces=b"a,b\n")
    assert other.read_text() == "[plan]"

"""What `imu_rom` gives to a notebook: loaded when asked for, with types, examples that run, and tables as frames."""

import ast
import csv
import doctest
import importlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

import imu_rom

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_recordings"
PUBLIC = [name for name in imu_rom.__all__ if name != "__version__"]


def printed_by(code):
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.split()


def test_importing_loads_nothing_else():
    code = "import sys; before = set(sys.modules); import imu_rom; dir(imu_rom); print(*set(sys.modules) - before)"
    # what an editable installation has loaded before may differ, within the standard library
    loaded = {each for each in printed_by(code) if each.split(".")[0] not in sys.stdlib_module_names}
    assert loaded == {"imu_rom", "imu_rom.version"}
    assert not {"importlib.metadata", "dataclasses", "json"} & set(printed_by(code))


def test_a_name_loads_only_what_it_needs():
    loaded = printed_by("import sys; from imu_rom import Plan, read_plan; print(*sys.modules)")
    assert "imu_rom.dose.plan_file" in loaded
    assert not {"pandas", "plotly", "scipy", "imu_rom.session", "imu_rom.cohort.analysing"} & {*loaded}


def test_every_name_is_there_and_no_other():
    for name in PUBLIC:
        thing = getattr(imu_rom, name)
        assert thing.__name__ == name
        assert thing.__doc__
        assert name in dir(imu_rom)
    with pytest.raises(AttributeError, match="no attribute 'read_everything'"):
        _ = imu_rom.read_everything


def test_types_are_those_of_the_names():
    tree = ast.parse(Path(imu_rom.__file__).with_suffix(".pyi").read_text())
    typed = {each.asname: node.module for node in tree.body if isinstance(node, ast.ImportFrom) for each in node.names}
    assert typed == {**imu_rom._PLACES, "__version__": "imu_rom.version"}
    assert set(typed) == set(imu_rom.__all__)


@pytest.mark.parametrize("name", [None, *(name for name in PUBLIC if name[0].islower()), "AnalysedSession"])
def test_examples_run(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    thing = imu_rom if name is None else getattr(imu_rom, name)
    module = imu_rom if name is None else importlib.import_module(thing.__module__)
    found = [
        each
        for each in doctest.DocTestFinder(exclude_empty=False).find(thing, name or "imu_rom", module=module)
        if each.examples
    ]
    assert found
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    for each in found:
        assert runner.run(each).failed == 0, each.name


def test_examples_of_the_readme_run(monkeypatch):
    monkeypatch.chdir(ROOT)
    (text,) = re.findall(r"^```python\n(.*?)^```$", (ROOT / "README.md").read_text(), re.MULTILINE | re.DOTALL)
    example = doctest.DocTestParser().get_doctest(text, {}, "README", None, None)
    assert example.examples
    assert doctest.DocTestRunner().run(example).failed == 0


@pytest.fixture(scope="module")
def session():
    recording = imu_rom.read_recording(SAMPLES / "dataset" / "sub-P0006")
    return imu_rom.analyse(recording, imu_rom.read_plan(SAMPLES / "plans" / "P-0006.toml"))


def test_frames_hold_the_result(session):
    (exercise,) = session.document.exercises
    done = [each for one in exercise.comparison.sets for each in one.repetitions]
    repetitions = session.to_frame()
    assert repetitions.end_range_deg.tolist() == [each.repetition.end_range_deg for each in done]
    assert repetitions.complete.tolist() == [each.repetition.complete for each in done]
    assert repetitions.complete.dtype == "boolean"
    assert repetitions.repetition.dtype == "Int64"
    assert set(repetitions.participant) == {"P0006"}
    sets = session.to_frame("sets")
    assert sets.verdict.tolist() == [each.verdict for each in exercise.comparison.sets]
    (one,) = session.to_frame("sessions").to_dict("records")
    assert one["past_threshold_s"] == exercise.comparison.exposure.past_threshold_s
    assert "gap" in one["findings"]
    assert session.to_frame("findings").sentence.tolist() == [each.sentence for each in session.document.findings]
    samples = session.to_frame("samples")
    assert len(samples) == session.result.recording.sample_count
    assert {"set 1", "set 2"} <= set(samples.phase)
    for name in ("sessions", "sets", "repetitions", "exposure_curves", "findings", "samples"):
        frame = session.to_frame(name)
        assert set(frame.attrs["meanings"]) == set(frame.columns)
    with pytest.raises(ValueError, match="table must be one of sessions, sets, repetitions"):
        session.to_frame("people")


def test_a_threshold_of_ones_own_is_read_off_the_curves(session):
    curves, sets = session.to_frame("exposure_curves"), session.to_frame("sets")
    threshold = session.to_frame("sessions").compression_threshold_deg[0]
    at = curves[curves.angle_deg == threshold].time_past_s
    assert at.tolist() == pytest.approx(sets.past_threshold_s.tolist(), abs=0.006)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("cohort")
    dataset = out / "dataset"
    for each in ("sub-P0001", "sub-P0004"):
        for file in (SAMPLES / "dataset" / each).rglob("*"):
            if file.is_file():
                place = dataset / file.relative_to(SAMPLES / "dataset")
                place.parent.mkdir(parents=True, exist_ok=True)
                place.write_bytes(file.read_bytes())
    (dataset / "participants.tsv").write_text("participant_id\tarm\nsub-P0001\t=slow\nsub-P0004\tn/a\n")
    imu_rom.analyse_dataset(dataset, SAMPLES / "plans", out / "out", workers=1)
    return out


def same(value, cell):
    if cell == "":
        return value is None or str(value) in {"nan", "<NA>"}
    if isinstance(value, float):
        return value == float(cell)
    words = {"True": "yes", "False": "no"}
    return words.get(str(value), str(value)) == cell.removeprefix("'")


def test_a_cohorts_tables_are_frames_of_the_same_values(folder):
    cohort = imu_rom.read_cohort(folder / "out")
    for name in ("participants", "sessions", "sets", "repetitions", "exposure_curves", "findings", "failures"):
        frame = cohort.to_frame(name)
        path = folder / "out" / "tables" / name
        rows = []
        for file in sorted(path.glob("*.csv")) if path.is_dir() else [path.with_suffix(".csv")]:
            with file.open(newline="", encoding="utf-8") as text:
                rows += csv.DictReader(text)
        assert len(frame) == len(rows) > 0
        for column in frame:
            for value, cell in zip(frame[column], (row[column] for row in rows), strict=True):
                assert same(value, cell), (name, column, value, cell)
    assert cohort.to_frame("participants").arm.tolist() == ["=slow", None]
    one = imu_rom.analyse(
        imu_rom.read_recording(folder / "dataset" / "sub-P0001"), imu_rom.read_plan(SAMPLES / "plans" / "P-0001.toml")
    )
    both = one.to_frame("repetitions"), cohort.to_frame("repetitions")
    assert both[0].equals(both[1])


def test_parquet_gives_the_frames_of_text(folder):
    pytest.importorskip("pyarrow")
    from imu_rom_cli import main

    words = ["cohort", str(folder / "dataset"), "--plan", str(SAMPLES / "plans"), "--workers", "1"]
    assert main([*words, "--out", str(folder / "parquet"), "--to", "parquet"]) == 0
    for name in ("participants", "sessions", "sets", "findings"):
        theirs = imu_rom.read_cohort(folder / "parquet").to_frame(name)
        assert theirs.equals(imu_rom.read_cohort(folder / "out").to_frame(name))


def test_what_is_no_cohort_is_said_in_a_sentence(folder, tmp_path):
    (tmp_path / "cohort.json").write_text("{}")
    with pytest.raises(imu_rom.ImuRomError, match="has no tables yet; let imu-rom cohort run to its end"):
        imu_rom.read_cohort(tmp_path)
    (tmp_path / "tables").mkdir()
    with pytest.raises(imu_rom.ImuRomError, match="there is no such table"):
        imu_rom.read_cohort(tmp_path).to_frame("sets")
    (tmp_path / "tables" / "failures.csv").write_text("a,b\n1,2\n")
    with pytest.raises(imu_rom.ImuRomError, match="other columns than this version writes"):
        imu_rom.read_cohort(tmp_path).to_frame("failures")
    with pytest.raises(ValueError, match="table must be one of participants, sessions"):
        imu_rom.read_cohort(tmp_path).to_frame("people")

"""A dataset of many people: the same tables whatever the workers, the order and how often the run was stopped."""

import csv
import importlib
import json
import os
import shutil
import signal
import sys
import time
from pathlib import Path

import pytest

from imu_rom.cohort.analysing import analyse_cohort
from imu_rom.cohort.dataset import Dataset
from imu_rom.cohort.lock import alone_in
from imu_rom.cohort.plans import read_cohort_plans
from imu_rom.cohort.pools import LocalPool
from imu_rom_cli import main

GOOD, ALL = 4, 7


def rows_of(folder):
    files = sorted(folder.glob("*.csv")) if folder.is_dir() else [folder.with_suffix(".csv")]
    rows = []
    for file in files:
        with file.open(newline="", encoding="utf-8") as text:
            rows += csv.DictReader(text)
    return rows


def words_of(folder, out, *others):
    return ["cohort", str(folder / "dataset"), "--plan", str(folder / "plans"), "--out", str(out), *others]


def lines_of(capsys):
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_runs_of_a_session_and_both_sides_are_sessions_of_their_own(by_one_worker):
    tables = by_one_worker / "tables"
    sessions = rows_of(tables / "sessions")
    assert [(each["participant"], each["run"], each["side"]) for each in sessions] == [
        ("A01", "1", "left"),
        ("A01", "2", "left"),
        ("B02", "1", "left"),
        ("B02", "1", "right"),
    ]
    assert len({each["session"] for each in sessions}) == GOOD
    assert [each["plan_file"] for each in sessions] == ["A-01.toml", "A-01.toml", "B-02-left.toml", "B-02-right.toml"]
    assert [each.name for each in sorted((tables / "sessions").iterdir())] == ["sub-A01.csv", "sub-B02.csv"]
    repetitions = rows_of(tables / "repetitions")
    for each in sessions:
        done = [one for one in repetitions if one["session"] == each["session"] and one["complete"] == "yes"]
        assert len(done) == int(each["repetitions"]) >= 4


def test_a_recording_that_fails_is_a_row_that_says_why(by_one_worker, simulated):
    failures = {each["recording"]: each for each in rows_of(by_one_worker / "tables" / "failures")}
    codes = {each["participant"] or each["kind"]: each["code"] for each in failures.values()}
    assert codes == {
        "C03": "unreadable-recording",
        "D04": "no-plan",
        "E05": "repeated-recording",
        "plan": "bad-plan",
    }
    for each in failures.values():
        assert each["why"].endswith(".")
        assert str(simulated) not in each["why"]
    people = {each["participant"]: each for each in rows_of(by_one_worker / "tables" / "participants")}
    assert (people["A01"]["recordings"], people["A01"]["analysed"], people["A01"]["listed"]) == ("2", "2", "yes")
    assert (people["E05"]["analysed"], people["E05"]["failed"], people["E05"]["listed"]) == ("0", "1", "no")


def test_the_exposure_curve_at_the_compressive_angle_is_the_time_past_it(by_one_worker):
    curves = rows_of(by_one_worker / "tables" / "exposure_curves")
    for each in rows_of(by_one_worker / "tables" / "sets"):
        curve = [one for one in curves if (one["session"], one["set"]) == (each["session"], each["set"])]
        past = {one["angle_deg"]: float(one["time_past_s"]) for one in curve}
        # a thousandth for each of five repetitions that are rounded before they are added
        assert past["4.000"] == pytest.approx(float(each["past_threshold_s"]), abs=0.005)
        times = list(past.values())
        assert times == sorted(times, reverse=True)
        assert times[-1] == 0


def test_repetitions_stand_beside_those_of_another_measurement(by_one_worker):
    references = rows_of(by_one_worker / "tables" / "references")
    assert {(each["participant"], each["channel"]) for each in references} == {("A01", "true_angle")}
    repetitions = rows_of(by_one_worker / "tables" / "repetitions")
    key = ("session", "set", "repetition", "end_range_deg", "past_threshold_s", "reached", "complete")
    own = [[each[name] for name in key] for each in repetitions if each["session"] == references[0]["session"]]
    assert [[each[name] for name in key] for each in references] == own
    for each in references:
        assert abs(float(each["end_range_deg"]) - float(each["reference_end_range_deg"])) < 6
        assert float(each["correlation"]) > 0.98
        assert abs(float(each["lag_s"])) < 0.02


def test_what_was_made_can_be_summed_up(by_one_worker, tmp_path, capsys):
    assert main(["cohort", "summary", str(by_one_worker), "--json", "--out", str(tmp_path / "out")]) == 0
    summary = json.loads(capsys.readouterr().out)["summary"]
    assert (summary["sessions"], summary["valid_sessions"], summary["study"]) == (4, 4, None)
    past_s = [float(each["past_threshold_s"]) for each in rows_of(by_one_worker / "tables" / "sessions")]
    means = [each["past_threshold_s"]["value"] for each in summary["participants"]]
    assert means == pytest.approx([sum(past_s[:2]) / 2, sum(past_s[2:]) / 2], abs=0.01)
    assert {each["participant"]: each["reasons"] for each in summary["missing"]}["C03"] == {"unreadable-recording": 1}
    (one, _) = summary["agreement"]
    assert one["why_not"].startswith("at least 2 people")
    assert (tmp_path / "out" / "summary.html").is_file()


def test_every_column_is_in_the_dictionary(by_one_worker):
    tables = by_one_worker / "tables"
    described = json.loads((tables / "dictionary.json").read_text())["tables"]
    for each in described:
        rows = rows_of(tables / each["name"])
        assert list(rows[0]) == [one["name"] for one in each["columns"]]
        keys = [tuple(row[name] for name in each["key"]) for row in rows]
        assert len(set(keys)) == len(keys), each["name"]
    folders = {each.name for each in tables.iterdir() if each.is_dir()}
    assert {each["name"] for each in described} == folders | {"participants", "failures"}


def test_two_workers_write_the_bytes_of_one_and_a_second_run_does_nothing(
    simulated, by_one_worker, tmp_path, capsys, digest
):
    out = tmp_path / "out"
    assert main(words_of(simulated, out, "--workers", "2", "--json")) == 0
    said = lines_of(capsys)
    assert [each["event"] for each in said] == ["begin", *["recording"] * ALL, "end"]
    assert (said[-2]["done"], said[-2]["failed"]) == (ALL, 2)
    # the copy of another recording is seen at the end only
    assert (said[-1]["now"], said[-1]["kept"], sum(said[-1]["failures"].values())) == (ALL, 0, 3)
    assert digest(out) == digest(by_one_worker)
    before = {each: each.stat().st_mtime_ns for each in (out / "pieces").iterdir()}
    assert main(words_of(simulated, out, "--workers", "1")) == 0
    captured = capsys.readouterr()
    assert "Worked on now: 0; unchanged since an earlier run: 7." in captured.out
    assert captured.err == f"Written to {out}.\n"
    assert {each: each.stat().st_mtime_ns for each in (out / "pieces").iterdir()} == before
    assert digest(out) == digest(by_one_worker)


def test_only_what_changed_is_done_again(copied, begun, capsys):
    # where the dataset lies is no part of what was done
    out, dataset = begun, copied / "dataset"
    changed = next(dataset.glob("sub-A01/**/*run-2*_motion.tsv"))
    changed.write_bytes(changed.read_bytes().rsplit(b"\n", 2)[0] + b"\n")
    plan = copied / "plans" / "B-02-right.toml"
    plan.write_text(plan.read_text().replace("limit_deg = 22", "limit_deg = 21"))
    # a recording more in the list of scans is no change of the others
    scans = next(dataset.glob("sub-B02/**/*_scans.tsv"))
    scans.write_text(scans.read_text() + "motion/other_motion.tsv\tn/a\tn/a\n")
    for each in dataset.glob("sub-E05/**/*.*"):
        each.unlink()
    assert main(words_of(copied, out, "--workers", "1", "--json")) == 0
    *steps, end = lines_of(capsys)
    again = {each["recording"].split("/")[-1] for each in steps if each["state"] == "analysed"}
    assert again == {
        "sub-A01_ses-1_task-drop_tracksys-imu_run-2_motion.tsv",
        "sub-B02_ses-1_task-dropright_tracksys-imu_run-1_motion.tsv",
    }
    assert (end["now"], end["kept"]) == (2, 4)
    assert len(list((out / "pieces").iterdir())) == ALL - 1
    limits = {each["side"]: each["limit_deg"] for each in rows_of(out / "tables" / "sessions")}
    assert limits["right"] == "21.000"


def is_alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="needs /proc to see what is left")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT, signal.SIGTERM])
def test_a_run_that_was_stopped_goes_on(copied, by_one_worker, tmp_path, monkeypatch, capsys, digest, how):
    monkeypatch.syspath_prepend(os.fspath(Path(__file__).parent))
    from stopped_run import stop_after_the_first

    out = tmp_path / "out"
    workers, returned, err = stop_after_the_first(words_of(copied, out, "--workers", "1", "--json"), how)
    assert workers
    assert returned == (-how if how == signal.SIGKILL else 130)
    if how != signal.SIGKILL:
        assert err == "Interrupted; what is finished is kept, and the same command goes on.\n"
    until = time.monotonic() + 60
    while any(is_alive(each) for each in workers) and time.monotonic() < until:
        time.sleep(0.05)
    assert not [each for each in workers if is_alive(each)]
    assert not (out / "tables").exists()
    # what else a run leaves that is killed in the middle of writing
    (out / "pieces" / ".one.json.0123.filling").write_text("{")
    (out / ".tables.0123.filling").mkdir()
    assert main(words_of(copied, out, "--workers", "1", "--json")) == 0
    end = lines_of(capsys)[-1]
    assert end["kept"] == 1
    assert digest(out) == digest(by_one_worker)


def test_an_input_that_kills_its_worker_costs_no_other(simulated, by_one_worker, tmp_path, monkeypatch, digest):
    monkeypatch.syspath_prepend(os.fspath(Path(__file__).parent))
    from deadly_work import die_of_one

    out = tmp_path / "out"
    dataset, plans = Dataset.at(str(simulated / "dataset")), read_cohort_plans(simulated / "plans")
    reading = analyse_cohort(dataset, plans, out, LocalPool(1), work=die_of_one)
    assert reading.failures["killed-its-worker"] == 1
    assert (reading.recordings, reading.used) == (ALL, GOOD - 1)
    (row,) = [each for each in rows_of(out / "tables" / "failures") if each["code"] == "killed-its-worker"]
    assert "dropleft" in row["recording"]
    # it is tried again the next time, and all is as if nothing had been
    again = analyse_cohort(dataset, plans, out, LocalPool(1))
    assert (again.now, again.used) == (1, GOOD)
    assert digest(out) == digest(by_one_worker)


def test_an_address_gives_the_pieces_of_the_folder(copied, begun, tmp_path):
    pytest.importorskip("fsspec") if os.environ.get("CI") != "true" else None
    archive = shutil.make_archive(str(tmp_path / "archive"), "zip", copied / "dataset")
    plans, out = str(copied / "plans" / "A-01.toml"), tmp_path / "out"
    for other in ("sub-B02", "sub-D04", "sub-E05"):
        shutil.rmtree(copied / "dataset" / other)
    words = ["--plan", plans, "--out", str(out), "--workers", "1"]
    assert main(["cohort", f"file://{copied / 'dataset'}", *words]) == 0
    mine = {each.name: each.read_bytes() for each in (out / "pieces").iterdir()}
    assert len(mine) == 3
    theirs = {each.name: each.read_bytes() for each in (begun / "pieces").iterdir()}
    assert len([name for name in mine if mine[name] == theirs.get(name)]) == 2
    assert main(["cohort", f"zip://::file://{archive}", *words]) == 0
    after = {each.name: each.read_bytes() for each in (out / "pieces").iterdir()}
    assert len(after) == ALL
    assert mine.items() <= after.items()


def test_parquet_holds_what_the_text_holds(simulated, by_one_worker, begun):
    if os.environ.get("CI") != "true":
        pytest.importorskip("pyarrow.parquet")
    pq = importlib.import_module("pyarrow.parquet")
    out = begun
    assert main(words_of(simulated, out, "--workers", "1", "--to", "parquet")) == 0
    assert not list((out / "tables").rglob("*.csv"))
    for name in ("sessions", "sets", "repetitions", "exposure_curves", "findings", "failures"):
        path = out / "tables" / name
        table = pq.read_table(path if path.is_dir() else path.with_suffix(".parquet")).to_pylist()
        text = rows_of(by_one_worker / "tables" / name)
        assert len(table) == len(text) > 0
        for row, cells in zip(table, text, strict=True):
            for key, value in row.items():
                if isinstance(value, float):
                    assert value == float(cells[key])
                elif value is None:
                    assert cells[key] == ""


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_participants_come_from_the_recordings_where_no_file_lists_them(copied, begun, capsys):
    dataset = copied / "dataset"
    for place in ("sub-A01", "sub-C03", "sub-D04", "sub-E05"):
        for each in dataset.glob(f"{place}/**/*_motion.tsv"):
            each.unlink()
    (dataset / "participants.tsv").unlink()
    out = begun
    assert main(words_of(copied, out, "--workers", "1")) == 0
    assert "The dataset has no participants.tsv" in capsys.readouterr().out
    (person,) = rows_of(out / "tables" / "participants")
    assert (person["participant"], person["listed"], person["recordings"]) == ("B02", "no", "2")
    (dataset / "participants.tsv").write_text("participant_id\tarm\tfailed\nsub-B02\tslow\tn/a\nsub-X09\tfast\t1\n")
    (dataset / "participants.json").write_text('{"arm": {"Description": "which exercise came first"}}')
    assert main(words_of(copied, out, "--workers", "1")) == 0
    assert "Of participants.tsv 1 have no recording." in capsys.readouterr().out
    people = {each["participant"]: each for each in rows_of(out / "tables" / "participants")}
    assert (people["B02"]["arm"], people["B02"]["listed"], people["B02"]["participants_failed"]) == ("slow", "yes", "")
    assert (people["X09"]["arm"], people["X09"]["recordings"], people["X09"]["participants_failed"]) == (
        "fast",
        "0",
        "1",
    )
    assert "which exercise came first" in (out / "tables" / "dictionary.md").read_text()


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX locks")
def test_two_runs_never_write_into_one_folder(simulated, begun, by_one_worker, digest, capsys):
    with alone_in(begun):
        assert main(words_of(simulated, begun, "--workers", "1")) == 2
    assert capsys.readouterr().err == (
        f"imu-rom: {begun}: another imu-rom cohort is at work in it; wait for its end, or name another folder.\n"
    )
    assert digest(begun) == digest(by_one_worker)
    with alone_in(begun):
        pass


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["none", "--plan", "plans", "--out", "out"], "none: there is no such folder; name the folder that holds"),
        (["plans", "--plan", "plans", "--out", "out"], "holds no *_motion.tsv"),
        (["dataset", "--plan", "none", "--out", "out"], "none: can't be read"),
        (["dataset", "--plan", "dataset", "--out", "out"], "dataset: holds no plan"),
        (["dataset", "--plan", "plans/torn.toml", "--out", "out"], "plans/torn.toml:1"),
        (["dataset", "--plan", "plans", "--out", "plans"], "plans: exists and is no cohort's folder"),
        (["dataset", "--plan", "plans", "--out", "no/where"], "there is no folder no"),
        (["dataset", "--plan", "plans", "--out", "out", "--workers", "0"], "0 is not in the range"),
        (["dataset", "--plan", "plans", "--out", "out", "--workers", "1", "--scheduler", "a"], "exclude each other"),
        (["nothing://here", "--plan", "plans", "--out", "out"], "nothing://here"),
    ],
)
def test_what_can_not_be_done_is_one_sentence_and_writes_nothing(simulated, monkeypatch, capsys, words, said):
    monkeypatch.chdir(simulated)
    before = sorted(each.as_posix() for each in simulated.rglob("*"))
    assert main(["cohort", *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.count("\n") == 1
    assert said in captured.err
    assert sorted(each.as_posix() for each in simulated.rglob("*")) == before

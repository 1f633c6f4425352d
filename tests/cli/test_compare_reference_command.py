"""``compare-reference``: a channel of the recording or a file, sentences, JSON and page; refusals in one sentence."""

import csv
import json
import os
from pathlib import Path

import jsonschema
import pytest

from imu_rom.exchange.reference import reference_schema
from imu_rom_cli import main

PLAN = "sample_recordings/plans/P-0002.toml"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    root = Path(__file__).parents[2]
    folder = tmp_path_factory.mktemp("reference")
    plan = root / PLAN
    words = ["simulate", "--plan", str(plan), "--seed", "4", "--rate", "50", "--with-reference"]
    assert main([*words, "--out", os.fspath(folder / "dataset")]) == 0
    return folder, plan


def words_of(made, reference, *others):
    folder, plan = made
    return ["compare-reference", str(folder / "dataset"), "--plan", str(plan), "--reference", str(reference), *others]


def test_channel_and_file_give_the_same_figures(made, capsys):
    folder, _ = made
    assert main(words_of(made, "true_angle", "--json", "--out", str(folder / "out"))) == 0
    by_channel = json.loads(capsys.readouterr().out)
    (one,) = by_channel["exercises"]
    jsonschema.validate(one, reference_schema())
    assert json.loads((folder / "out" / "reference.json").read_text()) == by_channel
    # the truth beside the dataset, as another system would export it: other rate, other columns, another order
    (truth,) = (folder / "dataset" / "sourcedata" / "truth").glob("*_angle.csv")
    with truth.open() as text:
        rows = list(csv.DictReader(text))
    lines = ["frame;angle_deg;time_s", *(f"{n};{row['true_angle_deg']};{row['time_s']}" for n, row in enumerate(rows))]
    lines[100] = f"99;n/a;{rows[99]['time_s']}"
    (folder / "optical.csv").write_text("\n".join(lines))
    assert main(words_of(made, folder / "optical.csv", "--json")) == 0
    by_file = json.loads(capsys.readouterr().out)
    (other,) = by_file["exercises"]
    assert other["channel"] == "optical.csv"
    assert other["root_mean_square_deg"] == pytest.approx(one["root_mean_square_deg"], abs=0.002)
    assert other["end_range"]["bias"] == pytest.approx(one["end_range"]["bias"], abs=0.002)
    assert {each["name"] for each in by_file["provenance"]["inputs"]} >= {"optical.csv", "P-0002.toml"}


def test_sentences_and_page_say_the_same(made, capsys, tmp_path):
    assert main(words_of(made, "true_angle", "--out", str(tmp_path / "out"))) == 0
    captured = capsys.readouterr()
    first = captured.out.splitlines()[0]
    assert "deg root mean square over" in first
    page = (tmp_path / "out" / "reference.html").read_text()
    assert first in page
    assert "One session has one zero" in page
    assert "SHA-256" in page
    assert "takes nothing from this check" not in page
    assert main(words_of(made, "true_angle", "--out", str(tmp_path / "out"))) == 2
    assert "exists" in capsys.readouterr().err
    assert main(words_of(made, "true_angle", "--out", str(tmp_path / "out"), "--overwrite")) == 0


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("time_s,angle\n0,1\n", "file.csv:1: must have one column time_s and one angle_deg"),
        ("time_s,angle_deg\n0,1\n1,high\n", "file.csv:3:2: must be a number, got 'high'"),
        ("time_s,angle_deg\n0,1\n1,inf\n", "file.csv:3:2: must be a number"),
        ("time_s,angle_deg\n0,1\n,2\n", "file.csv:3:1: time_s is missing"),
        ("time_s,angle_deg\n1,1\n0,2\n", "time_s must rise from row to row"),
        ("time_s,angle_deg\n1,1\n", "must have at least two rows"),
        ("time_s,angle_deg\n0,1\n5,2\n", "known together for less than 10 s"),
        ("", "must have one column time_s"),
        (b"\xff\xfe\x00", "is no text in UTF-8"),
    ],
)
def test_a_bad_file_is_one_sentence(made, tmp_path, monkeypatch, capsys, content, said):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file.csv").write_bytes(content if isinstance(content, bytes) else content.encode())
    assert main(words_of(made, "file.csv", "--out", "out")) == 2
    captured = capsys.readouterr()
    assert said in captured.err
    assert captured.err.count("\n") == 1
    assert captured.out == ""
    assert not (tmp_path / "out").exists()


def test_an_unknown_reference_names_those_that_there_are(made, capsys):
    assert main(words_of(made, "optical")) == 2
    assert "neither a channel of the recording nor a file; the recording's JNTANG channels are true_angle" in (
        capsys.readouterr().err
    )


def test_a_simulated_reference_has_no_clock_of_its_own(made, capsys, tmp_path):
    _, plan = made
    words = ["simulate", "--plan", str(plan), "--with-reference", "--fault", "clock=foot:1:20:50", "--rate", "50"]
    assert main([*words, "--out", str(tmp_path / "out")]) == 2
    assert "a reference has no clock of its own" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()

"""``imu-rom figure``: a file for a paper, or one sentence."""

from pathlib import Path

import pytest

from imu_rom_cli import main

COURSE = Path(__file__).parents[2] / "sample_recordings" / "course"


@pytest.fixture(scope="module")
def result(recording, plan, tmp_path_factory):
    out = tmp_path_factory.mktemp("figure") / "result"
    assert main(["analyse", str(recording), "--plan", str(plan), "--out", str(out)]) == 0
    return out


@pytest.mark.parametrize(("kind", "begins"), [("angle", b"<?xml"), ("repetitions", b"\x89PNG"), ("exposure", b"%PDF")])
def test_each_kind_of_a_result_is_written(result, run, tmp_path, kind, begins):
    ending = {b"<?xml": "svg", b"\x89PNG": "png", b"%PDF": "PDF"}[begins]
    out = tmp_path / f"x.{ending}"
    assert run("figure", result, "--kind", kind, "--out", out) == (0, "", f"Written to {out}.\n")
    assert out.read_bytes().startswith(begins)


def test_a_course_has_a_trend_which_is_replaced_only_where_asked(run, refused, tmp_path):
    out = tmp_path / "trend.svg"
    assert run("figure", COURSE, "--kind", "trend", "--out", out)[0] == 0
    first = out.read_bytes()
    assert "exists already" in refused("figure", COURSE, "--kind", "trend", "--out", out)
    assert run("figure", COURSE, "--kind", "trend", "--out", out, "--until", "2027-01-02", "--overwrite")[0] == 0
    assert out.read_bytes() != first
    (tmp_path / "other.svg").write_text("my drawing")
    assert "another kind" in refused(
        "figure", COURSE, "--kind", "trend", "--out", tmp_path / "other.svg", "--overwrite"
    )


def test_what_does_not_fit_is_refused_in_a_sentence(result, refused, tmp_path):
    out = tmp_path / "x.svg"
    assert "is a course, which has no figure 'angle'; use --kind trend" in refused(
        "figure", COURSE, "--kind", "angle", "--out", out
    )
    assert "is a result, which has no figure 'trend'" in refused("figure", result, "--kind", "trend", "--out", out)
    assert "must end in .svg, .png or .pdf" in refused("figure", result, "--kind", "angle", "--out", tmp_path / "x.jpg")
    assert "for the folder of a course" in refused(
        "figure", result, "--kind", "angle", "--out", out, "--until", "2027-01-02"
    )
    assert "--exercise is for a result" in refused(
        "figure", COURSE, "--kind", "trend", "--out", out, "--exercise", "halfdrop"
    )
    assert "holds no exercise 'squat'" in refused(
        "figure", result, "--kind", "repetitions", "--out", out, "--exercise", "squat"
    )
    assert not out.exists()


def test_repetitions_need_no_angle_file(result, run, refused, tmp_path):
    (result / "angle.csv").rename(tmp_path / "angle.csv")
    assert run("figure", result, "--kind", "repetitions", "--out", tmp_path / "x.svg")[0] == 0
    assert "angle.csv: is missing" in refused("figure", result, "--kind", "angle", "--out", tmp_path / "y.svg")

"""What is marked in the page, saved as a file and given to the analysis is applied to the same repetitions."""

import json
import os
import shutil

import pytest

from imu_rom_cli import main

CHROMIUM = shutil.which("chromium")
# CI installs it, and where it fails to, this test fails too
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("CI") != "true", reason="needs chromium, which is not installed here"
)


def sets_of(folder):
    written = json.loads((folder / "result.json").read_text())
    return written["exercises"][0]["sets"], written["provenance"]["marks"]


def test_a_strike_and_a_join_of_the_page_are_applied(recording, plan, tmp_path):
    from playwright.sync_api import sync_playwright

    words = ["analyse", str(recording), "--plan", str(plan)]
    assert main([*words, "--out", str(tmp_path / "found")]) == 0
    found, marks = sets_of(tmp_path / "found")
    assert [each["complete"] for each in found] == [5, 5]
    assert marks == []
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        page = chromium.new_page()
        page.set_default_timeout(90_000)
        page.goto((tmp_path / "found" / "report.html").as_uri())
        page.wait_for_selector("#angle-1[data-drawn=true]")
        page.get_by_label("Reason").fill("coughed")
        page.get_by_label("Marked by").fill("clinician 3")
        page.get_by_label("Repetition", exact=True).select_option(label="set 1, 2")
        page.get_by_role("button", name="strike it").click()
        page.get_by_role("button", name="Join set 1 and set 2").click()
        with page.expect_download() as download:
            page.get_by_role("button", name="save marks.json").click()
        download.value.save_as(tmp_path / "marks.json")
        chromium.close()
    assert main([*words, "--marks", str(tmp_path / "marks.json"), "--out", str(tmp_path / "marked")]) == 0
    marked, marks = sets_of(tmp_path / "marked")
    assert [each["complete"] for each in marked] == [9]
    struck = found[0]["repetitions"][1]["end_range_s"]
    assert struck not in [each["end_range_s"] for each in marked[0]["repetitions"]]
    assert {(each["action"], each["reason"], each["by"]) for each in marks} == {
        ("strike", "coughed", "clinician 3"),
        ("join", "coughed", "clinician 3"),
    }

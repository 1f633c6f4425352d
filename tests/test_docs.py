"""The papers for who runs a clinic's service name only tests, files, commands and settings that there are."""

import ast
import re
import shlex
from dataclasses import fields
from functools import cache
from pathlib import Path

import click
import pytest

from imu_rom.clinic.configuration import PLACES, Limits
from imu_rom_cli.main import _imu_rom

ROOT = Path(__file__).parents[1]
PAPERS = sorted((ROOT / "docs").glob("*.md"))
NAMES = [each.name for each in PAPERS]
TEST = re.compile(r"\b(tests/[\w/]+\.py)::(\w+)")
LINK = re.compile(r"\]\(([^)#\s]+)(#[^)]*)?\)")
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
VARIABLE = re.compile(r"\bIMU_ROM_([A-Z_]+)\b")


def text_of(path: Path) -> str:
    return path.read_text("utf-8")


@cache
def names_in(path: str) -> frozenset[str]:
    tree = ast.parse(text_of(ROOT / path))
    return frozenset(each.name for each in ast.walk(tree) if isinstance(each, ast.FunctionDef))


def test_the_papers_are_there():
    assert set(NAMES) == {"data_protection.md", "hazards.md", "intended_use.md", "running_for_a_clinic.md"}


@pytest.mark.parametrize("paper", PAPERS, ids=NAMES)
def test_every_test_that_is_named_exists(paper):
    named = TEST.findall(text_of(paper))
    missing = [f"{file}::{name}" for file, name in named if not (ROOT / file).is_file() or name not in names_in(file)]
    assert not missing


def test_no_control_rests_on_a_test_that_ci_leaves_out():
    for file, name in TEST.findall(text_of(ROOT / "docs" / "hazards.md")):
        found = [
            each
            for each in ast.walk(ast.parse(text_of(ROOT / file)))
            if isinstance(each, ast.FunctionDef) and each.name == name
        ]
        marks = {ast.unparse(mark) for each in found for mark in each.decorator_list}
        assert "pytest.mark.long" not in marks, f"{file}::{name}"


def test_every_hazard_has_a_control_and_a_test_that_shows_it():
    rows = [line.split("|")[1:-1] for line in text_of(ROOT / "docs" / "hazards.md").splitlines() if line[:2] == "| "]
    hazards = [row for row in rows if row[0].strip() != "hazard"]
    assert len(hazards) > 25
    for row in hazards:
        assert len(row) == 4, row
        assert all(cell.strip() for cell in row), row
        assert TEST.search(row[3]), row[0]


@pytest.mark.parametrize("paper", PAPERS, ids=NAMES)
def test_every_link_leads_somewhere(paper):
    for link, _ in LINK.findall(text_of(paper)):
        if not link.startswith("https://"):
            assert (paper.parent / link).exists(), link


def test_every_paper_is_found_from_the_readme():
    readme = text_of(ROOT / "README.md")
    for name in NAMES:
        assert f"](docs/{name})" in readme, name


def words_of(block: str):
    """Commands of a block, each split into words; lines that end in a backslash go on."""
    for line in block.replace("\\\n", " ").splitlines():
        if "imu-rom " in line and not line.lstrip().startswith(("#", "systemctl", "useradd")):
            words = shlex.split(line.removeprefix("$ "), comments=True)
            at = next(
                (index for index, word in enumerate(words) if word == "imu-rom" or word.endswith("bin/imu-rom")), None
            )
            if at is not None:
                yield words[at + 1 :]


@pytest.mark.parametrize("paper", PAPERS, ids=NAMES)
def test_every_command_and_option_exists(paper):
    blocks = [block for _, block in BLOCK.findall(text_of(paper))]
    blocks += re.findall(r"^    .*$", text_of(paper), re.MULTILINE)
    inline = re.findall(r"`(imu-rom [^`]+)`", text_of(paper).replace("\n", " "))
    for words in (each for block in [*blocks, *inline] for each in words_of(block)):
        group: click.Command = _imu_rom
        while isinstance(group, click.Group) and words:
            name = words.pop(0)
            found = group.get_command(click.Context(group), name)
            assert found is not None, f"imu-rom ... {name}"
            group = found
        options = {each for parameter in group.params for each in parameter.opts}
        for word in words:
            if word in {"|", "&&", ">", ">>"}:
                break
            if word.startswith("--"):
                assert word.split("=")[0] in options, f"{group.name} {word}"


@pytest.mark.parametrize("paper", PAPERS, ids=NAMES)
def test_every_setting_exists(paper):
    known = {*PLACES, *(each.name for each in fields(Limits)), "home"}
    for name in VARIABLE.findall(text_of(paper)):
        assert name.lower() in known, name


@pytest.mark.parametrize("paper", PAPERS, ids=NAMES)
def test_lines_are_short_but_for_tables(paper):
    inside = False
    for number, line in enumerate(text_of(paper).splitlines(), 1):
        inside ^= line.startswith("```")
        if not inside and not line.startswith("|"):
            assert len(line) <= 140, f"{paper.name}:{number}"

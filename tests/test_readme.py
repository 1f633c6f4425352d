"""The README shows what the commands print now, and documents all that there is.

``python tests/test_readme.py`` writes what the commands print now into the README.
"""

import difflib
import io
import os
import re
import shlex
import subprocess
import sys
import tempfile
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

import click
import pytest

from imu_rom.clinic.configuration import PLACES, Limits
from imu_rom.course.diary_columns import COLUMNS
from imu_rom.dose import exercise_form, plan_form
from imu_rom.exchange.tables import ANGLE_COLUMNS, REPETITION_COLUMNS, SET_COLUMNS
from imu_rom.settings import Settings
from imu_rom.wording.cautions import RED_FLAGS
from imu_rom_cli.main import COMMANDS, _imu_rom, main

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
RESULTS = ROOT / "tests" / "benchmarks" / "results"
CONSOLE = re.compile(r"^```console\n(.*?)^```\n", re.MULTILINE | re.DOTALL)
PLAN = re.compile(r"^```toml\n(.*?)^```\n", re.MULTILINE | re.DOTALL)
MARKED = re.compile(r"^<!-- (accuracy|speed|settings|signs) -->\n(.*?)^<!-- end -->\n", re.MULTILINE | re.DOTALL)
COMMAND_LINES = re.compile(r"^```sh\n(.*?)\n```\n", re.MULTILINE | re.DOTALL)
WORDS = {
    "attitude_filter": "a filter's name",
    "mount": "skin or rigid",
    "gyroscope_samples": "means or instants",
    "published_sem": "none or a name of `dose/detectable_change.py`",
}


# words of the command, where its streams go, and what comes after it
OURS = re.compile(r"imu-rom ((?:[^|;&<>$*'\"]|\"[^\"]*\")*?)((?: 2?> ?/dev/null| 2>&1)*)( ?(?:[|;&].*)?)", re.DOTALL)


@contextmanager
def folder_of_commands():
    """Where commands are done: what they write is theirs alone, and the samples are where a reader has them."""
    was = Path.cwd()
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        (Path(folder) / "sample_recordings").symlink_to(ROOT / "sample_recordings")
        patch.setenv("PATH", f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
        patch.setenv("COLUMNS", "100")
        patch.setenv("LC_ALL", "C.UTF-8")
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(was)


def answered(words: str, streams: str) -> str:
    """What is left on standard output of a command that is done in this process."""
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    nowhere = io.TextIOWrapper(io.BytesIO(), "utf-8")
    # without a word about it, and without a pipe, both streams come to the same terminal
    errors = nowhere if re.search("2> ?/dev/null", streams) else out
    with redirect_stdout(nowhere if re.search("(?<!2)> ?/dev/null", streams) else out), redirect_stderr(errors):
        main(shlex.split(words))
    return out.buffer.getvalue().decode("utf-8")


pure = cache(answered)


def by_bash(command: str, given: str = "") -> str:
    words = ["bash", "-o", "pipefail", "-c", command]
    return subprocess.run(words, input=given, stdout=-1, stderr=-2, text=True, check=False).stdout


def printed(command: str, in_process: bool) -> str:
    """What a command prints on both streams, in the folder of commands."""
    ours = OURS.fullmatch(command) if in_process else None
    if ours is None:
        text = by_bash(command)
    else:
        words, streams, rest = ours.groups()
        writes = re.search("--(?:out|home) ", words)
        text = (answered if writes else pure)(words, streams)
        if rest.strip():
            text = by_bash(f"cat {rest}", text)
    return "".join(f"{line.rstrip()}\n" for line in text.splitlines())


@dataclass(frozen=True)
class Block:
    """Commands of the README that stand together, with what it says that they print.

    Attributes
    ----------
    heading : str
        The nearest one above.
    text : str
        The block, with its fences.
    real : bool
        Whether it is done by processes as a reader does it: the first block of a chapter.
    """

    heading: str
    text: str
    real: bool

    @property
    def commands(self) -> list[str]:
        return [line.removeprefix("$ ") for line in self.text.splitlines() if line.startswith("$ ")]

    @property
    def folders(self) -> set[str]:
        """Folders that it makes, reads or removes, by their first names."""
        return {
            word.partition("/")[0].rstrip(";") for each in self.commands for word in shlex.split(each, posix=False)[2:]
        }

    def now(self) -> str:
        """The same with what is printed now."""
        said = "\n".join(f"$ {each}\n{printed(each, not self.real)}" for each in self.commands)
        return f"```console\n{said}```\n"


def blocks(text: str) -> list[Block]:
    found, chapters = [], set()
    for match in CONSOLE.finditer(text):
        prose = re.sub(r"^```.*?^```", "", text[: match.start()], flags=re.MULTILINE | re.DOTALL)
        above = re.findall(r"^(#+) (.+)$", prose, re.MULTILINE)
        chapter = next(title for level, title in reversed(above) if level == "##")
        found.append(Block(above[-1][1], match[0], chapter not in chapters))
        chapters.add(chapter)
    return found


def chains(text: str) -> list[list[Block]]:
    """Blocks that share folders that commands make, in order; most are alone."""
    made = {name for each in blocks(text) for name in re.findall(r"--(?:out|home) (\w+)", each.text)}
    found = []
    for each in blocks(text):
        shared = next((chain for chain in found if made & each.folders & chain[0].folders), None)
        if shared is None:
            found.append([each])
        else:
            shared.append(each)
    return found


COVERAGE = "95 % intervals that hold the true time, zero shift in"


def accuracy() -> str:
    """The usual row of the accuracy table, on end."""
    path = RESULTS / "accuracy.md"
    run = "`python tests/benchmarks/accuracy.py --only sessions --write` measures simulated sessions with known truth"
    if not path.exists():
        return f"{run}.\n"
    text = path.read_text("utf-8")
    rows = [
        [cell.strip() for cell in line.strip().strip("|").split("|")] for line in text.splitlines() if line[:1] == "|"
    ]
    headings, _, targets, *measured = rows
    usual = next(row for row in measured if row[0].startswith("usual"))
    made = next(line for line in text.splitlines() if line.startswith("Commit "))
    kept = [
        (heading, target, value)
        for heading, target, value in zip(headings, targets, usual, strict=True)
        if heading in ("refused", COVERAGE) or (target and heading != "sessions")
    ]
    lines = ["| figure | asked | measured |", "|---|---|---|", *(f"| {' | '.join(each)} |" for each in kept)]
    return (
        f"{run}; the table with the harder rows, reported as they are, is\n"
        "[tests/benchmarks/results/accuracy.md](tests/benchmarks/results/accuracy.md). "
        f"Its usual row ({usual[0]} sessions): {made}\n\n" + "\n".join(lines) + "\n"
    )


def speed() -> str:
    """The ratios of the speed table."""
    path = RESULTS / "speed.md"
    run = "`python tests/benchmarks/speed.py --write` times an hour of two sensors at 100 Hz"
    if not path.exists():
        return f"{run}.\n"
    lines = path.read_text("utf-8").splitlines()
    first = lines.index("| figure | measured | to reach | reached |")
    made = next(line for line in lines if line.startswith("Commit "))
    rows = [line for line in lines[first:] if line.startswith("|")]
    link = "[tests/benchmarks/results/speed.md](tests/benchmarks/results/speed.md)"
    return f"{run} against what reading and filtering alone cost\n({link}). {made}\n\n" + "\n".join(rows) + "\n"


def settings() -> str:
    lines = ["| setting | default | range | what it decides | source |", "|---|---|---|---|---|"]
    for group in fields(Settings()):
        for each in fields(getattr(Settings(), group.name)):
            meta = each.metadata
            unit = f" {meta['unit']}" if meta["unit"] else ""
            span = WORDS[each.name] if meta["low"] is None else f"{meta['low']} to {meta['high']}{unit}"
            default = f"{each.default}{unit}"
            lines.append(f"| `{group.name}.{each.name}` | {default} | {span} | {meta['meaning']} | {meta['source']} |")
    return "\n".join(lines) + "\n"


def signs() -> str:
    """The table of signs that need somebody to look at the person."""
    lines = ["| sign | how soon | `red_flag` | source |", "|---|---|---|---|"]
    lines += [f"| {each.sign} | {each.urgency} | `{each.word}` | {each.source} |" for each in RED_FLAGS]
    return "\n".join(lines) + "\n"


def filled(text: str) -> str:
    """Put the plan and the tables into a README."""
    sources = {"accuracy": accuracy, "speed": speed, "settings": settings, "signs": signs}
    text = MARKED.sub(lambda match: f"<!-- {match[1]} -->\n{sources[match[1]]()}<!-- end -->\n", text)
    plan = (ROOT / "sample_recordings" / "plans" / "P-0001.toml").read_text("utf-8")
    return PLAN.sub(lambda _: f"```toml\n{plan}```\n", text, count=1)


def done(text: str) -> str:
    """Put what the commands print now into a README."""
    with folder_of_commands():
        now = iter([each.now() for each in blocks(text)])
        return CONSOLE.sub(lambda _: next(now), text)


def readme() -> str:
    return README.read_text("utf-8")


def same(old: str, new: str) -> None:
    lines = difflib.unified_diff(old.splitlines(), new.splitlines(), "README.md", "now", n=0, lineterm="")
    changed = list(lines)
    assert not changed, "run python tests/test_readme.py, and read what changed:\n" + "\n".join(changed[:20])


def test_plan_and_tables_are_those_of_now():
    same(readme(), filled(readme()))


CHAINS = chains(readme())


@pytest.mark.parametrize("chain", CHAINS, ids=[each[0].heading for each in CHAINS])
def test_what_the_readme_shows_is_what_is_printed_now(chain):
    with folder_of_commands():
        for each in chain:
            same(each.text, each.now())
        assert [str(each) for each in Path().iterdir()] == ["sample_recordings"], (
            "a reader is left with what a command wrote"
        )


def test_every_chapter_with_commands_has_one_that_is_done_as_a_reader_does_it():
    assert sum(each.real for each in blocks(readme())) >= 4
    assert sum(len(chain) for chain in CHAINS) == len(CONSOLE.findall(readme()))


def test_two_commands_stand_on_the_first_page_and_ci_runs_the_second():
    text = readme()
    run, test = COMMAND_LINES.findall(text)
    assert text[: text.index(test)].count("\n") < 40
    for each in (run, test):
        assert "\n" not in each
        assert each.startswith("python3 -m venv .venv && .venv/bin/pip install -q ")
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    places = [
        script.index(part.replace(".venv/bin", '"$venv"/bin').replace(".venv", '"$venv"'))
        for part in test.split(" && ")
    ]
    assert places == sorted(places)
    options = run.split(".venv/bin/imu-rom analyse ")[1]
    recording, plan = re.fullmatch(r"(\S+) --plan (\S+) --out result --overwrite", options).groups()
    assert (ROOT / recording).is_dir()
    assert (ROOT / plan).is_file()


def commands(group: click.Group, path: tuple[str, ...] = ()):
    """All commands with their paths."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))
            if hasattr(command, "usual"):
                yield (*path, name), command.usual
        else:
            yield (*path, name), command


ALL = list(commands(_imu_rom))


@pytest.mark.parametrize(("path", "command"), ALL, ids=[" ".join(path) for path, _ in ALL])
def test_every_command_and_option_has_help_and_is_documented(path, command):
    text = readme()
    assert command.help
    assert command.help.strip().splitlines()[0].endswith(".")
    assert f"`imu-rom {' '.join(path)}" in text
    for each in command.params:
        if isinstance(each, click.Option):
            assert each.help, each.name
            assert each.help.strip().endswith((".", "...")), each.help
            assert re.search(rf"{each.opts[-1]}\b", text), f"{each.opts[-1]} is not in the README"


def test_every_command_has_a_line_in_the_list():
    assert {path[0] for path, _ in ALL} == set(COMMANDS)
    assert all(text.endswith(".") for _, text in COMMANDS.values())


def test_every_column_of_the_diary_and_every_red_flag_is_told():
    section = readme().split("### Follow a course of weeks")[1].split("\n### ")[0]
    rows = re.findall(r"^\|([^|\n]+)\|([^|\n]+)\|$", section, re.MULTILINE)[2:]
    assert [name for cells, _ in rows for name in re.findall(r"`(\w+)`", cells)] == list(COLUMNS)
    flags = next(said for cells, said in rows if "red_flag" in cells)
    assert re.findall(r"`([^`]+)`", flags) == [each.word for each in RED_FLAGS]


@pytest.mark.parametrize(
    ("file", "columns"),
    [("repetitions.csv", REPETITION_COLUMNS), ("sets.csv", SET_COLUMNS), ("angle.csv", ANGLE_COLUMNS)],
)
def test_every_column_is_explained(file, columns):
    section = readme().split(f"**`{file}`**")[1].split("\n\n**")[0].split("\n### ")[0]
    rows = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    assert [name for row in rows for name in re.findall(r"`(\w+)`", row)] == list(columns)


def test_every_field_of_a_plan_is_explained():
    text = readme().split("## For the clinician")[1].split("## For the person")[0]
    forms = (plan_form._Head, plan_form._NamedChecks, plan_form._Stage, plan_form._Criteria, plan_form._OwnRange)
    for form in (*forms, plan_form._CalendarEntry, exercise_form.ExerciseForm):
        for name, each in form.model_fields.items():
            assert re.search(rf"\b{each.alias or name}\b", text), name


def test_every_field_of_a_study_is_explained():
    section = readme().split("### A cohort's summary")[1].split("\n### ")[0]
    for form in (plan_form._Study, plan_form._ValidRecording):
        for name in form.model_fields:
            assert re.search(rf"\b{name}\b", section), name


def test_links_lead_somewhere():
    for path in (README, ROOT / "DEVELOPERS.md", ROOT / "sample_recordings" / "README.md"):
        text = path.read_text("utf-8")
        for link in re.findall(r"\]\(([^)#]+)\)", text):
            if not link.startswith("https://"):
                assert (path.parent / link).exists(), f"{path.name}: {link}"


def test_the_budget_is_that_of_the_settings():
    section = readme().split("### How sure it is")[1]
    for each in fields(Settings().uncertainty):
        unit = each.metadata["unit"]
        row = f"| `{each.name}` | {each.default}{unit and f' {unit}'} |"
        assert row in section.split("### Settings")[0] or each.name == "mount", row


def test_every_setting_of_a_clinics_service_is_told_with_its_default():
    section = readme().split("## For the owner of a clinic's service")[1].split("\n## ")[0]
    told = re.findall(r"^\| `(\w+)` \| ([^|]+) \| ([^|]+) \|$", section, re.MULTILINE)
    numbers = [(each.name, str(each.default), each.metadata["meaning"]) for each in fields(Limits)]
    assert told[-len(numbers) :] == numbers
    assert [name for name, _, _ in told[: -len(numbers)]] == list(PLACES)


def test_help_loads_no_numpy():
    code = (
        "import sys; from imu_rom_cli import main; assert main(['--help']) == 0; "
        "print(sorted({'numpy', 'pandas', 'scipy', 'pydantic', 'vqf', 'plotly', 'jinja2', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


if __name__ == "__main__":
    README.write_text(done(filled(readme())), "utf-8")

"""The tables of a cohort, put together from finished pieces one by one."""

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from imu_rom.cohort.dataset import DatasetRecording
from imu_rom.cohort.participants import Participants
from imu_rom.cohort.pieces import Pieces
from imu_rom.exchange.cohort_columns import COHORT_LAYOUTS, EXPOSURE_CURVES, FAILURES
from imu_rom.exchange.cohort_rows import SetCurve, curve_rows
from imu_rom.exchange.data_dictionary import dictionary_json, dictionary_markdown
from imu_rom.exchange.folder import whole_folder
from imu_rom.exchange.table_parts import Ending, TablePart
from imu_rom.exchange.tidy_files import DICTIONARY, DICTIONARY_MARKDOWN

__all__ = ["table_names", "write_tables"]

REPEATED = "repeated-recording"


def table_names(ending: Ending) -> tuple[str, ...]:
    """Name all that the folder of tables may hold.

    Parameters
    ----------
    ending : {"csv", "parquet"}
        Of the tables.

    Returns
    -------
    tuple of str
        Folders and files.
    """
    alone = (f"participants.{ending}", f"{FAILURES.name}.{ending}")
    return (*(each.name for each in COHORT_LAYOUTS), *alone, DICTIONARY, DICTIONARY_MARKDOWN)


def _in_turn(
    recordings: Sequence[DatasetRecording], pieces: Pieces
) -> Iterator[tuple[DatasetRecording, dict[str, Any], dict[str, str] | None]]:
    """Give each recording's piece, and why it can't be used; of copies of one recording the first is taken."""
    first: dict[str, str] = {}
    for each in recordings:
        content = pieces.of(each.place).read()
        failure = content["failure"]
        if failure is None:
            other = first.setdefault(content["sha256"], each.place)
            if other != each.place:
                failure = {"code": REPEATED, "why": f"is the same as {other}, so it counts once."}
        yield each, content, failure


def write_tables(
    folder: Path,
    recordings: Sequence[DatasetRecording],
    pieces: Pieces,
    participants: Participants,
    plan_faults: Sequence[tuple[str, str]],
    ending: Ending,
) -> dict[str, int]:
    """Put the tables together; whole or not at all, in the place of earlier ones.

    Parameters
    ----------
    folder : Path
        Folder to be written.
    recordings : sequence of DatasetRecording
        All of the dataset, in order of participants and places.
    pieces : Pieces
        One of each recording.
    participants : Participants
        What ``participants.tsv`` says.
    plan_faults : sequence of (str, str)
        Files of plans that can't be used, each with a sentence.
    ending : {"csv", "parquet"}
        What to write.

    Returns
    -------
    dict of str to int
        Failed recordings by code, the most frequent first.

    Raises
    ------
    OutputError
        They can't be written, or the folder holds something else.
    """
    every = (*table_names("csv"), *table_names("parquet"))
    codes: Counter[str] = Counter()
    number: Counter[str | None] = Counter()
    lost: Counter[str | None] = Counter()
    with whole_folder(folder, overwrite=True, files=every) as filling, ExitStack() as open_files:
        for layout in COHORT_LAYOUTS:
            (filling / layout.name).mkdir()
        failures = open_files.enter_context(TablePart(filling / FAILURES.name, FAILURES, ending))
        parts: dict[str, TablePart] = {}
        theirs = open_files.enter_context(ExitStack())
        before: str | None = None
        for recording, content, failure in _in_turn(recordings, pieces):
            if parts and recording.participant != before:
                theirs.close()
                parts = {}
            before = recording.participant
            number[before] += 1
            if failure is None:
                _add(filling, content, parts, theirs, ending)
            else:
                lost[before] += 1
                codes[failure["code"]] += 1
                failures.add([_failure("recording", recording.place, failure, before, recording.session)])
        failures.add(_failure("plan", name, {"code": "bad-plan", "why": why}) for name, why in plan_faults)
        theirs.close()
        people = sorted({*number, *participants.listed}, key=lambda each: each or "")
        with TablePart(filling / "participants", participants.layout, ending) as table:
            table.add(participants.row(each, number[each], lost[each]) for each in people)
        layouts = (participants.layout, *COHORT_LAYOUTS, FAILURES)
        partitioned = [each.name for each in COHORT_LAYOUTS]
        (filling / DICTIONARY).write_bytes(dictionary_json(layouts, ending, partitioned))
        (filling / DICTIONARY_MARKDOWN).write_bytes(dictionary_markdown(layouts, ending, partitioned))
        open_files.close()
    return dict(sorted(codes.items(), key=lambda each: (-each[1], each[0])))


def _add(
    filling: Path, content: dict[str, Any], parts: dict[str, TablePart], theirs: ExitStack, ending: Ending
) -> None:
    """Add one recording to its participant's files."""
    participant, session = content["participant"], content["session"]
    name = "no-participant" if participant is None else f"sub-{participant}"
    for layout in COHORT_LAYOUTS:
        if layout is EXPOSURE_CURVES:
            rows = [row for each in content["curves"] for row in curve_rows(participant, session, SetCurve(**each))]
        else:
            rows = [dict(zip(layout.names, row, strict=True)) for row in content["tables"].get(layout.name, ())]
        if not rows:
            continue
        if layout.name not in parts:
            parts[layout.name] = theirs.enter_context(TablePart(filling / layout.name / name, layout, ending))
        parts[layout.name].add(rows)


def _failure(
    kind: str, place: str, failure: dict[str, str], participant: str | None = None, session: str | None = None
) -> dict[str, object]:
    return {
        "participant": participant,
        "session": session,
        "kind": kind,
        "recording": place,
        "code": failure["code"],
        "why": failure["why"],
    }

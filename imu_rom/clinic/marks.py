"""Marks of a session: struck repetitions and joined sets as clinicians made them, versioned; each asks for an analysis.

The newest version counts. Every result says by which version it was made, and stays.
"""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from sqlalchemy import Connection, insert, select

from imu_rom.clinic import audit, jobs
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import mark_versions
from imu_rom.errors import ClinicError, RecordingError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.marks import marks_from_bytes, recording_sha256
from imu_rom.exchange.plain_values import plain
from imu_rom.session.result import Mark

__all__ = ["MarkVersion", "Place", "add_marks", "joins_of", "marks_of", "newest_marks", "strikes_of", "written_marks"]

LARGEST_MARKS = 1_000_000


@dataclass(frozen=True)
class MarkVersion:
    """One version of a session's marks.

    Parameters
    ----------
    mark_version_id : str
        Its id.
    version : int
        From 1.
    marks_json : str
        As ``imu-rom analyse --marks`` reads it.
    author_id : str
        User who made them.
    created_at_ms : int
        When.
    """

    mark_version_id: str
    version: int
    marks_json: str
    author_id: str
    created_at_ms: int


@dataclass(frozen=True)
class Place:
    """A stretch of the recording that a mark can be made of.

    Parameters
    ----------
    start_s, stop_s : float
        Seconds from the recording's start.
    exercise : str
        Name of the exercise.
    side : {"left", "right"}
        Side of the body.
    numbers : tuple of int
        Set and repetition, or both sets, each from 1.
    end_range_deg : float or None
        Of a repetition.
    """

    start_s: float
    stop_s: float
    exercise: str
    side: str
    numbers: tuple[int, int]
    end_range_deg: float | None = None

    @property
    def words(self) -> str:
        """How a form names it, and what it sends."""
        return f"{self.start_s:.3f}:{self.stop_s:.3f}"


def strikes_of(document: ResultDocument) -> tuple[Place, ...]:
    """List the repetitions that can be struck.

    Parameters
    ----------
    document : ResultDocument
        The session's newest result.

    Returns
    -------
    tuple of Place
        In order of time.
    """
    return tuple(
        Place(
            one.repetition.start_s,
            one.repetition.stop_s,
            answer.exercise.name,
            answer.exercise.side,
            (done.number, index),
            one.repetition.end_range_deg if answer.exercise.angle_is_known else None,
        )
        for answer in document.exercises
        for done in answer.comparison.sets
        for index, one in enumerate(done.repetitions, start=1)
    )


def joins_of(document: ResultDocument) -> tuple[Place, ...]:
    """List the neighbouring sets that can be joined.

    Parameters
    ----------
    document : ResultDocument
        The session's newest result.

    Returns
    -------
    tuple of Place
        In order of time.
    """
    found = []
    for answer in document.exercises:
        sets = [each for each in answer.comparison.sets if each.repetitions]
        for first, second in pairwise(sets):
            found.append(
                Place(
                    first.repetitions[-1].repetition.start_s,
                    second.repetitions[0].repetition.stop_s,
                    answer.exercise.name,
                    answer.exercise.side,
                    (first.number, second.number),
                )
            )
    return tuple(found)


def written_marks(
    document: ResultDocument,
    kept: Iterable[Mark],
    strikes: Sequence[str],
    joins: Sequence[str],
    *,
    reason: str,
    by: str,
    at: str,
) -> str:
    """Write marks as a file of them, those that are kept and new ones; joins first, as the report's page does.

    Parameters
    ----------
    document : ResultDocument
        The session's newest result.
    kept : iterable of Mark
        Earlier ones that stay.
    strikes, joins : sequence of str
        `Place.words` of what is to be struck and joined.
    reason, by, at : str
        Why, who (a pseudonym), and when (RFC 3339).

    Returns
    -------
    str
        JSON.

    Raises
    ------
    ClinicError
        A place is none of the result's, or there is no reason.
    """
    new: list[Mark] = []
    for action, words, places in (
        ("join", joins, joins_of(document)),
        ("strike", strikes, strikes_of(document)),
    ):
        known = {each.words: each for each in places}
        for each in words:
            if each not in known:
                raise ClinicError(f"there is nothing to {action} at {each[:40]!r} s", do="open the session again")
            if not reason.strip():
                raise ClinicError("a mark must have a reason", do="write it in a few words")
            place = known[each]
            new.append(Mark(action, round(place.start_s, 3), round(place.stop_s, 3), reason.strip(), by, at))
    marks = sorted([*kept, *new], key=lambda each: each.action != "join")
    return json.dumps(
        {"recording_sha256": recording_sha256(document.inputs), "marks": [plain(each) for each in marks]},
        ensure_ascii=False,
        indent=2,
    )


def add_marks(
    connection: Connection,
    now_ms: int,
    *,
    clinic_id: str,
    patient_id: str,
    recording_id: str,
    author_id: str,
    marks_json: str,
    document: ResultDocument,
    based_on: int,
) -> MarkVersion:
    """Keep a new version of a session's marks, and have the session analysed with them.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, recording_id, author_id : str
        Of what and by whom.
    marks_json : str
        As ``imu-rom analyse --marks`` reads it.
    document : ResultDocument
        The session's newest result.
    based_on : int
        Version of the marks that was on the page; 0: there were none.

    Returns
    -------
    MarkVersion
        As it is kept.

    Raises
    ------
    ClinicError
        Somebody else marked the session meanwhile, or a new mark touches nothing.
    RecordingError
        The marks can't be read, or are of another recording.
    """
    before = newest_marks(connection, recording_id)
    if based_on != (0 if before is None else before.version):
        raise ClinicError(
            "the session was marked by somebody else meanwhile", do="open the session again and mark it anew"
        )
    if len(marks_json) > LARGEST_MARKS:
        raise RecordingError(f"must have at most {LARGEST_MARKS} letters", where="marks.json")
    marks = marks_from_bytes(marks_json.encode(), "marks.json", document.inputs)
    _check_touching(marks, document)
    made = MarkVersion(new_id(), 1 if before is None else before.version + 1, marks_json, author_id, now_ms)
    connection.execute(
        insert(mark_versions).values(
            id=made.mark_version_id,
            recording_id=recording_id,
            version=made.version,
            marks_json=marks_json,
            author_id=author_id,
            created_at_ms=now_ms,
        )
    )
    audit.record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=author_id,
        action="write marks",
        object_kind="mark_version",
        object_id=made.mark_version_id,
        content_sha256=hashlib.sha256(marks_json.encode()).hexdigest(),
    )
    jobs.add(connection, now_ms, "analyse", patient_id, recording_id)
    return made


def _check_touching(marks: Sequence[Mark], document: ResultDocument) -> None:
    """Refuse a new mark that the analysis would refuse, before it costs the session its answer."""
    for mark in marks:
        if mark in document.marks:
            continue
        ends_s = [
            one.repetition.end_range_s
            for answer in document.exercises
            for done in answer.comparison.sets
            for one in done.repetitions
        ]
        if mark.action == "strike" and not any(mark.start_s <= each <= mark.stop_s for each in ends_s):
            raise ClinicError(
                f"there is no repetition from {mark.start_s:g} to {mark.stop_s:g} s", do="open the session again"
            )
        touched = [
            done
            for answer in document.exercises
            for done in answer.comparison.sets
            if done.repetitions
            and done.repetitions[0].repetition.start_s < mark.stop_s
            and done.repetitions[-1].repetition.stop_s > mark.start_s
        ]
        if mark.action == "join" and len(touched) < 2:
            raise ClinicError(
                f"there are no two sets from {mark.start_s:g} to {mark.stop_s:g} s", do="open the session again"
            )


def marks_of(connection: Connection, recording_id: str) -> tuple[MarkVersion, ...]:
    """Give all versions of a session's marks.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    recording_id : str
        Of which.

    Returns
    -------
    tuple of MarkVersion
        The oldest first.
    """
    rows = connection.execute(
        select(mark_versions).where(mark_versions.c.recording_id == recording_id).order_by(mark_versions.c.version)
    )
    return tuple(MarkVersion(row.id, row.version, row.marks_json, row.author_id, row.created_at_ms) for row in rows)


def newest_marks(connection: Connection, recording_id: str) -> MarkVersion | None:
    """Give the marks that count.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    recording_id : str
        Of which session.

    Returns
    -------
    MarkVersion or None
        None where nobody marked it.
    """
    versions = marks_of(connection, recording_id)
    return versions[-1] if versions else None

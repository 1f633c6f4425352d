"""Who did what and when: entries that are only ever added, each with the hash of the one before.

An entry holds identifiers and hashes, never what people wrote, so it may stay when a person's data are deleted. The
chain shows every change of an entry that is followed by others. Whoever can rewrite the whole table can rewrite the
chain with it: against that, note the last number and hash elsewhere, and have them verified.
"""

import hashlib
import json
from dataclasses import dataclass

from sqlalchemy import Connection, Row, func, insert, select

from imu_rom.clinic.database import hold_writers_back
from imu_rom.clinic.schema import audit_entries

__all__ = ["NOTHING_BEFORE", "Link", "Verified", "record", "verify"]

NOTHING_BEFORE = "0" * 64
"""Stands for the hash before the first entry."""
ROWS_AT_ONCE = 1000


@dataclass(frozen=True)
class Link:
    """An entry's place in the chain.

    Parameters
    ----------
    number : int
        1 for the first; 0 stands for none.
    entry_hash : str
        SHA-256 over the entry and the hash before it.
    """

    number: int
    entry_hash: str


@dataclass(frozen=True)
class Verified:
    """What verifying the trail found.

    Parameters
    ----------
    last : Link
        The last entry that is as it was written, with all before it.
    broken : str or None
        What is wrong with the next one; None where nothing is.
    """

    last: Link
    broken: str | None


def record(
    connection: Connection,
    now_ms: int,
    *,
    clinic_id: str | None,
    actor_id: str | None,
    action: str,
    object_kind: str,
    object_id: str,
    content_sha256: str | None = None,
) -> Link:
    """Add an entry, in the transaction of what it is about.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When it was done.
    clinic_id : str or None
        In which clinic; None where none is concerned.
    actor_id : str or None
        The user who did it; None for the owner at the command line, and for the program.
    action : str
        What was done, at most 40 characters, such as ``give consent``.
    object_kind, object_id : str
        What it was done to.
    content_sha256 : str, optional
        Hash of the content that was written or deleted.

    Returns
    -------
    Link
        The entry's number and hash.
    """
    hold_writers_back(connection)
    last = _last(connection)
    entry: dict[str, str | int | None] = {
        "number": last.number + 1,
        "clinic_id": clinic_id,
        "at_ms": now_ms,
        "actor_id": actor_id,
        "action": action,
        "object_kind": object_kind,
        "object_id": object_id,
        "content_sha256": content_sha256,
        "previous_hash": last.entry_hash,
    }
    entry_hash = _hash(entry)
    connection.execute(insert(audit_entries).values(**entry, entry_hash=entry_hash))
    return Link(last.number + 1, entry_hash)


def verify(connection: Connection, noted: Link | None = None) -> Verified:
    """Verify the whole trail.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    noted : Link, optional
        A number and hash that were noted elsewhere earlier; the trail must still hold them.

    Returns
    -------
    Verified
        How far the trail is as it was written, and what is wrong after that.
    """
    last = Link(0, NOTHING_BEFORE)
    entries = select(audit_entries).order_by(audit_entries.c.number).execution_options(yield_per=ROWS_AT_ONCE)
    with connection.execute(entries) as rows:
        for row in rows:
            if broken := _wrong(row, last):
                return Verified(last, broken)
            last = Link(row.number, row.entry_hash)
            if noted is not None and last.number == noted.number and last.entry_hash != noted.entry_hash:
                return Verified(last, f"entry {last.number} has another hash than the one noted for it")
    if noted is not None and noted.number > last.number:
        return Verified(last, f"entry {noted.number} was noted, and the trail ends with {last.number}")
    return Verified(last, None)


def _last(connection: Connection) -> Link:
    newest = select(func.max(audit_entries.c.number)).scalar_subquery()
    row = connection.execute(
        select(audit_entries.c.number, audit_entries.c.entry_hash).where(audit_entries.c.number == newest)
    ).one_or_none()
    return Link(0, NOTHING_BEFORE) if row is None else Link(row.number, row.entry_hash)


def _hash(entry: dict[str, str | int | None]) -> str:
    """SHA-256 over canonical JSON; of texts, whole numbers and nulls this is what RFC 8785 asks for."""
    text = json.dumps(entry, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _wrong(row: Row[tuple[object, ...]], last: Link) -> str | None:
    entry = dict(row._mapping)  # noqa: SLF001 - how SQLAlchemy gives a row's names
    written = entry.pop("entry_hash")
    if row.number != last.number + 1:
        return f"entry {last.number + 1} is missing: {row.number} follows {last.number}"
    if row.previous_hash != last.entry_hash:
        return f"entry {row.number} does not follow the hash of the one before"
    if _hash(entry) != written:
        return f"entry {row.number} was changed after it was written"
    return None

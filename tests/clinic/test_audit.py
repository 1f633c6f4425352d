"""Every change of the trail is seen, whoever made it; two who write at once leave one chain."""

import hashlib
import threading

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, insert, select, update

from imu_rom.clinic.audit import NOTHING_BEFORE, Link, _hash, record, verify
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import audit_entries


def fill(database, count=5):
    links = []
    for number in range(count):
        with database.writing() as connection:
            links.append(
                record(
                    connection,
                    1_796_025_600_000 + number,
                    clinic_id=new_id(),
                    actor_id=None if number == 2 else new_id(),
                    action="add patient",
                    object_kind="patient",
                    object_id=new_id(),
                    content_sha256=f"{number:064x}" if number == 3 else None,
                )
            )
    return links


def without_guards(connection, database):
    """Somebody who owns the database takes away what refuses changes."""
    for what in ("update", "delete"):
        on = "" if database.is_sqlite else " ON audit_entries"
        connection.exec_driver_sql(f"DROP TRIGGER audit_entries_no_{what}{on}")


def test_the_hash_is_that_of_the_canonical_text(database):
    # written out by hand: keys in order, no spaces, null for what is missing (RFC 8785)
    with database.writing() as connection:
        link = record(
            connection, 1, clinic_id=None, actor_id="a" * 32, action="try", object_kind="clinic", object_id="ö"
        )
    text = (
        f'{{"action":"try","actor_id":"{"a" * 32}","at_ms":1,"clinic_id":null,"content_sha256":null,"number":1,'
        f'"object_id":"ö","object_kind":"clinic","previous_hash":"{"0" * 64}"}}'
    )
    assert link == Link(1, hashlib.sha256(text.encode("utf-8")).hexdigest())


def test_an_untouched_trail_verifies_with_its_last_hash(database):
    with database.reading() as connection:
        empty = verify(connection)
    assert (empty.last, empty.broken) == (Link(0, NOTHING_BEFORE), None)
    links = fill(database)
    with database.reading() as connection:
        found = verify(connection)
    assert (found.last, found.broken) == (links[-1], None)
    assert [each.number for each in links] == [1, 2, 3, 4, 5]


COLUMNS = [each.name for each in audit_entries.columns if each.name != "number"]


def test_every_change_of_every_column_is_seen(database):
    links = fill(database)
    third = audit_entries.c.number == 3
    with database.writing() as connection:
        without_guards(connection, database)
        for column in COLUMNS:
            before = connection.scalar(select(audit_entries.c[column]).where(third))
            connection.execute(
                update(audit_entries).where(third).values({column: 7 if column == "at_ms" else "f" * 32})
            )
            found = verify(connection)
            assert found.last == links[1], column
            assert "entry 3 " in found.broken, column
            connection.execute(update(audit_entries).where(third).values({column: before}))
        assert verify(connection).broken is None


def test_an_entry_that_was_made_anew_with_its_hash_is_seen_at_the_next_one(database):
    links = fill(database)
    third = audit_entries.c.number == 3
    with database.writing() as connection:
        without_guards(connection, database)
        connection.execute(delete(audit_entries).where(audit_entries.c.number >= 3))
        made_anew = record(
            connection, 1, clinic_id=None, actor_id=None, action="other", object_kind="patient", object_id="y"
        )
        # the fourth follows the third as that was before
        third_row = connection.execute(select(audit_entries).where(third)).one()
        entry = dict(third_row._mapping) | {"number": 4, "previous_hash": links[2].entry_hash}
        del entry["entry_hash"]
        connection.execute(insert(audit_entries).values(**entry, entry_hash=_hash(entry)))
        found = verify(connection)
    assert found.last == made_anew
    assert found.broken == "entry 4 does not follow the hash of the one before"


@pytest.mark.parametrize("number", [1, 3])
def test_a_removed_entry_is_seen(database, number):
    fill(database)
    with database.writing() as connection:
        without_guards(connection, database)
        connection.execute(delete(audit_entries).where(audit_entries.c.number == number))
    with database.reading() as connection:
        assert f"entry {number} is missing" in verify(connection).broken


def test_a_shortened_or_rewritten_trail_is_seen_by_whoever_noted_its_end(database):
    links = fill(database)
    with database.reading() as connection:
        assert verify(connection, links[-1]).broken is None
        assert verify(connection, links[2]).broken is None
    with database.writing() as connection:
        without_guards(connection, database)
        connection.execute(delete(audit_entries).where(audit_entries.c.number == 5))
    with database.reading() as connection:
        assert verify(connection).broken is None
        assert "entry 5 was noted" in verify(connection, links[-1]).broken
    fill(database, 1)
    with database.reading() as connection:
        assert verify(connection).broken is None
        assert "another hash" in verify(connection, links[-1]).broken


def test_entries_that_change_places_are_seen(database):
    fill(database)
    with database.writing() as connection:
        without_guards(connection, database)
        third, fourth = (
            dict(row._mapping)
            for row in connection.execute(select(audit_entries).where(audit_entries.c.number.in_([3, 4])))
        )
        connection.execute(delete(audit_entries).where(audit_entries.c.number.in_([3, 4])))
        connection.execute(insert(audit_entries), [third | {"number": 4}, fourth | {"number": 3}])
    with database.reading() as connection:
        assert verify(connection).broken is not None


@pytest.mark.parametrize("alone", [True, False])
def test_many_who_write_at_once_leave_one_chain(database, alone):
    failed = []

    def write():
        try:
            for _ in range(15):
                with database.writing(alone=alone) as connection:
                    record(connection, 5, clinic_id=None, actor_id=None, action="try", object_kind="x", object_id="y")
        except Exception as error:  # noqa: BLE001 - any
            failed.append(error)

    threads = [threading.Thread(target=write) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(60)
    assert failed == []
    with database.reading() as connection:
        found = verify(connection)
    assert (found.last.number, found.broken) == (60, None)


def test_what_is_undone_leaves_no_entry_and_no_gap(database):
    fill(database, 2)

    def fail():
        with database.writing() as connection:
            record(connection, 5, clinic_id=None, actor_id=None, action="try", object_kind="x", object_id="y")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    links = fill(database, 1)
    assert links[0].number == 3


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    at_ms=st.integers(-(2**53), 2**53),
    action=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40),
)
def test_whatever_is_written_verifies(database, at_ms, action):
    with database.writing() as connection:
        record(connection, at_ms, clinic_id=None, actor_id=None, action=action, object_kind="x", object_id="y")
    with database.reading() as connection:
        assert verify(connection).broken is None

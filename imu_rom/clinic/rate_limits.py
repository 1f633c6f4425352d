"""How often something may be tried, counted in the database: neither a restart nor another server forgets it."""

import hmac
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Network, ip_address

from sqlalchemy import Connection, delete, insert, select, update

from imu_rom.clinic.schema import rate_counts

__all__ = ["RateLimit", "count", "forget", "network_of", "reached", "sweep"]

LONGEST_WINDOW_MS = 24 * 3600 * 1000


@dataclass(frozen=True)
class RateLimit:
    """How often what may be done.

    Parameters
    ----------
    what : str
        What is counted, such as ``sign in by name``.
    most : int
        Times allowed within the window.
    window_ms : int
        How long the window is; at most a day.
    """

    what: str
    most: int
    window_ms: int


def count(connection: Connection, now_ms: int, key: bytes, limit: RateLimit, whom: str) -> bool:
    """Count one more, and tell whether it is still within the limit.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction that no other writer is in beside.
    now_ms : int
        When.
    key : bytes
        Of the service's own; without it nobody can tell from the table whom it counts.
    limit : RateLimit
        What is counted, and how often it may be.
    whom : str
        Of whom: a name, an address, an id.

    Returns
    -------
    bool
        False when it is too often. Those beyond the limit are not counted, and don't make the wait longer.
    """
    name = _name(key, limit, whom)
    row = connection.execute(
        select(rate_counts.c.window_at_ms, rate_counts.c.count.label("times")).where(rate_counts.c.key_sha256 == name)
    ).one_or_none()
    # a window that begins in the future is of a clock that was set back
    if row is None or not row.window_at_ms <= now_ms < row.window_at_ms + limit.window_ms:
        connection.execute(delete(rate_counts).where(rate_counts.c.key_sha256 == name))
        connection.execute(insert(rate_counts).values(key_sha256=name, window_at_ms=now_ms, count=1))
        return limit.most >= 1
    if row.times < limit.most:
        connection.execute(update(rate_counts).where(rate_counts.c.key_sha256 == name).values(count=row.times + 1))
        return True
    return False


def reached(connection: Connection, now_ms: int, key: bytes, limit: RateLimit, whom: str) -> bool:
    """Tell whether one more would be too often, and count nothing.

    Parameters
    ----------
    connection : Connection
        Any.
    now_ms : int
        When.
    key : bytes
        As in `count`.
    limit : RateLimit
        What is counted.
    whom : str
        Of whom.

    Returns
    -------
    bool
        True where `count` would refuse.
    """
    row = connection.execute(
        select(rate_counts.c.window_at_ms, rate_counts.c.count.label("times")).where(
            rate_counts.c.key_sha256 == _name(key, limit, whom)
        )
    ).one_or_none()
    if row is None or not row.window_at_ms <= now_ms < row.window_at_ms + limit.window_ms:
        return limit.most < 1
    return bool(row.times >= limit.most)


def forget(connection: Connection, key: bytes, limit: RateLimit, whom: str) -> None:
    """Begin to count anew, after it went well.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    key : bytes
        As in `count`.
    limit : RateLimit
        What is counted.
    whom : str
        Of whom.
    """
    connection.execute(delete(rate_counts).where(rate_counts.c.key_sha256 == _name(key, limit, whom)))


def network_of(address: str) -> str:
    """Take together the addresses that one connection may choose from at will.

    Parameters
    ----------
    address : str
        Of IP version 4 or 6, or anything else.

    Returns
    -------
    str
        Of version 6 the network of 64 bits, within which a machine chooses its address (RFC 4862); else the address.
    """
    try:
        read = ip_address(address)
    except ValueError:
        return address
    if isinstance(read, IPv4Address):
        return str(read)
    return str(read.ipv4_mapped or IPv6Network((read.packed[:8] + bytes(8), 64)))


def sweep(connection: Connection, now_ms: int) -> None:
    """Remove counts that no window reaches any more.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    """
    connection.execute(delete(rate_counts).where(rate_counts.c.window_at_ms < now_ms - LONGEST_WINDOW_MS))


def _name(key: bytes, limit: RateLimit, whom: str) -> str:
    return hmac.digest(key, f"{limit.what}\0{whom}".encode("utf-8", "replace"), "sha256").hex()

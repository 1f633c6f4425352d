"""What the worker and the upkeep say of themselves: a line of JSON each, with ids and numbers alone."""

import json
import logging
from datetime import UTC, datetime

__all__ = ["log_line"]

_LOGGER = logging.getLogger("imu_rom.clinic")


def log_line(what: str, **facts: str | float | None) -> None:
    """Write a line.

    Parameters
    ----------
    what : str
        What happened, in a word or two.
    **facts : str or float or None
        Ids, numbers and words of closed lists; never names, notes or tokens.
    """
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    _LOGGER.info("%s", json.dumps({"at": at, "what": what, **facts}, ensure_ascii=True))

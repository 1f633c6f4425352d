"""Ctrl-C that is neither lost nor breaks into a cluster's client: Python throws some interrupts away."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

__all__ = ["interrupts_held"]

Handler = Callable[[int, FrameType | None], Any]


@contextmanager
def interrupts_held() -> Iterator[Callable[[], bool]]:
    """Only remember the first SIGINT or SIGTERM, for the caller to act on; the next does what it did before.

    A `KeyboardInterrupt` that is raised inside ``__del__`` is printed and goes no further [1]_, and a cluster's client
    makes and deletes many objects in the main thread.

    Yields
    ------
    callable
        Tells whether one came; always False outside the main thread, which alone hears them.

    Raises
    ------
    KeyboardInterrupt
        One came and the caller, who was not told, ended without an error.

    References
    ----------
    .. [1] Python Language Reference, section 3.3.1, ``object.__del__``: exceptions that occur during its execution are
       ignored.
    """
    # an event has a lock, on which a second signal would wait for ever while the first one holds it
    came: list[int] = []
    told: list[int] = []
    before = _handlers()

    def hear(number: int, frame: FrameType | None) -> None:
        if came:
            before[signal.Signals(number)](number, frame)
        came.append(number)

    def tell() -> bool:
        told.extend(came)
        return bool(told)

    for each in before:
        signal.signal(each, hear)
    try:
        yield tell
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
    # it came after the last look
    if came and not told:
        raise KeyboardInterrupt


def _handlers() -> dict[signal.Signals, Handler]:
    """Find what answers to each now; what ends the program at once, or ignores it, stays as it is."""
    if threading.current_thread() is not threading.main_thread():
        return {}
    found = {each: signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM)}
    return {each: handler for each, handler in found.items() if callable(handler)}

"""Ctrl-C that is neither lost nor breaks into a cluster's client: Python throws some interrupts away."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["interrupts_held"]


@contextmanager
def interrupts_held() -> Iterator[Callable[[], bool]]:
    """Only remember the first SIGINT or SIGTERM, for the caller to act on; the next does what it did before.

    A `KeyboardInterrupt` that is raised inside ``__del__`` is printed and goes no further [1]_, and a cluster's client
    makes and deletes many objects in the main thread.

    Yields
    ------
    callable
        Tells whether one came; always False outside the main thread, which alone hears them.

    References
    ----------
    .. [1] Python Language Reference, section 3.3.1, ``object.__del__``: exceptions that occur during its execution are
       ignored.
    """
    came = threading.Event()
    before = {}
    if threading.current_thread() is threading.main_thread():
        for each in (signal.SIGINT, signal.SIGTERM):
            handler = signal.getsignal(each)
            # one that ends the program at once, or that is ignored, stays as it is
            if callable(handler):
                before[each] = handler

    def hear(number: int, frame: FrameType | None) -> None:
        if came.is_set():
            before[signal.Signals(number)](number, frame)
        came.set()

    for each in before:
        signal.signal(each, hear)
    try:
        yield came.is_set
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)

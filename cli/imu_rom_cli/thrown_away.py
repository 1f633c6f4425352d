"""Ctrl-C that Python throws away, raised once more: one that comes inside ``__del__`` goes no further by itself."""

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["interrupts_raised_again"]

_AGAIN_S = 0.05


@contextmanager
def interrupts_raised_again() -> Iterator[None]:
    """Interrupt the main thread again, a moment later, where Python ignored a `KeyboardInterrupt` [1]_.

    Yields
    ------
    None
        While it does so.

    References
    ----------
    .. [1] Python Language Reference, section 3.3.1, ``object.__del__``: exceptions that occur during its execution are
       ignored; Python Standard Library, ``sys.unraisablehook``, is told of them.
    """
    usual = sys.unraisablehook
    again: list[threading.Timer] = []

    def hear(thrown: "sys.UnraisableHookArgs") -> None:
        if not issubclass(thrown.exc_type, KeyboardInterrupt):
            usual(thrown)
            return
        # by another thread, since here it would be thrown away once more
        timer = threading.Timer(_AGAIN_S, _interrupt)
        timer.daemon = True
        again.append(timer)
        timer.start()

    sys.unraisablehook = hear
    try:
        yield
    finally:
        sys.unraisablehook = usual
        # what was to be interrupted is over
        for each in again:
            each.cancel()


def _interrupt() -> None:
    # a signal, so that whatever waits is woken
    if sys.platform == "win32":
        signal.raise_signal(signal.SIGINT)
    else:
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)

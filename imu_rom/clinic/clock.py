"""What time it is, handed in from outside so that faults of a clock can be tried out."""

import time
from typing import Protocol

__all__ = ["Clock", "SystemClock"]


class Clock(Protocol):
    """Tells the time; whoever needs it is given one."""

    def now_ms(self) -> int:
        """Tell the time.

        Returns
        -------
        int
            Milliseconds since 1970-01-01 UTC.
        """
        ...


class SystemClock:
    """The machine's own clock."""

    def now_ms(self) -> int:
        """Tell the time.

        Returns
        -------
        int
            Milliseconds since 1970-01-01 UTC.
        """
        return time.time_ns() // 1_000_000

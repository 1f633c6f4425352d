"""What was measured: files read into SI units on one time base.

``reading.read_recording`` reads whatever is named: ``bids`` (BIDS Motion) or ``delimited`` (text as loggers write it).
``clock`` and ``timebase`` make one even time base of the rows, and ``quality`` refuses what nothing can be measured
from. ``model`` holds what comes out.
"""

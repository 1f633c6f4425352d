"""From two small motion sensors to the compressive end-range exposure of a tendon.

One corridor, walked once, left to right::

    file -> recording -> motion -> dose -> session -> exchange -> course -> report

``recording``
    What was measured: files read into SI units on one time base.
``motion``
    What the joint did: attitudes, alignment, joint angle, repetitions, sets.
``dose``
    What the tendon got, against what was prescribed.
``session``
    One sitting analysed from end to end.
``exchange``
    Files that other programs read.
``wording``
    Sentences and cautions, one voice for all that people read.
``course``
    A folder over weeks: plan, diary, results, what is new.
``report``
    Pages that people read.
``cohort``
    A dataset of many people as tables; beside ``report``.

Lower rooms never import higher ones.
"""

__version__ = "0.1.0"

__all__ = ["__version__"]

"""What must hold before the next stage: the criteria to progress, as the clinician set them."""

from dataclasses import dataclass

__all__ = ["Criteria", "LoadTest"]


@dataclass(frozen=True)
class LoadTest:
    """A named test under load, whose pain is noted in the diary.

    Parameters
    ----------
    name : str
        What is done, in words ("10 single-leg heel raises").
    pain_at_most : float
        Highest pain of 10 with which it is passed.
    """

    name: str
    pain_at_most: float


@dataclass(frozen=True)
class Criteria:
    """Criteria to progress; one that is None is not asked.

    Parameters
    ----------
    share_of_dose : float or None
        Share of the prescribed repetitions that must have been done, 0 to 1.
    pain_during_at_most, pain_after_at_most, pain_next_morning_at_most : float or None
        Highest pain of 10, on each of the stable days.
    no_rise_week_on_week : bool
        True where morning pain and stiffness must not rise from one week to the next.
    days_stable : int or None
        How many days in a row, up to now, all of this must have held.
    load_test : LoadTest or None
        The test to be passed.
    side_difference_deg_at_most : float or None
        Largest difference of the end range between the sides.
    in_words : tuple of str
        What else the clinician asks; answered by the clinician alone.
    """

    share_of_dose: float | None = None
    pain_during_at_most: float | None = None
    pain_after_at_most: float | None = None
    pain_next_morning_at_most: float | None = None
    no_rise_week_on_week: bool = False
    days_stable: int | None = None
    load_test: LoadTest | None = None
    side_difference_deg_at_most: float | None = None
    in_words: tuple[str, ...] = ()

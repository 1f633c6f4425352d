"""What speaks for going on, staying or stepping back: criteria, flares, patterns, reasons; it never decides."""

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

__all__ = [
    "CaseFor",
    "CriterionAnswer",
    "Flare",
    "Missing",
    "Pattern",
    "PatternName",
    "Reason",
    "RedFlagDay",
    "StopDay",
    "ZeroMoved",
]

Side = Literal["left", "right"]

CriterionName = Literal[
    "share of dose",
    "pain during",
    "pain after",
    "pain next morning",
    "no rise of morning pain",
    "no rise of morning stiffness",
    "load test",
    "side difference",
    "in words",
]

PatternName = Literal[
    "stops short",
    "stops short and shrinking",
    "complete but shallow",
    "past the limit",
    "tempo shorter",
    "holds shorter",
    "fatigue within a set",
    "more than prescribed",
    "side difference",
    "morning pain rises with exposure",
    "gap in recordings",
]


@dataclass(frozen=True)
class CriterionAnswer:
    """One criterion of the stage, with the numbers that say so.

    Parameters
    ----------
    name : str
        Which criterion.
    asked : float or str or None
        The bound; the words of one in words; None for those that only ask for no rise.
    answer : {"met", "not met", "not enough data", "for the clinician"}
        Never met without data.
    from_day, to_day : date or None
        Days that it was judged over; None where by none.
    found : float or None
        What stands against the bound: the highest pain, the share, the difference. None: no data.
    days_asked, days_answered : int
        Days on which an answer was asked for, and those that have one.
    days_against : tuple of date
        Days that break it.
    numbers : dict of str to float
        What else was counted: for the share of the dose ``repetitions_prescribed``, ``repetitions_recorded``,
        ``repetitions_ticked``, ``share_recorded``; for no rise ``mean_before``, ``mean_now``, ``difference_low``,
        ``difference_high``, ``answered_before``, ``answered_now``, ``smallest_rise``; for the side difference
        ``difference_deg``, ``low_deg``, ``high_deg``; for the load test ``days_ago``.
    detail : str
        Name of the exercise or of the load test it is about; empty otherwise.
    """

    name: CriterionName
    asked: float | str | None
    answer: Literal["met", "not met", "not enough data", "for the clinician"]
    from_day: date | None
    to_day: date | None
    found: float | None = None
    days_asked: int = 0
    days_answered: int = 0
    days_against: tuple[date, ...] = ()
    numbers: dict[str, float] = field(default_factory=dict)
    detail: str = ""


@dataclass(frozen=True)
class Flare:
    """A day on which pain went above the acceptable band, or did not settle in time.

    Parameters
    ----------
    day : date
        The day of the exercises.
    kinds : tuple of str
        Of ``"during"``, ``"after"``, ``"next morning"`` (above the band) and ``"not settled"``.
    highest_pain : float
        Highest of that day's answers.
    baseline : float or None
        What pain should have come back to; None where not needed.
    """

    day: date
    kinds: tuple[Literal["during", "after", "next morning", "not settled"], ...]
    highest_pain: float
    baseline: float | None


@dataclass(frozen=True)
class StopDay:
    """A day with an answer at which to stop and contact the clinician.

    Parameters
    ----------
    day : date
        The day that it belongs to.
    what : {"pain before", "pain during", "pain after", "pain next morning", "load test pain", "stiffness"}
        Which answer.
    value : float
        Of 10, or minutes.
    bound : float
        What it is above of.
    """

    day: date
    what: Literal["pain before", "pain during", "pain after", "pain next morning", "load test pain", "stiffness"]
    value: float
    bound: float


@dataclass(frozen=True)
class RedFlagDay:
    """A day for which the diary names a sign that needs somebody to look at the person.

    Parameters
    ----------
    day : date
        The day.
    words : tuple of str
        Words of the diary's column ``red_flag``.
    recent : bool
        True where it is not longer ago than ``pain.red_flag_recent_days``, counted from the last day.
    """

    day: date
    words: tuple[str, ...]
    recent: bool


@dataclass(frozen=True)
class ZeroMoved:
    """Another shoe or heel lift than the plan's: it turns the ankle's zero.

    Parameters
    ----------
    day : date
        When.
    exercise : str or None
        Of a recording; None: said in the diary.
    side : {"left", "right"} or None
        Of a recording.
    what : {"footwear", "heel lift"}
        What differs.
    prescribed, found : str
        In the plan's and the recording's or diary's words.
    moved_deg : float or None
        By how much a heel lift turns the zero; None where its height is not known.
    """

    day: date
    exercise: str | None
    side: Side | None
    what: Literal["footwear", "heel lift"]
    prescribed: str
    found: str
    moved_deg: float | None


@dataclass(frozen=True)
class Pattern:
    """Something seen over several sessions; a name for what is seen, never for its cause.

    Parameters
    ----------
    name : str
        Which.
    exercise : str or None
        Of which exercise; None: of the course.
    side : {"left", "right"} or None
        On which side.
    answer : {"seen", "not seen", "undecided"}
        Undecided where the data are too few or tell neither.
    from_day, to_day : date or None
        First and last day that it rests on; None where there is none.
    numbers : dict of str to float
        Its evidence, by name with unit (`imu_rom.dose.patterns` lists them).
    why_undecided : {"", "too few", "zero in doubt", "between", "not prescribed", "not measured"}
        What keeps it undecided.
    days : tuple of date
        Days that show it most.
    """

    name: PatternName
    exercise: str | None
    side: Side | None
    answer: Literal["seen", "not seen", "undecided"]
    from_day: date | None
    to_day: date | None
    numbers: dict[str, float] = field(default_factory=dict)
    why_undecided: Literal["", "too few", "zero in doubt", "between", "not prescribed", "not measured"] = ""
    days: tuple[date, ...] = ()


@dataclass(frozen=True)
class Reason:
    """One reason of a case.

    Parameters
    ----------
    kind : {"criterion", "flare", "stop", "pattern", "no criteria"}
        What it rests on.
    criterion : CriterionAnswer or None
        The criterion.
    pattern : Pattern or None
        The pattern.
    days : tuple of date
        Days of the flares or stops.
    """

    kind: Literal["criterion", "flare", "stop", "pattern", "no criteria"]
    criterion: CriterionAnswer | None = None
    pattern: Pattern | None = None
    days: tuple[date, ...] = ()


@dataclass(frozen=True)
class Missing:
    """Something that is not known and would help.

    Parameters
    ----------
    what : str
        One of ``"frequency"`` (the plan does not say how often), ``"tempo"``, ``"recordings"`` (fewer than asked for),
        ``"no recording"`` (none in the stage), ``"diary"`` (days without a line), ``"pain during"``, ``"pain after"``,
        ``"pain next morning"``, ``"load test"``, ``"between-day check"`` (the detectable change is only a lower bound),
        ``"criteria"`` (the stage has none), ``"stage"`` (none applied), ``"compressive angle"``, ``"zero"`` (in doubt).
    exercise : str or None
        Of which exercise.
    found, asked : float or None
        How many of how many.
    days : tuple of date
        On which days.
    """

    what: Literal[
        "frequency",
        "tempo",
        "recordings",
        "no recording",
        "diary",
        "pain during",
        "pain after",
        "pain next morning",
        "load test",
        "between-day check",
        "criteria",
        "stage",
        "compressive angle",
        "zero",
    ]
    exercise: str | None = None
    found: float | None = None
    asked: float | None = None
    days: tuple[date, ...] = ()


@dataclass(frozen=True)
class CaseFor:
    """What speaks for each of the three, for the clinician to weigh.

    Parameters
    ----------
    progress, stay, step_back : tuple of Reason
        Reasons for each.
    held_back_by_flare : bool
        True where a flare within the stable days holds progression back, whatever the dose.
    missing : tuple of Missing
        What is not known and would help.
    """

    progress: tuple[Reason, ...]
    stay: tuple[Reason, ...]
    step_back: tuple[Reason, ...]
    held_back_by_flare: bool
    missing: tuple[Missing, ...]

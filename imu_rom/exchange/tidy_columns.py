"""The tables that go out of a result: each column with its unit, meaning and formula. One row is one observation.

Columns that ``repetitions.csv`` and ``sets.csv`` have keep their names; here they are joined by the keys that tell
sessions and exercises apart. Units are in UCUM's words.
"""

from dataclasses import dataclass

from imu_rom.exchange.tables import REPETITION_COLUMNS, SET_COLUMNS

__all__ = ["REPETITIONS", "SAMPLES", "SESSIONS", "SETS", "Column", "TableLayout", "column"]

ANSWERS = "yes, no, undecided, not prescribed"
PAST = "sum over the samples' straight path of the time for which angle > compressive angle, within its repetitions"
LOW = "the same past (compressive angle + 1.96 u), u the standard uncertainty of what is shared, at that angle"
HIGH = "the same past (compressive angle - 1.96 u), plus the time without data"


@dataclass(frozen=True)
class Column:
    """One column.

    Parameters
    ----------
    name : str
        Its heading; the unit stands at its end.
    kind : {"text", "number", "whole number", "yes or no"}
        What its cells hold; any may be empty where nothing is known or prescribed.
    unit : str
        UCUM; empty where there is none.
    meaning : str
        What it is.
    formula : str
        How it is worked out; empty where it is measured, prescribed or counted.
    """

    name: str
    kind: str
    unit: str
    meaning: str
    formula: str = ""


@dataclass(frozen=True)
class TableLayout:
    """One table.

    Parameters
    ----------
    name : str
        Name of its file without the ending.
    row : str
        What one row is.
    key : tuple of str
        Columns that tell rows apart, and join tables.
    columns : tuple of Column
        In order.
    """

    name: str
    row: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The heading."""
        return tuple(each.name for each in self.columns)


KINDS = {"t": "text", "n": "number", "w": "whole number", "y": "yes or no"}


def column(name: str, kind: str, meaning: str, formula: str = "", unit: str | None = None) -> Column:
    """Describe a column; the unit follows from its name.

    Parameters
    ----------
    name : str
        Its heading.
    kind : {"t", "n", "w", "y"}
        Text, number, whole number, yes or no.
    meaning, formula : str
        As `Column` has them.
    unit : str, optional
        Where the name does not say it.

    Returns
    -------
    Column
        The column.
    """
    if unit is None:
        ends = (("_deg_s", "deg.s"), ("_deg", "deg"), ("_s", "s"), ("_hz", "Hz"), ("_min", "min"), ("_mm", "mm"))
        unit = next((each for end, each in ends if name.endswith(end)), "1" if kind == "n" else "")
        unit = unit if kind in "nw" else ""
    return Column(name, KINDS[kind], unit, meaning, formula)


_SESSION = column("session", "t", "name of the recording")
_PART = column("part", "w", "which exercise of the recording, from 1 in order of time")
_EXERCISE = column("exercise", "t", "its name in the plan")
_SIDE = column("side", "t", "side of the body: left, right")
_SET = column("set", "w", "which set of the exercise, from 1")

SESSIONS = TableLayout(
    "sessions",
    "one exercise of one recording",
    ("session", "part"),
    (
        _SESSION,
        _PART,
        column("patient", "t", "pseudonym"),
        column("bids_subject", "t", "BIDS subject label of the same person"),
        column("recorded_at", "t", "time of the first sample, RFC 3339 with its offset from UTC"),
        column("task", "t", "BIDS task label of the recording"),
        column("plan", "t", "title of the plan"),
        column("tendon_site", "t", "tendon site that the plan is for"),
        column("stage", "t", "stage of the plan that applied"),
        _EXERCISE,
        column("candidates", "t", "where nobody can tell which exercise it is: those it may be, apart by spaces"),
        _SIDE,
        column("joint", "t", "joint"),
        column("motion", "t", "motion in which angles are positive"),
        column("kind", "t", "what is counted: repetitions, hold, stretch"),
        column("rate_hz", "n", "sampling rate"),
        column("duration_s", "n", "time that the recording covers"),
        column("worn_start_s", "n", "from when the sensors were worn with the mounting unchanged"),
        column("worn_stop_s", "n", "until when"),
        column("zero_start_s", "n", "start of the neutral pose that gives the zero"),
        column("zero_stop_s", "n", "its end"),
        column("zero_source", "t", "auto: found; given: named by a person"),
        column("slips", "w", "slips of the sensors that were noticed", unit="1"),
        column("prescribed_sets", "w", "prescribed", unit="1"),
        column("prescribed_repetitions", "w", "prescribed in all sets", unit="1"),
        column("window_low_deg", "n", "prescribed end range, lower edge"),
        column("window_high_deg", "n", "prescribed end range, upper edge; empty where it is open or not prescribed"),
        column("limit_deg", "n", "angle not to be passed, as prescribed"),
        column("compression_threshold_deg", "n", "compressive angle, as prescribed"),
        column("compression_threshold_basis", "t", "how the compressive angle was chosen"),
        column("sets", "w", "sets done", unit="1"),
        column("repetitions", "w", "complete repetitions done", unit="1"),
        column("partial", "w", "partial repetitions done", unit="1"),
        column("past_threshold_s", "n", "time past the compressive angle over all sets", PAST),
        column("past_threshold_low_s", "n", "lower end of its 95 % interval", LOW),
        column("past_threshold_high_s", "n", "upper end of its 95 % interval", HIGH),
        column("longest_past_threshold_s", "n", "longest stretch past the compressive angle"),
        column("excess_deg_s", "n", "time past the compressive angle weighted by the degrees past it",
               "integral of max(0, angle - compressive angle) over time, within the repetitions"),
        column("loaded_s", "n", "of the time past it, in phases that the plan declares loaded"),
        column("unloaded_s", "n", "of the time past it, in phases that the plan declares unloaded"),
        column("outside_sets_s", "n", "time past the compressive angle outside the sets' repetitions"),
        column("outside_sets_low_s", "n", "lower end of its 95 % interval"),
        column("outside_sets_high_s", "n", "upper end of its 95 % interval"),
        column("u_shared_deg", "n", "standard uncertainty that the whole session shares, at the largest excursion",
               "root of the sum of squares of the budget's terms shared by the session"),
        column("u_set_deg", "n", "standard uncertainty that each set has of its own, at the largest excursion",
               "root of the sum of squares of the budget's terms shared by a set"),
        column("findings", "t", "codes of what was noticed about the recording, apart by spaces"),
        column("program_version", "t", "version of imu-rom that analysed it"),
    ),
)  # fmt: skip

_OF_A_REPETITION = {
    each.name: each
    for each in (
        _EXERCISE,
        _SIDE,
        _SET,
        column("repetition", "w", "which repetition of the set, from 1, complete and partial together"),
        column("start_s", "n", "leaving the start position, from the recording's start"),
        column("end_range_s", "n", "the deepest point, from the recording's start"),
        column("stop_s", "n", "back at the start position, from the recording's start"),
        column("end_range_deg", "n", "angle of the deepest point, without the bias that noise gives a maximum"),
        column("end_range_low_deg", "n", "lower end of its 95 % interval",
               "end_range_deg - 1.96 u, u from all parts of the uncertainty at that angle"),
        column("end_range_high_deg", "n", "upper end of its 95 % interval",
               "end_range_deg + 1.96 u, u from all parts of the uncertainty at that angle"),
        column("held_deg", "n", "median angle within 2 deg of the end range, where held 0.3 s or more"),
        column("hold_s", "n", "time held at the end range", "hold_stop_s - hold_start_s"),
        column("eccentric_s", "n", "time on the way there", "hold_start_s - start_s"),
        column("concentric_s", "n", "time on the way back; empty where there was none", "stop_s - hold_stop_s"),
        column("past_threshold_s", "n", "time past the compressive angle", PAST),
        column("past_threshold_low_s", "n", "lower end of its 95 % interval", LOW),
        column("past_threshold_high_s", "n", "upper end of its 95 % interval", HIGH),
        column("excess_deg_s", "n", "that time weighted by the degrees past it",
               "integral of max(0, angle - compressive angle) over time"),
        column("probability_reached", "n", "probability that the window's lower edge, or the floor, was reached"),
        column("reached", "t", f"{ANSWERS}, at the plan's decide value"),
        column("probability_within_limit", "n", "probability that the limit was kept"),
        column("within_limit", "t", f"{ANSWERS}, at the plan's decide value"),
        column("complete", "y", "whether it goes at least 70 % (a setting) of the set's usual way"),
        column("foot_deg", "n", "where the floor is asked for: the foot's inclination nearest to lying flat"),
        column("shank_lean_deg", "n", "where the floor is asked for: the shank's lean then"),
        column("ended_early", "y", "of a hold or stretch: left before its time"),
        column("shaking_deg", "n", "of a hold or stretch: root mean square about its mean over 1 s"),
        column("sag_deg", "n", "of a hold or stretch: change of the angle from its start to its end"),
        column("sag_uncertainty_deg", "n", "standard uncertainty of that change"),
    )
}  # fmt: skip

REPETITIONS = TableLayout(
    "repetitions",
    "one repetition, or one hold",
    ("session", "part", "set", "repetition"),
    (
        _SESSION,
        _PART,
        *(_OF_A_REPETITION[name] for name in REPETITION_COLUMNS),
        column("start_deg", "n", "angle of the start position"),
        column("hold_start_s", "n", "start of the dwell at the end range, from the recording's start"),
        column("hold_stop_s", "n", "its end; the same instant where there is no dwell"),
        column("end_range_uncertainty_deg", "n", "standard uncertainty of end_range_deg from noise alone"),
        column("sustained_deg", "n", "highest angle kept or exceeded for 0.2 s, which is held against the limit"),
        column("deeper_than_asked", "y", "past the window's upper edge, more likely than not"),
        column("touched_by", "t", "codes of findings that touch it and leave it undecided, apart by spaces"),
    ),
)

_OF_A_SET = {
    each.name: each
    for each in (
        _EXERCISE,
        _SIDE,
        _SET,
        column("start_s", "n", "first repetition's start, from the recording's start"),
        column("stop_s", "n", "last repetition's stop, from the recording's start"),
        column("repetitions", "w", "complete repetitions", unit="1"),
        column("partial", "w", "partial repetitions", unit="1"),
        column("prescribed_repetitions", "w", "prescribed", unit="1"),
        column("reached", "w", "complete repetitions that reached the end range", unit="1"),
        column("short", "w", "complete repetitions that did not", unit="1"),
        column("undecided", "w", "complete repetitions of which it can't be told", unit="1"),
        column("past_limit", "w", "repetitions that passed the limit, partial ones included", unit="1"),
        column("hold_s", "n", "time held at the end range", "sum of the repetitions' hold_s"),
        column("past_threshold_s", "n", "time past the compressive angle", PAST),
        column("past_threshold_low_s", "n", "lower end of its 95 % interval, joint over what its repetitions share",
               LOW),
        column("past_threshold_high_s", "n", "upper end of its 95 % interval, joint over what its repetitions share",
               HIGH),
        column("prescribed_low_s", "n", "prescribed time past the compressive angle, at least"),
        column("prescribed_high_s", "n", "prescribed time past it, at most; empty where it is open"),
        column("excess_deg_s", "n", "that time weighted by the degrees past it",
               "integral of max(0, angle - compressive angle) over time, within the repetitions"),
        column("loaded_s", "n", "of that time, in phases that the plan declares loaded"),
        column("unloaded_s", "n", "of that time, in phases that the plan declares unloaded"),
        column("verdict", "t", "met, short, over, undecided, not prescribed"),
    )
}  # fmt: skip

SETS = TableLayout(
    "sets",
    "one set",
    ("session", "part", "set"),
    (
        _SESSION,
        _PART,
        *(_OF_A_SET[name] for name in SET_COLUMNS),
        column("prescribed_derived", "y", "whether the prescribed time was derived from hold and tempo"),
        column("longest_past_threshold_s", "n", "longest stretch past the compressive angle"),
        column("probability_reached", "n", "joint probability that the asked share of repetitions reached"),
        column("probability_within_limit", "n", "joint probability that the limit was kept"),
        column("probability_above_window", "n", "joint probability that the time past is above the prescribed"),
        column("probability_below_window", "n", "joint probability that the time past is below the prescribed"),
    ),
)

SAMPLES = TableLayout(
    "samples",
    "one sample of the joint angle",
    ("session", "time_s"),
    (
        _SESSION,
        _PART,
        column("time_s", "n", "from the recording's start"),
        column("angle_deg", "n", "joint angle from the zero, positive in the exercise's motion"),
        column("standard_uncertainty_deg", "n", "its standard uncertainty, all parts",
               "root of the sum of squares of all terms of the budget at that angle"),
        column("zero_standard_uncertainty_deg", "n", "the part that the whole session shares"),
        column("phase", "t", "setup, neutral, calibration, between, set 1, set 2, ..."),
    ),
)  # fmt: skip

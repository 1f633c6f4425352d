"""The tables of a cohort: those of a result with whose they are, and four of their own.

All tables join by participant and session; one row is one observation.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from imu_rom.exchange.tidy_columns import REPETITIONS, SESSIONS, SETS, Column, TableLayout, column

__all__ = [
    "COHORT_LAYOUTS",
    "COHORT_REPETITIONS",
    "COHORT_SESSIONS",
    "COHORT_SETS",
    "EXPOSURE_CURVES",
    "FAILURES",
    "FINDINGS",
    "REFERENCES",
    "participants_layout",
]

_PARTICIPANT = column("participant", "t", "BIDS subject label of the recording's name, without sub-")
_RECORDING = column("recording", "t", "place of its _motion.tsv within the dataset")
_ALIKE = {each.name: each for each in (*SESSIONS.columns, *SETS.columns)}


def _with_participant(layout: TableLayout, *others: Column) -> TableLayout:
    return replace(layout, key=("participant", *layout.key), columns=(_PARTICIPANT, *layout.columns, *others))


COHORT_SESSIONS = _with_participant(
    SESSIONS,
    column("bids_session", "t", "BIDS session label of the recording's name"),
    column("run", "t", "BIDS run label of the recording's name"),
    column("tracking_system", "t", "BIDS label of the tracking system in the recording's name"),
    _RECORDING,
    column("recording_sha256", "t", "SHA-256 of its _motion.tsv"),
    column("plan_file", "t", "file of the plan that it was compared with"),
    column("plan_sha256", "t", "SHA-256 of that file"),
)
COHORT_SETS = _with_participant(SETS)
COHORT_REPETITIONS = _with_participant(REPETITIONS)

EXPOSURE_CURVES = TableLayout(
    "exposure_curves",
    "one angle of the exposure curve of one set, in steps of 0.1 deg",
    ("participant", "session", "part", "set", "angle_deg"),
    (
        _PARTICIPANT,
        *(_ALIKE[name] for name in ("session", "part", "exercise", "side", "set")),
        column("angle_deg", "n", "an angle in place of the compressive angle"),
        column("time_past_s", "n", "time past that angle; past one deeper than the last it is 0, past one less deep "
               "than the first that of the first",
               "sum over the samples' straight path of the time for which angle > angle_deg, within the repetitions"),
        column("unseen_s", "n", "time of the set without data, which may have been past any angle"),
    ),
)  # fmt: skip

FINDINGS = TableLayout(
    "findings",
    "one thing noticed about a recording",
    ("participant", "session", "finding"),
    (
        _PARTICIPANT,
        _ALIKE["session"],
        column("finding", "w", "which of the recording's, from 1 in order of time"),
        column("code", "t", "stable words for what it is"),
        column("level", "t", "note, caution, problem; a problem leaves a part of the result undecided"),
        column("sentence", "t", "what was noticed"),
        column("start_s", "n", "start of the stretch that it is about"),
        column("stop_s", "n", "its end"),
        column("sensor", "t", "tracked point of the sensor that it is about"),
    ),
)

FAILURES = TableLayout(
    "failures",
    "one recording, or one file of a plan, that could not be used",
    ("kind", "recording"),
    (
        _PARTICIPANT,
        _ALIKE["session"],
        column("kind", "t", "recording, plan"),
        column(
            "recording", "t", "place of its _motion.tsv within the dataset, or of the plan within the folder of plans"
        ),
        column("code", "t", "stable words for why"),
        column("why", "t", "why, and what to do about it"),
    ),
)

REFERENCES = TableLayout(
    "references",
    "one repetition by the sensors and by another measurement of the joint (a JNTANG channel of the recording)",
    ("participant", "session", "part", "set", "repetition", "channel"),
    (
        _PARTICIPANT,
        *(_ALIKE[name] for name in ("session", "part", "exercise", "side", "set")),
        column("repetition", "w", "which repetition of the set, from 1, complete and partial together"),
        column("channel", "t", "name of the other measurement"),
        column("complete", "y", "whether the repetition is complete, by the sensors"),
        column("end_range_deg", "n", "end range by the sensors"),
        column("end_range_low_deg", "n", "lower end of its 95 % interval"),
        column("end_range_high_deg", "n", "upper end of its 95 % interval"),
        column("reference_end_range_deg", "n", "end range by the other measurement, within the same time"),
        column("past_threshold_s", "n", "time past the compressive angle by the sensors"),
        column("past_threshold_low_s", "n", "lower end of its 95 % interval"),
        column("past_threshold_high_s", "n", "upper end of its 95 % interval"),
        column("reference_past_threshold_s", "n", "time past the compressive angle by the other measurement"),
        column("reached", "t", "whether the end range was reached, by the sensors: yes, no, undecided, not prescribed"),
        column("reference_reached", "y", "the same by the other measurement, taken at its word"),
        column("within_limit", "t", "whether the limit was kept, by the sensors"),
        column("reference_within_limit", "y", "the same by the other measurement, taken at its word"),
        column("lag_s", "n", "how much later the other measurement shows the same; taken out",
               "where the variance of the difference is least, within 2 s"),
        column("correlation", "n", "of both angles within the sets, after that"),
        column("zero_difference_deg", "n", "what the other measurement reads in the neutral pose"),
    ),
)  # fmt: skip

COHORT_LAYOUTS = (COHORT_SESSIONS, COHORT_SETS, COHORT_REPETITIONS, EXPOSURE_CURVES, FINDINGS, REFERENCES)
"""The tables of a recording; each has one file for each participant."""

_COUNTS = (
    _PARTICIPANT,
    column("listed", "y", "whether participants.tsv has the person"),
    column("recordings", "w", "recordings in the dataset", unit="1"),
    column("analysed", "w", "of these, analysed", unit="1"),
    column("failed", "w", "of these, not used; failures says why", unit="1"),
)


def participants_layout(names: Sequence[str], meanings: Mapping[str, str]) -> TableLayout:
    """Describe the table of the participants.

    Parameters
    ----------
    names : sequence of str
        Columns of ``participants.tsv`` besides ``participant_id``.
    meanings : mapping of str to str
        What they are, as ``participants.json`` says.

    Returns
    -------
    TableLayout
        Counts first, then the columns as the dataset has them, all as text; where a name is taken, with
        ``participants_`` in front.
    """
    taken = {each.name for each in _COUNTS}
    theirs = tuple(
        column(
            f"participants_{name}" if name in taken else name,
            "t",
            meanings.get(name, "as participants.tsv has it"),
        )
        for name in names
    )
    return TableLayout("participants", "one participant", ("participant",), (*_COUNTS, *theirs))

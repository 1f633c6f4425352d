"""What each field of a plan means, in a few words: the comments of a plan that is written to be edited."""

__all__ = ["HEAD_CHOICES", "field_note"]

_NOTES: dict[str, dict[str, str]] = {
    "plan": {
        "format": "of plan files",
        "title": "heading for people",
        "tendon_site": "which movement compresses it: imu-rom joints --site NAME",
        "irritability": "low, moderate or high: how easily it flares",
        "settles_within_h": "hours within which pain should have settled",
        "patient": "a pseudonym, never a name",
        "stage": "the stage that holds now; change it when the person moves on",
    },
    "stage": {
        "name": "what reports and [plan] stage call it",
        "weeks": "weeks of the published programme, counted from 1",
        "goal": "what it is for, in your words",
        "from": "first day; a stage without it begins when you write one",
    },
    "stage.criteria": {
        "share_of_dose": "of the prescribed repetitions, done",
        "pain_during": "of 10, at most",
        "pain_after": "of 10, at most, straight after",
        "pain_next_morning": "of 10, at most, at the first steps",
        "no_rise_week_on_week": "morning pain and stiffness must not rise",
        "days_stable": "days in a row that all of this held",
        "load_test": "a test under load, and its pain of 10 at most",
        "side_difference_deg": "of the end range between the sides, at most",
        "in_words": "you answer these yourself",
    },
    "stage.exercise": {
        "name": "letters and digits: the task label of its recordings",
        "in_words": "what is done, for people",
        "kind": "counted as time in a position",
        "joint": "what is measured",
        "motion": "its positive direction",
        "side": "left or right",
        "proximal": "the recording's name of the upper sensor",
        "distal": "the recording's name of the lower sensor",
        "calibration_movement": "three slow ones straight after the neutral pose tell which way is positive",
        "knee": "straight or bent: declared, not measured",
        "sets": "of one session",
        "repetitions": "of each set",
        "repetition_maximum": "a weight that can be moved just so many times",
        "tempo_s": "seconds; eccentric is the way into the end range",
        "rest_s": "seconds between sets",
        "per_day": "sessions a day",
        "days_per_week": "days a week",
        "start_deg": "where each repetition starts",
        "end_range_deg": "where each repetition should end",
        "end_range": "the foot back on the floor ends it, at whatever angle of the ankle",
        "limit_deg": "not to be passed",
        "compression_threshold": "past it the tendon is taken to be compressed; a custom, no measured limit of harm",
        "load": "who carries it, declared: single leg, both legs, other leg, unweighted",
        "surface": "what the person stands on",
        "step_height_mm": "how high it is",
    },
}

HEAD_CHOICES: tuple[tuple[str, str], ...] = (
    ('record = "2 sessions a week"', "how many are recorded with sensors; the rest is ticked in the diary"),
    ("day_starts_at = 03:00:00", "a session before this time belongs to the evening before"),
    ('time_zone = "Europe/Berlin"', "where the person lives, for days and daylight saving"),
)
"""Fields of ``[plan]`` that a new plan offers commented out, each with what it means."""


def field_note(table: str, field: str) -> str | None:
    """Say what a field of a plan means.

    Parameters
    ----------
    table : str
        Header of its table, without brackets, such as ``"stage.exercise"``.
    field : str
        Its name.

    Returns
    -------
    str or None
        A few words; None for what explains itself.
    """
    return _NOTES.get(table, {}).get(field)

"""Poses that somebody names by time: the user, or events beside the recording."""

from dataclasses import dataclass

from imu_rom.recording.model import Event, Recording

__all__ = ["NEUTRAL_POSE", "SECOND_POSE", "SaidPoses", "is_pose", "poses_said"]

Span = tuple[float, float]

NEUTRAL_POSE = "neutral pose"
"""``trial_type`` of an event that says when the neutral pose was held; the space keeps it apart from exercises."""

SECOND_POSE = "second pose"
"""``trial_type`` of an event that says when the plan's second pose was held."""


@dataclass(frozen=True)
class SaidPoses:
    """Poses whose times somebody says.

    Parameters
    ----------
    neutral : tuple of float or None
        (start_s, stop_s) of the neutral pose; None finds it.
    second : tuple of float or None
        (start_s, stop_s) of the plan's second pose; None: nobody says.
    neutral_source : {"auto", "given", "events"}
        Who says when the neutral pose was: nobody, the user, or events.
    """

    neutral: Span | None
    second: Span | None
    neutral_source: str


def is_pose(event: Event) -> bool:
    """Tell whether an event is about a pose, not an exercise.

    Parameters
    ----------
    event : Event
        Of the recording.

    Returns
    -------
    bool
        True for the neutral and the second pose.
    """
    return event.trial_type in {NEUTRAL_POSE, SECOND_POSE}


def poses_said(
    recording: Recording,
    side: str,
    window_s: Span | None,
    neutral: Span | None,
    second: Span | None,
    *,
    knows_second: bool,
) -> SaidPoses:
    """Take the poses that the user names, else those of the events.

    Parameters
    ----------
    recording : Recording
        With its events.
    side : str
        Side that exercises; events of the other one are left alone.
    window_s : tuple of float or None
        (start_s, stop_s) of the part of the recording that is asked about; None: all of it.
    neutral, second : tuple of float or None
        (start_s, stop_s) that the user names.
    knows_second : bool
        False where the plan has no second pose: events about one are then left alone.

    Returns
    -------
    SaidPoses
        The first event of each kind whose middle lies in the part.
    """

    def of(kind: str, user: Span | None) -> Span | None:
        spans = [user] if user is not None else _spans(recording, kind, side)
        return next((each for each in spans if window_s is None or _lies_in(each, window_s)), None)

    found = of(NEUTRAL_POSE, neutral)
    return SaidPoses(
        neutral=found,
        second=of(SECOND_POSE, second) if knows_second or second is not None else None,
        neutral_source="auto" if found is None else "events" if neutral is None else "given",
    )


def _spans(recording: Recording, kind: str, side: str) -> list[Span]:
    return [
        (each.onset_s, stop_s)
        for each, stop_s in zip(recording.events, recording.event_stops_s, strict=True)
        if each.trial_type == kind and each.side in {None, side}
    ]


def _lies_in(pose: Span, window_s: Span) -> bool:
    return window_s[0] <= (pose[0] + pose[1]) / 2 <= window_s[1]

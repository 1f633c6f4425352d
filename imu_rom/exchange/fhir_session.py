"""What sensors saw of one session as FHIR R4B Observations that hang together.

Exercise, sets, and of each set its repetitions' end ranges, time past the compressive angle and count. Each value has
its interval and each answer its probability as components. No text that a person wrote goes into it but the pseudonym
and the exercise's name.
"""

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from imu_rom.dose.comparison import RepetitionComparison, SessionComparison, SetComparison
from imu_rom.dose.exposure import Exposure
from imu_rom.errors import ResultError
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.fhir_parts import (
    Resource,
    body_site,
    clean,
    component,
    digests,
    identified,
    observation,
    own_code,
    quantity,
    reference,
    subject,
)

__all__ = ["session_observations"]


def session_observations(document: ResultDocument, program: Resource) -> list[Resource]:
    """Give what sensors saw of one session.

    Parameters
    ----------
    document : ResultDocument
        What `imu_rom.exchange.result.read_result` returned.
    program : dict
        The Device that made them.

    Returns
    -------
    list of dict
        Observations with their ids, what is whole before its parts.

    Raises
    ------
    ResultError
        The time of recording is none.
    """
    return [
        each
        for number, answer in enumerate(document.exercises)
        for each in _Session(document, program, answer, number).observations()
    ]


def _moment(document: ResultDocument) -> datetime | None:
    if document.recording.recorded_at is None:
        return None
    try:
        moment = datetime.fromisoformat(document.recording.recorded_at)
        offset = moment.utcoffset()
        # room for the recording's own length at either end of the calendar
        within = date(1000, 1, 1) <= moment.date() <= date(9998, 12, 31)
    except (ValueError, OverflowError):
        offset, within = None, False
    if offset is None or not within:
        raise ResultError(
            f"recorded_at must be a time with its offset from UTC, got {document.recording.recorded_at!r:.60}",
            where="the result",
            do="analyse the recording again",
        )
    # FHIR knows offsets of whole minutes
    return moment.astimezone(UTC) if offset.total_seconds() % 60 else moment


class _Session:
    """Observations of one exercise of a session, from the repetitions up."""

    def __init__(self, document: ResultDocument, program: Resource, answer: ExerciseAnswer, number: int) -> None:
        self.answer = answer
        self.exercise = answer.exercise
        self.moment = _moment(document)
        self.duration_s = document.recording.duration_s
        # what else two exercises have alike, such as a count of nothing, must not make one of them
        # a de-identified result has no digests, but a name of its own
        self.origin = f"{digests(document.inputs).strip() or document.recording.label} {number}"
        self.findings = [each for each in document.findings if each.level != "note"]
        undecided = answer.allotment is not None and answer.allotment.is_undecided
        unsafe = undecided or any(each.level == "problem" for each in self.findings)
        self.status = "preliminary" if unsafe else "final"
        self.common = {
            **subject(document.patient or document.bids_subject),
            "bodySite": body_site(self.exercise.joint, self.exercise.side),
            "device": reference(program),
        }

    def observations(self) -> list[Resource]:
        """Give all of them, what is whole before its parts."""
        done, found = self.answer.comparison, []
        members = []
        for each in done.sets:
            parts = self._set(each)
            members.append(parts[0])
            found += parts
        of_all = [
            *self._exposure(done.exposure, (0.0, self.duration_s)),
            *self._outside(done),
            self._count(done.complete, done.partial, done.prescribed_repetitions, (0.0, self.duration_s)),
        ]
        whole = self._made(
            "exercise",
            (0.0, self.duration_s),
            component("uncertainty-session", self.answer.u_shared_deg, "deg")
            + component("uncertainty-set", self.answer.u_set_deg, "deg"),
            method={"text": clean(self.answer.alignment.method)} if clean(self.answer.alignment.method) else None,
            hasMember=[reference(each) for each in (*of_all, *members)],
            note=[{"text": clean(f"{each.level}: {each.code}")} for each in self.findings],
            named=clean(f"{self.exercise.name}: {self.exercise.side} {self.exercise.joint} {self.exercise.motion}"),
        )
        return [whole, *of_all, *found]

    def _made(
        self,
        code: str,
        stretch: tuple[float, float],
        components: Sequence[Resource] = (),
        named: str = "",
        status: str | None = None,
        **elements: object,
    ) -> Resource:
        what = own_code(code)
        if named:
            what = {**what, "text": named}
        when = {}
        if self.moment is not None:
            start, stop = (
                (self.moment + timedelta(seconds=each)).isoformat(timespec="milliseconds") for each in stretch
            )
            when = {"effectivePeriod": {"start": start, "end": stop}}
        told = {**self.common, **when, **elements}
        made = observation(what, "therapy", status or self.status, told, components)
        return identified(made, self.origin)

    def _set(self, done: SetComparison) -> list[Resource]:
        stretch, number = (done.start_s, done.stop_s), component("set-number", done.number)
        parts = [
            *self._exposure(done.exposure, stretch, done),
            self._count(done.complete, done.partial, done.prescribed_repetitions, stretch, number),
            *(self._end_range(each, number) for each in done.repetitions),
        ]
        whole = self._made(
            "set",
            stretch,
            number
            + component("verdict", done.verdict)
            + component("probability-reached", done.probability_reached, "1")
            + component("probability-within-limit", done.probability_within_limit, "1")
            + component("probability-above-window", done.probability_above_window, "1")
            + component("probability-below-window", done.probability_below_window, "1"),
            hasMember=[reference(each) for each in parts],
        )
        return [whole, *parts]

    def _end_range(self, done: RepetitionComparison, number: list[Resource]) -> Resource:
        asked = self.exercise.end_range_deg
        components = (
            *number,
            *component("repetition-number", done.number),
            *component("complete", done.repetition.complete),
            *component("interval-low", done.end_range_low_deg, "deg"),
            *component("interval-high", done.end_range_high_deg, "deg"),
            *component("prescribed-low", _finite(asked and asked[0]), "deg"),
            *component("prescribed-high", _finite(asked and asked[1]), "deg"),
            *component("limit", self.exercise.limit_deg, "deg"),
            *component("probability-reached", done.probability_reached, "1"),
            *component("reached", done.reached),
            *component("probability-within-limit", done.probability_within_limit, "1"),
            *component("within-limit", done.within_limit),
        )
        return self._made(
            "end-range" if self.exercise.angle_is_known else "own-turn",
            (done.repetition.start_s, done.repetition.stop_s),
            components,
            status="preliminary" if done.touched_by else None,
            valueQuantity=quantity(done.repetition.end_range_deg, "deg"),
        )

    def _exposure(
        self, done: Exposure | None, stretch: tuple[float, float], of_set: SetComparison | None = None
    ) -> list[Resource]:
        threshold = self.exercise.compression_threshold
        if done is None or threshold is None:
            return []
        asked = (None, None) if of_set is None else (of_set.prescribed_low_s, of_set.prescribed_high_s)
        components = (
            *([] if of_set is None else component("set-number", of_set.number)),
            *component("interval-low", done.past_threshold_low_s, "s"),
            *component("interval-high", done.past_threshold_high_s, "s"),
            *component("prescribed-low", _finite(asked[0]), "s"),
            *component("prescribed-high", _finite(asked[1]), "s"),
            *component("excess", done.excess_deg_s, "deg.s"),
            *component("longest-stretch", done.longest_s, "s"),
            *component("compressive-angle", threshold.deg, "deg"),
            *component("compressive-angle-basis", threshold.basis),
        )
        value = quantity(done.past_threshold_s, "s")
        return [self._made("time-past-compressive-angle", stretch, components, valueQuantity=value)]

    def _outside(self, done: SessionComparison) -> list[Resource]:
        if done.outside_sets_s is None:
            return []
        components = (
            *component("interval-low", done.outside_sets_low_s, "s"),
            *component("interval-high", done.outside_sets_high_s, "s"),
        )
        value = quantity(done.outside_sets_s, "s")
        return [self._made("time-past-outside-sets", (0.0, self.duration_s), components, valueQuantity=value)]

    def _count(
        self,
        complete: int,
        partial: int,
        prescribed: int,
        stretch: tuple[float, float],
        number: Sequence[Resource] = (),
    ) -> Resource:
        components = (*number, *component("partial", partial, "1"), *component("prescribed", prescribed, "1"))
        return self._made("repetitions", stretch, components, valueQuantity=quantity(complete, "1"))


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None

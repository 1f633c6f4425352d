"""Who needs a look first, and why: reasons from a course's facts, its diary and its uploads; never a diagnosis.

A reason holds the evidence that nobody has looked at yet, each piece by its key; a look at it ends it, and new
evidence begins it again. How soon each wants a look is common practice, no source. A session that is only undecided is
no reason.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby
from typing import Literal

from imu_rom.dose.attention_facts import AskedRecordings, AttentionFacts, SessionFact
from imu_rom.dose.case_answer import StopDay
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.settings import PainSettings

__all__ = ["LEVELS", "AttentionReason", "ReasonKind", "Upload", "attention_reasons"]

WEEK = timedelta(days=7)
FEWEST_SHORT_DAYS = 2
UNREADABLE_IN_A_ROW = 2

ReasonKind = Literal[
    "red flag",
    "pain above the band",
    "stiff for long",
    "past the limit",
    "pain not settled",
    "stops short",
    "left open",
    "unreadable",
    "fewer recordings",
    "not analysed",
]
Level = Literal["at once", "today", "this week"]
PainWhat = Literal["pain before", "pain during", "pain after", "pain next morning", "load test pain"]

LEVELS: dict[ReasonKind, Level] = {
    "red flag": "at once",
    "pain above the band": "today",
    "stiff for long": "today",
    "past the limit": "today",
    "pain not settled": "this week",
    "stops short": "this week",
    "left open": "this week",
    "unreadable": "this week",
    "fewer recordings": "this week",
    "not analysed": "this week",
}
"""How soon each wants a look; in order of kinds, those that want one first first."""


@dataclass(frozen=True)
class Upload:
    """One upload that was not withdrawn.

    Parameters
    ----------
    upload_id : str
        What tells it from others.
    received_on : date
        Day it came in.
    state : {"waiting", "usable", "unusable", "not analysed"}
        Not analysed: the program gave up on it.
    why : str or None
        What is wrong with it, in words.
    left_open : bool
        True where only the clinic can say what its files leave open.
    """

    upload_id: str
    received_on: date
    state: Literal["waiting", "usable", "unusable", "not analysed"]
    why: str | None = None
    left_open: bool = False


@dataclass(frozen=True)
class AttentionReason:
    """One reason to look, with what nobody has looked at yet.

    Parameters
    ----------
    kind : str
        Which.
    keys : tuple of str
        Of each piece of evidence.
    days : tuple of date
        On which days, in order; for a week of fewer recordings its first and last.
    exercise, side : str or None
        Of which exercise.
    numbers : dict of str to float
        Its figures: ``highest`` pain and the ``bound`` it is above or the ``baseline``, ``urgency`` (0 first),
        ``repetitions``, ``complete``, ``limit_deg``, ``largest_deg``, ``sessions``, ``window_low_deg``, ``median_deg``,
        ``recorded``, ``asked``, ``in_a_row``, ``zero_doubtful``.
    words : tuple of str
        What goes with it in words: red flags, which pain, why an upload can't be used.
    uploads : tuple of str
        Those that it speaks of, where it is about uploads and not about days.
    """

    kind: ReasonKind
    keys: tuple[str, ...]
    days: tuple[date, ...]
    exercise: str | None = None
    side: Literal["left", "right"] | None = None
    numbers: dict[str, float] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    uploads: tuple[str, ...] = ()

    @property
    def level(self) -> Level:
        """How soon it wants a look."""
        return LEVELS[self.kind]

    @property
    def rank(self) -> tuple[int, float, int]:
        """What comes first when sorted: the kind, red flags by urgency, then the newest."""
        newest = max((each.toordinal() for each in self.days), default=0)
        return list(LEVELS).index(self.kind), self.numbers.get("urgency", 0.0), -newest


def attention_reasons(
    facts: AttentionFacts | None,
    diary: Sequence[DiaryEntry],
    uploads: Sequence[Upload],
    today: date,
    *,
    seen: AbstractSet[str],
    urgencies: Mapping[str, int],
    settings: PainSettings,
) -> tuple[AttentionReason, ...]:
    """Give the reasons to look at one person.

    Parameters
    ----------
    facts : AttentionFacts or None
        Of the course; None: nothing was followed up yet.
    diary : sequence of DiaryEntry
        Newest version of each entry; those that the facts rest on may be left out, but for red flags.
    uploads : sequence of Upload
        In order of time, withdrawn ones left out.
    today : date
        The person's day.
    seen : set of str
        Keys of evidence that somebody has looked at.
    urgencies : mapping of str to int
        How urgent each red flag is by the diary's word for it, 0 first.
    settings : PainSettings
        The bands of pain.

    Returns
    -------
    tuple of AttentionReason
        Those that want a look first come first; empty where all is routine.
    """
    found = [
        *_red_flags(diary, seen, urgencies),
        *_pain(diary, () if facts is None else facts.stops, seen, settings),
        *_stiffness(diary, () if facts is None else facts.stops, seen, settings),
        *_left_open(uploads, seen),
        *_uploads(uploads, seen),
    ]
    if facts is not None:
        found += [
            *_past_limit(facts, seen),
            *_not_settled(facts, seen),
            *_stops_short(facts, today, seen),
            *_fewer_recordings(facts, today, seen),
        ]
    return tuple(sorted(found, key=lambda each: each.rank))


def _red_flags(
    diary: Sequence[DiaryEntry], seen: AbstractSet[str], urgencies: Mapping[str, int]
) -> Iterator[AttentionReason]:
    new = {
        f"red flag:{each.day}:{word}": (each.day, word)
        for each in diary
        for word in each.red_flags
        if f"red flag:{each.day}:{word}" not in seen
    }
    if new:
        last = max(urgencies.values(), default=0)
        words = sorted({word for _, word in new.values()}, key=lambda word: (urgencies.get(word, last), word))
        yield AttentionReason(
            "red flag",
            tuple(sorted(new)),
            _days(day for day, _ in new.values()),
            numbers={"urgency": float(min(urgencies.get(word, last) for word in words))},
            words=tuple(words),
        )


_ANSWERS: tuple[tuple[PainWhat, str, Callable[[DiaryEntry], float | None]], ...] = (
    ("pain before", "before the exercises", lambda each: each.pain_before),
    ("pain during", "during the exercises", lambda each: each.pain_during),
    ("pain after", "after the exercises", lambda each: each.pain_after),
    ("pain next morning", "next morning", lambda each: each.pain_next_morning),
    ("load test pain", "in the load test", lambda each: each.load_test_pain),
)


def _pain(
    diary: Sequence[DiaryEntry], stops: Sequence[StopDay], seen: AbstractSet[str], settings: PainSettings
) -> Iterator[AttentionReason]:
    bound = min(settings.acceptable_up_to, settings.stop_above)
    words = {what: when for what, when, _ in _ANSWERS}
    found = {(each.value, each.day, words[each.what]) for each in stops if each.what in words}
    for each in diary:
        for _, when, of in _ANSWERS:
            value = of(each)
            if value is not None and value > bound:
                found.add((value, each.day, when))
    new = {key: each for each in found if (key := f"pain:{each[1]}:{each[2]}:{each[0]:g}") not in seen}
    if new:
        highest = max(new.values())
        yield AttentionReason(
            "pain above the band",
            tuple(sorted(new)),
            _days(day for _, day, _ in new.values()),
            numbers={"highest": highest[0], "bound": bound},
            words=(highest[2], str(highest[1])),
        )


def _stiffness(
    diary: Sequence[DiaryEntry], stops: Sequence[StopDay], seen: AbstractSet[str], settings: PainSettings
) -> Iterator[AttentionReason]:
    bound_min = settings.stiffness_stop_above_min
    found = {(each.value, each.day) for each in stops if each.what == "stiffness"}
    found |= {
        (each.stiffness_min, each.day)
        for each in diary
        if each.stiffness_min is not None and each.stiffness_min > bound_min
    }
    new = {key: each for each in found if (key := f"stiff:{each[1]}:{each[0]:g}") not in seen}
    if new:
        longest_min, day = max(new.values())
        yield AttentionReason(
            "stiff for long",
            tuple(sorted(new)),
            _days(one for _, one in new.values()),
            numbers={"highest": longest_min, "bound": bound_min},
            words=(str(day),),
        )


def _not_settled(facts: AttentionFacts, seen: AbstractSet[str]) -> Iterator[AttentionReason]:
    new = {
        key: each
        for each in facts.flares
        if each.baseline is not None
        and "not settled" in each.kinds
        and (key := f"not settled:{each.day}:{each.highest_pain}") not in seen
    }
    if new:
        last = max(new.values(), key=lambda each: each.day)
        baseline = 0.0 if last.baseline is None else last.baseline
        yield AttentionReason(
            "pain not settled",
            tuple(sorted(new)),
            _days(each.day for each in new.values()),
            numbers={"highest": last.highest_pain, "baseline": baseline},
        )


def _by_exercise(sessions: Iterable[SessionFact]) -> Iterator[list[SessionFact]]:
    ordered = sorted(sessions, key=lambda each: (each.exercise, each.side, each.day, each.session))
    for _, own in groupby(ordered, key=lambda each: (each.exercise, each.side)):
        yield list(own)


def _past_limit(facts: AttentionFacts, seen: AbstractSet[str]) -> Iterator[AttentionReason]:
    def key(each: SessionFact) -> str:
        return f"limit:{each.exercise}:{each.side}:{each.day}:{each.session}:{each.past_limit}"

    new = [each for each in facts.sessions if each.within_limit == "no" and key(each) not in seen]
    for own in _by_exercise(new):
        largest = [each.end_range_largest_deg for each in own if each.end_range_largest_deg is not None]
        yield AttentionReason(
            "past the limit",
            tuple(map(key, own)),
            _days(each.day for each in own),
            own[-1].exercise,
            own[-1].side,
            {
                "repetitions": float(sum(each.past_limit for each in own)),
                "zero_doubtful": float(sum(each.zero_doubtful for each in own)),
                **({} if own[-1].limit_deg is None else {"limit_deg": own[-1].limit_deg}),
                **({"largest_deg": max(largest)} if largest else {}),
            },
        )


def _stops_short(facts: AttentionFacts, today: date, seen: AbstractSet[str]) -> Iterator[AttentionReason]:
    """Look for a week in which every session that could be decided stopped short, on two days at least."""
    within = [each for each in facts.sessions if today - WEEK < each.day <= today and not each.zero_doubtful]
    for own in _by_exercise(within):
        short = [each for each in own if each.reached == "no"]
        key = f"short:{own[-1].exercise}:{own[-1].side}:{_week(today)}"
        if len({each.day for each in short}) < FEWEST_SHORT_DAYS or any(each.reached == "yes" for each in own):
            continue
        if key in seen:
            continue
        last = short[-1]
        yield AttentionReason(
            "stops short",
            (key,),
            _days(each.day for each in short),
            last.exercise,
            last.side,
            {
                "sessions": float(len(short)),
                "recorded": float(len(own)),
                "repetitions": float(sum(each.short for each in short)),
                "complete": float(sum(each.complete for each in short)),
                **({} if last.window_low_deg is None else {"window_low_deg": last.window_low_deg}),
                **({} if last.end_range_median_deg is None else {"median_deg": last.end_range_median_deg}),
            },
        )


def _left_open(uploads: Sequence[Upload], seen: AbstractSet[str]) -> Iterator[AttentionReason]:
    new = [each for each in uploads if each.left_open and f"left open:{each.upload_id}" not in seen]
    if new:
        yield AttentionReason(
            "left open",
            tuple(f"left open:{each.upload_id}" for each in new),
            _days(each.received_on for each in new),
            numbers={"sessions": float(len(new))},
            words=(new[-1].why or "",),
            uploads=tuple(each.upload_id for each in new),
        )


def _uploads(uploads: Sequence[Upload], seen: AbstractSet[str]) -> Iterator[AttentionReason]:
    in_a_row = []
    for each in reversed([one for one in uploads if one.state in {"usable", "unusable"} and not one.left_open]):
        if each.state == "usable":
            break
        in_a_row.append(each)
    if len(in_a_row) >= UNREADABLE_IN_A_ROW and (key := f"unreadable:{in_a_row[0].upload_id}") not in seen:
        yield AttentionReason(
            "unreadable",
            (key,),
            _days(each.received_on for each in in_a_row),
            numbers={"in_a_row": float(len(in_a_row))},
            words=(in_a_row[0].why or "",),
            uploads=tuple(each.upload_id for each in reversed(in_a_row)),
        )
    given_up = [
        each for each in uploads if each.state == "not analysed" and f"not analysed:{each.upload_id}" not in seen
    ]
    if given_up:
        yield AttentionReason(
            "not analysed",
            tuple(f"not analysed:{each.upload_id}" for each in given_up),
            _days(each.received_on for each in given_up),
            numbers={"sessions": float(len(given_up))},
            words=(given_up[-1].why or "",),
            uploads=tuple(each.upload_id for each in given_up),
        )


def _fewer_recordings(facts: AttentionFacts, today: date, seen: AbstractSet[str]) -> Iterator[AttentionReason]:
    """Look at the last calendar week that is over; and at the last seven days, where nothing came in at all."""
    monday = today - timedelta(days=today.weekday()) - WEEK
    for asked in facts.asked:
        whole_week = (monday, monday + WEEK - timedelta(days=1))
        lately = (today - WEEK, today - timedelta(days=1))
        for (first, last), enough in ((lately, 1), (whole_week, int(asked.a_week))):
            recorded = _recorded(facts, asked, first, last)
            key = f"fewer:{asked.exercise}:{asked.side}:{_week(today)}"
            if asked.since <= first and recorded < enough <= asked.a_week and key not in seen:
                yield AttentionReason(
                    "fewer recordings",
                    (key,),
                    (first, last),
                    asked.exercise,
                    asked.side,
                    {"recorded": float(recorded), "asked": asked.a_week},
                )
                break


def _recorded(facts: AttentionFacts, asked: AskedRecordings, first: date, last: date) -> int:
    return len(
        {
            (each.day, each.session)
            for each in facts.sessions
            if (each.exercise, each.side) == (asked.exercise, asked.side) and first <= each.day <= last
        }
    )


def _week(day: date) -> str:
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


def _days(days: Iterable[date]) -> tuple[date, ...]:
    return tuple(sorted(set(days)))

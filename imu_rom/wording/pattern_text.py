"""Patterns of a course in sentences: what is seen, with its evidence, and what stays undecided; never a cause."""

from collections.abc import Callable, Mapping, Sequence

from imu_rom.dose.case_answer import Pattern
from imu_rom.wording.course_figures import amount, chance, days_in_words, named, percent, span
from imu_rom.wording.figures import interval, one_decimal

__all__ = ["pattern_name", "pattern_sentences"]

Numbers = Mapping[str, float]

_NAMES = {
    "stops short": "stops short of the window",
    "stops short and shrinking": "stops short, and by more from week to week",
    "complete but shallow": "all repetitions done, but short of the window",
    "past the limit": "goes past the limit",
    "tempo shorter": "moves faster than prescribed",
    "holds shorter": "holds shorter than prescribed",
    "fatigue within a set": "changes from the first to the last repetition of a set",
    "more than prescribed": "more done than prescribed",
    "side difference": "differs between the sides",
    "morning pain rises with exposure": "pain next morning goes with the time past the compressive angle",
    "gap in recordings": "days in a row without a recording",
}

SHORT_FIRST = (
    "Check the zero first. Other causes to think of are stiffness, pain, fatigue and caution; how safe the position "
    "feels is something to ask, no sensor tells it."
)


def pattern_name(pattern: Pattern) -> str:
    """Name a pattern for people.

    Parameters
    ----------
    pattern : Pattern
        Which.

    Returns
    -------
    str
        What it is of, and what is seen or looked for.
    """
    of = named(pattern.exercise, pattern.side)
    return f"{of}: {_NAMES[pattern.name]}" if of else _NAMES[pattern.name]


def pattern_sentences(patterns: Sequence[Pattern]) -> tuple[str, ...]:
    """Say which patterns are seen, which are undecided and which are not seen.

    Parameters
    ----------
    patterns : sequence of Pattern
        All that were looked for.

    Returns
    -------
    tuple of str
        A sentence for each that is seen, what to check after those of stopping short, then one for each reason why
        others can't be decided, and one that lists the rest.
    """
    seen = [each for each in patterns if each.answer == "seen"]
    # the two forms say nothing of their own while it is open whether the end range is short at all
    forms = {"stops short and shrinking", "complete but shallow"}
    short = {(each.exercise, each.side) for each in seen if each.name == "stops short"}
    undecided = [
        each
        for each in patterns
        if each.answer == "undecided"
        and each.why_undecided != "not prescribed"
        and (each.name not in forms or (each.exercise, each.side) in short)
    ]
    absent = [each for each in patterns if each.answer == "not seen" and each.name not in forms]
    sentences = [f"Seen: {pattern_name(each)}. {_EVIDENCE[each.name](each)}" for each in seen]
    if any(each.name == "stops short" for each in seen):
        sentences.append(SHORT_FIRST)
    reasons: dict[str, list[str]] = {}
    for each in undecided:
        reasons.setdefault(_undecided(each), []).append(pattern_name(each))
    sentences += [f"Undecided: {'; '.join(names)}. {reason}" for reason, names in reasons.items()]
    if absent:
        sentences.append(f"Looked for and not seen: {'; '.join(pattern_name(each) for each in absent)}.")
    return tuple(sentences)


def _undecided(pattern: Pattern) -> str:
    numbers = pattern.numbers
    if pattern.name == "morning pain rises with exposure":
        if pattern.why_undecided == "too few":
            return (
                f"Only {amount(numbers['days'])} days have both a recording and an answer of the morning after; fewer "
                f"than {amount(numbers['days_asked'])} tell nothing of it."
            )
        return f"{_correlation(numbers)}: the data fit both." if "correlation" in numbers else "Neither varied enough."
    what = {
        "too few": "Too few recordings",
        "zero in doubt": "The zero of most sessions is in doubt",
        "between": "The recordings fit both",
        "not measured": "It was not measured",
    }[pattern.why_undecided or "between"]
    counts = "" if pattern.why_undecided == "too few" else _counts(numbers)
    return f"{what}{f' ({counts})' if counts else ''}."


def _counts(numbers: Numbers) -> str:
    said = []
    for key, word in (
        ("sessions", "sessions judged"),
        ("sets", "sets judged"),
        ("sessions_short", "short of it"),
        ("sessions_reached", "reached it"),
        ("sessions_past", "past it"),
        ("sessions_zero_doubtful", "with a doubtful zero"),
        ("left_sessions", "left"),
        ("right_sessions", "right"),
    ):
        if key in numbers and (numbers[key] or key in {"sessions", "sets", "left_sessions", "right_sessions"}):
            said.append(f"{amount(numbers[key])} {word}")
    return ", ".join(said)


def _when(pattern: Pattern) -> str:
    return span(pattern.from_day, pattern.to_day)


def _doubtful(numbers: Numbers) -> str:
    doubtful = numbers.get("sessions_zero_doubtful", 0.0)
    return f" {amount(doubtful)} more sessions with a doubtful zero are left out." if doubtful else ""


def _short(pattern: Pattern) -> str:
    numbers = pattern.numbers
    depth = ""
    if "end_range_median_deg" in numbers and "window_low_deg" in numbers:
        depth = (
            f" The median end range is {one_decimal(numbers['end_range_median_deg'])} deg, the window begins at "
            f"{numbers['window_low_deg']:g} deg."
        )
    return (
        f"In {amount(numbers['sessions_short'])} of {amount(numbers['sessions'])} recorded sessions, {_when(pattern)}; "
        f"chance alone gives that in {chance(numbers['probability_by_chance'])}.{depth}{_doubtful(numbers)}"
    )


def _shrinking(pattern: Pattern) -> str:
    numbers = pattern.numbers
    low_high = interval(numbers["slope_low_deg_per_week"], numbers["slope_high_deg_per_week"])
    return (
        f"The end range goes by {one_decimal(numbers['slope_deg_per_week'])} deg a week (95 % interval {low_high}), "
        f"{_when(pattern)}."
    )


def _shallow(pattern: Pattern) -> str:
    return (
        f"The sessions that fell short have {percent(pattern.numbers['share_of_repetitions'])} % of the prescribed "
        "repetitions, and the end range does not fall."
    )


def _limit(pattern: Pattern) -> str:
    numbers = pattern.numbers
    return (
        f"The limit of {numbers['limit_deg']:g} deg was passed in {amount(numbers['sessions_past'])} of "
        f"{amount(numbers['sessions'])} recorded sessions, in {amount(numbers['repetitions_past'])} repetitions "
        f"({days_in_words(pattern.days)}); chance alone gives that in {chance(numbers['probability_by_chance'])}."
        f"{_doubtful(numbers)}"
    )


def _pace(pattern: Pattern) -> str:
    numbers = pattern.numbers
    said = []
    for phase, words in (("eccentric", "into the end range"), ("hold", "held there"), ("concentric", "back")):
        if f"{phase}_s" in numbers and numbers[f"{phase}_sessions_shorter"]:
            said.append(
                f"{words} a median of {one_decimal(numbers[f'{phase}_s'])} s of {numbers[f'{phase}_prescribed_s']:g} s "
                f"prescribed, under {numbers[f'{phase}_least_s']:.3g} s in "
                f"{amount(numbers[f'{phase}_sessions_shorter'])} of {amount(numbers['sessions'])} recorded sessions"
            )
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}; {_when(pattern)}."


def _fatigue(pattern: Pattern) -> str:
    numbers = pattern.numbers
    said = []
    if "end_range_change_deg" in numbers:
        said.append(f"end range {one_decimal(numbers['end_range_change_deg'])} deg")
    for key, words in (
        ("eccentric_change_share", "time into the end range"),
        ("concentric_change_share", "time back"),
    ):
        if key in numbers:
            said.append(f"{words} {100 * numbers[key]:+.0f} %")
    return f"Median change over {amount(numbers['sets'])} sets: {', '.join(said)}; {_when(pattern)}."


def _more(pattern: Pattern) -> str:
    numbers = pattern.numbers
    said = []
    if numbers["weeks_more"]:
        said.append(
            f"in {amount(numbers['weeks_more'])} of {amount(numbers['weeks'])} weeks, up to "
            f"{percent(numbers['largest_share'])} % of the prescribed repetitions"
        )
    if numbers["sessions_more"]:
        said.append(f"in {amount(numbers['sessions_more'])} of {amount(numbers['sessions'])} recorded sessions")
    text = " and ".join(said)
    return f"{text[:1].upper()}{text[1:]}; {_when(pattern)}."


def _sides(pattern: Pattern) -> str:
    numbers = pattern.numbers
    return (
        f"Left less right is {one_decimal(numbers['difference_deg'])} deg "
        f"(95 % interval {interval(numbers['low_deg'], numbers['high_deg'])}), of {amount(numbers['left_sessions'])} "
        f"left and {amount(numbers['right_sessions'])} right sessions, {_when(pattern)}."
    )


def _correlation(numbers: Numbers) -> str:
    return (
        f"Rank correlation {numbers['correlation']:.2f}, the course of time taken out (95 % interval "
        f"{numbers['correlation_low']:.2f} to {numbers['correlation_high']:.2f}, {amount(numbers['days'])} days)"
    )


def _lagged(pattern: Pattern) -> str:
    ticked = pattern.numbers["days_with_ticks"]
    beside = (
        f" On {amount(ticked)} of these days sessions were only ticked as well, whose time nobody knows."
        if ticked
        else ""
    )
    return f"{_correlation(pattern.numbers)}. That both go together says nothing of the cause.{beside}"


def _gap(pattern: Pattern) -> str:
    numbers = pattern.numbers
    return (
        f"{amount(numbers['gap_days'])} days, {_when(pattern)}, where a recording was planned about every "
        f"{amount(numbers['planned_days_apart'])} days. Missing is not zero: what was done then is not known from "
        "sensors."
    )


_EVIDENCE: dict[str, Callable[[Pattern], str]] = {
    "stops short": _short,
    "stops short and shrinking": _shrinking,
    "complete but shallow": _shallow,
    "past the limit": _limit,
    "tempo shorter": _pace,
    "holds shorter": _pace,
    "fatigue within a set": _fatigue,
    "more than prescribed": _more,
    "side difference": _sides,
    "morning pain rises with exposure": _lagged,
    "gap in recordings": _gap,
}

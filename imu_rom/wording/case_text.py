"""Where a stage stands, in sentences: its criteria, and the case to progress, stay or step back. It never decides."""

from collections.abc import Callable, Iterator, Sequence

from imu_rom.dose.case_answer import CaseFor, CriterionAnswer, Missing, Reason
from imu_rom.wording.course_figures import amount, days_in_words, percent, span
from imu_rom.wording.course_tables import Table
from imu_rom.wording.figures import counted, interval, one_decimal
from imu_rom.wording.pattern_text import pattern_name

__all__ = ["case_closing", "case_lists", "case_sentences", "criteria_table", "missing_sentences"]

CLINICIAN_DECIDES = "The clinician decides; this only lays out what is known."

_PAIN = {
    "pain during": "pain during at most {} of 10",
    "pain after": "pain after at most {} of 10",
    "pain next morning": "pain next morning at most {} of 10",
}


def criteria_table(stage: str, criteria: Sequence[CriterionAnswer]) -> Table:
    """Show the criteria of the stage.

    Parameters
    ----------
    stage : str
        Its name.
    criteria : sequence of CriterionAnswer
        As they were answered.

    Returns
    -------
    Table
        A row each, with the numbers that say so.
    """
    return Table(
        f"Criteria of stage {stage!r}",
        ("answer", "criterion", "what was found"),
        tuple((each.answer, criterion_name(each), f"{_found(each)}{_judged(each)}") for each in criteria),
        words=(0, 1),
    )


def _judged(criterion: CriterionAnswer) -> str:
    """Say over which days, and on how many of them there is an answer."""
    if criterion.from_day is None:
        return ""
    over = f"; {span(criterion.from_day, criterion.to_day)}"
    if criterion.name in {"load test", "side difference"}:
        return over
    asked, answered = criterion.days_asked, criterion.days_answered
    if criterion.name.startswith("no rise"):
        return f"{over}, {answered} answers, {asked} needed"
    return f"{over}, {answered} of {counted(asked, 'day')} answered"


def criterion_name(criterion: CriterionAnswer) -> str:
    """Say what a criterion asks.

    Parameters
    ----------
    criterion : CriterionAnswer
        Which.

    Returns
    -------
    str
        In words, with its bound.
    """
    asked = criterion.asked
    name = criterion.name
    if name in _PAIN:
        return _PAIN[name].format(f"{asked:g}")
    if name == "share of dose" and isinstance(asked, float | int):
        return f"{percent(asked)} % of the repetitions of {criterion.detail} done"
    if name == "load test":
        return f"load test ({criterion.detail}) with pain at most {asked:g} of 10"
    if name == "side difference":
        return f"sides differ by at most {asked:g} deg" + (f" ({criterion.detail})" if criterion.detail else "")
    if name == "in words":
        return str(asked)
    return name


def _found(criterion: CriterionAnswer) -> str:
    if criterion.name in _PAIN:
        return _found_pain(criterion)
    return _FOUND.get(criterion.name, _found_rise)(criterion)


def _found_pain(criterion: CriterionAnswer) -> str:
    if criterion.found is None:
        return "no answer"
    against = f", on {days_in_words(criterion.days_against)}" if criterion.days_against else ""
    return f"highest {criterion.found:g}{against}"


def _found_share(criterion: CriterionAnswer) -> str:
    numbers = criterion.numbers
    part = numbers["sessions_ticked_in_part"]
    counts = (
        f"{amount(numbers['repetitions_recorded'])} recorded and {amount(numbers['repetitions_ticked'])} ticked of "
        f"{amount(numbers.get('repetitions_prescribed'))}"
    )
    if part:
        counts += f"; {amount(part)} more sessions ticked in part"
    return counts if criterion.found is None else f"{percent(criterion.found)} %: {counts}"


def _found_test(criterion: CriterionAnswer) -> str:
    if criterion.found is None:
        return "no test noted in time"
    return f"pain {criterion.found:g}, {counted(round(criterion.numbers['days_ago']), 'day')} before the last"


def _found_sides(criterion: CriterionAnswer) -> str:
    if criterion.found is None:
        return "not both sides known"
    numbers = criterion.numbers
    low_high = interval(numbers["low_deg"], numbers["high_deg"])
    return f"left less right {one_decimal(numbers['difference_deg'])} deg ({low_high})"


def _found_rise(criterion: CriterionAnswer) -> str:
    if criterion.found is None:
        return "too few answers in one of the weeks"
    numbers = criterion.numbers
    return (
        f"mean {one_decimal(numbers['mean_before'])} before, {one_decimal(numbers['mean_now'])} now (difference "
        f"{interval(numbers['difference_low'], numbers['difference_high'])}); a rise counts from "
        f"{amount(numbers['smallest_rise'])}"
    )


_FOUND: dict[str, Callable[[CriterionAnswer], str]] = {
    "share of dose": _found_share,
    "load test": _found_test,
    "side difference": _found_sides,
    "in words": lambda _: "answered by the clinician alone",
}


def case_sentences(case: CaseFor) -> tuple[str, ...]:
    """Lay out what speaks for going on, for staying and for stepping back.

    Parameters
    ----------
    case : CaseFor
        The reasons.

    Returns
    -------
    tuple of str
        One sentence for each of the three, what holds progression back, and that the clinician decides.
    """
    sentences = [f"{heading}: {'; '.join(reasons)}." for heading, reasons in case_lists(case)]
    return (*sentences, *case_closing(case))


def case_lists(case: CaseFor) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """List what speaks for going on, for staying and for stepping back.

    Parameters
    ----------
    case : CaseFor
        The reasons.

    Returns
    -------
    tuple of (str, tuple of str)
        A heading and its reasons for each of the three, at least one.
    """
    return tuple(
        (heading, tuple(_reason(each) for each in reasons) or ("nothing that is known",))
        for heading, reasons in (
            ("To progress", case.progress),
            ("To stay", case.stay),
            ("To step back", case.step_back),
        )
    )


def case_closing(case: CaseFor) -> tuple[str, ...]:
    """Say what holds progression back, and who decides.

    Parameters
    ----------
    case : CaseFor
        The reasons.

    Returns
    -------
    tuple of str
        One or two sentences.
    """
    if case.held_back_by_flare:
        return "A flare within the days judged holds progression back, whatever the dose.", CLINICIAN_DECIDES
    return (CLINICIAN_DECIDES,)


def _reason(reason: Reason) -> str:
    if reason.kind == "criterion" and reason.criterion is not None:
        return f"{criterion_name(reason.criterion)}: {reason.criterion.answer}"
    if reason.kind == "pattern" and reason.pattern is not None:
        return pattern_name(reason.pattern)
    if reason.kind == "flare":
        return f"flare on {days_in_words(reason.days)}"
    if reason.kind == "stop":
        return f"pain or stiffness at which to stop, on {days_in_words(reason.days)}"
    return "the stage has no criteria"


_MISSING = {
    "frequency": "the plan does not say how often {exercise} is to be done, so what is missing of it can't be counted",
    "tempo": "the plan gives no tempo for {exercise}, so its time under tension has nothing to be compared with",
    "recordings": "only {found} of about {asked} asked recordings of {exercise}",
    "no recording": "no recording of {exercise}, about {asked} were asked",
    "diary": "nothing in the diary or from sensors on {days}",
    "pain during": "pain during on {days}",
    "pain after": "pain after on {days}",
    "pain next morning": "pain next morning of {days}",
    "load test": "the load test was not noted",
    "between-day check": (
        "how much the end range varies from day to day with sensors taped anew (imu-rom taping-check), without which "
        "no change is called real"
    ),
    "criteria": "the stage has no criteria to progress",
    "stage": "no stage applied on the last day",
    "compressive angle": "no compressive angle is prescribed for {exercise}",
    "zero": "the zero of {found} of {asked} recorded exercises is in doubt ({days})",
}


def missing_sentences(missing: Sequence[Missing]) -> tuple[str, ...]:
    """Say what is not known and would help.

    Parameters
    ----------
    missing : sequence of Missing
        In order.

    Returns
    -------
    tuple of str
        One sentence that lists it all; empty where nothing is missing.
    """
    words = tuple(_missing_words(missing))
    return (f"Missing, and would help: {'; '.join(words)}.",) if words else ()


def _missing_words(missing: Sequence[Missing]) -> Iterator[str]:
    for each in missing:
        yield _MISSING[each.what].format(
            exercise=each.exercise, found=amount(each.found), asked=amount(each.asked), days=days_in_words(each.days)
        )

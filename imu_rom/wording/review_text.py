"""What changed since the last review, in sentences: for the page of a session and that of its course."""

from imu_rom.dose.exposure_answer import EndRangeChange
from imu_rom.dose.since_review import Review
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.wording.course_figures import named
from imu_rom.wording.figures import one_decimal

__all__ = ["NO_REVIEW", "change_told", "review_sentences", "review_words", "signed"]

NO_REVIEW = "The plan names no day of a stage, of its own beginning or of an own range, so no day of a review is known."
NEW = {
    "stage": "a stage began",
    "plan": "the plan, or a version of it, began",
    "own range": "an own range was measured",
}


def signed(value: float) -> str:
    """Write a change.

    Parameters
    ----------
    value : float
        The change.

    Returns
    -------
    str
        With one decimal and its sign; nothing has none.
    """
    text = one_decimal(value)
    return text if value < 0 or text == "0.0" else f"+{text}"


def review_words(review: Review) -> str:
    """Name the last review.

    Parameters
    ----------
    review : Review
        The review.

    Returns
    -------
    str
        Its day, and what in the plan says so.
    """
    new = [NEW[each] for each in review.what]
    return f"the last review ({review.day}: {', '.join(new)})"


def change_told(change: EndRangeChange, review: Review) -> str:
    """Say how the end range changed since the last review, and whether that is more than measuring again gives.

    Parameters
    ----------
    change : EndRangeChange
        Since the review.
    review : Review
        The review.

    Returns
    -------
    str
        Half a sentence.
    """
    when = "the last recorded before" if change.from_day < review.day else "the first recorded since"
    figures = (
        f"median deepest point {one_decimal(change.from_deg)} deg on {change.from_day}, {when} {review_words(review)}, "
        f"and {one_decimal(change.to_deg)} deg on {change.to_day}: {signed(change.change_deg)} deg"
    )
    least = "over " if change.detectable.basis == "lower bound" else ""
    mdc95 = f"detectable: {least}{one_decimal(change.detectable.mdc95_deg)} deg"
    if change.answer == "real":
        return f"{figures}, a change, more than measuring again gives ({mdc95})"
    if change.answer == "not shown":
        return f"{figures}, no change shown, as measuring again may give as much ({mdc95})"
    past = change.detectable.basis == "lower bound" and abs(change.change_deg) > change.detectable.mdc95_deg
    why = "how one person varies from day to day is not known" if past else "the zero of one of these days is in doubt"
    return f"{figures}; whether that is a change can't be told ({mdc95}; {why})"


def review_sentences(answer: CourseAnswer) -> tuple[str, ...]:
    """Say what changed since the last review.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    tuple of str
        A sentence for each exercise that was recorded since then; one where none was, or no review is known.
    """
    since = answer.since_review
    if since is None:
        return (NO_REVIEW,)
    said = [f"{named(each.exercise, each.side)}: {change_told(each, since.review)}." for each in since.changes]
    said += [
        f"{named(each.exercise, each.side)}: nothing to compare yet since {review_words(since.review)}; {each.day} is "
        "the one recorded day."
        for each in since.first
    ]
    return tuple(said) or (f"Nothing with an angle was recorded since {review_words(since.review)}.",)

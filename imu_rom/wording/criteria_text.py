"""What must hold before the next stage, in words; nothing here says whether it does."""

from imu_rom.dose.criteria import Criteria
from imu_rom.wording.figures import counted

__all__ = ["criteria_in_words"]


def criteria_in_words(criteria: Criteria, usual_days: float) -> list[str]:
    """Say what must hold before the next stage.

    Parameters
    ----------
    criteria : Criteria
        Of a stage.
    usual_days : float
        Days that are judged where the criteria name none (setting ``course.stable_days``).

    Returns
    -------
    list of str
        One phrase each, the days that are judged first; empty where nothing is asked.
    """
    asked: list[str] = []
    if criteria.share_of_dose is not None:
        asked.append(f"at least {100 * criteria.share_of_dose:g} % of the prescribed repetitions done")
    for pain, when in (
        (criteria.pain_during_at_most, "during the exercises"),
        (criteria.pain_after_at_most, "straight after"),
        (criteria.pain_next_morning_at_most, "next morning, at the first steps"),
    ):
        if pain is not None:
            asked.append(f"pain of at most {pain:g} of 10 {when}")
    if criteria.no_rise_week_on_week:
        asked.append("morning pain and stiffness not rising from one week to the next")
    test = criteria.load_test
    if test is not None:
        asked.append(f"load test passed: {test.name}, pain of at most {test.pain_at_most:g} of 10")
    if criteria.side_difference_deg_at_most is not None:
        asked.append(f"end range within {criteria.side_difference_deg_at_most:g} deg of the other side's")
    asked += [f"for the clinician to answer: {each}" for each in criteria.in_words]
    if not asked:
        return []
    days = criteria.days_stable
    judged = counted(days, "day") if days is not None else f"{usual_days:g} days (the usual; days_stable is not set)"
    return [f"all of this, over the last {judged}", *asked]

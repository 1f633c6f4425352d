"""What is prescribed of one exercise, in the phrases that every text about plans is put together from."""

import math
from fractions import Fraction

from imu_rom.dose.exercise import Exercise, Legs
from imu_rom.dose.prescription import prescribed_time_per_set
from imu_rom.dose.sites import TAGS, TaggedText
from imu_rom.dose.totals import DoseTotal
from imu_rom.wording.figures import counted, plural, thing

__all__ = [
    "asked_sets",
    "asked_window",
    "declared_setting",
    "frequency",
    "how_known",
    "is_at",
    "left_out",
    "load_in_words",
    "past_threshold",
    "span_of_weeks",
    "tempo_phases",
    "total_in_words",
]

_SUPPORT: dict[Legs, str] = {
    "single leg": "on one leg",
    "both legs": "on both legs",
    "other leg": "on the other leg",
    "unweighted": "without weight",
}
_SURFACES = {"floor": "on the floor", "step": "on a step", "wedge": "on a wedge"}
_TIMES: dict[float, str] = {1: "once", 2: "twice"}
_LONG_S = 600


def asked_sets(exercise: Exercise) -> str:
    """Say how many sets of how many.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"3 sets of 15 repetitions"``.
    """
    return f"{counted(exercise.sets, 'set')} of {counted(exercise.repetitions, thing(exercise))}"


def frequency(exercise: Exercise) -> str:
    """Say how often.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"twice a day, 7 days a week"``; empty where nothing is prescribed.
    """
    day, week = exercise.per_day, exercise.days_per_week
    parts = [
        f"{_TIMES.get(day, f'{day:g} times')} a day" if day is not None else "",
        f"{week:g} {'day' if week == 1 else 'days'} a week" if week is not None else "",
    ]
    return ", ".join(filter(None, parts))


def tempo_phases(exercise: Exercise) -> str:
    """Say how long each phase of a repetition takes.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"3 s into the end range, 3 s back"``; empty where nothing is prescribed.
    """
    tempo = exercise.tempo
    phases = [
        (tempo.eccentric_s, "into the end range"),
        (tempo.end_range_hold_s, "held there"),
        (tempo.concentric_s, "back"),
        (tempo.top_pause_s, "pause at the start"),
    ]
    return ", ".join(f"{seconds:g} s {what}" for seconds, what in phases if seconds is not None)


def asked_window(exercise: Exercise) -> str:
    """Say between which angles a repetition should end.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"between 5 and 15 deg"``; empty where no window is prescribed.
    """
    if exercise.end_range_deg is None:
        return ""
    low, high = exercise.end_range_deg
    return f"at {low:g} deg or more" if math.isinf(high) else f"between {low:g} and {high:g} deg"


def how_known(value: TaggedText) -> str:
    """Say how well a customary value is known.

    Parameters
    ----------
    value : TaggedText
        Of a tendon site.

    Returns
    -------
    str
        In brackets, with its source.
    """
    return f"({TAGS[value.tag]})" if value.tag == "P" else f"({TAGS[value.tag]}: {value.source})"


def is_at(exercise: Exercise) -> str:
    """Name what a repetition does at its depth.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        ``"end"``; a hold or stretch does ``"lie"`` there.
    """
    return "lie" if exercise.is_held else "end"


def past_threshold(exercise: Exercise) -> str:
    """Say how long each set should spend past the compressive angle.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"20 to 60 s past it"``, and whether that was derived; empty where nothing is prescribed.
    """
    prescribed = prescribed_time_per_set(exercise)
    if prescribed is None:
        return ""
    low_s, high_s, derived = prescribed
    return f"{low_s:.3g} to {high_s:.3g} s past it" + (", derived from count, hold and tempo" if derived else "")


def load_in_words(exercise: Exercise) -> str:
    """Say who carries the load in each phase, and how much.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"on one leg into the end range, back on both legs; full body weight; no weight added"``; empty where
        nothing is declared.
    """
    load = exercise.load
    way_in, way_back = load.eccentric, load.concentric
    hold = " and held there" if exercise.tempo.end_range_hold_s else ""
    if way_in is not None and way_in == way_back:
        support = f"{_SUPPORT[way_in]} throughout"
    else:
        phases = [
            f"{_SUPPORT[way_in]} into the end range{hold}" if way_in is not None else "",
            f"back {_SUPPORT[way_back]}" if way_back is not None else "",
        ]
        support = ", ".join(filter(None, phases))
    share, external_kg = load.share_of_body_weight, load.external_kg
    weight = "" if share is None else "full body weight" if share == 1 else f"{100 * share:g} % of body weight"
    added = "" if external_kg is None else f"{external_kg:g} kg added" if external_kg else "no weight added"
    return "; ".join(filter(None, (support, weight, added)))


def declared_setting(exercise: Exercise) -> str:
    """Say how the exercise is done otherwise: knee, surface, shoe and lift.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    str
        Such as ``"knee straight; on a step, 100 mm high; trainers"``; empty where nothing is declared.
    """
    high = "" if exercise.step_height_mm is None else f", {exercise.step_height_mm:g} mm high"
    lift_mm = exercise.heel_lift_mm
    parts = [
        f"knee {exercise.knee}" if exercise.knee else "",
        f"{_SURFACES[exercise.surface]}{high}" if exercise.surface else "",
        f"footwear {exercise.footwear}" if exercise.footwear else "",
        "" if lift_mm is None else f"heel lift of {lift_mm:g} mm" if lift_mm else "no heel lift",
    ]
    return "; ".join(filter(None, parts))


def left_out(exercise: Exercise) -> list[str]:
    """Name what the plan does not prescribe.

    Parameters
    ----------
    exercise : Exercise
        Of a plan.

    Returns
    -------
    list of str
        Each in a word or two.
    """
    often = exercise.per_day is not None and exercise.days_per_week is not None
    return [
        name
        for name, is_given in (
            ("tempo", bool(tempo_phases(exercise))),
            ("rest", exercise.rest_s is not None),
            ("start angle", exercise.start_deg is not None),
            ("end range", exercise.asks_end_range),
            ("limit", exercise.limit_deg is not None),
            ("compressive angle", exercise.compression_threshold is not None),
            ("frequency", often or bool(frequency(exercise))),
        )
        if not is_given
    ]


def span_of_weeks(weeks: Fraction) -> str:
    """Say a number of weeks, in days where it is no whole one.

    Parameters
    ----------
    weeks : Fraction
        How many.

    Returns
    -------
    str
        Such as ``"3 weeks"`` or ``"10 days"``.
    """
    if weeks.denominator == 1:
        return counted(int(weeks), "week")
    return counted(round(7 * weeks), "day")


def total_in_words(total: DoseTotal, whose_weeks: str = "") -> str:
    """Say what exercises add up to.

    Parameters
    ----------
    total : DoseTotal
        Of an exercise, or of those of a stage of one side and kind.
    whose_weeks : str
        Put before the weeks, such as ``"the programme's"``.

    Returns
    -------
    str
        Such as ``"45 repetitions a session, 90 a day, 630 a week, 7560 in 12 weeks; under tension 270 s a session"``.
    """
    name = "repetition" if total.kind == "repetitions" else total.kind
    counts, seconds = total.repetitions, total.under_tension_s
    weeks = "" if total.weeks is None else span_of_weeks(total.weeks)
    spans = [
        (counts.a_session, seconds.a_session, "a session"),
        (counts.a_day, seconds.a_day, "a day"),
        (counts.a_week, seconds.a_week, "a week"),
        (counts.in_all, seconds.in_all, " ".join(filter(None, ("in", whose_weeks, weeks)))),
    ]
    if counts.a_day == counts.a_session:
        # once a day, or neither is known
        spans.pop(1)
    if total.weeks == 1:
        spans.pop()
    said: list[str] = []
    for count, _, span in spans:
        if count is not None:
            number = f"{float(count):g}" if count.denominator > 1 else str(count.numerator)
            what = "" if said else f" {name if count == 1 else plural(name)}"
            said.append(f"{number}{what} {span}{'' if count.denominator == 1 else ' on average'}")
    times = [f"{_duration(time, span)} {span}" for _, time, span in spans if time is not None]
    tension = f"{'under tension' if total.kind == 'repetitions' else 'held'} {', '.join(times)}" if times else ""
    return "; ".join(filter(None, (", ".join(said), tension)))


def _duration(seconds: Fraction, span: str) -> str:
    # a session's seconds are what papers give
    if seconds < _LONG_S or span == "a session":
        return f"{float(round(seconds, 1)):g} s"
    return f"{float(round(seconds / 60, 1)):g} min"

"""What every reader of a result or of a course must be told, in one place, each with its source."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.case_answer import RedFlagDay

__all__ = [
    "CAUTION",
    "DECLARED",
    "RED_FLAGS",
    "STOP_RULE",
    "STOP_TO_THE_PERSON",
    "RedFlag",
    "cautions",
    "is_about_legs",
    "red_flag_text",
    "stage_cautions",
]

CAUTION = (
    "Supports, does not replace, the judgement of a licensed clinician. It diagnoses nothing and measures angle and "
    "time, never tissue load."
)

# Above 5 of 10 as a stop: the pain-monitoring model (Thomee, Phys Ther 77:1690-1703, 1997; Silbernagel et al.,
# Am J Sports Med 35:897-906, 2007; both from memory). Sudden sharp pain or a pop: common practice, no source.
STOP_RULE = (
    "Stop and contact the clinician if pain rises above 5 of 10, and at once after a sudden sharp pain or a pop."
)

STOP_TO_THE_PERSON = "Pain above 5 of 10 is noted: stop these exercises and contact the clinic before going on."

DECLARED = "as declared in the plan, not measured"

Urgency = Literal["emergency", "today", "before the next session"]

_RUPTURE = (
    "WikEM, Achilles tendon rupture: 20 to 30 % keep some push-off and walk, so walking rules nothing out; "
    "a calf squeeze finds 96 of 100"
)
_MEMORY = "common practice, from memory of clinical guidelines for tendinopathy; to be verified"
_CLOT = "common practice, from memory of what is taught about clots in the leg and lung; to be verified"
_FDA = (
    "US Food and Drug Administration, boxed warning of 2008: at the first tendon pain stop exercising and call the "
    "doctor; more often over the age of 60, with corticosteroids and after transplants"
)


@dataclass(frozen=True)
class RedFlag:
    """A sign that needs somebody to look at the person, whatever the plan says.

    Parameters
    ----------
    word : str
        What the diary's column ``red_flag`` calls it.
    sign : str
        The sign, in words.
    urgency : {"emergency", "today", "before the next session"}
        How soon.
    source : str
        Where that comes from.
    of_legs : bool
        Whether it is a leg's, and nothing to ask whoever moves an arm alone.
    """

    word: str
    sign: str
    urgency: Urgency
    source: str
    of_legs: bool = False


RED_FLAGS = (
    RedFlag("breathless", "shortness of breath or chest pain, above all with a swollen calf", "emergency", _CLOT),
    RedFlag("calf swelling", "a swollen or painful calf", "today", _CLOT, of_legs=True),
    RedFlag("pop", "a sudden pop, or the feeling of a kick", "today", _RUPTURE),
    RedFlag("push-off lost", "lost push-off: the heel can't be raised on that leg", "today", _RUPTURE, of_legs=True),
    RedFlag("hot swollen tendon", "a hot, swollen tendon", "today", _MEMORY),
    RedFlag("fever", "fever", "today", _MEMORY),
    RedFlag(
        "constant pain",
        "constant pain at night or at rest that no change of position eases",
        "before the next session",
        _MEMORY,
    ),
    RedFlag("long stiffness", "stiffness of over an hour on both sides", "before the next session", _MEMORY),
    RedFlag(
        "fluoroquinolone",
        "an antibiotic of the fluoroquinolone kind (its name ends in -floxacin), now or lately",
        "before the next session",
        _FDA,
    ),
    RedFlag("steroid injection", "a recent steroid injection", "before the next session", _MEMORY),
)
"""In order of urgency."""

_LEGS = frozenset({"ankle", "knee", "hip"})

_WHAT_TO_DO: dict[Urgency, str] = {
    "emergency": "Call the emergency number now, and do no exercises",
    "today": "Do no exercises and get urgent care today",
    "before the next session": "Do no exercises until a doctor or the clinic has been asked",
}


def is_about_legs(joints: Collection[str]) -> bool:
    """Tell whether exercises are a leg's, so that a leg's signs are to be asked for.

    Parameters
    ----------
    joints : collection of str
        That the exercises move.

    Returns
    -------
    bool
        True also where none is named.
    """
    return not joints or not _LEGS.isdisjoint(joints)


def cautions() -> tuple[str, ...]:
    """Give the sentences that stand below every result.

    Returns
    -------
    tuple of str
        What the result is and is not, and when to stop.
    """
    return CAUTION, STOP_RULE


def _listed(signs: Iterable[str]) -> str:
    return "; ".join(signs)


def stage_cautions() -> tuple[str, ...]:
    """Give the sentences that stand with everything that speaks about a stage of a plan.

    Returns
    -------
    tuple of str
        Those of every result, and the signs that need somebody to look, by urgency.
    """
    return *cautions(), *(
        f"{what}, after any of these: {_listed(each.sign for each in RED_FLAGS if each.urgency == urgency)}."
        for urgency, what in _WHAT_TO_DO.items()
    )


def red_flag_text(days: Iterable[RedFlagDay]) -> tuple[str, ...]:
    """Say what must be done about signs that a diary names; it stands before anything else.

    Parameters
    ----------
    days : iterable of RedFlagDay
        The days, and the words of the diary's column ``red_flag``.

    Returns
    -------
    tuple of str
        A sentence for each urgency, the most urgent first, then those of longer ago; empty where no sign is named.
    """
    noted = list(days)
    sentences = []
    for urgency, what in _WHAT_TO_DO.items():
        signs = _noted(noted, urgency, recent=True)
        if signs:
            sentences.append(f"{what}. The diary notes: {signs}.")
    if sentences:
        sentences.append("Nothing below says that it is safe to go on.")
    earlier = "; ".join(filter(None, (_noted(noted, urgency, recent=False) for urgency in _WHAT_TO_DO)))
    if earlier:
        sentences.append(f"Ask whether somebody has looked at this, which the diary noted earlier: {earlier}.")
    return tuple(sentences)


def _noted(noted: Iterable[RedFlagDay], urgency: Urgency, *, recent: bool) -> str:
    found = {
        flag.sign: [each.day for each in noted if each.recent == recent and flag.word in each.words]
        for flag in RED_FLAGS
        if flag.urgency == urgency
    }
    return _listed(f"{sign} ({', '.join(map(str, days))})" for sign, days in found.items() if days)

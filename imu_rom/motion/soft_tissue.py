"""How much a sensor moves on the segment that it is worn on, by placement.

Skin-worn sensors differ from the bone by what lies between: little over the shin's flat inner face or in a stiff shoe,
most over the thigh. Two kinds matter for an angle. Some of it wobbles and shifts, whatever the joint does; its size is
relative to the shin's here, the degrees are a setting. Some follows the joint's angle, repetition after repetition, so
that a share of the excursion is missed for good; nothing in the recording shows that part.

References
----------
Fluoroscopy puts the worst error of skin-worn markers in swing at about 10 degrees for the thigh and 7 for the shank,
typically about 5 (review PMC8631460): their ratio is taken from there. Everything else below is common practice, no
source, and says so.
"""

import math
import re
from dataclasses import dataclass

__all__ = ["PLACEMENTS", "Placement", "pair_factors", "placement_in_words"]


@dataclass(frozen=True)
class Placement:
    """Where a sensor is worn.

    Parameters
    ----------
    name : str
        Short name.
    wobble : float
        Size of its own movement on the segment, slow and fast, relative to a sensor on the shin bone.
    locked : float
        Share of the excursion that the skin follows, relative to a sensor on the shin bone.
    words : str
        Regular expression of the words by which a placement, a tracked point or a segment is recognised.
    source : str
        Where the sizes come from.
    """

    name: str
    wobble: float
    locked: float
    words: str
    source: str


_PRACTICE = "common practice, no source"
_FLUOROSCOPY = "fluoroscopy, worst in swing 10 deg at the thigh and 7 deg at the shank (review PMC8631460)"

PLACEMENTS: dict[str, Placement] = {
    each.name: each
    # in the order in which words are looked for: "shoe, over the midfoot" is the midfoot
    for each in (
        Placement("rigid", 0.0, 0.0, r"rigid|bone pin|no skin", "fixed to the segment itself: nothing lies between"),
        Placement(
            "midfoot", 1.0, 8.0, r"mid-?foot|instep|laces|dorsum|forefoot|top of (the )?foot",
            f"{_PRACTICE}: the arch gives way under load, so the midfoot turns less than the heel",
        ),
        Placement("thigh", 10 / 7, 2.0, r"thigh|femur|upper leg", _FLUOROSCOPY),
        Placement("calf", 10 / 7, 2.0, r"calf|gastrocnemius", f"{_PRACTICE}: over muscle, as the thigh"),
        Placement("shin", 1.0, 1.0, r"shin|shank|tibia|lower leg", "what the others are compared with"),
        Placement("shoe", 0.5, 1.0, r"shoe|heel|calcane|foot", f"{_PRACTICE}: a stiff shoe turns with the heel"),
        Placement("upper arm", 10 / 7, 3.0, r"upper ?arm|humerus", f"{_PRACTICE}: over muscle"),
        Placement("forearm", 1.0, 3.0, r"fore-?arm|radius|ulna|wrist|lower ?arm", f"{_PRACTICE}: the skin twists"),
        Placement("hand", 0.5, 1.0, r"hand|metacarp", f"{_PRACTICE}: thin skin over bone"),
        Placement("pelvis", 1.0, 2.0, r"pelvis|sacr|hip", f"{_PRACTICE}: over bone, but on a belt"),
        Placement("trunk", 10 / 7, 2.0, r"trunk|thorax|chest|stern|back|scapula|torso", f"{_PRACTICE}: it breathes"),
        Placement("skin", 10 / 7, 2.0, r"skin", f"{_PRACTICE}: unknown, so as bad as the thigh"),
    )
}  # fmt: skip


def placement_in_words(*words: str | None) -> Placement:
    """Recognise a placement.

    Parameters
    ----------
    *words : str or None
        What is said about it, the most trusted first: the plan's word, the recording's ``placement``, the tracked
        point, the segment. The first that means something decides.

    Returns
    -------
    Placement
        ``skin`` where nothing does.
    """
    for each in words:
        for placement in PLACEMENTS.values() if each else ():
            if re.search(placement.words, (each or "").replace("_", " "), re.IGNORECASE):
                return placement
    return PLACEMENTS["skin"]


def pair_factors(proximal: Placement, distal: Placement) -> tuple[float, float]:
    """Give the size of two sensors' movement on their segments together.

    Parameters
    ----------
    proximal, distal : Placement
        Where they are worn.

    Returns
    -------
    wobble : float
        Relative to a pair on the shin and in a stiff shoe.
    locked : float
        Relative to one sensor on the shin.
    """
    usual = math.hypot(PLACEMENTS["shin"].wobble, PLACEMENTS["shoe"].wobble)
    return math.hypot(proximal.wobble, distal.wobble) / usual, math.hypot(proximal.locked, distal.locked)

"""The codes of a FHIR Bundle: which systems, units and status values are used, and the program's own code system.

A code of somebody else's system stands here only where published guides were seen to use it for the same thing; what
has none is a concept of the program's own code system, which travels in the Bundle with its definitions. LOINC's codes
for a joint's active or passive range of motion are left out on purpose: how far a repetition of an exercise goes is no
test of the joint's range.
"""

from dataclasses import dataclass

__all__ = [
    "ABSENT_REASON",
    "BODY_SITES",
    "CATEGORIES",
    "CATEGORY_SYSTEM",
    "CONCEPTS",
    "LOINC",
    "OWN_SYSTEM",
    "PAIN_SCORE",
    "PAIN_SCORE_NAME",
    "PARTICIPANT_SYSTEM",
    "SNOMED",
    "STATUSES",
    "UCUM",
    "UNITS",
    "Concept",
]

LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
UCUM = "http://unitsofmeasure.org"
CATEGORY_SYSTEM = "http://terminology.hl7.org/CodeSystem/observation-category"
PARTICIPANT_SYSTEM = "http://terminology.hl7.org/CodeSystem/provenance-participant-type"
ABSENT_REASON = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"

OWN_SYSTEM = "urn:uuid:1b647372-d43e-5136-a51b-f588161231b0"
"""Of the program's own code system: the UUID of version 5 of the words "imu-rom codes 1", which needs no host."""

STATUSES = ("final", "preliminary")
"""Of Observations, among those of R4B: measured and worked out; or a part of it is undecided."""

CATEGORIES = ("therapy", "survey")
"""Of Observations: what sensors saw of an exercise, and what a diary says."""

UNITS = {"deg": "deg", "s": "s", "deg.s": "deg s", "1": "", "{score}": "score"}
"""UCUM codes (unitsofmeasure.org; ``deg.s`` by its syntax, from memory), and how people read them."""

PAIN_SCORE = "72514-3"
PAIN_SCORE_NAME = "Pain severity - 0-10 verbal numeric rating [Score] - Reported"

BODY_SITES = {
    # "structure of left/right ankle" in several published FHIR value sets; one that swaps the sides was left aside
    ("ankle", "left"): "51636004",
    ("ankle", "right"): "6685009",
    # seen in published FHIR guides; not looked up in a release of SNOMED CT
    ("knee", "left"): "82169009",
    ("knee", "right"): "6757004",
    ("shoulder", "left"): "91775009",
    ("shoulder", "right"): "91774008",
}
"""SNOMED CT codes by joint and side. Using SNOMED CT may need a licence, country by country."""


@dataclass(frozen=True)
class Concept:
    """One concept of the program's own code system.

    Parameters
    ----------
    display : str
        What people read.
    definition : str
        What it means.
    """

    display: str
    definition: str


_SHARES_95 = "95 % interval, all parts of the uncertainty that the value has"

CONCEPTS: dict[str, Concept] = {
    "exercise": Concept(
        "Exercise of one session, measured by motion sensors",
        "Holds together what was measured of one exercise: angle and time, never the load on a tissue. No diagnosis.",
    ),
    "set": Concept("Set of an exercise", "Holds together what was measured of one set, with its verdict."),
    "end-range": Concept(
        "End range of one repetition",
        "Joint angle at the deepest point of one repetition, from the zero, positive in the exercise's motion.",
    ),
    "own-turn": Concept(
        "Turn of one sensor's segment in one repetition",
        "One sensor was worn and the other segment is not known to keep still: no angle of the joint.",
    ),
    "time-past-compressive-angle": Concept(
        "Time past the compressive angle",
        "Seconds within the repetitions in which the joint angle was strictly past the angle that the plan names. The "
        "angle is a clinician's choice, not a measured threshold of injury.",
    ),
    "time-past-outside-sets": Concept(
        "Time past the compressive angle outside the sets",
        "Seconds past the angle that the plan names between repetitions and sets while both sensors were worn.",
    ),
    "repetitions": Concept("Complete repetitions", "Number of complete repetitions, holds or stretches."),
    "interval-low": Concept("Low end of the interval", f"Low end of the {_SHARES_95}."),
    "interval-high": Concept("High end of the interval", f"High end of the {_SHARES_95}."),
    "excess": Concept("Excess", "Area of the angle above the compressive angle over time."),
    "longest-stretch": Concept("Longest stretch", "Longest unbroken stretch past the compressive angle."),
    "compressive-angle": Concept("Compressive angle", "Angle past which the plan takes the tendon to be compressed."),
    "compressive-angle-basis": Concept("Basis of the compressive angle", "How that angle was chosen."),
    "prescribed-low": Concept("Prescribed, low end", "Low end of what the plan prescribes of the same quantity."),
    "prescribed-high": Concept("Prescribed, high end", "High end of what the plan prescribes of the same quantity."),
    "prescribed": Concept("Prescribed", "Number that the plan prescribes."),
    "limit": Concept("Limit", "Angle that the plan says is not to be passed."),
    "partial": Concept("Partial repetitions", "Number of repetitions that were not complete."),
    "set-number": Concept("Set", "Number of the set, from 1."),
    "repetition-number": Concept("Repetition", "Number within its set, from 1, partial ones counted too."),
    "complete": Concept("Complete", "Whether the repetition was complete."),
    "probability-reached": Concept(
        "Probability that the end range was reached",
        "Of a repetition: that it reached what is prescribed. Of a set: that the asked share of repetitions did.",
    ),
    "probability-within-limit": Concept("Probability that the limit was kept", "That the limit was not passed."),
    "probability-above-window": Concept("Probability of more time than prescribed", "Of time past the angle."),
    "probability-below-window": Concept("Probability of less time than prescribed", "Of time past the angle."),
    "reached": Concept("End range reached", "Answer at the probability that the plan asks for."),
    "within-limit": Concept("Limit kept", "Answer at the probability that the plan asks for."),
    "verdict": Concept("Verdict", "Set against plan, joint over what the session's angles have in common."),
    "uncertainty-session": Concept(
        "Standard uncertainty shared by the session", "At the largest excursion; never averages out."
    ),
    "uncertainty-set": Concept("Standard uncertainty shared by a set", "Besides what the session shares."),
    "yes": Concept("Yes", "At least as likely as the plan asks for."),
    "no": Concept("No", "The contrary is at least as likely as the plan asks for."),
    "undecided": Concept("Undecided", "The recording can't tell; this says nothing about the person."),
    "not-prescribed": Concept("Not prescribed", "The plan says nothing of it."),
    "met": Concept("Met", "As prescribed."),
    "short": Concept("Short", "Less than prescribed."),
    "over": Concept("Over", "More than prescribed."),
    "pain-before": Concept("Pain before the exercises", "Highest of the day, 0 to 10."),
    "pain-during": Concept("Pain during the exercises", "Highest of the day, 0 to 10."),
    "pain-after": Concept("Pain after the exercises", "Highest of the day, 0 to 10."),
    "pain-next-morning": Concept("Pain next morning", "At the first steps after the night, 0 to 10."),
    "pain-load-test": Concept("Pain in the load test", "Highest of the day, 0 to 10."),
    "morning-stiffness": Concept("Morning stiffness", "How long stiffness lasted on the morning after the exercises."),
}
"""Every concept of `OWN_SYSTEM` by its code."""

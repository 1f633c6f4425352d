"""What every reader of a result must be told, in one place."""

__all__ = ["CAUTION", "DECLARED", "STOP_RULE", "cautions"]

CAUTION = (
    "Supports, does not replace, the judgement of a licensed clinician. It diagnoses nothing and measures angle and "
    "time, never tissue load."
)

# Above 5 of 10 as a stop: the pain-monitoring model (Thomee, Phys Ther 77:1690-1703, 1997; Silbernagel et al.,
# Am J Sports Med 35:897-906, 2007; both from memory). Sudden sharp pain or a pop: common practice, no source.
STOP_RULE = (
    "Stop and contact the clinician if pain rises above 5 of 10, and at once after a sudden sharp pain or a pop."
)

DECLARED = "as declared in the plan, not measured"


def cautions() -> tuple[str, ...]:
    """Give the sentences that stand below every result.

    Returns
    -------
    tuple of str
        What the result is and is not, and when to stop.
    """
    return CAUTION, STOP_RULE

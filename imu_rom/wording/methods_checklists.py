"""The items of two reporting guidelines, and what a result can say to each; the rest is "not recorded".

Items in words of our own after S. Slade et al. 2016 (CERT, doi:10.1136/bjsports-2016-096651) and T. Hoffmann et al.
2014 (TIDieR, doi:10.1136/bmj.g1687).
"""

from collections import Counter
from collections.abc import Sequence

from imu_rom.dose.comparison import SessionComparison
from imu_rom.wording.figures import counted
from imu_rom.wording.markdown import as_text, table
from imu_rom.wording.methods_exercise import UNKNOWN
from imu_rom.wording.methods_facts import ExerciseFacts, ResultFacts
from imu_rom.wording.prescription_text import asked_sets, declared_setting, frequency, load_in_words

__all__ = ["checklists"]

CERT = (
    ("1", "exercise equipment"),
    ("2", "who taught it: qualification, training"),
    ("3", "alone or in a group"),
    ("4", "supervised or not; how delivered"),
    ("5", "how adherence was measured"),
    ("6", "motivation"),
    ("7a", "rule for progression"),
    ("7b", "how it progressed"),
    ("8", "each exercise, to be repeated by others"),
    ("9", "home programme"),
    ("10", "parts other than exercise"),
    ("11", "adverse events during exercise"),
    ("12", "setting"),
    ("13", "dose: sets, repetitions, frequency, load"),
    ("14a", "the same for all, or tailored"),
    ("14b", "how tailored"),
    ("15", "rule for the starting level"),
    ("16a", "how fidelity was assessed"),
    ("16b", "how far it was done as planned"),
)
TIDIER = (
    ("1", "name"),
    ("2", "why"),
    ("3", "materials"),
    ("4", "procedures"),
    ("5", "who provided it"),
    ("6", "how delivered"),
    ("7", "where"),
    ("8", "when and how much"),
    ("9", "tailoring"),
    ("10", "modifications"),
    ("11", "how well: planned"),
    ("12", "how well: actual"),
)
HEADINGS = ("item", "what it asks", "what the result says")
SENSED = "by motion sensors in the recorded session; of other days: " + UNKNOWN


def checklists(result: ResultFacts, cert: str, tidier: str) -> str:
    """Lay out what a result says to each item of both guidelines.

    Parameters
    ----------
    result : ResultFacts
        A result.
    cert, tidier : str
        Numbers of the two works in brackets.

    Returns
    -------
    str
        Two Markdown tables with their headings.
    """
    said = _said(result)
    parts = []
    for name, number, items, answers in (
        ("CERT", cert, CERT, said),
        ("TIDieR", tidier, TIDIER, _said_to_tidier(result, said)),
    ):
        rows = [(item, asks, answers.get(item) or UNKNOWN) for item, asks in items]
        parts += [f"### {name} {number}", table(HEADINGS, rows)]
    return "\n\n".join(parts)


def _of_each(answers: Sequence[ExerciseFacts], said: Sequence[str]) -> str:
    if len(answers) == 1:
        return said[0]
    named = zip(answers, said, strict=True)
    return "; ".join(f"{as_text(each.exercise.name)}: {one or UNKNOWN}" for each, one in named if any(said))


def _verdicts(done: SessionComparison) -> str:
    """Count the sets' verdicts: one that is undecided is neither as planned nor otherwise."""
    found = Counter(each.verdict for each in done.sets)
    return f"verdicts: {', '.join(f'{verdict} {number}' for verdict, number in sorted(found.items())) or 'none'}"


def _said(result: ResultFacts) -> dict[str, str]:
    answers = result.exercises
    asked = [each.exercise for each in answers]
    done = [each.comparison for each in answers]
    own = [each.share_of_own_range is not None for each in asked]
    fidelity = [
        f"{one.complete} of {one.prescribed_repetitions} done, in {len(one.sets)} of "
        f"{counted(one.prescribed_sets, 'set')}; {_verdicts(one)}"
        for one in done
    ]
    doses = [
        "; ".join(filter(None, (asked_sets(each), frequency(each) or f"frequency {UNKNOWN}", load_in_words(each))))
        for each in asked
    ]
    return {
        "1": _of_each(answers, [as_text(declared_setting(each)) for each in asked]),
        "5": SENSED,
        "7b": f"stage {as_text(result.stage)} of the plan; other stages: {UNKNOWN}",
        "8": "see Exercise",
        "13": _of_each(answers, doses),
        "14a": "one person's plan",
        "14b": _of_each(
            answers, ["end range as a share of the person's own range" if each else UNKNOWN for each in own]
        ),
        "16a": SENSED + "; see Verdicts",
        "16b": _of_each(answers, fidelity),
    }


def _said_to_tidier(result: ResultFacts, said: dict[str, str]) -> dict[str, str]:
    bases = [
        each.exercise.compression_threshold.basis
        for each in result.exercises
        if each.exercise.compression_threshold is not None
    ]
    why = f"; compressive angle by: {', '.join(dict.fromkeys(bases))}" if bases else ""
    return {
        "1": as_text(result.plan_title),
        "2": f"tendon site {as_text(result.tendon_site)}{why}",
        "3": said["1"],
        "4": "see Exercise",
        "8": said["13"],
        "9": said["14b"],
        "10": said["7b"],
        "11": said["16a"],
        "12": said["16b"],
    }

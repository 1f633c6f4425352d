"""A methods text for a paper, in Markdown, from one result alone, so that it can't disagree with it."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import fields

from imu_rom.settings import Settings
from imu_rom.wording.cautions import CAUTION
from imu_rom.wording.figures import counted
from imu_rom.wording.markdown import as_text, table
from imu_rom.wording.methods_checklists import checklists
from imu_rom.wording.methods_exercise import (
    UNKNOWN,
    angle_text,
    number,
    prescribed_text,
    repetition_text,
    uncertainty_text,
    verdict_text,
)
from imu_rom.wording.methods_facts import ClockFacts, RecordingFacts, ResultFacts
from imu_rom.wording.methods_references import References

__all__ = ["methods_text"]


def methods_text(result: ResultFacts) -> str:
    """Write the methods of one result for a paper.

    Parameters
    ----------
    result : ResultFacts
        A result document.

    Returns
    -------
    str
        Markdown that ends with a line end: measurement, exercise, angle, repetitions, uncertainty, verdicts, software,
        settings, the items of CERT and TIDieR, references. What the result doesn't say is "not recorded".
    """
    references = References()
    attitude_filter = str(result.settings.get("angle", {}).get("attitude_filter", UNKNOWN))
    answers = result.exercises
    site = references.cite("compression")
    parts = ["# Methods", CAUTION, "## Measurement", _measured(result.recording)]

    def section(heading: str, texts: Iterable[str]) -> None:
        parts.append(f"## {heading}")
        for answer, text in zip(answers, texts, strict=True):
            parts.append(text if len(answers) == 1 else f"**{as_text(answer.exercise.name)}.** {text}")

    section("Exercise", (prescribed_text(each) for each in answers))
    parts.append(
        f"Plan: {as_text(result.plan_title) or UNKNOWN}; stage {as_text(result.stage) or UNKNOWN}; tendon site "
        f"{as_text(result.tendon_site) or UNKNOWN} {site}."
    )
    section("Angle", (angle_text(each, attitude_filter, references) for each in answers))
    section("Repetitions and exposure", (repetition_text(each, result.settings, references) for each in answers))
    section("Uncertainty", (uncertainty_text(each, result.own_uncertainty, references) for each in answers))
    section("Verdicts", (verdict_text(each, references) for each in answers))
    parts += [
        "## Software and corrections",
        _software(result),
        "## Settings",
        _settings(result),
        "## Reporting items",
        checklists(result, references.cite("cert"), references.cite("tidier")),
        "## References",
        references.listed(),
    ]
    return "\n\n".join(parts) + "\n"


def _measured(recording: RecordingFacts) -> str:
    sensors = [
        f"{as_text(each.tracked_point)} (placement {as_text(each.placement or UNKNOWN)}, mounting "
        f"{as_text(each.mounting or UNKNOWN)})"
        for each in recording.sensors
    ]
    filled = [f"{count} of {as_text(name)}" for name, count in recording.filled_samples.items()]
    gaps = [
        f"{as_text(each.tracked_point)} from {number(each.start_s)} to {number(each.stop_s)} s"
        for each in recording.gaps
    ]
    said = [
        (
            f"Angular rate and specific force were recorded by {counted(len(sensors), 'motion sensor')}: "
            f"{', '.join(sensors)}, at {number(recording.rate_hz)} Hz for {number(recording.duration_s)} s "
            f"({recording.samples} samples each). Make, model and firmware of the sensors: {UNKNOWN}."
        ),
        f"Samples filled in short gaps: {', '.join(filled) or 'none'}.",
        f"Longer gaps, left out: {', '.join(gaps) or 'none'}.",
        _clocks(recording.clocks),
    ]
    if recording.reference_channels:
        said.append(f"Angles that came with the recording: {', '.join(map(as_text, recording.reference_channels))}.")
    return " ".join(said)


def _clocks(clocks: ClockFacts | None) -> str:
    if clocks is None:
        return "All sensors shared one clock."
    evidence = ", ".join(f"{count} {as_text(kind)}" for kind, count in clocks.evidence.items())
    return (
        f"The clock of the {as_text(clocks.other)} sensor was brought to that of the {as_text(clocks.reference)} "
        f"sensor from the movement (evidence: {evidence or 'none'}; {clocks.contradicting} left out): offset "
        f"{number(clocks.offset_ms)} ms, rate {number(clocks.skew_ppm)} ppm, residual {number(clocks.residual_ms)} ms, "
        f"standard uncertainty at most {number(clocks.largest_standard_uncertainty_ms)} ms."
    )


def _software(result: ResultFacts) -> str:
    versions = ", ".join(f"{as_text(name)} {as_text(each)}" for name, each in result.versions.items())
    marks = ", ".join(f"{count} {as_text(name)}" for name, count in Counter(m.action for m in result.marks).items())
    # a de-identified result has none
    inputs = ", ".join(f"{each.role} {as_text(each.sha256)}" for each in result.inputs if each.sha256)
    return (
        f"imu-rom {as_text(result.program_version)} ({versions}). Corrections by a person, each with its reason, "
        f"applied before the verdicts: {marks or 'none'}. Files read, by SHA-256: {inputs or UNKNOWN}."
    )


def _settings(result: ResultFacts) -> str:
    known = {
        (group.name, each.name): each for group in fields(Settings) for each in fields(getattr(Settings(), group.name))
    }
    rows = []
    for group, values in result.settings.items():
        for name, value in values.items():
            about = known.get((group, name))
            unit, meaning, source = "", UNKNOWN, UNKNOWN
            if about is not None:
                unit, meaning, source = (str(about.metadata[each]) for each in ("unit", "meaning", "source"))
                # a value that somebody chose has another source than the default's
                source = source if value == about.default else "chosen for this analysis"
            if group == "uncertainty":
                source = result.own_uncertainty.get(name, source)
            shown = as_text(value) if isinstance(value, str) else number(value)
            rows.append((as_text(f"{group}.{name}"), shown, *map(as_text, (unit, meaning, source))))
    return table(("setting", "value", "unit", "what it decides", "source"), rows)

"""What a joint angle without a plan is, in sentences; and what a recording holds."""

import numpy as np

from imu_rom.dose.exercise import ABSENT
from imu_rom.recording.clock_fit import ClockFit
from imu_rom.recording.model import Recording
from imu_rom.session.result import AngleMeasurement, StillStretch
from imu_rom.wording.budget_text import budget_sentence
from imu_rom.wording.figures import one_decimal

__all__ = ["angle_sentences", "clock_sentences", "recording_sentences", "still_headings", "still_rows"]


def angle_sentences(measured: AngleMeasurement, joint: str) -> list[str]:
    """Say what was measured, from which zero, and how sure it is.

    Parameters
    ----------
    measured : AngleMeasurement
        The joint angle.
    joint : str
        Names of the two sensors, such as ``"shank to foot"``.

    Returns
    -------
    list of str
        Plain sentences.
    """
    trace, alignment = measured.trace, measured.alignment
    worn = trace.phase != trace.phase_names.index("setup") if "setup" in trace.phase_names else trace.phase >= 0
    angle = trace.angle_deg[worn] if worn.any() else trace.angle_deg
    uncertainty = trace.standard_uncertainty_deg[worn] if worn.any() else trace.standard_uncertainty_deg
    low, high = (one_decimal(float(each)) for each in (angle.min(), angle.max()))
    middle = one_decimal(float(uncertainty[uncertainty.argsort()[len(uncertainty) // 2]]))
    sentences = [f"Angle {joint}: {low} to {high} deg while worn, standard uncertainty {middle} deg (median)."]
    if measured.zero is None:
        sentences.append("Its zero is arbitrary, because no neutral pose was asked for; differences hold.")
    else:
        zero = measured.zero
        how = "found" if zero.source == "auto" else "given"
        sentences.append(f"Its zero is the neutral pose from {zero.start_s:.1f} to {zero.stop_s:.1f} s ({how}).")
    if not measured.sign_known:
        sentences.append("Its sign is arbitrary, because nothing says which direction is positive.")
    if None in (alignment.proximal_axis, alignment.distal_axis):
        sentences.append("It is the joint's angle only while the segment without a sensor keeps still.")
    sentences.append(
        f"Axis: {alignment.method}, quality {alignment.quality:.2f} of 1, standard uncertainty of its direction "
        f"{one_decimal(alignment.axis_standard_uncertainty_deg)} deg."
    )
    sentences.append(budget_sentence(measured.budget))
    return sentences


def recording_sentences(recording: Recording) -> list[str]:
    """Say what a recording holds.

    Parameters
    ----------
    recording : Recording
        As read.

    Returns
    -------
    list of str
        Plain sentences.
    """
    sensors = ", ".join(
        f"{each.tracked_point}{f' ({each.placement})' if each.placement else ''}" for each in recording.sensors.values()
    )
    plural = "" if len(recording.sensors) == 1 else "s"
    who = f", subject {recording.subject}" if recording.subject else ""
    task = f", task {recording.task}" if recording.task else ""
    when = "When it was recorded is not known."
    if recording.recorded_at is not None:
        when = f"Recorded at {recording.recorded_at} (from the {recording.recorded_at_source})."
    sentences = [
        f"Recording {recording.label}{who}{task}.",
        f"{len(recording.sensors)} sensor{plural}: {sensors}.",
        f"{recording.duration_s:.1f} s at {recording.rate_hz:g} Hz, {recording.sample_count} samples a sensor.",
        when,
    ]
    filled = {point: count for point, count in recording.filled_samples.items() if count}
    if filled:
        sentences.append(
            f"Samples filled in short gaps: {', '.join(f'{n} of {point}' for point, n in filled.items())}."
        )
    sentences += [
        f"No data of {gap.tracked_point} from {gap.start_s:.2f} to {gap.stop_s:.2f} s." for gap in recording.gaps
    ]
    if recording.clocks is not None:
        sentences += clock_sentences(recording.clocks, recording.duration_s)
    if recording.references:
        names = ", ".join(each.name for each in recording.references)
        sentences.append(f"Angles that came with it, not used: {names}.")
    return sentences


KINDS = {
    "held together": ("stretch held together in one hand", "stretches held together in one hand"),
    "motion": ("stretch of shared motion", "stretches of shared motion"),
    "jolt": ("shared jolt", "shared jolts"),
}


def clock_sentences(fit: ClockFit, duration_s: float) -> list[str]:
    """Say how two clocks were brought together, and how sure that is.

    Parameters
    ----------
    fit : ClockFit
        As found.
    duration_s : float
        Of the recording.

    Returns
    -------
    list of str
        Plain sentences.
    """
    counts = {kind: sum(each.kind == kind for each in fit.evidence) for kind in fit.found_by}
    found = " and ".join(f"{count} {KINDS[kind][count != 1]}" for kind, count in counts.items())
    start_s, middle_s, end_s = fit.standard_uncertainty_s(np.array([0.0, duration_s / 2, duration_s]))
    contradicting = f" {fit.contradicting} that said otherwise left out." if fit.contradicting else ""
    when = f"{abs(fit.offset_s):.3f} s {'later' if fit.offset_s >= 0 else 'earlier'} than {fit.reference}"
    longer = f"{1e6 * abs(fit.skew):.1f} ppm {'longer' if fit.skew >= 0 else 'shorter'}"
    known = ", ".join(
        f"{1e3 * each_s:.1f} ms {where}"
        for each_s, where in ((start_s, "at the start"), (middle_s, "in the middle"), (end_s, "at the end"))
    )
    return [
        f"Separate clocks: {fit.other} was started {when}, and a second of its clock is {longer}.",
        f"Told from {found}; what is left between them is {1e3 * fit.residual_s:.2f} ms.{contradicting}",
        f"Standard uncertainty of the offset: {known}.",
    ]


def still_headings(proximal: str, distal: str) -> tuple[str, ...]:
    """Give the headings of the table of still stretches.

    Parameters
    ----------
    proximal, distal : str
        Tracked points; ``ABSENT`` for a sensor that is not worn.

    Returns
    -------
    tuple of str
        One heading a column.
    """
    worn = [each for each in (proximal, distal) if each != ABSENT]
    return "from, s", "to, s", *(f"{each} inclination, deg" for each in worn), "sways"


def still_rows(stretches: tuple[StillStretch, ...]) -> list[tuple[str, ...]]:
    """Give the cells of the table of still stretches.

    Parameters
    ----------
    stretches : tuple of StillStretch
        As found.

    Returns
    -------
    list of tuple of str
        Inclinations are those of the sensors' own z axes from the vertical.
    """
    return [
        (
            one_decimal(each.start_s),
            one_decimal(each.stop_s),
            *(
                one_decimal(inclination)
                for inclination in (each.proximal_inclination_deg, each.distal_inclination_deg)
                if inclination is not None
            ),
            "as a standing person" if each.sways else "no, as on a table",
        )
        for each in stretches
    ]

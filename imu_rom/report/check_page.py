"""``check.html``: one self-contained page about a check that a clinic did, for people; it needs no script, no network.

All its words are those of the command line, all its figures those of ``check.json``.
"""

from dataclasses import dataclass, fields

from imu_rom.motion.small_samples import NORMAL_FACTOR
from imu_rom.recording.model import Recording
from imu_rom.report.interval_plot import IntervalPlot, interval_plot
from imu_rom.report.rendering import rendered
from imu_rom.report.tables import Table
from imu_rom.session.sensor_check_result import SensorCheck
from imu_rom.session.taping_check import TapingCheck
from imu_rom.version import __version__
from imu_rom.wording import sensor_check_text, taping_text
from imu_rom.wording.cautions import CAUTION
from imu_rom.wording.sentences import finding_line

__all__ = ["CheckPage", "check_page", "check_page_bytes"]

NAMES = {
    "own_standing_deg": "own_standing_deg (the zero where angles count from the person's own standing), deg",
    "zero_pose_deg": "zero_pose_deg (the zero where angles count from the joint's own zero), deg",
    "accelerometer_bias_m_s2": "accelerometer_bias_m_s2 (bias of each accelerometer axis), m/s2",
}


@dataclass(frozen=True)
class CheckPage:
    """All that the page shows.

    Parameters
    ----------
    title : str
        Which check.
    facts : tuple of tuple of str
        (what, value) of the recordings.
    summary : tuple of str
        What the check shows.
    plan_parts : tuple of tuple of str
        (what, value) of what a plan takes from it.
    cautions : tuple of str
        What every reader must be told.
    findings : tuple of tuple of str
        (level, sentence) of each finding.
    figure : IntervalPlot
        The main figures as a picture.
    tables : tuple of Table
        The same and more as numbers.
    not_shown : tuple of str
        What the check can't tell.
    provenance : tuple of tuple of str
        (what, value) of program and inputs.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    summary: tuple[str, ...]
    plan_parts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    findings: tuple[tuple[str, str], ...]
    figure: IntervalPlot
    tables: tuple[Table, ...]
    not_shown: tuple[str, ...]
    provenance: tuple[tuple[str, str], ...]


def check_page(check: SensorCheck | TapingCheck) -> CheckPage:
    """Gather what the page shows.

    Parameters
    ----------
    check : SensorCheck or TapingCheck
        What `imu_rom.exchange.check.rounded_check` returned.

    Returns
    -------
    CheckPage
        Words, tables and picture.
    """
    sensor = isinstance(check, SensorCheck)
    recordings = (check.recording,) if isinstance(check, SensorCheck) else check.recordings
    return CheckPage(
        title="Check of the sensors" if sensor else "Check of re-taping",
        facts=tuple(("recording", _recording(each)) for each in recordings),
        summary=_summary(check),
        plan_parts=tuple((NAMES.get(name, name), f"{value:g}") for name, value in check.plan_parts.items()),
        cautions=(CAUTION,),
        findings=tuple((each.level, finding_line(each)) for each in check.findings),
        figure=_sensor_figure(check) if isinstance(check, SensorCheck) else _taping_figure(check),
        tables=_sensor_tables(check) if isinstance(check, SensorCheck) else _taping_tables(check),
        not_shown=sensor_check_text.NOT_SHOWN if sensor else taping_text.NOT_SHOWN,
        provenance=(
            ("program", f"imu-rom {__version__}"),
            *((f"{each.role} {each.name}", f"SHA-256 {each.sha256}") for each in check.inputs),
        ),
    )


def _recording(recording: Recording) -> str:
    when = f", recorded {recording.recorded_at}" if recording.recorded_at else ""
    return f"{recording.label}, {recording.duration_s:.0f} s at {recording.rate_hz:g} Hz{when}"


def _summary(check: SensorCheck | TapingCheck) -> tuple[str, ...]:
    if isinstance(check, SensorCheck):
        return tuple(sensor_check_text.sensor_check_sentences(check))
    return tuple(taping_text.taping_sentences(check))


def _sensor_figure(check: SensorCheck) -> IntervalPlot:
    columns = [(each.tracked_point, each.positions) for each in check.sensors if each.positions]
    rows = [
        (f"{name} at {place.reference_deg:g} deg", each.error_deg, each.low_deg, each.high_deg)
        for name, positions in columns
        for place, each in list(zip(check.positions, positions, strict=True))[1:]
    ]
    if check.pair is not None:
        rows += [
            (f"both at {place.reference_deg:g} deg", each.error_deg, each.low_deg, each.high_deg)
            for place, each in list(zip(check.positions, check.pair.positions, strict=True))[1:]
        ]
    return interval_plot("Errors with their 95 % intervals", "error, deg", rows, 0.0)


def _taping_figure(check: TapingCheck) -> IntervalPlot:
    rows = [(f"taping {number}", each.angle_deg, None, None) for number, each in enumerate(check.tapings, start=1)]
    # one more would differ from the true mean, of which this one is only an estimate
    half = NORMAL_FACTOR * check.own_standing_deg * (1.0 + 1.0 / check.spread.count) ** 0.5
    band = (check.spread.mean - half, check.spread.mean + half)
    title = "Angle of the posture in each taping, their mean, and where 95 of 100 more would lie"
    return interval_plot(title, "angle from the neutral pose, deg", rows, check.spread.mean, band)


def _sensor_tables(check: SensorCheck) -> tuple[Table, ...]:
    text = sensor_check_text
    turns = text.turn_rows(check)
    return (
        Table(
            "Errors since the first position; intervals in brackets are 95 %",
            text.position_headings(check),
            tuple(text.position_rows(check)),
        ),
        Table(
            "Turns from position to position by the gyroscope; u is the standard uncertainty of the error",
            text.turn_headings(check),
            tuple(turns),
        ),
        Table(
            "At rest; in brackets the smallest and the largest of the positions",
            text.rest_headings(),
            tuple(text.rest_rows(check)),
        ),
    )


def _taping_tables(check: TapingCheck) -> tuple[Table, ...]:
    return (
        Table(
            "Tapings; the difference is that from the mean",
            taping_text.taping_headings(),
            tuple(taping_text.taping_rows(check)),
            frozenset({len(taping_text.taping_headings()) - 1}),
        ),
    )


def check_page_bytes(content: CheckPage) -> bytes:
    """Write the page.

    Parameters
    ----------
    content : CheckPage
        What it shows.

    Returns
    -------
    bytes
        UTF-8 text; the same content gives the same bytes.
    """
    return rendered("check.html", {each.name: getattr(content, each.name) for each in fields(content)}).encode()

"""Every tunable of the analysis: default, unit, allowed range and where the value comes from.

Settings are grouped by the room that uses them. ``Settings()`` holds the defaults; ``settings_from_mapping`` takes the
tables of a TOML file. All values go into each result's provenance.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any

from imu_rom.errors import SettingError

__all__ = [
    "AngleSettings",
    "CourseSettings",
    "PainSettings",
    "PoseSettings",
    "ReadingSettings",
    "RepetitionSettings",
    "Settings",
    "UncertaintySettings",
    "settings_from_mapping",
    "tunable",
]

PRACTICE = "common practice, no source"


def tunable(default: float | str, unit: str, low: float | None, high: float | None, meaning: str, source: str) -> Any:  # noqa: ANN401
    """Declare one setting.

    Parameters
    ----------
    default : float or str
        Value used when nothing is said.
    unit : str
        Unit word, empty for a pure number.
    low, high : float or None
        Allowed range, both ends included; None for text.
    meaning : str
        What it decides.
    source : str
        Where the default comes from.

    Returns
    -------
    dataclasses.Field
        The field, typed as Any so that the class body can annotate it.
    """
    return field(
        default=default,
        metadata={"unit": unit, "low": low, "high": high, "meaning": meaning, "source": source},
    )


@dataclass(frozen=True)
class ReadingSettings:
    """How files become a recording."""

    largest_file_mb: float = tunable(2048, "MB", 1, 100_000, "a larger input file is refused unread", PRACTICE)
    largest_plan_mb: float = tunable(1, "MB", 0.01, 100, "a larger plan file is refused unread", PRACTICE)
    lowest_rate_hz: float = tunable(20, "Hz", 10, 100, "a slower recording is refused", PRACTICE)
    shortest_recording_s: float = tunable(5, "s", 1, 600, "a shorter recording is refused", PRACTICE)
    longest_filled_gap_s: float = tunable(0.2, "s", 0, 2, "gaps up to this are filled by interpolation", PRACTICE)
    largest_missing_share: float = tunable(0.20, "", 0, 1, "more than this share missing is refused", PRACTICE)
    longest_gap_s: float = tunable(60, "s", 0.2, 3600, "a sensor silent for longer at a stretch is refused", PRACTICE)
    farthest_swap_s: float = tunable(1.0, "s", 0, 10, "rows that changed places by up to this are sorted", PRACTICE)
    clock_skew_ppm: float = tunable(
        100.0, "ppm", 1, 10_000, "ordinary difference of two clocks' rates, where the recording can't show it", PRACTICE
    )
    largest_clock_skew_ppm: float = tunable(
        1000.0, "ppm", 10, 10_000, "larger differences of two clocks' rates are not looked for", PRACTICE
    )
    gravity_tolerance: float = tunable(
        0.10, "", 0.01, 0.5, "share by which the median resting specific force may differ from 9.81 m/s^2", PRACTICE
    )


@dataclass(frozen=True)
class UncertaintySettings:
    """Standard uncertainties of the parts of a joint angle, in degrees (1 sigma)."""

    zero_pose_deg: float = tunable(
        2.0,
        "deg",
        0,
        20,
        "how far the neutral pose is from the joint's true zero; shared by the whole session",
        PRACTICE,
    )
    own_standing_deg: float = tunable(
        1.0,
        "deg",
        0,
        20,
        "how well people take up their own standing again, where that is the zero; shared by the whole session",
        PRACTICE,
    )
    soft_tissue_slow_deg: float = tunable(
        0.6,
        "deg",
        0,
        20,
        "slow movement on the flesh of sensors on shin and shoe, more elsewhere; shared by one set",
        PRACTICE,
    )
    soft_tissue_fast_deg: float = tunable(
        0.8,
        "deg",
        0,
        20,
        "wobble on the flesh of sensors on shin and shoe, more elsewhere; each sample's own",
        PRACTICE,
    )
    attitude_deg: float = tunable(
        0.5,
        "deg",
        0,
        20,
        "slow error of both sensors' inclination; shared by one set",
        "Laidig, Seel 2023; tests/benchmarks",
    )
    still_foot_deg: float = tunable(
        0.5, "deg", 0, 20, "how still a foot that stands flat keeps, where only the shank has a sensor", PRACTICE
    )
    still_seated_deg: float = tunable(
        2.0,
        "deg",
        0,
        20,
        "how still the other segment keeps in sitting or against a chair, where one sensor is worn",
        PRACTICE,
    )
    foot_flat_deg: float = tunable(
        0.5,
        "deg",
        0,
        20,
        "how far a foot flat on the floor lies from where it lay in the neutral pose (sole, weight, the floor's slope)",
        PRACTICE,
    )
    soft_tissue_locked_share: float = tunable(
        0.01,
        "",
        0,
        0.5,
        "share of the excursion that the skin of the shin follows, more elsewhere; shared by the whole session",
        PRACTICE,
    )
    accelerometer_bias_m_s2: float = tunable(
        0.1,
        "m/s^2",
        0,
        5,
        "bias of each accelerometer axis: its part grows as a sensor tilts away from the pose; shared by the whole "
        "session",
        f"{PRACTICE}: 10 mg, a consumer sensor after its maker's calibration",
    )
    mount: str = tunable(
        "skin", "", None, None, "skin, or rigid where nothing lies between sensor and segment: no soft tissue", PRACTICE
    )


@dataclass(frozen=True)
class PoseSettings:
    """How the worn part and the neutral pose are found."""

    shortest_pose_s: float = tunable(2.0, "s", 0.5, 30, "a shorter still stretch is no neutral pose", PRACTICE)
    largest_difference_deg: float = tunable(
        3.0, "deg", 0.5, 30, "still stretches that differ by more leave the zero to the person who asks", PRACTICE
    )
    rival_share: float = tunable(
        0.35, "", 0, 1, "a still stretch shorter than this share of the chosen one is a stop on the way", PRACTICE
    )
    other_posture_deg: float = tunable(
        10.0, "deg", 3, 90, "a quieter still stretch that differs by more is another posture, such as sitting", PRACTICE
    )
    again_s: float = tunable(
        5.0,
        "s",
        2,
        60,
        "a later still stand in the same posture is compared with the neutral pose from this on",
        PRACTICE,
    )
    longest_wait_s: float = tunable(
        20.0, "s", 1, 120, "the calibration movement starts within this time of the neutral pose", PRACTICE
    )


@dataclass(frozen=True)
class AngleSettings:
    """How attitudes become a joint angle."""

    attitude_filter: str = tunable("vqf", "", None, None, "attitude filter by its published name", "Laidig, Seel 2023")
    gyroscope_samples: str = tunable(
        "means", "", None, None, "what a rate stands for: means since the sample before, or instants", PRACTICE
    )
    heading_time_constant_s: float = tunable(
        8.0, "s", 1, 120, "relative heading is followed where it changes more slowly", "tests/benchmarks"
    )
    heading_drift_deg_s: float = tunable(
        0.2, "deg/s", 0.001, 10, "drift of the relative heading where the axis can't show it", PRACTICE
    )


@dataclass(frozen=True)
class RepetitionSettings:
    """How repetitions and sets are found in a joint angle."""

    smallest_excursion_deg: float = tunable(8.0, "deg", 2, 60, "smaller movements are no repetitions", PRACTICE)
    complete_share: float = tunable(
        0.70, "", 0.3, 1, "a repetition is complete from this share of its set's median excursion", PRACTICE
    )
    rest_s: float = tunable(6.0, "s", 1, 60, "a longer pause between repetitions splits sets", PRACTICE)
    longest_interruption_s: float = tunable(
        60.0, "s", 5, 600, "neighbours across a longer pause are never one interrupted set", PRACTICE
    )
    longest_clipping_s: float = tunable(
        0.1, "s", 0, 5, "a sensor at its full scale for longer within a set is refused", PRACTICE
    )


MODEL = "pain-monitoring model (Thomee 1997; Silbernagel 2007; from memory)"


@dataclass(frozen=True)
class PainSettings:
    """Bands of pain, 0 to 10, in a course of weeks."""

    safe_up_to: float = tunable(2, "", 0, 10, "pain up to this is safe; sources say 2 or 3", MODEL)
    acceptable_up_to: float = tunable(5, "", 0, 10, "pain above this, during, after or next morning, is a flare", MODEL)
    stop_above: float = tunable(5, "", 0, 10, "pain above this: stop and contact the clinician", MODEL)
    settled_within: float = tunable(1, "", 0, 10, "pain at most this above its baseline has settled", PRACTICE)
    smallest_rise: float = tunable(0.5, "", 0, 10, "rise of a week's mean morning pain from which on it rose", PRACTICE)
    smallest_rise_min: float = tunable(5, "min", 0, 120, "the same of a week's mean morning stiffness", PRACTICE)
    stiffness_stop_above_min: float = tunable(60, "min", 0, 600, "longer morning stiffness is pointed out", PRACTICE)
    red_flag_recent_days: float = tunable(14, "days", 1, 365, "older red flags are asked about, not acted on", PRACTICE)


@dataclass(frozen=True)
class CourseSettings:
    """How a course of weeks is summed up."""

    stable_days: float = tunable(7, "days", 1, 60, "days judged where the stage's criteria name none", PRACTICE)
    answered_share: float = tunable(0.8, "", 0, 1, "fewer days with an answer are not enough for a criterion", PRACTICE)
    fewest_days: float = tunable(3, "days", 1, 60, "fewer days with exercises are not enough for a criterion", PRACTICE)
    fewest_days_a_week: float = tunable(4, "days", 1, 7, "fewer answers make no mean of a week", PRACTICE)
    load_test_valid_days: float = tunable(14, "days", 1, 90, "an older load test no longer counts", PRACTICE)
    tick_within_h: float = tunable(3, "h", 0, 24, "a tick this near a recorded session is of that session", PRACTICE)
    false_alarm: float = tunable(0.05, "", 0.001, 0.2, "largest probability of a pattern seen by chance", PRACTICE)
    pattern_days: float = tunable(28, "days", 7, 365, "patterns are looked for in so many days, up to now", PRACTICE)
    fewest_sessions: float = tunable(5, "", 3, 60, "fewer recorded sessions make no pattern and no trend", PRACTICE)
    tempo_tolerance: float = tunable(0.25, "", 0, 1, "share by which a phase may be shorter than prescribed", PRACTICE)
    tempo_tolerance_s: float = tunable(0.5, "s", 0, 10, "or this, whichever is more", PRACTICE)
    hold_tolerance: float = tunable(0.10, "", 0, 1, "share by which a hold or stretch may be shorter", PRACTICE)
    excess_share: float = tunable(0.10, "", 0, 5, "share beyond the prescribed dose that counts as more", PRACTICE)
    fatigue_deg: float = tunable(1.0, "deg", 0, 20, "smaller falls of the end range over a set are none", PRACTICE)
    fatigue_share: float = tunable(0.10, "", 0, 1, "smaller changes of a phase's time over a set are none", PRACTICE)
    side_difference_deg: float = tunable(5.0, "deg", 0, 60, "smaller differences between the sides are none", PRACTICE)
    fewest_days_lagged: float = tunable(
        20, "days", 10, 200, "fewer days with exposure and next morning's pain tell nothing of both", PRACTICE
    )
    gap_factor: float = tunable(
        2.0, "", 1, 10, "a gap is this many times the planned time between recordings", PRACTICE
    )
    shortest_gap_days: float = tunable(3, "days", 1, 60, "and at least so many days", PRACTICE)
    published_sem: str = tunable(
        "none", "", None, None, "published error between days, where the clinic has no check of its own", PRACTICE
    )


OF_WEEKS = ("pain", "course")


@dataclass(frozen=True)
class Settings:
    """All settings of an analysis, and of a course of weeks.

    Parameters
    ----------
    reading : ReadingSettings
        How files become a recording.
    pose : PoseSettings
        How the worn part and the neutral pose are found.
    angle : AngleSettings
        How attitudes become a joint angle.
    uncertainty : UncertaintySettings
        The uncertainty budget.
    repetitions : RepetitionSettings
        How repetitions and sets are found.
    pain : PainSettings
        Bands of pain, in a course of weeks.
    course : CourseSettings
        How a course of weeks is summed up.
    """

    reading: ReadingSettings = field(default_factory=ReadingSettings)
    pose: PoseSettings = field(default_factory=PoseSettings)
    angle: AngleSettings = field(default_factory=AngleSettings)
    uncertainty: UncertaintySettings = field(default_factory=UncertaintySettings)
    repetitions: RepetitionSettings = field(default_factory=RepetitionSettings)
    pain: PainSettings = field(default_factory=PainSettings)
    course: CourseSettings = field(default_factory=CourseSettings)

    def as_mapping(self) -> dict[str, dict[str, float | str]]:
        """Give all values that an analysis works with, for its provenance: those of weeks change no session's result.

        Returns
        -------
        dict
            Group name to setting name to value.
        """
        return {name: group for name, group in asdict(self).items() if name not in OF_WEEKS}

    def of_weeks_as_mapping(self) -> dict[str, dict[str, float | str]]:
        """Give all values that a course of weeks is summed up with.

        Returns
        -------
        dict
            Group name to setting name to value.
        """
        return {name: group for name, group in asdict(self).items() if name in OF_WEEKS}


def _checked(group: str, name: str, value: object, metadata: Mapping[str, Any]) -> float | str:
    where = f"setting {group}.{name}"
    if metadata["low"] is None:
        if not isinstance(value, str):
            raise SettingError(f"must be text, got {value!r}", where=where)
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SettingError(f"must be a number, got {value!r}", where=where)
    if not metadata["low"] <= value <= metadata["high"]:
        unit = f" {metadata['unit']}" if metadata["unit"] else ""
        raise SettingError(f"must lie in {metadata['low']} to {metadata['high']}{unit}, got {value}", where=where)
    return value


def settings_from_mapping(tables: Mapping[str, object]) -> Settings:
    """Build settings from the tables of a settings file; what is left out keeps its default.

    Parameters
    ----------
    tables : mapping
        Group name to a mapping of setting name to value.

    Returns
    -------
    Settings
        Checked settings.

    Raises
    ------
    SettingError
        A group or name is unknown, or a value is of the wrong kind or out of range.
    """
    settings = Settings()
    groups = [each.name for each in fields(settings)]
    for group, table in tables.items():
        if group not in groups:
            raise SettingError(f"unknown group {group!r}; there are {', '.join(groups)}", where="settings")
        if not isinstance(table, Mapping):
            raise SettingError(f"must be a table of settings, got {table!r}", where=f"settings group {group}")
        current = getattr(settings, group)
        known = {each.name: each for each in fields(current)}
        values = {}
        for name, value in table.items():
            if name not in known:
                raise SettingError(
                    f"unknown setting; the group has {', '.join(known)}", where=f"setting {group}.{name}"
                )
            values[name] = _checked(group, name, value, known[name].metadata)
        settings = replace(settings, **{group: replace(current, **values)})
    return settings

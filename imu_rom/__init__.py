"""From two small motion sensors to the compressive end-range exposure of a tendon.

One corridor, walked once, left to right::

    file -> recording -> motion -> dose -> session -> exchange -> course -> report

``recording``
    What was measured: files read into SI units on one time base.
``motion``
    What the joint did: attitudes, alignment, joint angle, repetitions, sets.
``dose``
    What the tendon got, against what was prescribed.
``session``
    One sitting analysed from end to end.
``exchange``
    Files that other programs read.
``wording``
    Sentences and cautions, one voice for all that people read.
``course``
    A folder over weeks: plan, diary, results, what is new.
``report``
    Pages that people read.
``cohort``
    A dataset of many people as tables; beside ``report``.

``notebook``
    What a researcher imports: the names below, with tables as data frames.

Lower rooms never import higher ones.

>>> import imu_rom
>>> session = imu_rom.analyse(
...     imu_rom.read_recording("sample_recordings/dataset/sub-P0001"),
...     imu_rom.read_plan("sample_recordings/plans/P-0001.toml"),
... )
>>> session.to_frame("sets").verdict.tolist()
['met', 'met', 'met']
"""

from importlib import import_module

from imu_rom.version import __version__

# each is loaded when it is first asked for, so that importing imu_rom loads nothing; types are in __init__.pyi
_PLACES = {
    "AnalysedSession": "imu_rom.notebook.session",
    "Cohort": "imu_rom.notebook.cohort",
    "DelimitedOptions": "imu_rom.recording.delimited",
    "ImuRomError": "imu_rom.errors",
    "Plan": "imu_rom.dose.plan",
    "Recording": "imu_rom.recording.model",
    "Settings": "imu_rom.settings",
    "analyse": "imu_rom.notebook.session",
    "analyse_dataset": "imu_rom.notebook.cohort",
    "read_cohort": "imu_rom.notebook.cohort",
    "read_plan": "imu_rom.dose.plan_file",
    "read_recording": "imu_rom.notebook.reading",
    "simulate_session": "imu_rom.simulation.session",
}

__all__ = [
    "AnalysedSession",
    "Cohort",
    "DelimitedOptions",
    "ImuRomError",
    "Plan",
    "Recording",
    "Settings",
    "__version__",
    "analyse",
    "analyse_dataset",
    "read_cohort",
    "read_plan",
    "read_recording",
    "simulate_session",
]


def __getattr__(name: str) -> object:
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_PLACES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_PLACES})

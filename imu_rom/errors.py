"""The few kinds of error: what is wrong, where, and what to do about it."""

__all__ = [
    "BusyError",
    "CannotAnswerError",
    "ClinicError",
    "CohortError",
    "CourseError",
    "ImuRomError",
    "MissingExtraError",
    "OutputError",
    "PlanError",
    "RecordingError",
    "ResultError",
    "SettingError",
]


class ImuRomError(Exception):
    """Anything that the caller can mend; the command line prints it as one sentence and exits with 2.

    Parameters
    ----------
    what : str
        What is wrong, with what it must be and what it was; no full stop at the end.
    where : str, optional
        File, line, column, sensor or time; put before the sentence.
    do : str, optional
        What to do about it; put behind the sentence.
    """

    def __init__(self, what: str, *, where: str = "", do: str = "") -> None:
        self.what = what
        self.where = where
        self.do = do
        super().__init__(what, where, do)

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        advice = f"; {self.do}" if self.do else ""
        return f"{place}{self.what}{advice}."


class RecordingError(ImuRomError):
    """A recording's files can't be read, or hold no usable measurement."""


class PlanError(ImuRomError):
    """A plan says something that it can't mean."""


class SettingError(ImuRomError):
    """A setting is unknown or outside its range."""


class CannotAnswerError(ImuRomError):
    """The recording is readable but does not carry what the question needs."""


class CourseError(ImuRomError):
    """The plans or the diary of a course folder can't be used as they are."""


class CohortError(ImuRomError):
    """A dataset can't be walked, or what should analyse its recordings can't be started or was lost."""


class ClinicError(ImuRomError):
    """Something asked of the clinic's service can't be done as it was asked; the sentence may be shown to who asked."""


class BusyError(ClinicError):
    """The clinic's database did not answer in time, or can't be written; the same may be asked again later."""


class OutputError(ImuRomError):
    """A result can't be written where it was asked for."""


class ResultError(ImuRomError):
    """A written result can't be read back."""


class MissingExtraError(ImuRomError):
    """An optional dependency is needed that is not installed."""

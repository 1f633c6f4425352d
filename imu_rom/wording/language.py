"""The languages of what patients read: sentences by gettext's catalogues, numbers and dates as each writes them.

The English sentence is the key; every other language is one folder below ``languages`` with its catalogue, and nothing
else names it.
"""

from dataclasses import dataclass
from datetime import date
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files

from imu_rom.errors import SettingError

__all__ = ["ENGLISH", "Speech", "languages", "preferred_language", "said_later", "speech"]

ENGLISH = "en"
DOMAIN = "patient"


def said_later(message: str) -> str:
    """Mark a message for the catalogue that is put into the reader's language elsewhere.

    Parameters
    ----------
    message : str
        The English sentence.

    Returns
    -------
    str
        The same.
    """
    return message


@dataclass(frozen=True)
class Speech:
    """One language.

    Parameters
    ----------
    language : str
        Its code, such as ``"de"``.
    translations : NullTranslations
        Its catalogue.
    """

    language: str
    translations: NullTranslations

    def say(self, message: str, **values: object) -> str:
        """Say a sentence.

        Parameters
        ----------
        message : str
            The English sentence, with names in braces where values go.
        **values : object
            What goes there.

        Returns
        -------
        str
            The sentence in this language.
        """
        return self.translations.gettext(message).format(**values)

    def say_of(self, one: str, many: str, number: int, **values: object) -> str:
        """Say a sentence about a number of things.

        Parameters
        ----------
        one, many : str
            The English sentence about one thing and about several; ``{number}`` is the number.
        number : int
            How many.
        **values : object
            What else goes in.

        Returns
        -------
        str
            The sentence in this language, which has its own rules for the plural.
        """
        return self.translations.ngettext(one, many, number).format(number=number, **values)

    def number(self, value: float) -> str:
        """Write a number with at most one decimal.

        Parameters
        ----------
        value : float
            The number.

        Returns
        -------
        str
            With this language's decimal mark.
        """
        mark = self.translations.pgettext("decimal mark", ".")
        return f"{round(value, 1) + 0.0:g}".replace(".", mark)

    @property
    def name(self) -> str:
        """What the language calls itself."""
        return self.translations.pgettext("this language's own name", "English")

    def day(self, day: date) -> str:
        """Write a date.

        Parameters
        ----------
        day : date
            The day.

        Returns
        -------
        str
            Such as ``"3 December 2026"``.
        """
        return self.say("{day} {month} {year}", day=day.day, month=self.say(MONTHS[day.month - 1]), year=day.year)

    def short_day(self, day: date) -> str:
        """Write a date whose year is known.

        Parameters
        ----------
        day : date
            The day.

        Returns
        -------
        str
            Such as ``"3 December"``.
        """
        return self.say("{day} {month}", day=day.day, month=self.say(MONTHS[day.month - 1]))


MONTHS = (
    said_later("January"),
    said_later("February"),
    said_later("March"),
    said_later("April"),
    said_later("May"),
    said_later("June"),
    said_later("July"),
    said_later("August"),
    said_later("September"),
    said_later("October"),
    said_later("November"),
    said_later("December"),
)


def languages() -> tuple[str, ...]:
    """List the languages that there are.

    Returns
    -------
    tuple of str
        Their codes: English, then the others by name.
    """
    folder = files(__package__).joinpath("languages")
    return ENGLISH, *sorted(
        each.name for each in folder.iterdir() if each.joinpath("LC_MESSAGES", f"{DOMAIN}.mo").is_file()
    )


def preferred_language(wanted: str) -> str:
    """Choose a language by what a browser says of its reader's.

    Parameters
    ----------
    wanted : str
        Such as ``"de-AT,de;q=0.9,en;q=0.5"`` (RFC 9110, 12.5.4); browsers write them in order of liking.

    Returns
    -------
    str
        Code of the first one that there is, else English.
    """
    known = languages()
    codes = (each.split(";")[0].strip().split("-")[0].lower() for each in wanted.split(","))
    return next((each for each in codes if each in known), ENGLISH)


def speech(language: str) -> Speech:
    """Open a language.

    Parameters
    ----------
    language : str
        Its code.

    Returns
    -------
    Speech
        The language.

    Raises
    ------
    SettingError
        There is no catalogue of that language.
    """
    known = languages()
    if language not in known:
        raise SettingError(f"language must be one of {', '.join(known)}, got {language!r}")
    if language == ENGLISH:
        return Speech(language, NullTranslations())
    with files(__package__).joinpath("languages", language, "LC_MESSAGES", f"{DOMAIN}.mo").open("rb") as file:
        return Speech(language, GNUTranslations(file))

"""The catalogues of what patients read: every sentence there, current, and free of words that frighten or judge.

    python tests/wording/test_patient_catalogue.py       # bring every language up to date and compile it
    python tests/wording/test_patient_catalogue.py fr    # the same, and start a language that is not there yet

New sentences come in empty, sentences that are no longer said go; nothing is guessed from what reads alike.
"""

import io
import re
import string
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

import imu_rom
from imu_rom.errors import SettingError
from imu_rom.motion.joints import JOINTS
from imu_rom.wording import patient_care, patient_movements
from imu_rom.wording.cautions import RED_FLAGS
from imu_rom.wording.language import ENGLISH, languages, speech

PACKAGE = Path(imu_rom.__file__).parent
FOLDER = PACKAGE / "wording" / "languages"
KEYWORDS = {"say": None, "said_later": None, "say_of": (1, 2), "pgettext": ((1, "c"), 2)}
# a day that moved would change the files without a word changed
MADE = datetime(2026, 11, 30, tzinfo=UTC)
# parts of words, by language; a new language needs its own
NEVER = {
    "en": "compress|damag|limit|exceed|fail|progress",
    "de": "kompr|quetsch|schad|schäd|limit|grenz|überschr|versag|scheiter|fehlschl|fehlgeschl|steiger",
}


def place(language, ending="po"):
    return FOLDER / language / "LC_MESSAGES" / f"patient.{ending}"


def said_in_code():
    """(message, context) of everything that the code says to patients, in its order."""
    for room in ("wording", "report"):
        for _, _, message, _, context in extract_from_dir(PACKAGE / room, [("**.py", "python")], {}, keywords=KEYWORDS):
            yield message, context


def catalogue(language):
    with place(language).open("rb") as file:
        return read_po(file, locale=language)


def updated(language):
    """The catalogue's file as it should be, as text and compiled."""
    known = catalogue(language) if place(language).exists() else Catalog(locale=language)
    made = Catalog(
        locale=language,
        project="imu_rom",
        version="1",
        creation_date=MADE,
        revision_date=MADE,
        msgid_bugs_address="none",
        last_translator="imu_rom",
        language_team="imu_rom",
        charset="utf-8",
        fuzzy=False,
        header_comment="# What patients read. tests/wording/test_patient_catalogue.py keeps it up to date.",
    )
    for message, context in said_in_code():
        said = known.get(message, context)
        made.add(message, said.string if said else None, context=context)
    text, compiled = io.BytesIO(), io.BytesIO()
    write_po(text, made, width=110)
    write_mo(compiled, made)
    # which release of babel wrote it is no part of what it says
    return re.sub(rb'"Generated-By: .*\n', b"", text.getvalue()), compiled.getvalue()


def forms(message):
    """(English, other language) of each plural form; English has two, the last of them for all further ones."""
    if isinstance(message.id, str):
        return [(message.id, message.string)]
    return [(message.id[min(place, 1)], each) for place, each in enumerate(message.string)]


def names(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


OTHERS = [each for each in languages() if each != ENGLISH]


def test_german_is_there_as_proof():
    assert languages()[0] == "en"
    assert "de" in languages()


@pytest.mark.parametrize("language", OTHERS)
def test_it_is_what_the_code_says(language):
    said = {(message, context) for message, context in said_in_code()}
    assert {(message.id, message.context) for message in catalogue(language) if message.id} == said
    assert len(said) > 100


@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_is_missing_or_fuzzy(language):
    for message in catalogue(language):
        if message.id:
            assert not message.fuzzy, message.id
            for _, said in forms(message):
                assert said, message.id
                assert said.strip() == said


@pytest.mark.parametrize("language", OTHERS)
def test_the_compiled_catalogue_is_that_of_the_text(language):
    text, _ = updated(language)
    assert place(language).read_bytes() == text, "run python tests/wording/test_patient_catalogue.py"
    # what it says, since another release of babel may lay it out otherwise
    compiled = speech(language).translations._catalog
    for message in catalogue(language):
        for number, (_, said) in enumerate(forms(message) if message.id else ()):
            key = message.id if isinstance(message.id, str) else (message.id[0], number)
            key = f"{message.context}\x04{key}" if message.context else key
            assert compiled.pop(key) == said
    assert set(compiled) == {""}


@pytest.mark.parametrize("language", OTHERS)
def test_the_same_values_go_into_both(language):
    for message in catalogue(language):
        for english, said in forms(message) if message.id else ():
            assert names(said) == names(english), english


@pytest.mark.parametrize("language", languages())
def test_no_word_frightens_or_judges(language):
    if language == ENGLISH:
        texts = [each for message, _ in said_in_code() for each in ([message] if isinstance(message, str) else message)]
    else:
        texts = [said for message in catalogue(language) if message.id for _, said in forms(message)]
    assert len(texts) > 100
    for text in texts:
        assert not re.search(NEVER[language], text, re.IGNORECASE), text


def test_every_sign_is_said_with_its_urgency():
    assert list(patient_care.SIGNS) == [each.word for each in RED_FLAGS]
    assert list(dict.fromkeys(each.urgency for each in RED_FLAGS)) == list(patient_care.WHAT_TO_DO)
    assert list(patient_care.IF_SEEN) == list(patient_care.WHAT_TO_DO)
    _, rules = patient_care.stop_rules(speech("en"))
    assert [len(each.signs) for each in rules] == [1, 5, 4]
    assert rules[0].what.startswith("One of these signs? Call the emergency number now")
    assert rules[0].signs == (
        "It is hard to breathe, or your chest hurts. A swollen calf makes this even more urgent.",
    )


def test_every_movement_has_words():
    assert set(patient_movements.MOVEMENTS) == {
        (joint.name, each.name) for joint in JOINTS.values() for each in joint.motions
    }
    assert set(patient_movements.JOINTS) == {(side, joint) for joint in JOINTS for side in ("left", "right")}


def test_numbers_and_dates_are_written_as_the_language_writes_them():
    english, german = speech("en"), speech("de")
    assert [english.number(each) for each in (2.5, 15.0, -0.04)] == ["2.5", "15", "0"]
    assert german.number(2.5) == "2,5"
    assert english.day(date(2026, 12, 3)) == "3 December 2026"
    assert german.day(date(2027, 3, 1)) == "1. März 2027"


@pytest.mark.parametrize("language", ["xx", "", "../de", "DE"])
def test_a_language_that_is_not_there_is_one_sentence(language):
    with pytest.raises(SettingError, match=r"^language must be one of en, de"):
        speech(language)


def main():
    for language in sorted({each.name for each in FOLDER.iterdir() if each.is_dir()} | set(sys.argv[1:])):
        text, compiled = updated(language)
        place(language).parent.mkdir(parents=True, exist_ok=True)
        place(language).write_bytes(text)
        place(language, "mo").write_bytes(compiled)
        empty = sum(not all(said for _, said in forms(each)) for each in catalogue(language) if each.id)
        print(f"{language}: {empty} sentences to be translated")


if __name__ == "__main__":
    main()

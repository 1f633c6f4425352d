"""The patient's page as bytes: the same from the same, names as text, no scores."""

import re
from dataclasses import replace

import pytest

from imu_rom.errors import SettingError
from imu_rom.exchange.result import parse_result, write_result
from imu_rom.report.patient_page import patient_page, patient_page_bytes
from imu_rom.wording.language import languages


def page_of(document, language="en"):
    return patient_page_bytes(patient_page(document, language)).decode()


@pytest.mark.parametrize("language", languages())
def test_the_same_result_gives_the_same_bytes_also_from_its_file(patient_documents, language):
    for document in patient_documents.values():
        page = page_of(document, language)
        assert page == page_of(document, language)
        assert page == page_of(parse_result(write_result(document), "result.json"), language)
        assert f'<html lang="{language}">' in page


def test_names_are_text(patient_documents):
    page = page_of(patient_documents["named to harm"])
    assert "<script" not in page
    # person, plan and what the plan says is done, each kept apart from the text around it
    assert page.count("<bdi>&lt;script&gt;") == 3


def test_it_shows_no_verdict_as_a_score(patient_documents):
    for document in patient_documents.values():
        text = re.sub(r"(?s)<style>.*?</style>|<[^>]*>", " ", page_of(document))
        assert "%" not in text
        assert not re.search(r"probab|likel|score|verdict|undecided", text, re.IGNORECASE)


def test_it_needs_no_script_and_no_other_place(patient_documents):
    page = page_of(patient_documents["several"])
    assert "script" not in page
    assert not re.search(r"https?:|src=|@import|url\((?!#)", page)
    assert len(page) < 100_000


def test_several_exercises_each_have_their_part(patient_documents):
    page = patient_page(patient_documents["several"])
    assert [each.heading for each in page.exercises] == [
        "Exercise 1: heeldrop, left ankle",
        "Exercise 2: heeldrop, right ankle",
    ]
    assert len(set(re.findall(r' id="([^"]*)"', page_of(patient_documents["several"])))) == len(
        re.findall(r' id="', page_of(patient_documents["several"]))
    )


def test_the_day_is_the_persons_own(patient_documents):
    document = patient_documents["as planned"]
    assert patient_page(document).title == "Your exercises on 3 December 2026"
    assert patient_page(document, "de").title == "Ihre Übungen am 3. Dezember 2026"
    late = replace(document, recording=replace(document.recording, recorded_at="2026-12-31T23:59:00-05:00"))
    assert patient_page(late).title == "Your exercises on 31 December 2026"
    unknown = replace(document, recording=replace(document.recording, recorded_at=None))
    assert patient_page(unknown).title == "Your exercises"


def test_what_was_done_is_said_of_its_day_since_the_page_is_read_later_too(patient_documents):
    document = patient_documents["as planned"]
    for language, furthest in (
        ("en", "The furthest on 3 December 2026: "),
        ("de", "Am weitesten am 3. Dezember 2026: "),
    ):
        (exercise,) = patient_page(document, language).exercises
        assert any(words.startswith(furthest) for _, words in exercise.picture_words.key)
    unknown = replace(document, recording=replace(document.recording, recorded_at=None))
    (exercise,) = patient_page(unknown).exercises
    assert any(words.startswith("The furthest you went: ") for _, words in exercise.picture_words.key)
    for made in patient_documents.values():
        for language, today in (("en", "today"), ("de", "heute")):
            for exercise in patient_page(made, language).exercises:
                told = [*exercise.words.done, *exercise.words.keep, *exercise.words.change]
                assert today not in " ".join([*told, exercise.picture_words.description]).lower()


def test_a_person_without_a_name_is_not_named(patient_documents):
    nobody = replace(patient_documents["as planned"], patient=None)
    assert [what for what, _ in patient_page(nobody).facts] == ["Your plan"]


def test_an_unknown_language_is_one_sentence(patient_documents):
    with pytest.raises(SettingError, match=r"^language must be one of en, de, got 'xx'"):
        patient_page(patient_documents["as planned"], "xx")


def test_the_picture_is_told_to_those_who_can_not_see_it(patient_documents):
    for document in patient_documents.values():
        for each in patient_page(document).exercises:
            words = each.picture_words
            assert words.description.startswith(words.caption)
            assert all(said in words.description for _, said in words.key)
            # what the key names is in the drawing, and the other way round
            kinds = {mark.kind for mark in each.picture.marks}
            named = {kind for kind, _ in words.key}
            assert kinds & {"start", "planned", "stop", "floor", "furthest"} == named

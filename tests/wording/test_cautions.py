"""Cautions: what must be said, and that the most urgent comes first."""

from datetime import date

import pytest

from imu_rom.dose.case_answer import RedFlagDay
from imu_rom.wording.cautions import CAUTION, RED_FLAGS, STOP_RULE, red_flag_text, stage_cautions


def test_the_cautions_of_a_stage_name_every_sign():
    text = " ".join(stage_cautions())
    assert stage_cautions()[:2] == (CAUTION, STOP_RULE)
    for words in (
        "sudden pop",
        "push-off",
        "swollen or painful calf",
        "shortness of breath",
        "hot, swollen tendon",
        "fever",
        "no change of position eases",
        "over an hour on both sides",
        "fluoroquinolone",
        "steroid injection",
    ):
        assert words in text


def test_every_sign_says_where_it_comes_from():
    assert all(each.source for each in RED_FLAGS)
    assert len({each.word for each in RED_FLAGS}) == len(RED_FLAGS)


@pytest.mark.parametrize("flag", RED_FLAGS, ids=lambda each: each.word)
def test_a_sign_of_the_diary_says_what_to_do(flag):
    days = [RedFlagDay(date(2026, 12, day), (flag.word,), recent=True) for day in (3, 4)]
    first, last = red_flag_text(days)
    assert f"{flag.sign} (2026-12-03, 2026-12-04)" in first
    asked = {"emergency": "emergency number", "today": "urgent care today", "before the next session": "been asked"}
    assert asked[flag.urgency] in first
    assert last == "Nothing below says that it is safe to go on."


def test_the_most_urgent_comes_first():
    sentences = red_flag_text([RedFlagDay(date(2026, 12, 3), ("breathless", "pop", "steroid injection"), recent=True)])
    assert [each.split(".")[0] for each in sentences] == [
        "Call the emergency number now, and do no exercises",
        "Do no exercises and get urgent care today",
        "Do no exercises until a doctor or the clinic has been asked",
        "Nothing below says that it is safe to go on",
    ]
    assert red_flag_text([]) == ()


def test_what_was_noted_long_ago_is_asked_about():
    days = [
        RedFlagDay(date(2026, 12, 3), ("pop",), recent=False),
        RedFlagDay(date(2027, 1, 9), ("fever",), recent=True),
    ]
    first, second, third = red_flag_text(days)
    assert first == "Do no exercises and get urgent care today. The diary notes: fever (2027-01-09)."
    assert second.startswith("Nothing below")
    assert third.startswith("Ask whether somebody has looked at this")
    assert third.endswith("a sudden pop, or the feeling of a kick (2026-12-03).")

"""Cautions: what must be said, and that the most urgent comes first."""

import pytest

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
    first, last = red_flag_text([flag.word, flag.word])
    assert flag.sign in first
    asked = {"emergency": "emergency number", "today": "urgent care today", "before the next session": "been asked"}
    assert asked[flag.urgency] in first
    assert last == "Nothing below says that it is safe to go on."


def test_the_most_urgent_comes_first():
    sentences = red_flag_text(["steroid injection", "pop", "breathless"])
    assert [each.split(".")[0] for each in sentences] == [
        "Call the emergency number now, and do no exercises",
        "Do no exercises and get urgent care today",
        "Do no exercises until a doctor or the clinic has been asked",
        "Nothing below says that it is safe to go on",
    ]
    assert red_flag_text([]) == ()

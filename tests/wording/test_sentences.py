"""The sentences: figure, interval, probability in words, and what would settle an open answer; nobody is blamed."""

import math
import re
from dataclasses import replace

import pytest

from imu_rom.dose.exercise import Decide
from imu_rom.exchange.document import result_document
from imu_rom.findings import Finding
from imu_rom.wording.cautions import CAUTION, STOP_RULE, cautions
from imu_rom.wording.figures import likelihood, one_decimal, window
from imu_rom.wording.sentences import finding_line, finding_lines, session_sentence, set_sentence
from imu_rom.wording.set_table import set_headings, set_rows

BLAMING = ("fail", "bad", "poor", "wrong", "should have", "must", "mistake", "only", "unfortunately", "compliance")


@pytest.fixture(scope="module")
def say(make_session):
    """Sentences of the sets and the session for given depths."""

    def sentences(depths, exercise=None, **named):
        session = make_session(depths, exercise, **named) if exercise else make_session(depths, **named)
        answer = result_document(session).exercises[0]
        u_deg = math.hypot(answer.u_shared_deg, answer.u_set_deg)
        said = [set_sentence(answer.exercise, each, u_deg) for each in answer.comparison.sets]
        said.append(session_sentence(answer.exercise, answer.comparison))
        for each in said:
            assert each.endswith(".")
            assert not re.search(r"[a-z]\. ", each), "one sentence"
            assert not any(word in each.lower() for word in BLAMING)
            assert not re.search(r"\bnan\b|\binf\b|None|-0\.0", each)
        return said

    return sentences


def test_a_set_as_planned(say, heeldrop):
    first, *_, session = say(((10.0,) * 15,) * 3)
    assert first.startswith(
        "Set 1 is as planned: 15 of 15 repetitions to a median of 9.9 deg (95 % interval 5.6 to 14.1), "
        "48.4 s past 4 deg (41.4 to 53.1; asked 20 to 60 s); "
    )
    assert "that enough of them reached 5 deg is very likely (98 %)" in first
    assert "the limit of 18 deg was kept virtually certain (over 99 %)" in first
    assert session.startswith("Session: 45 of 45 prescribed repetitions, in 3 sets; 145.1 s past 4 deg in them ")
    assert "asked 60 to 180 s in all" in session
    assert "145.1 s of it loaded and 0.0 s unloaded (as declared in the plan, not measured)" in session
    assert re.search(r"outside the repetitions, in rests and walking, another 13\.0 s \(0\.0 to \d+\.\d\)", session)
    assert session.endswith("every set as planned.")


def test_on_the_floor_foot_and_shank_are_said_apart(say, floordrop):
    flat, _ = say(((6.0,) * 15,), floordrop)
    assert "the foot 0.1 deg from lying flat (-1.7 to 1.9), the shank leaning by 6.0 deg (4.2 to 7.8) from" in flat
    assert "that enough of them came back to the floor is virtually certain" in flat
    raised, _ = say(((-4.9,) * 15,), floordrop)
    assert raised.startswith("Set 1 stopped short of the floor: 15 of 15 repetitions")
    assert "0 came back to the floor, 15 did not and 0 can't be told, where 12 were needed" in raised
    between, _ = say(((-3.0,) * 15,), floordrop)
    assert "a wider floor_tolerance_deg in the plan would settle it" in between


def test_the_table_has_foot_and_shank_where_the_floor_is_asked_for(make_session, floordrop, heeldrop):
    answer = result_document(make_session(((6.0,) * 3,), floordrop)).exercises[0]
    (row,) = set_rows(floordrop, answer.comparison)
    cells = dict(zip(set_headings(floordrop), row, strict=True))
    assert cells["foot from flat, deg"].startswith("0.1 (")
    assert cells["shank lean, deg"].startswith("6.0 (")
    assert "shank lean, deg" not in set_headings(heeldrop)


def test_a_set_less_deep_says_how_many_and_how_sure(say):
    first, _ = say(((1.0,) * 15,))
    assert first.startswith("Set 1 is less deep than planned: 15 of 15 repetitions to a median of 0.9 deg")
    assert "0 reached 5 deg, 15 did not and 0 can't be told, where 12 were needed" in first
    assert "that enough did is very unlikely" in first


def test_too_few_repetitions_are_said_as_such(say):
    first, session = say(((10.0,) * 9,))
    assert first.startswith("Set 1 has fewer repetitions than planned: 9 of 15 repetitions")
    assert "at least 12 were needed" in first
    assert "9 of 45 prescribed repetitions, in 1 set instead of 3" in session


def test_a_passed_limit_gives_the_deepest_with_its_interval(say):
    first, session = say(((23.0,) * 14 + (24.0,),))
    assert first.startswith("Set 1 went past the limit of 18 deg: 15 of 15")
    assert "the deepest was at 24.0 deg (19.7 to 28.3)" in first
    assert "that it was kept throughout is under" in first or "unlikely" in first
    assert "set 1 more than planned" in session


def test_time_alone_can_be_too_much_or_too_little(say, heeldrop):
    little = replace(heeldrop, past_threshold_s_per_set=(100.0, 200.0))
    much = replace(heeldrop, past_threshold_s_per_set=(1.0, 10.0))
    assert say(((10.0,) * 15,), little)[0].startswith("Set 1 has less time past the compressive angle than planned")
    sentence = say(((10.0,) * 15,), much)[0]
    assert sentence.startswith("Set 1 has more time past the compressive angle than planned")
    assert "that the time is above what was asked is virtually certain (over 99 %)" in sentence


@pytest.mark.parametrize(
    ("change", "depth", "open_question", "settles"),
    [
        (
            {"limit_deg": 0.0, "end_range_deg": None, "compression_threshold": None, "past_threshold_s_per_set": None},
            -1.0,
            r"that the limit of 0 deg was kept is about as likely as not \(\d\d %, asked 95 %\)",
            ["better neutral pose", "a limit of about 3 deg", "the floor as what ends a repetition"],
        ),
        (
            {"past_threshold_s_per_set": None},
            6.0,
            r"that enough of them reached 5 deg is about as likely as not \(\d\d %, asked 80 %\)",
            ["better neutral pose", "a window from about 4 deg"],
        ),
        (
            {"past_threshold_s_per_set": (47.0, 60.0)},
            10.0,
            r"the time past the compressive angle is below what was asked is",
            ["better neutral pose or a wider time window in the plan"],
        ),
    ],
)
def test_an_open_answer_says_what_would_settle_it(say, heeldrop, change, depth, open_question, settles):
    first, session = say(((depth,) * 15,), replace(heeldrop, **change))
    assert first.startswith("Set 1 is undecided: ")
    assert re.search(open_question, first)
    assert first.endswith("would settle it.")
    for each in settles:
        assert each in first
    assert "set 1 undecided" in session


def test_the_better_pose_that_is_named_would_settle_it(say, heeldrop):
    """The standard uncertainty that the sentence asks for decides the same depth."""
    exercise = replace(heeldrop, limit_deg=18.0, end_range_deg=None, past_threshold_s_per_set=None)
    first, _ = say(((16.0,) * 15,), exercise)
    largest = float(re.search(r"at most ([\d.]+) deg, here", first).group(1))
    assert 0.5 * math.erfc(-(18.0 - 16.0) / largest / math.sqrt(2)) == pytest.approx(0.95, abs=0.01)


def test_the_repetition_on_which_the_share_hangs_says_what_would_settle_it(say, heeldrop):
    exercise = replace(heeldrop, past_threshold_s_per_set=None)
    first, _ = say(((12.0,) * 11 + (6.0,) * 4,), exercise)
    assert "is undecided: 15 of 15 repetitions to a median of 11.9 deg" in first
    assert "standard uncertainty of at most 1.0 deg, here 2.2" in first
    assert "a window from about 4 deg" in first


def test_a_gap_is_named_as_the_reason(say):
    first, _ = say(((10.0,) * 15,), gaps=((51.0, 53.0),))
    assert first.startswith("Set 1 is undecided: ")
    assert "1 repetition can't be judged (gap), and a recording without that would settle it" in first


def test_nothing_prescribed_is_said(say, unprescribed):
    first, session = say(((10.0,) * 3,), unprescribed)
    assert first == (
        "Set 1 has nothing prescribed to compare it with: 3 of 15 repetitions to a median of 10.0 deg "
        "(95 % interval 5.7 to 14.3)."
    )
    assert session == (
        "Session: 3 of 45 prescribed repetitions, in 1 set instead of 3; set 1 without a prescription to compare with."
    )


def test_partial_deeper_and_open_ended(say, heeldrop):
    exercise = replace(heeldrop, end_range_deg=(5.0, math.inf), past_threshold_s_per_set=(10.0, math.inf))
    first, session = say(((10.0,) * 14 + (-12.0,),), exercise)
    assert "14 of 15 repetitions and 1 partial to a median" in first
    assert "asked at least 10 s" in first
    assert "asked at least 30 s in all" in session
    deep = replace(heeldrop, end_range_deg=(0.0, 5.0), past_threshold_s_per_set=None)
    assert "15 went deeper than asked" in say(((10.0,) * 15,), deep)[0]


def test_an_unsure_clinician_changes_the_answer(say, heeldrop):
    relaxed = replace(heeldrop, decide=Decide(reached=0.55), past_threshold_s_per_set=None)
    assert "is as planned" in say(((6.0,) * 15,), relaxed)[0]


def test_mixed_sets_are_grouped_by_number(say):
    *_, session = say(((10.0,) * 15, (1.0,) * 15, (10.0,) * 15))
    assert session.endswith("sets 1 and 3 as planned, set 2 less than planned.")


def test_the_table_has_a_cell_for_every_heading(make_session, heeldrop, unprescribed):
    for exercise in (heeldrop, unprescribed):
        answer = result_document(make_session(((10.0,) * 15, (4.0,) * 3), exercise)).exercises[0]
        rows = set_rows(answer.exercise, answer.comparison)
        assert {len(row) for row in rows} == {len(set_headings(answer.exercise))}
        assert [row[0] for row in rows] == ["1", "2"]
    assert rows[0][4] == rows[0][5] == rows[0][8] == rows[0][9] == "-"
    row = set_rows(heeldrop, result_document(make_session(((10.0,) * 15,))).exercises[0].comparison)[0]
    assert row[2:] == (
        "15/15",
        "0",
        "15/0/0",
        "0",
        "9.9 (5.6 to 14.1)",
        "30.0",
        "48.4 (41.4 to 53.1)",
        "20 to 60",
        "met",
    )


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (1.0, "virtually certain (over 99 %)"),
        (0.99, "virtually certain (99 %)"),
        (0.9, "very likely (90 %)"),
        (0.66, "likely (66 %)"),
        (0.5, "about as likely as not (50 %)"),
        (0.2, "unlikely (20 %)"),
        (0.05, "very unlikely (5 %)"),
        (0.0, "exceptionally unlikely (under 1 %)"),
    ],
)
def test_probabilities_in_words_follow_the_published_scale(probability, words):
    # Mastrandrea et al., IPCC guidance note, 2010, table 1 (from memory)
    assert likelihood(probability) == words


def test_small_words():
    assert one_decimal(-0.04) == "0.0"
    assert window(5.0, math.inf, "deg") == "at least 5 deg"
    assert window(19.26, 60.0, "s") == "19.3 to 60 s"
    assert finding_line(Finding("gap", "caution", "There is a gap.")) == "Caution: There is a gap."


def test_the_cautions_say_what_it_is_not_and_when_to_stop():
    assert cautions() == (CAUTION, STOP_RULE)
    for words in ("licensed clinician", "diagnoses nothing", "never tissue load"):
        assert words in CAUTION
    for words in ("5 of 10", "sharp pain", "pop", "contact the clinician"):
        assert words in STOP_RULE


def test_many_findings_of_a_kind_are_cut_short():
    clipped = [Finding("clipping", "caution", f"Clipped at {at} s.", at, at + 0.2, "foot") for at in range(9)]
    gap = Finding("gap", "problem", "There is a gap.", 4.5, 5.5, "shank")
    assert finding_lines([*clipped[:5], gap, *clipped[5:]]) == [
        "Caution: Clipped at 0 s.",
        "Caution: Clipped at 1 s.",
        "Caution: Clipped at 2 s.",
        "Caution: 6 more of this kind (clipping), the last until 8.2 s.",
        "Problem: There is a gap.",
    ]
    assert finding_lines(clipped[:4]) == [finding_line(each) for each in clipped[:4]]
    assert finding_lines([]) == []

"""A cohort's summary from tables of known content: people are counted, not sessions; the declared rule alone counts."""

import json
import math
import sys
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from scipy import stats

from imu_rom.cohort.summarising import summarise_cohort
from imu_rom.dose.clustered_means import mean_of_people, model_difference, share_of_people, welch
from imu_rom.errors import CohortError, ResultError
from imu_rom.exchange.cohort_summary import summary_schema
from imu_rom_cli import main

sys.path.insert(0, str(Path(__file__).parent))
from made_tables import THRESHOLD_DEG, Made, make_cohort, past_of

STUDY = {
    "declared_on": "2026-11-01",
    "primary_threshold_deg": 6.0,
    "registration": "a register, number 7",
    "valid_recording": {
        "least_repetitions_share": 0.8,
        "largest_u_shared_deg": 3.0,
        "largest_unseen_share": 0.1,
        "without_findings": ["slip"],
    },
}
DECLARED = ({"plan": "p.toml", "declared": STUDY},)


def people_of(seed, arms, sessions=3, *, effect_s=0.0, between_s=10.0, within_s=5.0):
    """Sessions of people in arms, a week apart, and participants.tsv."""
    chance = np.random.default_rng(seed)
    made, listed = [], {}
    for arm, number in arms.items():
        for index in range(number):
            who = f"{arm}{index}"
            listed[who] = {"arm": arm}
            own = 60 + chance.normal(0, between_s) + (effect_s if arm == "b" else 0)
            for session in range(sessions):
                past_s = max(own + chance.normal(0, within_s), 1.0)
                end = 10 + 0.1 * (own - 60) + chance.normal(0, 0.5)
                day = f"2026-12-{1 + 7 * session:02d}"
                made.append(Made(who, f"{who}-{session}", past_s, day, end_range_deg=end))
    return made, listed


@pytest.fixture(scope="module")
def two_arms(tmp_path_factory):
    made, listed = people_of(4, {"a": 6, "b": 5})
    folder = tmp_path_factory.mktemp("summary") / "cohort"
    return make_cohort(folder, made, participants=listed, studies=DECLARED), made


@pytest.fixture(scope="module")
def summed(two_arms):
    return summarise_cohort(two_arms[0])


def test_the_main_answer_counts_people_at_the_declared_angle(two_arms, summed):
    _, made = two_arms
    found = summed
    assert found.threshold == "6 deg"
    assert (found.sessions, found.valid_sessions, found.arm_column) == (33, 33, "arm")
    for arm, number in (("a", 6), ("b", 5)):
        means = [
            np.mean([past_of(each.past_s, 6.0) for each in made if each.participant == f"{arm}{index}"])
            for index in range(number)
        ]
        (own,) = [each.past_threshold_s for each in found.arms if each.group == arm]
        assert (own.people, own.sessions) == (number, 3 * number)
        assert own.value == pytest.approx(np.mean(means), abs=0.01)
        low, high = stats.t.interval(0.95, number - 1, np.mean(means), stats.sem(means))
        assert (own.low, own.high) == pytest.approx((low, high), abs=0.02)
    first = next(each for each in found.participants if each.group == "a0").past_threshold_s
    own = [past_of(each.past_s, 6.0) for each in made if each.participant == "a0"]
    assert (first.low, first.high) == pytest.approx(stats.t.interval(0.95, 2, np.mean(own), stats.sem(own)), abs=0.02)
    assert [each.group for each in found.weeks] == ["1", "2", "3"]
    assert all(each.past_threshold_s.people == 11 for each in found.weeks)


def test_the_difference_of_arms_is_welchs_and_the_mixed_model_agrees(two_arms, summed):
    _, made = two_arms
    (found,) = summed.differences
    assert (found.arm, found.other) == ("b", "a")
    means = {
        arm: [
            np.mean([past_of(each.past_s, 6.0) for each in made if each.participant == who])
            for who in sorted({each.participant for each in made if each.participant[0] == arm})
        ]
        for arm in "ab"
    }
    theirs = stats.ttest_ind(means["b"], means["a"], equal_var=False).confidence_interval(0.95)
    assert (found.by_means.low, found.by_means.high) == pytest.approx((theirs.low, theirs.high), abs=0.05)
    # people have as many sessions each, so the mixed model estimates the same difference
    assert found.by_model.value == pytest.approx(found.by_means.value, abs=0.01)
    assert "statsmodels" in found.by_model.method
    assert found.by_model.high - found.by_model.low < found.by_means.high - found.by_means.low


def test_more_sessions_of_the_same_people_do_not_make_an_interval_narrow():
    chance = np.random.default_rng(1)
    people = {f"p{number}": chance.normal(60, 10) for number in range(6)}
    few = mean_of_people([(who, own + chance.normal(0, 1)) for who, own in people.items() for _ in range(2)])
    many = mean_of_people([(who, own + chance.normal(0, 1)) for who, own in people.items() for _ in range(200)])
    assert many.high - many.low == pytest.approx(few.high - few.low, rel=0.15)


def test_intervals_hold_the_mean_that_people_were_drawn_about():
    chance = np.random.default_rng(11)
    held = {"mean": 0, "welch": 0}
    for _ in range(300):
        arms = [
            [
                (f"{arm}{n}", own + chance.normal(0, 5))
                for n in range(5)
                for own in (chance.normal(60, 10),)
                for _ in "xyz"
            ]
            for arm in "ab"
        ]
        one, both = mean_of_people(arms[0]), welch(arms[0], arms[1])
        held["mean"] += one.low <= 60 <= one.high
        held["welch"] += both.low <= 0 <= both.high
    assert min(held.values()) / 300 >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / 300)


def test_a_recording_that_breaks_the_declared_rule_does_not_count_and_is_said(tmp_path):
    made = [
        Made("a", "good", 50),
        Made("a", "few", 50, repetitions=7),
        Made("a", "unsure", 50, u_shared_deg=3.5),
        Made("a", "unseen", 50, unseen_s=11.0),
        Made("a", "slipped", 50, findings="gap slip", undecided=4),
        Made("b", "both", 50, repetitions=2, findings="slip"),
    ]
    failed = {
        "participant": "b",
        "session": "x",
        "kind": "recording",
        "recording": "x",
        "code": "no-answer",
        "why": "It is.",
    }
    folder = make_cohort(tmp_path / "cohort", made, studies=DECLARED, failures=[failed])
    found = summarise_cohort(folder)
    assert (found.sessions, found.valid_sessions) == (6, 1)
    first, second = found.missing
    assert first.reasons == {
        "finding-slip": 1,
        "too-few-repetitions": 1,
        "too-much-unseen": 1,
        "zero-too-unsure": 1,
    }
    assert (first.recordings, first.analysed, first.valid, first.unseen_s) == (5, 5, 1, 11.0)
    assert (first.undecided_repetitions, first.repetitions) == (4, 47)
    assert second.reasons == {"no-answer": 1, "too-few-repetitions": 1, "finding-slip": 1}
    assert (second.recordings, second.analysed, second.valid, second.weeks_without) == (2, 1, 0, 1)
    every = [each for each in found.sensitivity if each.what == "all recordings"]
    assert [each.past_threshold_s.sessions for each in every] == [6]


def test_without_a_declaration_all_is_exploratory(tmp_path, capsys):
    folder = make_cohort(tmp_path / "cohort", [Made("a", "one", 50, u_shared_deg=9)])
    found = summarise_cohort(folder)
    assert found.study is None
    assert found.valid_sessions == 1
    assert found.participants[0].past_threshold_s.value == pytest.approx(50, abs=0.01)
    assert main(["cohort", "summary", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "Nothing was declared beforehand" in said
    assert "exploratory" in said


def test_sensitivity_is_over_thresholds_and_zeros_off_the_curves(two_arms, summed):
    _, made = two_arms
    rows = summed.sensitivity
    mean_s = np.mean([np.mean([each.past_s for each in made if each.participant == f"a{index}"]) for index in range(6)])
    own = {each.change: each.past_threshold_s.value for each in rows if each.arm == "a"}
    for step in (-4, -2, 2, 4):
        assert own[f"{step:+d} deg"] == pytest.approx(past_of(mean_s, 6.0 + step), abs=0.02)
    # a zero that reads 2 degrees deeper is a threshold 2 degrees less
    deeper, less = (next(value for key, value in own.items() if word in key) for word in ("zero deeper", "less deep"))
    assert (deeper, less) == pytest.approx((past_of(mean_s, 4.0), past_of(mean_s, 8.0)), abs=0.02)


def test_reliability_takes_the_first_two_days_and_says_when_there_are_too_few(two_arms, summed, tmp_path):
    _, made = two_arms
    end_range, time_past = summed.reliability
    assert (end_range.measure, time_past.measure) == ("end_range_deg", "past_threshold_s")
    values = np.array(
        [
            [next(one.end_range_deg for one in made if one.session == f"{who}-{day}") for day in (0, 1)]
            for who in sorted({each.participant for each in made})
        ]
    )
    from imu_rom.dose.reliability import reliability

    assert end_range.reliability.subjects == 11
    expected = reliability(np.round(values, 3)).correlation("ICC(2,1)")
    assert end_range.reliability.correlation("ICC(2,1)").value == pytest.approx(expected.value, abs=1e-3)
    few = [Made(who, f"{who}-{day}", 50 + day, f"2026-12-0{day}") for who in "abcd" for day in (1, 2)]
    few += [Made("e", "e-1", 50), Made("f", "f-1", 50, None), Made("f", "f-2", 50, None)]
    found = summarise_cohort(make_cohort(tmp_path / "few", few))
    assert found.reliability[0].reliability is None
    assert found.reliability[0].why_not == "4 people with 2 days or more, at least 5 are needed"


def reference(ours, other, reached="yes", theirs=True, **others):
    return {
        "channel": "optical",
        "complete": True,
        "end_range_deg": ours,
        "reference_end_range_deg": other,
        "reached": reached,
        "reference_reached": theirs,
        "within_limit": "yes",
        "reference_within_limit": True,
        **others,
    }


def test_agreement_and_answers_against_another_measurement(tmp_path):
    made = []
    for index, who in enumerate("abcdef"):
        rows = [reference(10.0 + index, 9.0 + number / 10) for number in range(6)]
        rows += [reference(4.0, 4.5, "no", theirs=False), reference(5.0, 5.5, "undecided")]
        rows += [reference(5.2, 4.8, "yes", theirs=False)] if who == "a" else []
        rows += [reference(2.0, 9.0, "no", complete=False)]
        made.append(Made(who, f"{who}-1", 50, references=rows))
    found = summarise_cohort(make_cohort(tmp_path / "cohort", made))
    end_range, time_past = found.agreement
    assert end_range.agreement.pairs == 49
    assert end_range.agreement.people == 6
    assert time_past.agreement is None
    assert "at least 2 people" in time_past.why_not
    shares = {(each.question, each.by_reference): each for each in found.answers}
    reached = shares["reached", "yes"]
    assert reached.yes.value == pytest.approx(36 / 42)
    assert reached.undecided.value == pytest.approx(6 / 42)
    # a partial repetition is never asked about; what is undecided is neither right nor wrong
    assert (reached.right_of_decided.value, reached.right_of_decided.sessions) == (1.0, 36)
    specificity = shares["reached", "no"].right_of_decided
    assert specificity.value == pytest.approx(6 / 7)
    assert 0 < specificity.low < 6 / 7 <= specificity.high == 1
    assert shares["within_limit", "no"].yes.value is None


def test_shares_take_people_as_the_unit():
    one = share_of_people([("a", True)] * 50 + [("b", False)] * 50 + [("c", True)] * 50)
    alike = share_of_people([(who, number % 3 != 0) for who in "abc" for number in range(48)])
    assert one.value == pytest.approx(alike.value)
    assert one.high - one.low > 0.5
    assert alike.high - alike.low == pytest.approx(0)
    assert share_of_people([("a", True), ("b", True)]).low is None


def test_too_little_for_a_model_is_said():
    three = [(f"p{number}", 50.0 + number) for number in range(3)]
    others = [(f"q{number}", 40.0 + number) for number in range(3)]
    assert model_difference(three[:2] * 2, others).method == "no interval: fewer than 3 participants in an arm"
    assert "no participant has two sessions" in model_difference(three, others).method
    assert welch(three[:2], others).low is None
    assert welch([], others).value is None
    assert mean_of_people([]).value is None


def test_the_model_is_left_out_without_statsmodels(monkeypatch):
    monkeypatch.setitem(sys.modules, "statsmodels.regression.mixed_linear_model", None)
    three = [(f"{arm}{number}", 50.0 + number + again) for arm in "p" for number in range(3) for again in (0, 1)]
    others = [(f"q{number}", 40.0 + number + again) for number in range(3) for again in (0, 1)]
    assert "imu-rom[cohort]" in model_difference(three, others).method


def test_files_say_the_same_and_pass_the_schema(two_arms, tmp_path, capsys):
    folder, _ = two_arms
    assert main(["cohort", "summary", str(folder), "--out", str(tmp_path / "out"), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    jsonschema.validate(printed, summary_schema())
    assert json.loads((tmp_path / "out" / "summary.json").read_text()) == printed
    page, text = ((tmp_path / "out" / f"summary.{ending}").read_text() for ending in ("html", "md"))
    assert "a register, number 7" in page
    for words in (
        "Exposure by arm",
        "Missing data",
        "ICC(2,1)",
        "doi:10.1037/0033-2909.86.2.420",
        "sensitivity analysis",
    ):
        assert words in page
    assert "## Exposure by arm" in text
    assert page.count('class="intervals wide"') == page.count('class="intervals narrow"') >= 5
    again = main(["cohort", "summary", str(folder), "--out", str(tmp_path / "out"), "--overwrite"])
    assert again == 0
    assert (tmp_path / "out" / "summary.html").read_text() == page


def test_what_can_not_be_summed_up_is_one_sentence(tmp_path, two_arms, capsys):
    folder, _ = two_arms
    with pytest.raises(CohortError, match="participants have no column 'sex'; there are participant, listed"):
        summarise_cohort(folder, arm_column="sex")
    other = make_cohort(
        tmp_path / "other", [Made("a", "one", 5)], studies=(*DECLARED, {"plan": "q.toml", "declared": None})
    )
    with pytest.raises(CohortError, match=r"declare different studies, such as p.toml and q.toml"):
        summarise_cohort(other)
    (other / "cohort.json").write_text('{"format": "imu-rom cohort"}')
    with pytest.raises(CohortError, match="is of an earlier version"):
        summarise_cohort(other)
    (other / "cohort.json").write_text(json.dumps({"studies": []}))
    (other / "tables" / "failures.csv").unlink()
    with pytest.raises(ResultError, match="there is no such table"):
        summarise_cohort(other)
    assert main(["cohort", "summary", str(tmp_path)]) == 2
    captured = capsys.readouterr()
    assert captured.err == f"imu-rom: {tmp_path}: is no folder of a cohort; name one that imu-rom cohort wrote.\n"
    assert captured.out == ""
    assert THRESHOLD_DEG == 4.0

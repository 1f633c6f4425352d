"""What to look at again, in sentences: the plan's own numbers, the reason, and how well that is known."""

from fractions import Fraction

from imu_rom.dose.exposure_answer import DetectableChange
from imu_rom.dose.plan_warnings import DepthAndLoad, EarlyCompression, FineSteps, LoadRise, PlanWarnings, Step
from imu_rom.dose.stage_depth import Depth
from imu_rom.wording.plan_warning_text import warning_sentences

INF = float("inf")
FLOOR = Depth("floordrop", "floor", 0.0, INF, 0.0)
TEN = Depth("drop", "window", 10.0, 12.0, 4.0)
CHANGE = DetectableChange(2.1, 5.82, "lower bound", "")


def said(site="achilles insertion", **found):
    return warning_sentences(site, PlanWarnings(**found))


def test_nothing_found_is_nothing_said():
    assert said() == []


def test_depth_and_load_are_said_with_their_numbers():
    load = (
        LoadRise("added weight", Fraction(0), Fraction("2.5")),
        LoadRise("share of body weight", Fraction(1, 2), Fraction(1)),
        LoadRise("one leg"),
        LoadRise("repetition maximum", Fraction(15), Fraction(8)),
        LoadRise("repetitions a week", Fraction(315), Fraction(630)),
    )
    first, reason = said(depth_and_load=(DepthAndLoad("a", "b", "left", FLOOR, TEN, load),))
    assert first == (
        "Look again: from stage 'a' to 'b' depth and load rise together on the left side: depth from the floor to 10 "
        "deg, past the compressive angle of 4 deg; added weight from 0 to 2.5 kg; share of body weight from 0.5 to 1; "
        "from both legs to one leg; a heavier weight, from 15 to 8 repetitions maximum; repetitions a week from 315 "
        "to 630."
    )
    assert reason.endswith("common practice, no source.")


def test_other_depths_are_said_in_their_own_words():
    one = (LoadRise("one leg"),)
    cases = (
        (TEN, Depth("drop", "open", INF, INF, 4.0), "depth from 10 deg to an end that nothing sets (drop);"),
        (TEN, Depth("drop", "window", 10.0, 15.0, 4.0), "under a limit of 12 deg before and one of 15 deg now;"),
        (TEN, Depth("drop", "window", 10.0, INF, 4.0), "under a limit of 12 deg before and no limit now;"),
        (Depth("drop", "limit", 5.0, 5.0, None), TEN, "depth from 5 deg to 10 deg;"),
    )
    for before, after, words in cases:
        sentence = said(depth_and_load=(DepthAndLoad("a", "b", "right", before, after, one),))[0]
        assert words in sentence
        assert "inf" not in sentence


def test_early_compression_is_said_with_the_custom_and_its_source_once():
    found = (EarlyCompression("a", "drop", "drop", 15.0), EarlyCompression("a", "stretch", "stretch", None))
    drop, stretch, custom = said(early=found)
    assert drop == (
        "Look again: drop of stage 'a' takes the heel below the edge of a step, to 15 deg past neutral, and no stage "
        "before it in this plan goes as far as neutral."
    )
    assert "stretches the calf, with nothing that says where it ends" in stretch
    assert "no calf stretch (source seen: Jonsson et al." in custom
    assert custom.endswith("Which stage counts as early is common practice, no source.")


def test_fine_steps_are_said_once_with_the_arithmetic():
    steps = (Step("a", "b", "left", 0.0, 5.0), Step("b", "c", "left", 5.0, 10.0))
    (sentence,) = said(fine_steps=FineSteps(steps, CHANGE))
    assert sentence.startswith(
        "These steps of depth are finer than the 5.8 deg by which two days must differ to be told apart (1.96 x "
        "sqrt(2) x 2.10 deg, this tool's own uncertainty, so a lower bound): 0 to 5 deg from 'a' to 'b'; 5 to 10 deg "
        "from 'b' to 'c'."
    )
    (sentence,) = said(fine_steps=FineSteps(steps[:1], DetectableChange(1.4, 3.88, "published", "Konor")))
    assert sentence.startswith("This step of depth is finer than the 3.9 deg")
    assert "1.40 deg, Konor)" in sentence
    both = (*steps, Step("a", "b", "right", 0.0, 5.0))
    assert "'a' to 'b' (right)" in said(fine_steps=FineSteps(both, CHANGE))[0]

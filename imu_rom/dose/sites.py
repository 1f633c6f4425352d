"""Tendon sites as data: what is compressed against what, by which motion, and what is customary early and late.

Every value keeps how well it is known beside it. The list of sites and the idea that position adds compression to
tension follow J. Cook, C. Purdam, "Is compressive load a factor in the development of tendinopathy?", Br J Sports Med
46:163-168, 2012, doi:10.1136/bjsports-2011-090414. Angles are starting points that a clinician edits, never limits
that the program sets.
"""

from dataclasses import dataclass
from typing import Literal

from imu_rom.dose.plan_fault import nearest
from imu_rom.errors import PlanError

__all__ = ["SITES", "TAGS", "Tag", "TaggedText", "TendonSite", "tendon_site"]

Tag = Literal["S", "M", "P"]

TAGS: dict[Tag, str] = {
    "S": "source seen",
    "M": "from memory, to be verified",
    "P": "common practice, no source",
}


@dataclass(frozen=True)
class TaggedText:
    """A value in words with how well it is known.

    Parameters
    ----------
    text : str
        The value.
    tag : {"S", "M", "P"}
        Key of `TAGS`.
    source : str
        Citation; for P the reason in short.
    """

    text: str
    tag: Tag
    source: str


@dataclass(frozen=True)
class TendonSite:
    """A place where a tendon is pressed against bone or another structure.

    Parameters
    ----------
    name : str
        Lower-case words, as plans write them.
    compressed_against : TaggedText
        The structure.
    joint, motion : str
        The joint and the motion of it that raises the compression most.
    together_with : str
        Further motions or states that add to it; empty where there are none.
    provocative_range : TaggedText
        Where in the range it is felt.
    early_limit : TaggedText
        Customary limit in an early stage.
    early_limit_deg : tuple of float or None
        The angle in it that is not to be passed, positive in ``motion``: the strictest and the laxest custom, the same
        where there is one; None where the custom names no angle. As well known as ``early_limit``.
    end_stage_goal : TaggedText
        What the last stage restores.
    """

    name: str
    compressed_against: TaggedText
    joint: str
    motion: str
    together_with: str
    provocative_range: TaggedText
    early_limit: TaggedText
    early_limit_deg: tuple[float, float] | None
    end_stage_goal: TaggedText


_COOK_PURDAM = "Cook, Purdam, Br J Sports Med 46:163, 2012, table of sites"
_TEACHING = "teaching pages of physiotherapy clinics; opinion, no study"
_PRACTICE = "common practice"


def _m(text: str, source: str = _COOK_PURDAM) -> TaggedText:
    return TaggedText(text, "M", source)


def _p(text: str, source: str = _PRACTICE) -> TaggedText:
    return TaggedText(text, "P", source)


def _s(text: str, source: str) -> TaggedText:
    return TaggedText(text, "S", source)


_ALL = (
    TendonSite(
        name="achilles insertion",
        compressed_against=_m("upper back corner of the heel bone and the bursa before it"),
        joint="ankle",
        motion="dorsiflexion",
        together_with="load in lengthening, and stretching",
        provocative_range=_s(
            "past neutral; pressure inside the tendon rises exponentially with dorsiflexion and load",
            "Pringels et al., Scand J Med Sci Sports, 2023 (12 pairs of cadaver legs)",
        ),
        early_limit=_s(
            "no dorsiflexion past neutral: drops end on the floor, heel lift, no calf stretch",
            "Jonsson et al., Br J Sports Med 42:746, 2008; Pringels et al., Br J Sports Med, 2025, "
            "doi:10.1136/bjsports-2024-109138",
        ),
        early_limit_deg=(0.0, 0.0),
        end_stage_goal=_p("all the dorsiflexion that the other side has, tolerated under load and at speed"),
    ),
    TendonSite(
        name="achilles midportion",
        compressed_against=_s("no bone; possibly the retinaculum, the plantaris tendon or the heel counter", _TEACHING),
        joint="ankle",
        motion="dorsiflexion",
        together_with="",
        provocative_range=_s("end of dorsiflexion, less than at the insertion", _TEACHING),
        early_limit=_s(
            "usually none: drops into dorsiflexion are customary", "Alfredson et al., Am J Sports Med 26:360, 1998"
        ),
        early_limit_deg=None,
        end_stage_goal=_s("full dorsiflexion over a step", "Alfredson et al., Am J Sports Med 26:360, 1998"),
    ),
    TendonSite(
        name="patellar",
        compressed_against=_s("lower pole of the kneecap and the fat pad", _TEACHING),
        joint="knee",
        motion="flexion",
        together_with="kneeling",
        provocative_range=_s("squats to 90 degrees and deeper; on a decline board from 60 degrees", _TEACHING),
        early_limit=_s("holds at 30 to 60 degrees, repetitions between 10 and 60 degrees", _TEACHING),
        early_limit_deg=(60.0, 60.0),
        end_stage_goal=_s("90 degrees and more under load, landings, full squat", _TEACHING),
    ),
    TendonSite(
        name="quadriceps",
        compressed_against=_m("thigh bone above its joint surface"),
        joint="knee",
        motion="flexion",
        together_with="",
        provocative_range=_p("beyond 90 to 120 degrees"),
        early_limit=_p("less than 60 to 90 degrees"),
        early_limit_deg=(60.0, 90.0),
        end_stage_goal=_m("full squat"),
    ),
    TendonSite(
        name="proximal hamstring",
        compressed_against=_m("sitting bone"),
        joint="hip",
        motion="flexion",
        together_with="a straight knee, adduction, sitting",
        provocative_range=_s(
            "beyond 60 to 70 degrees of hip flexion",
            "summaries of Goom et al., J Orthop Sports Phys Ther 46:483, 2016; the paper itself was not seen",
        ),
        early_limit=_s(
            "near 0 to 30 degrees of hip flexion",
            "summaries of Goom et al., J Orthop Sports Phys Ther 46:483, 2016; the paper itself was not seen",
        ),
        early_limit_deg=(30.0, 30.0),
        end_stage_goal=_m("70 to 90 degrees of hip flexion under load, then speed", "Goom et al. 2016"),
    ),
    TendonSite(
        name="gluteal",
        compressed_against=_s(
            "greater trochanter, pressed by the iliotibial band",
            "abstract of Grimaldi et al., Sports Med 45:1107, 2015",
        ),
        joint="hip",
        motion="adduction",
        together_with="hip flexion",
        provocative_range=_m(
            "past neutral into adduction: crossed legs, hanging on one hip, lying on the side",
            "Grimaldi, Fearon, J Orthop Sports Phys Ther 45:910, 2015; Birnbaum et al. 2004 (band force 4, 9 and 106 N "
            "at 0, 10 and 40 degrees)",
        ),
        early_limit=_m("no adduction past the middle", "Grimaldi, Fearon, J Orthop Sports Phys Ther 45:910, 2015"),
        early_limit_deg=(0.0, 0.0),
        end_stage_goal=_p("control on one leg with at most about 10 degrees of adduction; stairs, steps, running"),
    ),
    TendonSite(
        name="adductor",
        compressed_against=_m("pubic bone"),
        joint="hip",
        motion="abduction",
        together_with="hip extension",
        provocative_range=_p("end of abduction and extension"),
        early_limit=_p("squeezing holds at 0 to 45 degrees of hip flexion, no wide abduction"),
        early_limit_deg=None,
        end_stage_goal=_p("side-plank adduction under load through the range"),
    ),
    TendonSite(
        name="supraspinatus",
        compressed_against=_m("greater tubercle and the arch above it"),
        joint="shoulder",
        motion="adduction",
        together_with="the hand behind the back",
        provocative_range=_s(
            "arm hanging or across the body; the arch is closest in mid elevation, about 30 to 90 degrees",
            "Flatow et al. 1994; Lawrence et al. 2017 and 2020",
        ),
        early_limit=_p("holds at 20 to 30 degrees of abduction, no hand behind the back"),
        early_limit_deg=(-30.0, -20.0),
        end_stage_goal=_p("full elevation under load"),
    ),
    TendonSite(
        name="biceps long head",
        compressed_against=_m("groove and head of the upper arm bone"),
        joint="shoulder",
        motion="extension",
        together_with="external rotation",
        provocative_range=_m("behind the line of the body"),
        early_limit=_p("no extension past neutral"),
        early_limit_deg=(0.0, 0.0),
        end_stage_goal=_p("dips and bench presses through the full range"),
    ),
    TendonSite(
        name="subscapularis",
        compressed_against=_s("coracoid process against the lesser tubercle", "reference page on coracoid impingement"),
        joint="shoulder",
        motion="internal rotation",
        together_with="flexion and adduction",
        provocative_range=_p("arm across the body, turned inward"),
        early_limit=_p("no turning inward across the body"),
        early_limit_deg=None,
        end_stage_goal=_p("the full way across the body"),
    ),
    TendonSite(
        name="lateral elbow",
        compressed_against=_s("head of the radius", "Ranger et al., J Sport Rehabil 24:1, 2015"),
        joint="elbow",
        motion="extension",
        together_with="pronation and wrist flexion",
        provocative_range=_s("straight and pronated", "Ranger et al., J Sport Rehabil 24:1, 2015"),
        early_limit=_p("elbow bent to about 90 degrees, forearm supinated or neutral"),
        early_limit_deg=(-90.0, -90.0),
        end_stage_goal=_p("elbow straight and pronated under load"),
    ),
    TendonSite(
        name="distal biceps",
        compressed_against=_s(
            "tuberosity of the radius against the ulna", "Hilgersom et al., Knee Surg Sports Traumatol Arthrosc, 2021"
        ),
        joint="elbow",
        motion="pronation",
        together_with="",
        provocative_range=_s(
            "from supination to pronation the gap narrows by about half",
            "Hilgersom et al., Knee Surg Sports Traumatol Arthrosc, 2021",
        ),
        early_limit=_p("no load at the end of pronation"),
        early_limit_deg=None,
        end_stage_goal=_p("full pronation under load"),
    ),
    TendonSite(
        name="distal triceps",
        compressed_against=_p("olecranon"),
        joint="elbow",
        motion="flexion",
        together_with="",
        provocative_range=_p("beyond 110 to 120 degrees"),
        early_limit=_p("less than 90 degrees"),
        early_limit_deg=(90.0, 90.0),
        end_stage_goal=_p("full flexion, as in overhead extension"),
    ),
    TendonSite(
        name="tibialis posterior",
        compressed_against=_m("inner ankle bone"),
        joint="ankle",
        motion="dorsiflexion",
        together_with="eversion",
        provocative_range=_p("past neutral, with eversion"),
        early_limit=_p("neutral or plantarflexed, with arch support"),
        early_limit_deg=(0.0, 0.0),
        end_stage_goal=_p("heel raises on one leg from full dorsiflexion"),
    ),
    TendonSite(
        name="peroneal",
        compressed_against=_m("outer ankle bone and the tubercle below it"),
        joint="ankle",
        motion="dorsiflexion",
        together_with="inversion",
        provocative_range=_p("past neutral"),
        early_limit=_p("neutral or plantarflexed"),
        early_limit_deg=(0.0, 0.0),
        end_stage_goal=_p("full dorsiflexion with control of inversion"),
    ),
    TendonSite(
        name="iliopsoas",
        compressed_against=_m("head of the thigh bone and the rim of the pelvis"),
        joint="hip",
        motion="extension",
        together_with="external rotation",
        provocative_range=_p("past neutral into extension"),
        early_limit=_p("no extension past 0 degrees"),
        early_limit_deg=(0.0, 0.0),
        end_stage_goal=_p("extension of a long lunge and of running"),
    ),
)

SITES: dict[str, TendonSite] = {each.name: each for each in _ALL}


def tendon_site(name: str, *, field: str = "tendon_site") -> TendonSite:
    """Return a tendon site by its name.

    Parameters
    ----------
    name : str
        Lower-case words, as plans write them.
    field : str
        What the error calls it.

    Returns
    -------
    TendonSite
        That site.

    Raises
    ------
    PlanError
        No such site is known; the sentence lists those that are.
    """
    try:
        return SITES[name]
    except KeyError:
        raise PlanError(f"{field} must be one of {', '.join(SITES)}, got {name!r}", do=nearest(name, SITES)) from None

"""Pictures of taped sensors: every place that they have is drawn, on both sides, and described in both languages."""

import re
from dataclasses import replace

import pytest

from imu_rom.clinic.web.rendering import _environment
from imu_rom.dose.exercise import ABSENT, Exercise
from imu_rom.motion.joints import JOINTS
from imu_rom.wording.language import languages, speech
from imu_rom.wording.patient_preparing import DRAWINGS, taping_picture

# joint -> tracked points that a recording may name, and where they are
WORN = {
    "ankle": (("shank", "foot"), ("shin", "shoe")),
    "knee": (("left_thigh", "shank"), ("thigh", "shin")),
    "hip": (("pelvis", "thigh"), ("pelvis", "thigh")),
    "shoulder": (("thorax", "upper arm"), ("trunk", "upper arm")),
    "elbow": (("upper_arm", "forearm"), ("upper arm", "forearm")),
    "wrist": (("forearm", "hand"), ("forearm", "hand")),
}


def exercise_of(joint, side="left"):
    proximal, distal = WORN[joint][0]
    motion = JOINTS[joint].motions[0].name
    return Exercise("moved", joint, motion, side, proximal, distal, sets=3, repetitions=10)


def drawn(side, picture):
    return str(_environment().get_template("sketch.html").module.taped(side, picture))


def test_every_joint_has_its_drawing():
    assert set(DRAWINGS) == set(JOINTS) == set(WORN)
    for joint, (_, places) in WORN.items():
        assert taping_picture(exercise_of(joint), speech("en")).places == places


@pytest.mark.parametrize("joint", WORN)
def test_every_place_of_a_drawing_is_on_it_and_the_sides_are_mirror_images(joint):
    picture = taping_picture(exercise_of(joint), speech("en"))
    for place in DRAWINGS[joint][1]:
        one = {side: drawn(side, replace(picture, places=(place,))) for side in ("left", "right")}
        left, top, width, height = map(int, re.search(r'viewBox="([^"]+)"', one["left"])[1].split())
        (found,) = re.findall(r'class="sensor" x="(\d+)" y="(\d+)" width="(\d+)" height="(\d+)"', one["left"])
        x, y, wide, high = map(int, found)
        assert left < x < left + width - wide
        assert top < y < top + height - high
        mirror = {side: re.search(r"translate\((-?\d+) 0\) scale\(-1 1\)", each) for side, each in one.items()}
        (mirrored,) = (each for each in mirror.values() if each)
        # the picture's left edge comes to lie on its right one
        assert int(mirrored[1]) - left == left + width


@pytest.mark.parametrize("language", languages())
def test_the_description_names_each_place(language):
    to = speech(language)
    told = {joint: taping_picture(exercise_of(joint), to).described for joint in WORN}
    assert len(set(told.values())) == len(WORN)
    words = {"en": ("breast bone", "upper arm"), "de": ("Brustbein", "Oberarm")}[language]
    assert all(each in told["shoulder"] for each in words)
    side = {"en": "right", "de": "rechts"}[language]
    assert side in taping_picture(exercise_of("shoulder", "right"), to).described
    picture = taping_picture(exercise_of("hip"), to)
    assert f'aria-label="{picture.described}"' in drawn("left", picture)


def test_the_plans_own_place_comes_first_and_another_place_has_no_picture():
    to, heeldrop = speech("en"), exercise_of("ankle")
    laces = replace(heeldrop, placement={"foot": "shoe, over the midfoot"})
    assert taping_picture(laces, to).places == ("shin", "midfoot")
    assert taping_picture(replace(heeldrop, placement={"shank": "calf"}), to) is None
    assert taping_picture(replace(heeldrop, proximal="s1"), to) is None
    # a knee whose second sensor is on the foot is none that was drawn
    assert taping_picture(replace(exercise_of("knee"), distal="foot"), to) is None


def test_one_sensor_is_drawn_alone():
    alone = replace(exercise_of("knee"), proximal=ABSENT, sensors="distal only", still_segment="thigh, seated")
    picture = taping_picture(alone, speech("en"))
    assert picture.described == "Your left leg, from its inner side. A sensor is on the shin bone."
    assert drawn("left", picture).count('class="sensor"') == 1

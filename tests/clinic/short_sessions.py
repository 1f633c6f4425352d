"""Sessions of a minute for tests that analyse many, simulated for an invented person."""

from imu_rom_cli.main import main

PLAN = """\
[plan]
format = 1
title = "Heel, into range"
patient = "A-01"
tendon_site = "achilles insertion"
stage = "into range"

[[stage]]
name = "into range"

[[stage.exercise]]
name = "drop"
joint = "ankle"
motion = "dorsiflexion"
side = "left"
proximal = "shank"
distal = "foot"
calibration_movement = "plantarflexion"
sets = 1
repetitions = 3
tempo_s = { eccentric = 2, end_range_hold = 1, concentric = 1.5, top_pause = 0.6 }
start_deg = -25
end_range_deg = [5, 15]
limit_deg = 22
compression_threshold = { deg = 4, basis = "clinician" }
past_threshold_s_per_set = [3, 15]
"""


def simulated(folder, count):
    """Files of so many sessions, each by name."""
    plan = folder / "plan.toml"
    plan.write_text(PLAN)
    sessions = []
    for seed in range(1, count + 1):
        words = ["simulate", "--plan", str(plan), "--seed", str(seed), "--rate", "50", "--session", str(seed)]
        assert main([*words, "--out", str(folder / f"dataset{seed}")]) == 0
        files = sorted((folder / f"dataset{seed}").rglob("*_tracksys-imu_*"))
        sessions.append({each.name: each.read_bytes() for each in files if "truth" not in each.parts})
    return sessions

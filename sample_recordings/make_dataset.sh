#!/usr/bin/env bash
# Makes the sample dataset anew, all of it by `imu-rom simulate` with fixed seeds: bash make_dataset.sh FOLDER
set -euo pipefail
folder="${1:?name the folder to be made}"
plans="$(cd "$(dirname "$0")" && pwd)/plans"

simulate() {
  imu-rom simulate --plan "$plans/$1.toml" --out "$folder" --rate 50 --digits 5 --routine sits_before=false "${@:2}"
}

# meets the plan
simulate P-0001 --seed 11 --recorded-at 2026-12-01T18:02:11+01:00
# stops short of the window
simulate P-0002 --seed 29 --recorded-at 2026-12-02T07:31:40+01:00 --depth-offset -9
# goes past the limit
simulate P-0003 --seed 7 --recorded-at 2026-12-02T19:15:05+01:00 --depth-offset 12
# is to stop at neutral, on the floor: cannot be decided
simulate P-0004 --seed 21 --recorded-at 2026-12-03T08:10:32+01:00 --scenario floor
# holds of 20 s in a squat
simulate P-0005 --seed 12 --recorded-at 2026-12-04T17:45:50+01:00
# the foot's sensor delivers nothing for 3.5 s of the second set
simulate P-0006 --seed 18 --recorded-at 2026-12-05T09:20:18+01:00 --fault gap=foot:270.5:3.5 --fault dropped_share=0.001
# the foot's sensor slips by 9 degrees between the two sets; the neutral pose is taken again at the end
simulate P-0007 --seed 23 --recorded-at 2026-12-05T17:05:33+01:00 --scenario closing-pose --routine pause_probability=0 --fault slip=foot:180:9
# one sensor, on the shank: a lunge with the knee to the wall, the foot flat
simulate P-0008 --seed 3 --recorded-at 2026-12-07T18:11:02+01:00

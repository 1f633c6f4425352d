"""What a researcher imports in a notebook: recordings, sessions and cohorts, with tables as data frames.

``reading`` reads a recording, ``session`` analyses one, ``cohort`` a whole dataset, ``frames`` makes data frames of
their tables. `imu_rom` gives all public names of these, each loaded when it is first asked for.
"""

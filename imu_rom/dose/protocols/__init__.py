"""Published doses as plan files, each with its citation; data, read by `imu_rom.dose.plan_file`."""

"""BIDS Motion triplets."""

from imu_rom.recording.bids_writing import (
    write_bids_motion,
    write_dataset_description,
    write_participants,
    write_readme,
)

__all__ = ["write_bids_motion", "write_dataset_description", "write_participants", "write_readme"]

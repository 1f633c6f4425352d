"""The command line: one file a command; it parses, calls the library and prints."""

from imu_rom_cli.main import main

__all__ = ["main"]

"""``python -m imu_rom_cli``: the same command, found without a path."""

from imu_rom_cli.main import main

__all__ = ["main"]

if __name__ == "__main__":
    raise SystemExit(main())

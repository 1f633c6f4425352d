"""The program's version; a room of its own, so that every room may know it."""

__all__ = ["__version__"]

__version__ = "0.1.0"

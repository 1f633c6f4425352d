"""Pages that people read."""

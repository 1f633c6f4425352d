"""Sentences and cautions: one voice for the command line and the pages."""

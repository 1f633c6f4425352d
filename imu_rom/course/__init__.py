"""A course of weeks in one folder: plan, recordings or results, diary; what is new, and what it all comes to."""

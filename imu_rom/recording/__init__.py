"""What was measured: files read into SI units on one time base."""

"""What the tendon got, against what was prescribed."""

"""What the joint did: attitudes, alignment, joint angle, repetitions and sets."""

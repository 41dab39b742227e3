"""Studies: which rests to run for a question, and how to read the answer."""

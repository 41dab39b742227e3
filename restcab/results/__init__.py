"""Results: what a study hands over, and rests as data frames."""

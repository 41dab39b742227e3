"""The bank through weeks and years of rests and drives, and the sizes that carry them."""

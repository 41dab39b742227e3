"""Units, batteries and measures on offer: which pairs there are, and how each does in a truck."""

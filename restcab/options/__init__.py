"""The ways to rest through a year: what each burns, draws, costs and emits."""

"""A bank of cells: charge, rate, temperature, wear, charging."""

"""Trucks, lanes and climates: the file, the rests, the money, the totals."""

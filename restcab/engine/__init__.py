"""The engine: many rest periods advanced at once as one array program.

numpy for whole arrays; what is worked face by face and case by case is compiled (`compiled`).

Arrays put the case last, ``(..., n_case)``, so that each numpy call runs over contiguous memory.
Heat into the cab air is positive.
"""

"""Pure functions of the physics: floats or arrays in, arrays out, a source in each docstring."""

"""restcab: cooling a truck driver's bunk through the rest period without the main engine."""

__version__ = "0.1.0"

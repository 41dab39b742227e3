"""The plain box of the fleet tests."""

from fleet_box import box, folder, own_cache  # noqa: F401 (fixtures)

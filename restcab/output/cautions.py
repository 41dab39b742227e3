"""Cautions shown at the foot of every result that a person reads."""

CAUTIONS = (
    "Heat illness can kill: never rely on a computed runtime for a person, child or animal who "
    "cannot leave the cab.",
    "Batteries can short-circuit, gas and burn: fuse, cable and vent them to the local electrical "
    "and vehicle codes, by licensed people.",
    "Refrigerant work is for certified people.",
    "Fuel-fired heaters and idling engines give off carbon monoxide.",
    "Idling rules differ by place and change: check the local code.",
    "Results are estimates for comparison, not a warranty.",
)
"""One sentence each, in the order shown."""
CAUTION_BRIEF = "Caution: estimates only; heat, batteries and CO can kill; check local rules."
"""All of them in one line of a short form."""

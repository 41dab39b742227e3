"""The cooling unit: refrigerant, cycle, coil, fan, performance map."""

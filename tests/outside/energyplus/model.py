"""The box as an input of EnergyPlus (epJSON).

Where the two programs state a thing differently, the statement is translated here and nowhere
else:

- EnergyPlus gives the outer side of an adiabatic surface, and of internal mass, the temperature of
  its inner face. That is a mirror in the middle, so layers with an adiabatic back are doubled.
- The sun's beam through the windows falls on the floor (``FullExterior``), as in our model; the
  tracing of the beam (``FullInteriorAndExterior``) is run beside it.
- The ground reflects 20 % and shows air temperature in both, which are defaults of EnergyPlus;
  rain, snow and daylight saving time of the weather file are switched off.
- The outside film is its DOE-2 model: ours uses the same measurements, averaged over windward and
  leeward because a truck's bearing to the wind is unknown, while EnergyPlus goes by the wind's
  direction. The inside film is TARP in both.
- What the cooling takes out is read from the balance of the zone's air. The rate that the ideal
  system reports of itself reckons from the zone temperature before the step: on the evening's
  first minutes it books about 40 Wh a night (computed) that the zone never feels.
"""

from dataclasses import dataclass
from typing import Any

from outside.energyplus import box, geometry

from restcab.spec.surfaces import Layer
from restcab.weather.year import DAYS_OF_MONTH

Objects = dict[str, dict[str, dict[str, Any]]]
OUTDOOR = "Site Outdoor Air Drybulb Temperature"
AIR = "Zone Mean Air Temperature"
COOLING = "Zone Air System Sensible Cooling Rate"
HEATING = "Zone Air System Sensible Heating Rate"
TRANSMITTED = "Surface Window Transmitted Solar Radiation Rate"
INCIDENT = "Surface Outside Face Incident Solar Radiation Rate per Area"
_FACES = ("BuildingSurface:Detailed", "FenestrationSurface:Detailed", "InternalMass")
CAUGHT = "Surface Window Total Glazing Layers Absorbed Shortwave Radiation Rate"


@dataclass(frozen=True)
class Choices:
    """What is varied between runs.

    Parameters
    ----------
    solar_absorptance
        Of the paint [-].
    cooled
        Ideal cooling at night, or no cooling at all.
    steps_per_hour
        Steps of the zone [1/h].
    windows, air_changes_per_h
        As in `outside.energyplus.ours.cab`.
    solar_distribution
        Option of EnergyPlus for the beam inside.
    present
        When the person is there: a schedule, ``always`` or ``night``.
    start_h
        Hour of the day from which it is cooled: the schedule ``night``, which may be a day rest.
    film_inside_w_per_m2k
        Convective film of every inner face, as moved air would make it; None: natural.
    months
        First and last month that are run.
    """

    solar_absorptance: float
    cooled: bool
    steps_per_hour: int
    windows: bool = True
    air_changes_per_h: float = box.AIR_CHANGES_PER_H
    solar_distribution: str = "FullExterior"
    present: str = "always"
    start_h: int = box.NIGHT_START_H
    film_inside_w_per_m2k: float | None = None
    months: tuple[int, int] = (1, 12)


def objects(choices: Choices) -> Objects:
    """Make the whole input."""
    wanted = (OUTDOOR, AIR, COOLING) if choices.cooled else (OUTDOOR, AIR)
    model = (
        site(choices, choices.months)
        | schedules({"setpoint": box.SETPOINT_C}, choices.start_h)
        | _constructions(choices)
        | _inside(choices)
    )
    model["BuildingSurface:Detailed"] = dict(geometry.surfaces())
    if choices.windows:
        model["FenestrationSurface:Detailed"] = dict(geometry.windows())
    if choices.film_inside_w_per_m2k is not None:
        model |= inside_film(model, choices.film_inside_w_per_m2k)
    if choices.cooled:
        model |= ideal_air("night", heated=False)
    model["Output:Variable"] = {
        name: {"key_value": "*", "variable_name": name, "reporting_frequency": "Hourly"}
        for name in wanted
    }
    model["OutputControl:Files"] = {"files": {"output_csv": "Yes", "output_tabular": "No"}}
    return model


def site(choices: Choices, months: tuple[int, int]) -> Objects:
    first, last = months
    return {
        "Version": {"version": {"version_identifier": "25.2"}},
        "SimulationControl": {
            "control": {
                "do_zone_sizing_calculation": "No",
                "do_system_sizing_calculation": "No",
                "do_plant_sizing_calculation": "No",
                "run_simulation_for_sizing_periods": "No",
                "run_simulation_for_weather_file_run_periods": "Yes",
            }
        },
        "Building": {
            "box": {
                "north_axis": 0.0,
                "terrain": "Country",
                "solar_distribution": choices.solar_distribution,
            }
        },
        "Timestep": {"step": {"number_of_timesteps_per_hour": choices.steps_per_hour}},
        "RunPeriod": {
            "year": {
                "begin_month": first,
                "begin_day_of_month": 1,
                "end_month": last,
                "end_day_of_month": int(DAYS_OF_MONTH[last - 1]),
                "use_weather_file_holidays_and_special_days": "No",
                "use_weather_file_daylight_saving_period": "No",
                "use_weather_file_rain_indicators": "No",
                "use_weather_file_snow_indicators": "No",
            }
        },
        "GlobalGeometryRules": {
            "rules": {
                "coordinate_system": "World",
                "starting_vertex_position": "UpperLeftCorner",
                "vertex_entry_direction": "Counterclockwise",
            }
        },
        # By default the sun's path is renewed every 20 days; ours moves every hour.
        "ShadowCalculation": {
            "shadow": {
                "shading_calculation_update_frequency_method": "Periodic",
                "shading_calculation_update_frequency": 1,
            }
        },
        "SurfaceConvectionAlgorithm:Inside": {"inside": {"algorithm": "TARP"}},
        "SurfaceConvectionAlgorithm:Outside": {"outside": {"algorithm": "DOE-2"}},
        "HeatBalanceAlgorithm": {"balance": {"algorithm": "ConductionTransferFunction"}},
    }


def schedules(setpoints_c: dict[str, float], start_h: int = box.NIGHT_START_H) -> Objects:
    """Make the schedules of a person, a control and some setpoints."""
    end_h = (start_h + box.NIGHT_HOURS) % 24
    past_midnight = float(end_h < start_h)
    night = [
        (f"{min(start_h, end_h):02d}:00", past_midnight),
        (f"{max(start_h, end_h):02d}:00", 1.0 - past_midnight),
        ("24:00", past_midnight),
    ]
    values = {
        "always": [("24:00", 1.0)],
        "night": night,
        # Control type 1 is a single heating setpoint, 2 a single cooling one.
        "cooling only": [("24:00", 2.0)],
        "heating only": [("24:00", 1.0)],
    } | {name: [("24:00", setpoint_c)] for name, setpoint_c in setpoints_c.items()}
    limits = {"numeric_type": "Continuous"}
    compact = {}
    for name, parts in values.items():
        fields: list[str | float] = ["Through: 12/31", "For: AllDays"]
        for until, value in parts:
            fields += [f"Until: {until}", value]
        compact[name] = {
            "schedule_type_limits_name": "any",
            "data": [{"field": field} for field in fields],
        }
    return {"ScheduleTypeLimits": {"any": limits}, "Schedule:Compact": compact}


def _constructions(choices: Choices) -> Objects:
    builds = {
        "shell": box.SHELL,
        "floor": box.FLOOR,
        "bed": (box.BED, box.BED),
        "board": (box.HALF_BOARD, box.HALF_BOARD),
    }
    made = constructions(builds, choices.solar_absorptance)
    made["Construction"]["window"] = {"outside_layer": "pane"}
    pane = pane_material(box.GLASS_TRANSMITTANCE, box.GLASS_ABSORPTANCE)
    return made | {"WindowMaterial:Glazing": {"pane": pane}}


def constructions(builds: dict[str, tuple[Layer, ...]], solar_absorptance: float) -> Objects:
    """Make materials and constructions, layers from outside to inside; the shell is painted."""
    solid: dict[str, dict[str, Any]] = {}
    bare: dict[str, dict[str, Any]] = {}
    made: dict[str, dict[str, Any]] = {}
    for build, layers in builds.items():
        names = [f"{build} layer {number}" for number in range(1, len(layers) + 1)]
        places = ["outside_layer", *(f"layer_{number}" for number in range(2, len(layers) + 1))]
        made[build] = dict(zip(places, names, strict=True))
        for name, layer in zip(names, layers, strict=True):
            painted = build == "shell" and name == names[0]
            alpha = solar_absorptance if painted else box.ABSORPTANCE_INSIDE
            kind = solid if layer.thickness_m > 0.0 else bare
            kind[name] = material(layer, alpha)
    return {
        "Material": solid,
        "Material:NoMass": bare,
        "Construction": made,
    }


def material(layer: Layer, solar_absorptance: float) -> dict[str, Any]:
    face = {
        "roughness": "Smooth",
        "thermal_absorptance": box.EMITTANCE,
        "solar_absorptance": solar_absorptance,
    }
    if layer.thickness_m == 0.0:
        return face | {"thermal_resistance": layer.r_value_m2k_per_w}
    return face | {
        "thickness": layer.thickness_m,
        "conductivity": layer.conductivity_w_per_mk,
        "density": layer.density_kg_per_m3,
        "specific_heat": layer.specific_heat_j_per_kgk,
    }


def pane_material(transmittance: float, absorptance: float) -> dict[str, Any]:
    """Make a pane as thick as the box's, with its solar properties at normal incidence."""
    reflectance = 1.0 - transmittance - absorptance
    pane: dict[str, Any] = {
        "optical_data_type": "SpectralAverage",
        "thickness": box.PANE.thickness_m,
        "conductivity": box.PANE.conductivity_w_per_mk,
        "infrared_transmittance_at_normal_incidence": 0.0,
        "front_side_infrared_hemispherical_emissivity": box.GLASS_EMITTANCE,
        "back_side_infrared_hemispherical_emissivity": box.GLASS_EMITTANCE,
    }
    for light in ("solar", "visible"):
        pane[f"{light}_transmittance_at_normal_incidence"] = transmittance
        for side in ("front", "back"):
            pane[f"{side}_side_{light}_reflectance_at_normal_incidence"] = reflectance
    return pane


def _inside(choices: Choices) -> Objects:
    """Make the zone, its furniture, its heat and its leak."""
    target = "zone_or_zonelist_or_space_or_spacelist_name"
    gain_w = box.GAIN_CONVECTIVE_W + box.GAIN_RADIANT_W
    return {
        "Zone": {geometry.ZONE: {}},
        "InternalMass": {
            "cabinets": {
                "construction_name": "board",
                "zone_or_zonelist_name": geometry.ZONE,
                "surface_area": box.CABINETS_M2,
            }
        },
        "OtherEquipment": {
            "person": {
                target: geometry.ZONE,
                "schedule_name": choices.present,
                "design_level_calculation_method": "EquipmentLevel",
                "design_level": gain_w,
                "fraction_radiant": box.GAIN_RADIANT_W / gain_w,
            }
        },
        "ZoneInfiltration:DesignFlowRate": {
            "leak": {
                target: geometry.ZONE,
                "schedule_name": "always",
                "design_flow_rate_calculation_method": "AirChanges/Hour",
                "air_changes_per_hour": choices.air_changes_per_h,
            }
        },
    }


def inside_film(made: Objects, film_w_per_m2k: float) -> Objects:
    """Hold the convective film of all inner faces, windows and furniture included."""
    faces = [name for kind in _FACES for name in made.get(kind, {})]
    return {
        "SurfaceProperty:ConvectionCoefficients": {
            f"film {face}": {
                "surface_name": face,
                "convection_coefficient_1_location": "Inside",
                "convection_coefficient_1_type": "Value",
                "convection_coefficient_1": film_w_per_m2k,
            }
            for face in faces
        }
    }


def ideal_air(available: str, *, heated: bool) -> Objects:
    """Make whatever sensible heat holds the setpoint from one side; no outdoor air, no drying.

    Parameters
    ----------
    available
        Schedule of the hours in which it is held.
    heated
        Held from below, else from above; the setpoint is the schedule ``setpoint``.
    """
    kind = "Heating" if heated else "Cooling"
    return {
        f"ThermostatSetpoint:Single{kind}": {
            "hold": {"setpoint_temperature_schedule_name": "setpoint"}
        },
        "ZoneControl:Thermostat": {
            "thermostat": {
                "zone_or_zonelist_name": geometry.ZONE,
                "control_type_schedule_name": f"{kind.lower()} only",
                "control_1_object_type": f"ThermostatSetpoint:Single{kind}",
                "control_1_name": "hold",
            }
        },
        "ZoneHVAC:IdealLoadsAirSystem": {
            "ideal": {
                "availability_schedule_name": available,
                "zone_supply_air_node_name": "supply",
                "heating_limit": "NoLimit",
                "cooling_limit": "NoLimit",
                "dehumidification_control_type": "None",
                "humidification_control_type": "None",
            }
        },
        "ZoneHVAC:EquipmentList": {
            "list": {
                "load_distribution_scheme": "SequentialLoad",
                "equipment": [
                    {
                        "zone_equipment_object_type": "ZoneHVAC:IdealLoadsAirSystem",
                        "zone_equipment_name": "ideal",
                        "zone_equipment_cooling_sequence": 1,
                        "zone_equipment_heating_or_no_load_sequence": 1,
                    }
                ],
            }
        },
        "ZoneHVAC:EquipmentConnections": {
            "connections": {
                "zone_name": geometry.ZONE,
                "zone_conditioning_equipment_list_name": "list",
                "zone_air_inlet_node_or_nodelist_name": "supply",
                "zone_air_node_name": "air",
                "zone_return_air_node_or_nodelist_name": "return",
            }
        },
    }

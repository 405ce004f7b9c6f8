"""What a number in a component file usually is, and what it cannot be: the tables.

One row a key: its path in the file, the unit that the row is written in, the usual span, the
possible span, and what that rests on. Outside the usual span a value is asked about; outside the
possible one the file is refused. Of a column the largest number is looked at (in absolute value),
and every number for the possible span; ``each`` in front of the span looks at every number, and
``rule`` leaves the question to a rule of `library/odd`, which knows more. A zero is no slip, and
asked about nowhere. ``-`` stands where nothing is said: the component refuses by
itself, or a rule beside knows better.

Where no source stands it is common practice, no source. A span is wide enough for the machines that
exist, and so cannot see every slip: `SIZES` hold a number against another of the same file.
`docs/formats` is written from these rows, and a test wants one for every number in every schema.
"""

from __future__ import annotations

from types import MappingProxyType

ENGINE = """
reference_air.pressure | kPa | 90 .. 106 | - | ISO 1585 and ISO 3046-1 have 99 and 100 kPa
reference_air.temperature | degC | 10 .. 45 | - | ISO 1585 and ISO 3046-1 have 25 degC
reference_air.vapour_pressure | kPa | 0.05 .. 5 | 0 .. 20 | saturation at 33 degC (steam tables)
displacement | L | 0.3 .. 100 | 0.02 .. 3000 |
low_idle | rpm | rule 400 .. 1500 | 50 .. 5000 |
rated_speed | rpm | rule 500 .. 6000 | 100 .. 20000 |
high_idle | rpm | 550 .. 6600 | 100 .. 25000 |
full_load.speed | rpm | 500 .. 7000 | 0 .. 25000 |
full_load.torque | N*m | 15 .. 25000 | -1000 .. 1e6 |
full_load.power | kW | 3 .. 5000 | -100 .. 1e5 |
full_load.torque_band | percent | 0.5 .. 10 | 0 .. 60 |
rating.rated_power | kW | 3 .. 5000 | 0.1 .. 1e5 |
rating.peak_torque | N*m | 15 .. 25000 | 0.1 .. 1e6 |
rating.peak_torque_speed | rpm | 400 .. 5000 | 50 .. 20000 |
accessory.power | kW | 0.1 .. 300 | 0 .. 5000 |
accessory.torque | N*m | 0.3 .. 1500 | 0 .. 1e5 |
accessory.at_speed | rpm | 400 .. 7000 | 50 .. 25000 |
accessory.exponent | 1 | 0.5 .. 3.2 | 0 .. 5 | affinity laws: 3 for a fan
motoring.speed | rpm | 500 .. 8000 | 0 .. 30000 |
motoring.torque | N*m | 3 .. 5000 | 0 .. 1e5 |
motoring.exhaust_brake.speed | rpm | 500 .. 8000 | 0 .. 30000 |
motoring.exhaust_brake.torque | N*m | 10 .. 15000 | 0 .. 2e5 |
fuel.speed | rpm | 500 .. 7000 | 0 .. 25000 |
fuel.bsfc | g/kWh | rule 180 .. 350 | 100 .. 3000 |
fuel.idle_rate | kg/h | 0.1 .. 30 | 0 .. 500 |
fuel.lower_heating_value | MJ/kg | 36 .. 50 | 5 .. 130 | diesel 42.7, Regulation (EU) 2017/2400
fuel.density | kg/m**3 | 700 .. 900 | 300 .. 1200 | EN 590: 820 to 845 (from memory)
inertia.value | kg*m**2 | rule 0.02 .. 100 | 1e-4 .. 5000 |
site_correction.engine_factor | 1 | 0.2 .. 1.2 | 0 .. 3 | ISO 1585: 0.3 to 1.2
site_correction.mechanical_efficiency | 1 | 0.7 .. 0.95 | 0.3 .. 1 | ISO 3046-1: 0.80
site_correction.derate.altitude | m | 800 .. 5500 | -1000 .. 10000 |
site_correction.derate.factor | 1 | each 0.4 .. 1.03 | 0 .. 1.5 |
"""
CONVERTER = """
profile_diameter | mm | rule 150 .. 1000 | 10 .. 1500 |
oil_density | kg/m**3 | rule 750 .. 950 | 450 .. 1500 | mineral oil; water is denser
oil_volume | L | 0.5 .. 150 | 0.05 .. 2000 |
coupling_speed_ratio | 1 | 0.6 .. 0.97 | 0.2 .. 1 |
characteristic.speed_ratio | 1 | 0.7 .. 3 | -20 .. 20 |
characteristic.torque_ratio | 1 | 0.95 .. 6 | -20 .. 20 |
characteristic.capacity.values | - | - | - | held against the diameter at stall
characteristic.capacity.reference_speed | rpm | rule 500 .. 4000 | 10 .. 20000 |
characteristic.capacity.reference_torque | N*m | 10 .. 5000 | 0.1 .. 1e5 |
characteristic.efficiency | 1 | 0.7 .. 1 | -20 .. 1.05 | nothing gives more power than it takes
characteristic.stall_torque_ratio | 1 | 1.5 .. 5 | 0.9 .. 12 |
characteristic.kinks | 1 | 0.3 .. 1.2 | -20 .. 20 |
characteristic.torque_ratio_band | 1 | 0.001 .. 0.1 | 0 .. 0.6 |
characteristic.capacity_band | 1 | 0.001 .. 0.2 | 0 .. 0.6 |
family.nominal | - | - | - | in the unit of the family's own parameter
family.member.setting | - | - | - | in the unit of the family's own parameter
family.member.coupling_speed_ratio | 1 | 0.3 .. 0.97 | 0.05 .. 1 |
family.member.characteristic.speed_ratio | 1 | 0.5 .. 3 | -20 .. 20 |
family.member.characteristic.torque_ratio | 1 | 0.95 .. 6 | -20 .. 20 |
family.member.characteristic.capacity.values | - | - | - | held against the other settings' rows
family.member.characteristic.capacity.reference_speed | rpm | 500 .. 4000 | 10 .. 20000 |
family.member.characteristic.capacity.reference_torque | N*m | 10 .. 5000 | 0.1 .. 1e5 |
family.member.characteristic.efficiency | 1 | 0.5 .. 1 | -20 .. 1.05 |
family.member.characteristic.stall_torque_ratio | 1 | 1.2 .. 5 | 0.9 .. 12 |
family.member.characteristic.kinks | 1 | 0.3 .. 1.2 | -20 .. 20 |
family.member.characteristic.torque_ratio_band | 1 | 0.001 .. 0.1 | 0 .. 0.6 |
family.member.characteristic.capacity_band | 1 | 0.001 .. 0.2 | 0 .. 0.6 |
stall_datum.engine_speed | rpm | 800 .. 3500 | 100 .. 15000 |
stall_datum.input_torque | N*m | 20 .. 10000 | 1 .. 1e5 |
stall_datum.torque_ratio | 1 | 1.5 .. 5 | - |
stall_datum.torque_ratio_range | 1 | each 1.5 .. 5 | - |
limits.input_torque | N*m | 20 .. 20000 | 1 .. 5e5 |
limits.input_speed | rpm | 1000 .. 7000 | 100 .. 25000 |
limits.input_power | kW | 5 .. 5000 | 0.5 .. 1e5 |
limits.oil_temperature | degC | 90 .. 150 | 40 .. 250 |
inertia.impeller | kg*m**2 | 0.005 .. 30 | 1e-5 .. 1000 |
inertia.turbine | kg*m**2 | 0.003 .. 20 | 1e-5 .. 1000 |
"""
DRIVELINE = """
gear.ratio | 1 | 0.3 .. 12 | -1000 .. 1000 |
gear.efficiency | 1 | 0.85 .. 0.998 | 0.3 .. 1 |
{gear.,}drag.speed | rpm | 500 .. 6000 | 0 .. 25000 |
{gear.,}drag.torque | N*m | 1 .. 600 | 0 .. 2e4 |
{gear.,}drag.constant | N*m | 0.3 .. 300 | 0 .. 1e4 |
{gear.,}drag.rising | N*m | 0.5 .. 400 | 0 .. 1e4 |
{gear.,}drag.at_speed | rpm | 500 .. 6000 | 10 .. 25000 |
{gear.,}drag.exponent | 1 | 0.5 .. 2.5 | 0 .. 5 |
gear.lock_up.engage_speed_ratio | 1 | 0.55 .. 1 | 0.1 .. 1.2 |
gear.lock_up.release_speed_ratio | 1 | 0.3 .. 0.98 | 0.05 .. 1.2 |
gear.lock_up.engage_turbine_speed | rpm | 600 .. 4500 | 50 .. 20000 |
gear.lock_up.release_turbine_speed | rpm | 500 .. 4500 | 50 .. 20000 |
gear.upshift_turbine_speed | rpm | 600 .. 6000 | 50 .. 20000 |
gear.downshift_turbine_speed | rpm | 300 .. 5000 | 20 .. 20000 |
stage.ratio | 1 | 0.4 .. 40 | 0.01 .. 1000 |
stage.efficiency | 1 | 0.88 .. 0.998 | 0.3 .. 1 |
limits.turbine_torque | N*m | 80 .. 60000 | 1 .. 1e6 |
limits.turbine_speed | rpm | 1000 .. 7000 | 100 .. 25000 |
limits.input_power | kW | 5 .. 5000 | 0.5 .. 1e5 |
limits.lock_up_torque | N*m | 50 .. 20000 | 1 .. 5e5 |
inertia.input | kg*m**2 | 0.005 .. 20 | 1e-5 .. 1000 |
inertia.output | kg*m**2 | 0.005 .. 60 | 1e-5 .. 5000 |
shift_time | s | 0.08 .. 3 | 0 .. 600 |
shift_hysteresis | percent | 4 .. 50 | 0 .. 95 |
speed_limit | km/h | 8 .. 100 | 0.5 .. 250 |
"""
MACHINE = """
mass_empty | t | 0.8 .. 500 | - |
payload | t | 0.2 .. 450 | - |
tyre.rolling_radius | mm | 180 .. 1950 | 50 .. 3000 | the largest earthmover tyres are 4 m high
tyre.loaded_radius | mm | 180 .. 1950 | 50 .. 3000 |
tracks.sprocket_radius | mm | 150 .. 700 | - |
slip.value | percent | 0.2 .. 12 | - |
slip.use | 1 | 0.99 .. 1 | - |
slip.slip | 1 | 0.03 .. 0.6 | - |
balance.driven_share_empty | percent | 20 .. 100 | - |
balance.driven_share_laden | percent | 20 .. 100 | - |
balance.wheelbase | m | 1 .. 8 | 0.2 .. 30 |
balance.gravity_height_empty | m | 0.3 .. 3.5 | 0.05 .. 10 |
balance.gravity_height_laden | m | 0.3 .. 4.5 | 0.05 .. 10 |
frontal_area | m**2 | rule 0.5 .. 40 | 0.05 .. 500 |
drag_coefficient | 1 | rule 0.3 .. 1.5 | 0.03 .. 5 |
wheel_inertia | kg*m**2 | 1 .. 1e5 | 0.01 .. 1e7 |
running_drag | N | 40 .. 60000 | 0 .. 1e6 |
cooler.difference | K | 20 .. 150 | 0 .. 400 |
cooler.heat | kW | 2 .. 1500 | 0 .. 1e5 |
cooler.rated_heat | kW | 2 .. 1500 | 0.01 .. 1e5 |
cooler.oil_temperature | degC | 60 .. 140 | 0 .. 250 |
cooler.air_temperature | degC | 10 .. 60 | -60 .. 100 |
cooler.conductance | W/K | 30 .. 20000 | 0.1 .. 1e6 |
cooler.air_density | kg/m**3 | 0.7 .. 1.4 | 0.2 .. 3 | 1.225 at sea level, ISO 2533
oil.volume | L | 3 .. 800 | 0.1 .. 10000 |
oil.density | kg/m**3 | 780 .. 950 | 600 .. 1500 |
oil.specific_heat | kJ/(kg*K) | 1.6 .. 2.6 | 0.8 .. 4.5 | mineral oil; water has 4.2
oil.metal_mass | kg | 10 .. 15000 | 0 .. 1e5 |
oil.metal_specific_heat | kJ/(kg*K) | 0.4 .. 0.95 | 0.1 .. 2 | steel 0.46, aluminium 0.90
oil.metal_conductance | W/K | 10 .. 50000 | 0.1 .. 1e7 |
oil.temperature_limit | degC | rule 80 .. 150 | 40 .. 250 |
oil.working_temperature | degC | 40 .. 115 | -60 .. 200 |
oil.charge_flow | L/min | 5 .. 1500 | 0.1 .. 20000 |
oil.outlet_temperature_limit | degC | 105 .. 180 | 60 .. 300 |
"""
SITE = """
altitude | m | -430 .. 5100 | - | the lowest shore on land, the highest mines
air_pressure | kPa | 50 .. 107 | - | ISO 2533 between those altitudes, with 5 % for the weather
air_temperature | degC | rule -45 .. 55 | - | weather records lie at -89 and 57 degC
relative_humidity | percent | 3 .. 100 | - |
"""
SURFACES = """
surface.rolling_resistance | percent | 0.4 .. 40 | - | the published table has 1.5 to 35 %
surface.traction | percent | 5 .. 120 | - | the published table has 12 to 100 %
"""
BLADING = """
profile_diameter | mm | 150 .. 1000 | 50 .. 1500 |
flow_area | cm**2 | 20 .. 2500 | 1 .. 20000 |
oil_density | kg/m**3 | 750 .. 950 | 450 .. 1500 |
friction_factor | 1 | 0.05 .. 1 | 0 .. 10 | published sets have 0.2 to 0.3
{impeller,turbine,stator}.exit_radius | mm | 30 .. 480 | 5 .. 1000 |
impeller.entry_angle | deg | -60 .. 30 | -89 .. 89 | published sets have -41 to -9
impeller.exit_angle | deg | -45 .. 60 | -89 .. 89 | published sets have 16 to 31
turbine.entry_angle | deg | 20 .. 75 | -89 .. 89 | published sets have 59 to 60
turbine.exit_angle | deg | -75 .. -20 | -89 .. 89 | published sets have -61 to -53
stator.entry_angle | deg | -45 .. 75 | -89 .. 89 | published sets have 0 to 61
stator.exit_angle | deg | 25 .. 80 | -89 .. 89 | published sets have 55 to 65
{impeller,turbine,stator}.shock_factor | 1 | 0.3 .. 2.5 | 0 .. 20 | published sets have 0.32 to 1.8
inertia.impeller | kg*m**2 | 0.005 .. 30 | 1e-5 .. 1000 |
inertia.turbine | kg*m**2 | 0.003 .. 20 | 1e-5 .. 1000 |
"""
ARRANGEMENT = """
parallel.ratio | 1 | 0.2 .. 8 | 0.01 .. 200 |
parallel.efficiency | 1 | 0.85 .. 1 | 0.3 .. 1 |
stall_capacity_factor | 1 | 0.3 .. 2 | 0.02 .. 20 |
lock_up.engage | 1 | 0.55 .. 1 | 0.05 .. 1.5 | a turbine speed: 500 to 5000 rpm
lock_up.release | 1 | 0.3 .. 0.98 | 0.05 .. 1.5 | likewise
lock_up.torque_capacity | N*m | 50 .. 12000 | 1 .. 5e5 |
lock_up.engagement_time | s | 0.1 .. 3 | 0.001 .. 60 |
impeller_clutch.torque_capacity | N*m | 50 .. 12000 | 1 .. 5e5 |
impeller_clutch.engine_speed | rpm | 600 .. 4000 | 50 .. 20000 |
impeller_clutch.settings | percent | 30 .. 100 | - |
impeller_clutch.turbine_torque_limit | N*m | 80 .. 40000 | 1 .. 1e6 |
impeller_clutch.tractive_effort_limit | kN | 2 .. 1500 | 0.05 .. 1e5 |
torque_divider.sun_teeth | 1 | 12 .. 120 | 4 .. 1000 |
torque_divider.ring_teeth | 1 | 30 .. 250 | 8 .. 3000 |
torque_divider.ratio | 1 | 1.2 .. 6 | - |
hydraulic_sharing.speed | rpm | 800 .. 5000 | 0 .. 20000 |
hydraulic_sharing.standby | N*m | 1 .. 500 | 0 .. 1e5 |
hydraulic_sharing.partial | N*m | 5 .. 4000 | 0 .. 1e5 |
hydraulic_sharing.relief | N*m | 10 .. 8000 | 0 .. 1e5 |
overrun.overspeed_limit | rpm | 800 .. 7000 | 100 .. 25000 |
part_load.no_load_speed | rpm | 800 .. 6600 | 50 .. 25000 |
part_load.pedal | 1 | 0.2 .. 1 | - |
wheels.overall_ratio | 1 | 4 .. 200 | 0.05 .. 5000 |
wheels.rolling_radius | mm | 180 .. 1950 | 50 .. 3000 |
wheels.efficiency | percent | 65 .. 97 | - |
"""
STUDY = """
candidate.diameter | mm | 150 .. 1000 | 50 .. 1500 |
duty.rolling_resistance | percent | 0.4 .. 40 | 0 .. 100 |
duty.traction | 1 | 0.05 .. 1.2 | 0 .. 3 |
duty.grades | percent | 0.02 .. 60 | -200 .. 200 |
duty.continuous_grade | percent | 0.02 .. 30 | -200 .. 200 |
duty.hydraulic_torque | N*m | rule 3 .. 8000 | 0 .. 1e6 |
limits.input_torque | N*m | 20 .. 20000 | 1 .. 1e6 |
limits.input_power | kW | 5 .. 5000 | 0.5 .. 1e5 |
limits.input_speed | rpm | 1000 .. 7000 | 100 .. 25000 |
limits.turbine_torque | N*m | 80 .. 60000 | 1 .. 1e6 |
limits.turbine_speed | rpm | 800 .. 7000 | 100 .. 25000 |
limits.engine_speed | rpm | 1000 .. 7000 | 100 .. 25000 |
limits.heat | kW | rule 2 .. 1500 | 0.05 .. 1e5 |
limits.oil_temperature | degC | 80 .. 150 | 40 .. 250 |
limits.stall_speed_least | rpm | 700 .. 3500 | 100 .. 15000 |
limits.stall_speed_most | rpm | 800 .. 4000 | 100 .. 15000 |
limits.top_speed_least | km/h | 4 .. 90 | 0.1 .. 250 |
limits.top_speed_most | km/h | 5 .. 120 | 0.1 .. 250 |
criterion.{least,most,margin,efficiency,up_to} | - | - | - | against the criterion's own
decision.order_probability | percent | 50 .. 99.9 | - |
decision.reject_probability | percent | 2 .. 90 | - |
tolerance.half_width | - | - | - | held against what is usual, below
tolerance.shift | - | - | - | likewise
tolerance.scatter | 1 | 0.05 .. 1 | - |
correlation.coefficient | 1 | 0.05 .. 1 | - |
{measurement,possible}.repeats | 1 | 1 .. 20 | - |
{measurement,possible}.grade | percent | 1 .. 60 | -200 .. 200 |
{measurement,possible}.speed | km/h | 1 .. 90 | 0 .. 250 |
{measurement,possible}.engine_speed | rpm | 500 .. 7000 | 50 .. 25000 |
{measurement,possible}.speed_ratio | 1 | 0.05 .. 1.2 | - |
{measurement,possible}.duration | s | 1 .. 60 | 0.01 .. 3600 |
{measurement,possible}.mass | t | 0.8 .. 900 | 0.1 .. 2000 |
{measurement,possible}.air_temperature | degC | -45 .. 55 | -90 .. 70 |
{measurement,possible}.air_pressure | kPa | 50 .. 107 | 30 .. 115 |
{measurement,possible}.oil_temperature | degC | 10 .. 120 | -60 .. 200 |
{measurement,possible}.model_error | percent | 0.1 .. 15 | - |
{measurement,possible}.deviation | - | - | - | held against the reading
measurement.value | - | - | - | weighed: docs/evidence.md
losses.{wrong_order,missed_order,minutes,hours,dear} | - | - | - | in a unit of your own choice
evidence.work_error | percent | 0.1 .. 10 | - |
claim.value | - | - | - | is what the audit examines
claim.tolerance | percent | 0.2 .. 20 | 0 .. 100 |
claim.hydraulic_torque | N*m | 3 .. 8000 | 0 .. 1e5 |
claim.grade | percent | 1 .. 60 | -200 .. 200 |
claim.speed | km/h | 1 .. 120 | 0 .. 250 |
bench.font_scale | 1 | 0.5 .. 3 | - |
bench.{a,b}.altitude | m | -430 .. 5100 | -500 .. 6000 |
bench.{a,b}.air_temperature | degC | -45 .. 55 | -90 .. 70 |
bench.{a,b}.hydraulic_torque | N*m | 3 .. 8000 | 0 .. 1e5 |
bench.{a,b}.accessory_share | 1 | 0.2 .. 3 | - |
bench.{a,b}.diameter_share | 1 | 0.6 .. 1.6 | - |
"""
MOTOR = """
speed_limit | rpm | 1500 .. 20000 | 50 .. 60000 |
torque.speed | rpm | 1500 .. 20000 | 0 .. 60000 |
torque.peak | N*m | 20 .. 10000 | 0 .. 1e6 |
torque.continuous | N*m | 10 .. 6000 | 0 .. 1e6 |
torque.regenerative | N*m | 10 .. 10000 | -1e6 .. 1e6 | the sign is checked beside
duty.peak_time | s | 5 .. 3600 | 0.5 .. 36000 | S2 of IEC 60034-1 has 10 to 90 min (from memory)
voltage.nominal | V | 24 .. 1000 | 6 .. 15000 |
voltage.least | V | 18 .. 1000 | 3 .. 15000 |
voltage.most | V | 24 .. 1200 | 6 .. 20000 |
losses.standing | kW | 0.01 .. 5 | 0 .. 1000 |
losses.copper.power | kW | 0.1 .. 50 | 0 .. 5000 |
losses.copper.at_torque | N*m | 10 .. 6000 | 0.1 .. 1e6 |
losses.turning.power | kW | 0.02 .. 30 | 0 .. 5000 |
losses.turning.at_speed | rpm | 300 .. 20000 | 10 .. 60000 |
losses.turning.exponent | 1 | 1 .. 3 | 0 .. 4 | iron between 1 and 2, air 3
efficiency_map.speed | rpm | 1000 .. 20000 | 0 .. 60000 |
efficiency_map.torque | N*m | 20 .. 10000 | 0 .. 1e6 |
efficiency_map.efficiency | 1 | 0.8 .. 0.985 | 0 .. 1 |
thermal.rise_at_continuous | K | 40 .. 130 | 5 .. 200 | IEC 60034-1: 60 to 125 K (from memory)
thermal.coolant | degC | 20 .. 75 | -40 .. 120 | IEC 60034-1: 40 degC (from memory)
thermal.time_constant | min | 1 .. 120 | 0.05 .. 1000 |
inertia.value | kg*m**2 | 0.005 .. 20 | 1e-5 .. 1000 |
accessory.power | kW | 0.1 .. 300 | 0 .. 5000 |
accessory.torque | N*m | 0.3 .. 1500 | 0 .. 1e5 |
accessory.at_speed | rpm | 400 .. 20000 | 50 .. 60000 |
accessory.exponent | 1 | 0.5 .. 3.2 | 0 .. 5 | affinity laws: 3 for a fan
"""
LOAD = """
ratio | 1 | 0.2 .. 60 | 0.005 .. 2000 |
efficiency | 1 | 0.6 .. 0.998 | 0.05 .. 1 |
inertia | kg*m**2 | 0.01 .. 5000 | 1e-5 .. 1e7 |
winch.line_pull | kN | 2 .. 600 | 0.05 .. 20000 |
winch.drum_diameter | mm | 100 .. 1500 | 20 .. 10000 |
winch.rope_diameter | mm | 6 .. 60 | 1 .. 300 |
winch.layers | 1 | 1 .. 10 | 1 .. 60 |
winch.breakaway_pull | kN | 2 .. 900 | 0.05 .. 20000 |
winch.lowering_efficiency | 1 | 0.5 .. 0.998 | 0.05 .. 1 |
{pump,propeller}.torque | N*m | 10 .. 1e5 | 0.01 .. 1e8 |
{pump,propeller}.power | kW | 2 .. 5000 | 0.01 .. 1e5 |
{pump,propeller}.speed | rpm | 50 .. 4000 | 1 .. 30000 |
{pump,propeller}.breakaway_torque | N*m | 1 .. 1e5 | 0 .. 1e8 |
conveyor.torque | N*m | 10 .. 1e5 | 0.01 .. 1e8 |
conveyor.breakaway_torque | N*m | 10 .. 2e5 | 0.01 .. 1e8 |
table.speed | rpm | 20 .. 6000 | 0 .. 30000 |
table.torque | N*m | 10 .. 1e5 | -1e8 .. 1e8 |
table.breakaway_torque | N*m | 1 .. 2e5 | 0 .. 1e8 |
"""
CATALOGUE = """
diameters | mm | 150 .. 1000 | 50 .. 1500 |
stretch | percent | 1 .. 30 | 0 .. 100 |
"""
MOTOR_STUDY = """
candidate.direct | 1 | 0.5 .. 15 | 0.01 .. 200 |
candidate.efficiency | 1 | 0.85 .. 0.998 | 0.3 .. 1 |
candidate.voltage | V | 18 .. 1200 | 3 .. 20000 |
duty.grades | percent | 0.02 .. 60 | -200 .. 200 |
duty.hydraulic_torque | N*m | 3 .. 8000 | 0 .. 1e6 |
requirements.startability | percent | 1 .. 60 | 0 .. 200 |
requirements.continuous_grade | percent | 0.02 .. 30 | -200 .. 200 |
requirements.top_speed | km/h | 3 .. 100 | 0 .. 250 |
requirements.cycle_time | percent | 70 .. 200 | 10 .. 1000 |
"""
ROUTE = """
length | m | 0.5 .. 20000 | - |
grade | percent | 0.005 .. 60 | - |
speed limit | km/h | 2 .. 100 | - |
stop | s | 1 .. 3600 | - |
"""
CYCLE = """
distance | m | 1 .. 500 | - |
time | s | 0.5 .. 300 | - |
speed limit | km/h | 2 .. 60 | - |
grade | percent | 0.005 .. 60 | - |
hydraulic power | kW | 0.5 .. 800 | - |
speed | km/h | 0.1 .. 15 | - |
"""
DUTY = """
turbine speed | rpm | 30 .. 6000 | - |
speed ratio | 1 | 0.01 .. 1.3 | - |
pump torque | N*m | 1 .. 4000 | - |
"""
EVERY_FILE = """
unsmoothed.{positions,values} | - | - | - | kept as they came, not used
"""
ARGUMENTS = """
{oil_start,oil_temperature} | degC | -15 .. 120 | -60 .. 200 |
{hydraulic_torque,relief_torque} | N*m | bare 1 .. 4000 | -1e5 .. 1e5 |
reference_torque | N*m | 10 .. 25000 | 0.1 .. 1e6 |
{engine_speed,stall_speed,published,high_idle} | rpm | bare 400 .. 6600 | 10 .. 25000 |
impeller_speed | rpm | bare 100 .. 6600 | -25000 .. 25000 |
diameters | mm | 150 .. 1000 | 10 .. 1500 |
voltage | V | 12 .. 1200 | 1 .. 20000 |
{efficiency,coverage} | 1 | 0.5 .. 0.999 | -1 .. 1 |
to_speed | km/h | 3 .. 100 | 0 .. 250 |
{grade,grades} | percent | bare 0 .. 60 | -200 .. 200 |
braking | m/s2 | 0.3 .. 8 | 0 .. 30 |
{closing_time,duration,maker_hold,first_gear} | s | bare 0 .. 600 | 0 .. 7200 |
mass | t | bare 0.5 .. 500 | 0.05 .. 2000 |
turning | percent | 0.5 .. 30 | 0 .. 200 |
rolling_resistance | percent | 0.4 .. 40 | 0 .. 100 |
drag_area | m**2 | 0.3 .. 40 | 0 .. 500 |
tolerances.{engine_torque,capacity,loads,relief,air,governor} | percent | 0.3 .. 30 | 0 .. 100 |
tolerances.oil_temperature | K | 1 .. 40 | 0 .. 300 |
tolerances.reading | rpm | 1 .. 60 | 0 .. 2000 |
limits.oil_temperature | degC | 80 .. 150 | 40 .. 250 |
limits.{input_torque,turbine_torque} | N*m | bare 20 .. 60000 | 1 .. 1e6 |
limits.input_power | kW | bare 5 .. 5000 | 0.5 .. 1e5 |
limits.{stall_speed_least,stall_speed_most} | rpm | bare 400 .. 6600 | 10 .. 15000 |
"""
TABLES = MappingProxyType(
    {
        "argument": ARGUMENTS,
        "arrangement": ARRANGEMENT,
        "blading": BLADING,
        "catalogue": CATALOGUE,
        "converter": CONVERTER,
        "cycle": CYCLE,
        "driveline": DRIVELINE,
        "duty": DUTY,
        "engine": ENGINE,
        "load": LOAD,
        "machine": MACHINE,
        "motor": MOTOR,
        "motor-study": MOTOR_STUDY,
        "route": ROUTE,
        "site": SITE,
        "study": STUDY,
        "surfaces": SURFACES,
    }
)
"""Kind of file -> its rows, by column for a table; ``argument`` has those of public functions."""

# Names with @ are worked out from the file: the greatest power and torque of an engine's sheet, the
# greatest continuous power of a motor's, and effort limit x rolling radius / overall ratio of an
# arrangement. Inertia x speed / torque is the time in which a torque runs a body up.
# A number against another of the same file: terms with the unit each is taken in, and the usual
# span of what they come to. Bodies of one shape scale so: inertia with the fifth power of size,
# mass with the third, torque that a part carries with the third, tip speed with the first.
SIZES = MappingProxyType(
    {
        "engine": """
low_idle[rpm] / rated_speed[rpm] | 0.15 .. 0.65
full_load.speed[rpm] / rated_speed[rpm] | 0.9 .. 1.6
full_load.speed:first[rpm] / low_idle[rpm] | 0.7 .. 2.2
rating.peak_torque_speed[rpm] / rated_speed[rpm] | 0.35 .. 1
rating.peak_torque[N*m] * rated_speed[rad/s] / rating.rated_power[W] | 0.98 .. 1.9
accessory.power[kW] / @rated_power[kW] | 0.003 .. 0.06 | accessory.exponent 0 .. 2
accessory.power[kW] / @rated_power[kW] | 0.008 .. 0.15 | accessory.exponent 2 .. 5
accessory.torque[N*m] / @peak_torque[N*m] | 0.002 .. 0.15
accessory.at_speed[rpm] / rated_speed[rpm] | 0.3 .. 1.4
motoring.speed[rpm] / rated_speed[rpm] | 0.7 .. 1.8
motoring.torque[N*m] / displacement[L] | 6 .. 70
motoring.exhaust_brake.speed[rpm] / rated_speed[rpm] | 0.7 .. 1.8
motoring.exhaust_brake.torque[N*m] / displacement[L] | 15 .. 250
fuel.speed[rpm] / rated_speed[rpm] | 0.7 .. 1.5
fuel.idle_rate[kg/h] / displacement[L] | 0.05 .. 0.8
inertia.value[kg*m**2] / displacement[L] | 0.05 .. 1
""",
        "converter": """
oil_volume[m**3] / profile_diameter[m]^3 | 0.03 .. 0.8
limits.input_torque[N*m] / profile_diameter[m]^3 | 6000 .. 150000
limits.input_speed[rad/s] * profile_diameter[m] | 35 .. 250
limits.input_power[kW] / profile_diameter[m]^2 | 400 .. 10000
inertia.impeller[kg*m**2] / profile_diameter[m]^5 | 12 .. 350
inertia.turbine[kg*m**2] / profile_diameter[m]^5 | 5 .. 180
""",
        "blading": """
flow_area[m**2] / profile_diameter[m]^2 | 0.06 .. 0.45
impeller.exit_radius[m] / profile_diameter[m] | 0.3 .. 0.5
turbine.exit_radius[m] / profile_diameter[m] | 0.12 .. 0.45
stator.exit_radius[m] / profile_diameter[m] | 0.12 .. 0.45
inertia.impeller[kg*m**2] / profile_diameter[m]^5 | 12 .. 350
inertia.turbine[kg*m**2] / profile_diameter[m]^5 | 5 .. 180
""",
        "driveline": """
{gear.,}drag.torque[N*m] / limits.turbine_torque[N*m] | 0.003 .. 0.08
{gear.,}drag.constant[N*m] / limits.turbine_torque[N*m] | 0.0006 .. 0.0225
{gear.,}drag.rising[N*m] / limits.turbine_torque[N*m] | 0.0012 .. 0.045
limits.lock_up_torque[N*m] / limits.turbine_torque[N*m] | 0.1 .. 2
inertia.input[kg*m**2] / limits.turbine_torque[kN*m] | 0.018 .. 0.9
inertia.output[kg*m**2] / limits.turbine_torque[kN*m] | 0.018 .. 0.7
""",
        "load": """
pump.speed[rpm] * ratio[1] | 400 .. 6000
inertia[kg*m**2] * pump.speed[rad/s] / pump.torque[N*m] | 0.25 .. 12
inertia[kg*m**2] * pump.speed[rad/s]^2 / pump.power[W] | 0.2 .. 10
pump.breakaway_torque[N*m] / pump.torque[N*m] | 0.01 .. 0.35
pump.breakaway_torque[N*m] * pump.speed[rad/s] / pump.power[W] | 0.01 .. 0.35
propeller.speed[rpm] * ratio[1] | 400 .. 6000
inertia[kg*m**2] * propeller.speed[rad/s] / propeller.torque[N*m] | 0.25 .. 12
inertia[kg*m**2] * propeller.speed[rad/s]^2 / propeller.power[W] | 0.2 .. 10
propeller.breakaway_torque[N*m] / propeller.torque[N*m] | 0.01 .. 0.35
propeller.breakaway_torque[N*m] * propeller.speed[rad/s] / propeller.power[W] | 0.01 .. 0.35
conveyor.breakaway_torque[N*m] / conveyor.torque[N*m] | 1 .. 2.5
inertia[kg*m**2] / conveyor.torque[N*m] / ratio[1] | 0.0015 .. 0.1
table.speed[rpm] * ratio[1] | 400 .. 6000
inertia[kg*m**2] * table.speed[rad/s] / table.torque[N*m] | 0.1 .. 6
winch.line_pull[kN] / winch.rope_diameter[mm]^2 | 0.03 .. 0.4
winch.drum_diameter[mm] / winch.rope_diameter[mm] | 8 .. 45
winch.breakaway_pull[kN] / winch.line_pull[kN] | 1 .. 1.6
inertia[kg*m**2] / winch.line_pull[N] / winch.drum_diameter[m] / ratio[1] | 0.0001 .. 0.004
""",
        "motor": """
voltage.least[V] / voltage.nominal[V] | 0.6 .. 1
voltage.most[V] / voltage.nominal[V] | 1 .. 1.5
losses.standing[W] / @continuous_power[W] | 0.0008 .. 0.03
losses.copper.power[W] / @continuous_power[W] | 0.01 .. 0.2
losses.copper.at_torque[N*m] / torque.continuous[N*m] | 0.4 .. 2
losses.turning.power[W] / @continuous_power[W] | 0.005 .. 0.12
losses.turning.at_speed[rpm] / speed_limit[rpm] | 0.2 .. 1
inertia.value[kg*m**2] * speed_limit[rad/s] / torque.peak[N*m] | 0.04 .. 1.5
accessory.power[W] / @continuous_power[W] | 0.005 .. 0.2
""",
        "machine": """
mass_empty[t] / frontal_area[m**2]^1.5 | 0.15 .. 4
mass_empty[t] / tyre.rolling_radius[m]^3 | 6 .. 250
mass_empty[t] / tyre.loaded_radius[m]^3 | 6 .. 250
mass_empty[t] / tracks.sprocket_radius[m]^3 | 100 .. 2500
payload[t] / mass_empty[t] | 0.08 .. 2.5
running_drag[kN] / mass_empty[t] | 0.012 .. 0.3
oil.metal_mass[kg] / mass_empty[t] | 4 .. 130
oil.metal_conductance[W/K] / oil.metal_mass[kg] | 0.3 .. 100
oil.charge_flow[L/min] / mass_empty[t] | 1 .. 45
balance.gravity_height_empty[m] / balance.wheelbase[m] | 0.12 .. 0.9
balance.gravity_height_laden[m] / balance.wheelbase[m] | 0.12 .. 1.1
""",
        "arrangement": """
hydraulic_sharing.standby[N*m] / hydraulic_sharing.relief[N*m] | 0.015 .. 0.4
hydraulic_sharing.partial[N*m] / hydraulic_sharing.relief[N*m] | 0.1 .. 1.05
impeller_clutch.torque_capacity[kN*m] / @turbine_torque_of_effort_limit[kN*m] | 0.16 .. 5
impeller_clutch.turbine_torque_limit[N*m] / impeller_clutch.torque_capacity[N*m] | 0.2 .. 8
torque_divider.ring_teeth[1] / torque_divider.sun_teeth[1] | 1.2 .. 6
""",
    }
)
"""Kind of file -> what its numbers come to against each other; common practice, no source."""

"""Constants: value, unit and source on one line each. Derive the rest.

Law: no other module writes a physical constant.
"""

from typing import Final

# Net calorific value of dry wood, MJ/kg: EN 1991-1-2:2002 Annex E, Table E.3 (read in two
# fire-load pages that cite it).
WOOD_NET_CALORIFIC_DRY: Final = 17.5

# Heat that water takes to leave the wood, MJ per kg of water: EN 1991-1-2:2002 E.2.4 writes
# 0.025 per percent of moisture (from memory).
WATER_EVAPORATION: Final = 2.5

# Energy released per kg burned in wooden training fuel packages, MJ/kg: Regan, Fire
# Technology 57 (2021) no. 4, abstract: 21 packages, mass against total heat, R2 0.98.
TRAINING_FUEL_EFFECTIVE_HEAT: Final = 14.2

# Pin-meter corrections for board temperature: points per K, and the distance from 20 degC
# within which nothing is corrected, K. No size is agreed, so the rule is kept with the reading.
# "handbook": 0.5 points per 10 degF, Wood Handbook FPL-GTR-282 ch. 13 p. 13-3 (read in a fact
# sheet); "meter manual": 0.5 points per 5 K and only beyond 5 K (read in a maker's manual);
# "test report": 1.6 points per 10 K, SP report PX21326, 2012 (read in a fact sheet).
METER_TEMPERATURE_RULES: Final = {
    "handbook": (0.5 / (10 / 1.8), 0.0),
    "meter manual": (0.1, 5.0),
    "test report": (0.16, 0.0),
}
METER_CALIBRATION_TEMPERATURE: Final = 20.0  # degC: all three rules above

# One-dimensional charring rate in the standard fire, mm/min: EN 1995-1-2:2004 Table 3.1. Solid
# wood read in public code that quotes it; the three panel rows are from memory.
CHARRING_RATES: Final = {
    "plywood": 1.0, "wood-based panel": 0.9, "wood panelling": 0.9,
    "softwood": 0.65, "hardwood": 0.50, "LVL": 0.65,
}  # fmt: skip
PANEL_REFERENCE_DENSITY: Final = 450.0  # kg/m3: EN 1995-1-2:2004 Table 3.1, note (read as above)
PANEL_REFERENCE_THICKNESS: Final = 20.0  # mm: the same note

# How much air a cylinder really holds, as a share of volume times pressure: 0.96 at 200 bar and
# 0.92 at 300 bar (read in a breathesafety.com post on long-duration sets); in proportion between.
AIR_FILL_PRESSURES: Final = (0.0, 200.0, 300.0)  # bar
AIR_FILL_FACTORS: Final = (1.0, 0.96, 0.92)

# Minutes a person bears hot air, a / T^b with T in degC: ISO 13571 (from memory; the clothed pair
# read in the CFAST technical reference, section Tenability).
HOT_AIR_TERMS: Final = {"clothed": (4.1e8, 3.61), "lightly clothed": (5.0e7, 3.4)}
# Minutes to an effect of radiant heat on bare skin, a / q^b with q in kW/m2: ISO 13571:2012 (from
# memory; the pain pair and the threshold read in the CFAST technical reference).
RADIANT_TERMS: Final = {"pain": (4.2, 1.9), "second-degree burn": (6.9, 1.56)}
RADIANT_THRESHOLD: Final = 2.5  # kW/m2, under which radiant heat does not count: as above

# Thermal classes of firefighter equipment: ceiling degC, ceiling kW/m2, minutes. NIST TN 1474:
# temperatures and times of I and II read at nist.gov (on TN 1850), the rest from memory. Class IV
# has no ceiling; its time is under one minute.
THERMAL_CLASSES: Final = {
    "I": (100.0, 1.0, 25.0), "II": (160.0, 2.0, 15.0), "III": (260.0, 10.0, 5.0),
    "IV": (float("inf"), float("inf"), 1.0),
}  # fmt: skip

# Carbon steel while hot, as shares of its cold values: EN 1993-1-2:2005 Table 3.1 (read in two
# public codes that agree). Columns: degC, yield k_y, proportional limit k_p, stiffness k_E.
STEEL_AT_TEMPERATURE: Final = (
    (20.0, 1.0, 1.0, 1.0),
    (100.0, 1.0, 1.0, 1.0),
    (200.0, 1.0, 0.807, 0.9),
    (300.0, 1.0, 0.613, 0.8),
    (400.0, 1.0, 0.42, 0.7),
    (500.0, 0.78, 0.36, 0.6),
    (600.0, 0.47, 0.18, 0.31),
    (700.0, 0.23, 0.075, 0.13),
    (800.0, 0.11, 0.05, 0.09),
    (900.0, 0.06, 0.0375, 0.0675),
    (1000.0, 0.04, 0.025, 0.045),
    (1100.0, 0.02, 0.0125, 0.0225),
    (1200.0, 0.0, 0.0, 0.0),
)

FOOT: Final = 0.3048  # m, by definition
INCH: Final = 25.4  # mm, by definition
GALLON: Final = 3.785411784  # L, US gallon, by definition
PSI: Final = 0.06894757293168  # bar, pound-force per square inch by definition

# Construction classification number by type: NFPA 1142 chapter 6 (types I to III and V read in
# slides and pages that quote it, type IV from memory).
CONSTRUCTION_NUMBERS: Final = {"I": 0.5, "II": 0.75, "III": 1.0, "IV": 0.75, "V": 1.5}
# Least supply, US gallons, without and with exposures, and the factor for exposures: NFPA 1142
# 4.2 and 4.3; reserve for training on top: NFPA 1403 4.2.23 (studylib.net/doc/9501653, read).
LEAST_SUPPLY: Final = {"no": 2000.0, "yes": 3000.0}
EXPOSURE_FACTOR: Final = 1.5
TRAINING_RESERVE: Final = 0.5

# Friction-loss coefficients by hose size, inch -> psi per 100 ft at 100 US gal/min, fire-service
# formula. 1 to 5 in read in a fire-training sheet (records.rpcity.org id 366543), the others and
# 1.75 in at frictionlosscalculator.com; where the two differ the larger loss is kept (1.75 in:
# 10 or 15.5; 3 in: 0.8 or 0.677).
HOSE_COEFFICIENTS: Final = {
    0.75: 1100.0, 1.0: 150.0, 1.25: 80.0, 1.5: 24.0, 1.75: 15.5, 2.0: 8.0, 2.5: 2.0, 3.0: 0.8,
    3.5: 0.34, 4.0: 0.2, 4.5: 0.1, 5.0: 0.08, 6.0: 0.05,
}  # fmt: skip
HOSE_SMOOTHNESS: Final = 140.0  # Hazen-Williams C of smooth-bore hose (from memory)

# --- Smoke outdoors ---

# --- The fire in the unit: heat, gas layers, cooling ---

# Acceleration of gravity, m/s2: the rounding that NIST SP 1169 and NUREG-1805 use (read).
GRAVITY: Final = 9.81

# Zero of the Celsius scale in kelvin: definition.
ZERO_CELSIUS: Final = 273.15

# Gas density times absolute temperature, kg K/m3: 353, NIST SP 1169, layer depth chapter (read);
# fire gas is taken as air at one atmosphere.
GAS_DENSITY_KELVIN: Final = 353.0

# Specific heat of fire gas at constant pressure, kJ/(kg K): NIST TN 1889v1, chapter "The basic
# transport equations" (read).
GAS_SPECIFIC_HEAT: Final = 1.012

# Particles under 10 micrometres from clean piled wood, g/kg: 15.5 lb per short ton, CONSUME 4.2
# factors as coded in wrightmicahc/CBIP con_calc_piled.R (read).
PILED_WOOD_PM10: Final = 7.75

# Spread of a plume, each as a, b, c of a x (1 + b x)^c with x in m, sideways then upward, by
# stability class: Briggs 1973, in Fundamentals of Air Pollution, 3rd ed., tables 19-3 to 19-7
# (read as scanned text; the open-country set also in aefarrell/GasDispersion.jl).
BRIGGS_OPEN_COUNTRY: Final = {
    "A": ((0.22, 0.0001, -0.5), (0.20, 0.0, 1.0)),
    "B": ((0.16, 0.0001, -0.5), (0.12, 0.0, 1.0)),
    "C": ((0.11, 0.0001, -0.5), (0.08, 0.0002, -0.5)),
    "D": ((0.08, 0.0001, -0.5), (0.06, 0.0015, -0.5)),
    "E": ((0.06, 0.0001, -0.5), (0.03, 0.0003, -1.0)),
    "F": ((0.04, 0.0001, -0.5), (0.016, 0.0003, -1.0)),
}
BRIGGS_TOWN: Final = {
    "A": ((0.32, 0.0004, -0.5), (0.24, 0.001, 0.5)),
    "B": ((0.32, 0.0004, -0.5), (0.24, 0.001, 0.5)),
    "C": ((0.22, 0.0004, -0.5), (0.20, 0.0, 1.0)),
    "D": ((0.16, 0.0004, -0.5), (0.14, 0.0003, -0.5)),
    "E": ((0.11, 0.0004, -0.5), (0.08, 0.0015, -0.5)),
    "F": ((0.11, 0.0004, -0.5), (0.08, 0.0015, -0.5)),
}
# Rise of potential temperature with height in the two stable classes, K/m: EPA ISC3 user's guide
# vol. II (F read in a public notebook, E from memory).
STABLE_GRADIENTS: Final = {"E": 0.020, "F": 0.035}

# Pressure of the standard atmosphere, Pa: definition.
ATMOSPHERE: Final = 101325.0

# Stefan-Boltzmann constant, kW/(m2 K4): CODATA 2018 (from memory).
STEFAN_BOLTZMANN: Final = 5.670374e-11

# Heat released inside per opening A sqrt(H), kW/m^2.5: Kawagoe; PD 7974-1 equation 33 as tested
# in an open fire-engineering library (read).
VENTILATION_HEAT: Final = 1500.0

# Wood burned per opening A sqrt(H), kg/(s m^2.5): Fire Technology 2022,
# doi 10.1007/s10694-022-01218-1, equation 1 (read).
VENTILATION_BURNING: Final = 0.09

# Air drawn in per opening A sqrt(H), kg/(s m^2.5): Kawagoe (from memory).
VENTILATION_AIR: Final = 0.5

# Flashover heat release, kW: coefficients of Thomas (7.8 per m2 of surface, 378 per A sqrt(H)),
# Babrauskas (750) and McCaffrey, Quintiere and Harkleroad (610): NUREG-1805 chapter 13 forms
# (read at a calculator page).
THOMAS_SURFACE: Final = 7.8
THOMAS_OPENING: Final = 378.0
BABRAUSKAS_OPENING: Final = 750.0
MQH_FLASHOVER: Final = 610.0

# Growth of a t-squared fire, kW/s2: 1055 kW reached in 600, 300, 150 and 75 s, NFPA family (read
# in a fire-modelling repository). The Eurocode family uses 1000 kW and is 5.5 % lower.
GROWTH_REFERENCE_HEAT: Final = 1055.0

# Peak heat release of one kind of board, largest laboratory over smallest: ratio seen in cone
# tests shared between laboratories (read in the project's test data).
LABORATORY_SPREAD: Final = 1.8

# Share of the energy gone when the fire begins to die down in a straight line: EN 1991-1-2:2002
# Annex E.4 (from memory; the same 70 % in Zehfuss and Hosser's design fire).
DECAY_STARTS_AT: Final = 0.7

# Layer rise, K: McCaffrey, Quintiere and Harkleroad, NIST SP 1169 (read).
MQH_RISE: Final = 6.85

# Layer rise beyond which the MQH data end, K: NIST SP 1169 and the SFPE Handbook (read).
MQH_LARGEST_RISE: Final = 600.0

# Heat transfer through a thin steel wall, W/(m2 K): Peatross and Beyler, SFPE Handbook chapter
# on compartment temperatures: from 30 at the start to 12 later, at 50 W/(m2 K) (from memory).
STEEL_WALL_FIRST: Final = 30.0
STEEL_WALL_FALL: Final = 18.0
STEEL_WALL_PACE: Final = 50.0

# Steel: density kg/m3, conductivity W/(m K), specific heat J/(kg K): NUREG-1805 material table,
# after Klote and Milke 2002 (read).
STEEL_DENSITY: Final = 7850.0
STEEL_CONDUCTIVITY: Final = 54.0
STEEL_SPECIFIC_HEAT: Final = 465.0

# Light insulating lining (ceramic fibre board): conductivity W/(m K), density kg/m3, specific
# heat J/(kg K): inputs of NIST SP 1169 for the Steckler tests (read).
FIBRE_CONDUCTIVITY: Final = 0.1
FIBRE_DENSITY: Final = 200.0
FIBRE_SPECIFIC_HEAT: Final = 1000.0

# Share of the flow that passes a wall opening: 0.7, NIST TN 1889v1, "Calculating flow through
# wall vents", after Steckler (read).
DOOR_DISCHARGE: Final = 0.7

# Share of the flow that passes a hole in the roof: 0.68, NIST TN 1889v1, "Ceiling and floor
# vents", after Cooper (read).
ROOF_DISCHARGE: Final = 0.68

# Plume: Heskestad's coefficients for mass flow, virtual origin and flame height, NIST TN 1889v1,
# "Plume entrainment" (read).
PLUME_FLOW: Final = 0.196
PLUME_FLOW_NEAR: Final = 2.9
VIRTUAL_ORIGIN_DIAMETER: Final = -1.02
VIRTUAL_ORIGIN_HEAT: Final = 1.4
FLAME_HEIGHT_HEAT: Final = 3.7

# How much more air a small fire in the path of the door draught takes in than a free-standing
# plume: "two to three times", abstract of NBSIR 82-2520 (Steckler, Quintiere, Rinkinen 1982,
# read); the middle is used.
DRAUGHT_ENTRAINMENT: Final = 2.5

# Hot gas carried down by the air that falls in at the door: 0.44, NIST TN 1889v1, "Calculating
# flow through wall vents", after Poreh (read).
DOOR_MIXING: Final = 0.44

# Share of the fire's heat that leaves as radiation: default of NIST TN 1889v1 (read).
RADIATIVE_SHARE: Final = 0.35

# Heat released per kg of oxygen, kJ/kg, and the mass share of oxygen in air: NIST TN 1889v1,
# after Huggett 1980 (read).
OXYGEN_HEAT: Final = 13100.0
AIR_OXYGEN: Final = 0.23

# Molar mass of air and of oxygen, g/mol (from memory, any chemistry text).
MOLAR_AIR: Final = 28.96
MOLAR_OXYGEN: Final = 32.0

# Natural convection, W/(m2 K) per K^(1/3), level and upright surfaces: NIST TN 1889v1,
# "Convection", after Holman (read).
CONVECTION_LEVEL: Final = 1.52
CONVECTION_UPRIGHT: Final = 1.31

# Mean convective flux to the ceiling under a fire, kW/m2: 0.27 Qc/((L W)^0.68 H^0.64) with Qc in
# kW and lengths in m: NIST TN 1889v1, "Convection", after Alpert (read).
CEILING_JET: Final = 0.27
CEILING_JET_AREA: Final = 0.68
CEILING_JET_HEIGHT: Final = 0.64

# Share of black-body radiation that wall surfaces give and take: 0.9, inputs of NIST TN 1889v3
# for linings (read); oxidised steel about the same (from memory).
SURFACE_EMISSIVITY: Final = 0.9

# How strongly wood smoke takes up and gives off radiation, 1/m: 0.8 for wood cribs, Drysdale,
# An Introduction to Fire Dynamics, table of emission coefficients (from memory).
WOOD_SMOKE_ABSORPTION: Final = 0.8

# Mean path of radiation through a body of gas: 3.6 times volume over surface (from memory, any
# heat transfer text).
MEAN_BEAM: Final = 3.6

# Wood and boards give off gases that burn from about 250 °C: common practice, no source.
PYROLYSIS_FROM: Final = 250.0

# Water: specific heat kJ/(kg K), boiling point °C and heat of evaporation kJ/kg at one bar:
# IAPWS-IF97 (h 417.44, hg 2674.95 kJ/kg at 99.6 °C; mean specific heat from 10 °C).
WATER_SPECIFIC_HEAT: Final = 4.19
WATER_BOILING: Final = 100.0
WATER_EVAPORATION_AT_BOILING: Final = 2257.5

# Heat of steam above 100 °C at one bar, kJ/kg, against °C: IAPWS-IF97, from h of 2675.77 at 100,
# 2776.59 at 150, 2875.48 at 200, 3074.54 at 300, 3278.5 at 400, 3488.71 at 500, 3705.5 at 600.
STEAM_HEAT: Final = (
    (100.0, 0.0), (150.0, 100.82), (200.0, 199.71), (300.0, 398.77), (400.0, 602.73),
    (500.0, 812.94), (600.0, 1029.73),
)  # fmt: skip

# Volume of steam per kg and kelvin at one bar, m3/(kg K): 1.694 m3/kg at saturation, 372.8 K,
# IAPWS-IF97 (read).
STEAM_VOLUME_PER_KELVIN: Final = 1.694 / 372.8

# Smooth-bore branch: US gallons per minute, inches and psi (Freeman), 29.7 d^2 sqrt(p): a fire
# training sheet and a nozzle maker's page (read).
FREEMAN: Final = 29.7

# Heat release of a burning board per area, kW/m2: OSB in the cone calorimeter at 50 kW/m2, the
# mean of three runs falling from a plateau of 260 to 200 at 148 s: FSRI Materials and Products
# Database, OSB_HRRPUA_50. Other boards are taken alike until the ground has measured its own; the
# band between laboratories (LABORATORY_SPREAD) is wider than the difference between boards.
BOARD_HEAT_PER_AREA: Final = 230.0

# Growth of a fire that a crib starts under boards, kW/s2: the "fast" class of t-squared fires,
# 1055 kW after 150 s (NFPA 72, Annex B, from memory).
CRIB_AND_BOARD_GROWTH: Final = 0.0469

"""The version, and physical constants, each with its unit and source."""

VERSION = "0.2.0"

STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant [W/m2K4]; CODATA 2018 (exact by definition of the SI)."""

GRAVITY_M_PER_S2 = 9.80665
"""Standard acceleration of free fall [m/s2]; CGPM 1901, ISO 80000-3."""

STANDARD_PRESSURE_PA = 101_325.0
"""Standard atmosphere [Pa]; ISO 2533:1975, sea level."""

ZERO_CELSIUS_K = 273.15
"""0 °C in kelvin; definition of the Celsius temperature."""

GAS_CONSTANT_WATER_J_PER_KG_K = 461.526
"""Specific gas constant of water [J/kgK]; IAPWS R7-97(2012), section 3."""

GAS_CONSTANT_AIR_J_PER_KG_K = 287.042
"""Specific gas constant of dry air [J/kgK]; ASHRAE Handbook Fundamentals 2009, ch. 1, eq. 28 (from memory)."""

MOLAR_MASS_MALTOSE_KG_PER_MOL = 0.342297
"""Molar mass of a disaccharide, C12H22O11 [kg/mol]; from IUPAC standard atomic weights."""

STEEL_J_PER_KG_K = 500.0
"""Specific heat of austenitic stainless steel, 20 °C [J/kgK]; EN 10088-1, annex, grade 1.4301 (from memory)."""

JOULES_PER_KWH = 3.6e6
"""One kilowatt-hour [J]; definition."""

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

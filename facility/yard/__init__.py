"""Pure: what is recorded at the unit, when it happened, and whether anything is missing."""

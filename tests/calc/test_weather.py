"""Wind force by the Beaufort table. The figures are from memory of WMO-No. 306, code table 1100."""

import pytest

from facility.calc.weather import wind_force

# force, and its range in m/s
TABLE = [
    (0, 0.0, 0.2), (1, 0.3, 1.5), (2, 1.6, 3.3), (3, 3.4, 5.4), (4, 5.5, 7.9), (5, 8.0, 10.7),
    (6, 10.8, 13.8), (7, 13.9, 17.1), (8, 17.2, 20.7), (9, 20.8, 24.4), (10, 24.5, 28.4),
    (11, 28.5, 32.6), (12, 32.7, 75.0),
]  # fmt: skip


@pytest.mark.parametrize(("force", "low", "high"), TABLE)
def test_each_force_begins_and_ends_as_in_the_table(force, low, high):
    assert wind_force.of(wind_speed=low).value() == force
    assert wind_force.of(wind_speed=high).value() == force

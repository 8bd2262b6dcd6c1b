"""Heat conduction through a wall, as a chain of nodes that the two-zone model steps along."""

import math
from itertools import pairwise

from facility.calc.unit import Wall

# Choices of the numbers, not of the physics: how many nodes, and from which time [s] on the
# inmost of them follows the surface well.
NODES, FIRST_NODE_TIME = 8, 60.0


class WallGrid:
    """Heat conduction through a wall: nodes from the inner surface outwards.

    ``heat`` is the heat [kJ/(m2 K)] that each node holds, ``link`` the conductance [kW/(m2 K)]
    between neighbours. A thin wall is one node. Spacing starts at the depth that heat reaches in
    a minute and grows outwards; ``pull`` [1/s] is the fastest rate of the chain by itself.
    """

    def __init__(self, wall: Wall) -> None:
        per_metre = wall.density * wall.specific_heat / 1000.0
        self.nodes = 1 if wall.thin else NODES
        gaps = [] if wall.thin else self._gaps(wall)
        halves = [0.0, *(0.5 * gap for gap in gaps), 0.0]
        self.heat = [per_metre * (a + b) for a, b in pairwise(halves)]
        if wall.thin:
            self.heat = [per_metre * wall.thickness]
        self.link = [wall.conductivity / 1000.0 / gap for gap in gaps]
        ends = [0.0, *self.link, 0.0]
        both = [a + b for a, b in pairwise(ends)]
        self.pull = max(2.0 * link / heat for link, heat in zip(both, self.heat, strict=True))

    @staticmethod
    def _gaps(wall: Wall) -> list[float]:
        diffusivity = wall.conductivity / (wall.density * wall.specific_heat)
        even = wall.thickness / (NODES - 1)
        first = min(math.sqrt(diffusivity * FIRST_NODE_TIME), even)
        power = math.log(wall.thickness / first) / math.log(NODES - 1)
        at = [wall.thickness * (i / (NODES - 1)) ** power for i in range(NODES)]
        return [b - a for a, b in pairwise(at)]

    def rates(self, kelvin: list[float], inner: float, outer: float) -> list[float]:
        """Rates [K/s] of the nodes with fluxes in at the inner, out at the outer side [kW/m2]."""
        into, before, change = inner, kelvin[0], []
        for link, heat, after in zip(self.link, self.heat, kelvin[1:], strict=False):
            through = link * (before - after)
            change.append((into - through) / heat)
            into, before = through, after
        change.append((into - outer) / self.heat[-1])
        return change

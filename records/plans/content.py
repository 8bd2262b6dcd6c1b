"""What a plan says, as plain values: the same for a form, an import, a stored version or a test.

The content hash is taken over exactly this, so a signature covers all of it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import dataclass, field
from decimal import Decimal

from facility.kinds import Duty
from facility.people.models import Person
from facility.sites.models import ChargePosition, Unit
from records.plans.models import PlanVersion
from records.stock.models import Lot, Product


@dataclass(frozen=True, slots=True)
class Line:
    """Fuel at one position; ``lot`` None leaves the choice to the store."""

    position: ChargePosition
    product: Product
    quantity: Decimal
    lot: Lot | None = None


@dataclass(frozen=True, slots=True)
class Place:
    person: Person
    duty: str


@dataclass(frozen=True, slots=True)
class PlanContent:
    """A plan as someone wrote it."""

    unit: Unit
    exercise: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    water_l: Decimal
    objective: str
    abort_criteria: str
    charge: tuple[Line, ...] = field(default=())
    crew: tuple[Place, ...] = field(default=())
    stated: tuple[tuple[str, str], ...] = field(default=())  # fact and value, as vouched for

    def people_in(self, *duties: str) -> list[Person]:
        return [place.person for place in self.crew if place.duty in duties]

    @property
    def learners(self) -> list[Person]:
        return self.people_in(Duty.LEARNER)


def content_hash(content: PlanContent) -> str:
    """SHA-256 over the content written one way only: sorted keys, keys of rows, no spaces."""
    written: dict[str, object] = {
        "unit": content.unit.public_id,
        "exercise": str(content.exercise),
        "starts_at": content.starts_at.astimezone(dt.UTC).isoformat(),
        "ends_at": content.ends_at.astimezone(dt.UTC).isoformat(),
        "water_l": _digits(content.water_l),
        "objective": content.objective,
        "abort_criteria": content.abort_criteria,
        "charge": [
            [
                line.position.public_id,
                line.product.public_id,
                line.lot.public_id if line.lot else "",
                _digits(line.quantity),
            ]
            for line in content.charge
        ],
        "crew": sorted([place.person.public_id, str(place.duty)] for place in content.crew),
    }
    if content.stated:  # left out when empty: older versions were signed without it
        written["stated"] = dict(content.stated)
    text = json.dumps(written, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _digits(number: Decimal) -> str:
    return f"{number:.2f}"


def content_of(version: PlanVersion) -> PlanContent:
    """Read a stored version back; fetch its charge and crew along for constant queries."""
    return PlanContent(
        unit=version.unit,
        exercise=version.exercise,
        starts_at=version.starts_at,
        ends_at=version.ends_at,
        water_l=version.water_l,
        objective=version.objective,
        abort_criteria=version.abort_criteria,
        charge=tuple(
            Line(line.position, line.product, line.quantity, line.lot)
            for line in version.charge.all()
        ),
        crew=tuple(Place(place.person, place.duty) for place in version.crew.all()),
        stated=tuple((each.fact, each.value) for each in version.stated.all()),
    )

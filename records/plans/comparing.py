"""Two versions of a plan as text, side by side."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from facility.calc.units import show
from facility.kinds import Duty
from facility.look.both import Side, differing_first, lines
from facility.look.reader import current_system
from facility.look.times import moment
from facility.refusals import plain_number
from facility.sites.models import Exercise
from records.plans.content import Line, PlanContent


def side_by_side(typed: PlanContent, stored: PlanContent) -> list[Side]:
    """Everything a plan says, as typed and as stored; what differs comes first."""
    pairs = zip(_told(typed), _told(stored), strict=True)
    return differing_first(Side(label, mine, theirs) for (label, mine), (_same, theirs) in pairs)


def _told(content: PlanContent) -> Iterator[tuple[str, str]]:
    yield _("Unit"), str(content.unit)
    exercise = content.exercise
    yield _("Exercise"), str(Exercise(exercise).label) if exercise else lines(())
    yield _("Start"), moment(content.starts_at)
    yield _("End"), moment(content.ends_at)
    yield _("Charge"), lines(_line(line) for line in content.charge)
    for duty in Duty:
        named = sorted(person.name for person in content.people_in(duty))
        yield str(capfirst(duty.label)), lines(named)
    yield _("Objective"), lines([content.objective.strip()])
    yield _("Stop when"), lines([content.abort_criteria.strip()])
    yield _("Water on site"), str(show(float(content.water_l), "L", current_system()))


def _line(line: Line) -> str:
    amount = f"{plain_number(line.quantity)} {line.product.counted_in}".strip()
    lot = _("lot {code}").format(code=line.lot.code) if line.lot else _("the store chooses")
    return f"{line.position}: {amount} {line.product}, {lot}"

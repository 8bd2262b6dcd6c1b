"""Factors of a unit fitted to its own burns: what they rest on, and the verb that keeps them."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.calc.fitting import AS_CALCULATED, Charge, Seen, fit, forward_in
from facility.people.models import Person
from facility.refusals import WrongState
from facility.sites.models import Unit
from records.audit.door import door
from records.burns.models import Burn, BurnState
from records.burns.selectors import burns_of
from records.capture.comparing import charges_of
from records.capture.measuring import Measured, measured_of
from records.capture.models import LoggerFile
from records.ground.fitted import newest_fit, post_fit, same_since
from records.ground.models import UnitFit
from records.plans.forecast import room_of

MOST_BURNS = 300  # the newest ones; older ones would say little more


@dataclass(frozen=True)
class Evidence:
    """One burn: its recording, its charge, and why it is left out of the fit, if it is."""

    burn: Burn
    measured: Measured | None
    charge: Charge | None
    left_out: str = ""

    @property
    def seen(self) -> Seen | None:
        if self.left_out or self.measured is None or self.charge is None:
            return None
        traits = self.measured.traits
        return Seen(self.charge, traits) if traits else None


def recorded_burns(unit: Unit, most: int = MOST_BURNS) -> list[Burn]:
    """The closed burns of a unit of which a logger's file was taken, newest first."""
    recorded = LoggerFile.objects.filter(burn__unit=unit)
    files = LoggerFile.objects.defer("original", "series", "times")
    files = files.select_related("logger").prefetch_related("channels__sensor")
    found = (
        burns_of(unit.site)
        .filter(unit=unit, state=BurnState.CLOSED, pk__in=recorded.values("burn"))
        .prefetch_related("events", Prefetch("logger_files", files))
    )
    burns = list(found[:most])
    for burn in burns:
        burn.unit = unit
    return burns


def evidence_of(unit: Unit) -> list[Evidence]:
    """What the recorded burns of a unit say, newest first."""
    burns = recorded_burns(unit)
    charges, since = charges_of(burns), same_since(unit)
    return [_evidence(burn, charges.get(burn.pk), since) for burn in burns]


def _evidence(burn: Burn, charge: Charge | None, since: dt.datetime | None) -> Evidence:
    measured = measured_of(burn, list(burn.logger_files.all()))
    left_out = ""
    if measured is None:
        left_out = _("fewer than three thermocouples one over the other")
    elif measured.traits is None:
        left_out = _("no rise of the hot layer from its beginning")
    elif charge is None:
        left_out = _("no boards, or their mass is not known")
    elif since is not None and burn.ignited_at < since:
        left_out = _("before the unit was last changed")
    elif any(event.kind == "stop" for event in burn.standing_events()):
        left_out = _("stopped early")
    return Evidence(burn, measured, charge, left_out)


def fit_unit(
    unit: Unit, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> UnitFit:  # fmt: skip
    """Fit the factors of a unit to its recorded burns, and keep them.

    Worked out before the door is opened: it takes seconds, and holds nobody up.
    """
    now = at or timezone.now()
    room = room_of(unit)
    told = [each for each in evidence_of(unit) if each.seen]
    rests_on = {each.burn.public_id: each.seen for each in told if each.seen}
    if room is None or not rests_on:
        raise WrongState(
            _("There is no recorded burn of {unit} from which factors could be fitted.").format(
                unit=unit
            )
        )
    before = newest_fit(unit)
    heights = Counter(tuple(each.measured.heights) for each in told if each.measured)
    found = fit(
        list(rests_on.values()), forward_in(room, heights.most_common(1)[0][0]),
        before.factors if before else AS_CALCULATED,
    )  # fmt: skip
    with door("capture.unit_fitted", by=by, site=unit.site, on=unit, at=now, once=once) as entry:
        kept = post_fit(unit, found, rests_on, by=by, at=entry.at)
        heat, loss, growth = (Decimal(f"{value:.3f}") for value in found.factors)
        entry.changed(burns=found.burns, heat=heat, loss=loss, growth=growth)
    return kept


def fit_after(burn: Burn, *, by: Person, at: dt.datetime | None = None) -> UnitFit | None:
    """Fit the unit anew once a file of a closed burn was taken; None where it tells nothing."""
    if burn.state != BurnState.CLOSED:
        return None
    try:
        return fit_unit(burn.unit, by=by, at=at)
    except WrongState:
        return None

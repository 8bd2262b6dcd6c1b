"""Standing statements: what a person vouches for of the ground, a unit, a person, a lot."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import OwnWork, WrongValue, refuse_if, text_within
from facility.rules.facts import REGISTER
from facility.rules.sheet import ON_SOMETHING, STANDING, NotAValue, value_of
from facility.sites.models import Site
from records.audit.door import door
from records.standard.models import Statement


def state_fact(
    site: Site, *, fact: str, target: str = "", value: str, since: dt.date,
    until: dt.date | None, note: str, by: Person, at: dt.datetime | None = None, once: str = "",
) -> Statement:  # fmt: skip
    """State a fact that no record can tell; an empty value takes the last statement back."""
    known = REGISTER.get(fact)
    if known is None or not known.stated or known.subject not in STANDING:
        raise WrongValue(_("{fact} is not stated here.").format(fact=fact), field="fact")
    target = text_within("target", target, 10, needed=False)
    refuse_if(
        (known.subject in ON_SOMETHING) != bool(target), "target", _("Say of what it is stated.")
    )
    if value.strip():
        try:
            value_of(known, value)
        except NotAValue as wrong:
            raise WrongValue(f"{wrong.given}: {_(wrong.allowed)}.", field="value") from None
    refuse_if(until is not None and until < since, "until", _("It lapses after it begins."))
    statement = Statement(
        site=site, fact=fact, target=target, value=value.strip(), since=since, until=until,
        note=text_within("note", note, 200), stated_by=by,
    )  # fmt: skip
    with door("ground.fact_stated", by=by, site=site, on=statement, at=at, once=once) as entry:
        if target == by.public_id:
            raise OwnWork(_("Nobody vouches for themselves."))
        refuse_if(
            since > entry.at.astimezone(site.zone).date() + dt.timedelta(days=366),
            "since",
            _("At most a year ahead."),
        )
        statement.stated_at = entry.at
        statement.save()
        entry.changed(fact=fact, target=target, value=value.strip(), since=since, until=until)
    return statement

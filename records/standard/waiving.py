"""Waivers: asked by one person, granted by whom the row names, by two where it is a safety row."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.people.permissions import Role
from facility.people.selectors import roles_of
from facility.refusals import NotHere, OwnWork, WrongState, refuse_if, text_within
from facility.rulebook.models import LimitRow, Waiver, WaiverScope
from facility.sites.models import Site
from records.audit.door import door

LONGEST = dt.timedelta(days=92)  # a waiver of more than a season's quarter is a new edition; ours


def ask_waiver(
    site: Site, row: LimitRow, *, scope: str, target: str, reason: str, measure: str,
    expires_on: dt.date, by: Person, at: dt.datetime | None = None, once: str = "",
) -> Waiver:  # fmt: skip
    """Ask for leave to go past a row. It lifts nothing until it is granted."""
    refuse_if(row.edition.site_id != site.pk, "row", _("No such row on this ground."))
    target = text_within("target", target, 10, needed=False)
    refuse_if(not row.waivable_by, "row", _("Nobody may waive {code}.").format(code=row.code))
    refuse_if(scope not in WaiverScope.values, "scope", _("A plan, a unit or the whole ground."))
    refuse_if(
        (scope == WaiverScope.GROUND) == bool(target), "target", _("Name the plan or the unit.")
    )
    refuse_if(
        scope == WaiverScope.UNIT and not site.units.filter(public_id=target).exists(),
        "target",
        _("No such unit on this ground."),
    )
    waiver = Waiver(
        row=row, scope=scope, target=target, reason=text_within("reason", reason, 300),
        measure=text_within("measure", measure, 300), expires_on=expires_on, asked_by=by,
    )  # fmt: skip
    with door("ground.waiver_asked", by=by, site=site, on=waiver, at=at, once=once) as entry:
        today = entry.at.astimezone(site.zone).date()
        refuse_if(expires_on < today, "expires_on", _("A waiver ends in the future."))
        refuse_if(
            expires_on > today + LONGEST,
            "expires_on",
            _("At most {days} days; what should hold longer is a new edition.").format(
                days=LONGEST.days
            ),
        )
        waiver.asked_at = entry.at
        waiver.save()
        entry.changed(row=row.code, edition=row.edition.code, scope=scope, target=target,
                      expires_on=expires_on, reason=waiver.reason, measure=waiver.measure)  # fmt: skip
    return waiver


def grant_waiver(
    site: Site, waiver: Waiver, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> Waiver:
    """Grant a waiver. On a safety row the first grant waits for a second person's."""
    with door("ground.waiver_granted", by=by, site=site, on=waiver, at=at, once=once) as entry:
        waiver = _here(site, waiver)
        if waiver.state != "asked":
            raise WrongState(_("This waiver is not waiting for anyone."))
        if by.pk in (waiver.asked_by_id, waiver.granted_by_id):
            raise OwnWork(_("A waiver is granted by someone who has not signed it yet."))
        _refuse_role(site, waiver, by, entry.at)
        if waiver.granted_by_id is None:
            waiver.granted_by, waiver.granted_at = by, entry.at
        else:
            waiver.second_by, waiver.second_at = by, entry.at
        waiver.save()
        entry.changed(row=waiver.row.code, granted=waiver.is_granted)
    return waiver


def _here(site: Site, waiver: Waiver) -> Waiver:
    """The waiver as it is now, locked; the roles that were checked are those of its own ground."""
    waiver = waiver.fresh()
    if waiver.row.edition.site_id != site.pk:
        raise NotHere(_("No such waiver on this ground."))
    return waiver


def _refuse_role(site: Site, waiver: Waiver, by: Person, at: dt.datetime) -> None:
    """The row names the role of the first signature; the second is any other who may grant."""
    needed = Role(waiver.row.waivable_by)
    held = roles_of(by, site, at.astimezone(site.zone).date())
    if waiver.granted_by_id is None and needed not in held:
        raise WrongState(_("{code} is waived by the {role}.").format(code=waiver.row.code, role=needed.label))  # fmt: skip


def end_waiver(
    site: Site, waiver: Waiver, *, reason: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> Waiver:  # fmt: skip
    """Refuse a waiver that was asked, or end one that was granted, with the reason."""
    reason = text_within("reason", reason, 300)
    with door(
        "ground.waiver_ended", by=by, site=site, on=waiver, at=at, why=reason, once=once
    ) as entry:
        waiver = _here(site, waiver)
        if waiver.ended_at is not None:
            raise WrongState(_("This waiver was ended before."))
        waiver.ended_by, waiver.ended_at, waiver.ended_why = by, entry.at, reason
        waiver.save()
        entry.changed(row=waiver.row.code)
    return waiver

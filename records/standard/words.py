"""Words for what the standard speaks of, as the pages show them."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from facility.rules.engine import Moment
from facility.rules.facts import Subject, Window

SUBJECTS = {
    Subject.BURN: _("burn"),
    Subject.UNIT: _("unit"),
    Subject.SESSION: _("session"),
    Subject.LOT: _("lot"),
    Subject.PRODUCT: _("product"),
    Subject.PERSON: _("person"),
    Subject.CREW: _("crew"),
    Subject.WATER: _("water"),
    Subject.BREATHING: _("breathing sets"),
    Subject.SITE: _("ground"),
    Subject.PERMIT: _("permits and notices"),
    Subject.RECORD: _("records"),
}
WINDOWS = {
    Window.BURN: _("the burn itself"),
    Window.DAY: _("the day"),
    Window.WEEK: _("7 days"),
    Window.MONTH_ROLLING: _("28 days"),
    Window.MONTH: _("the calendar month"),
    Window.YEAR: _("the calendar year"),
    Window.SINCE_INSPECTION: _("since the last inspection"),
    Window.SINCE_RELINED: _("since the unit was relined"),
    Window.LIFE: _("the life of the unit"),
}
MOMENTS = {
    Moment.DRAFT: _("drafting"),
    Moment.SUBMIT: _("submission"),
    Moment.APPROVE: _("approval"),
    Moment.IGNITE: _("ignition"),
    Moment.CLOSE: _("close"),
}
COLUMNS = {
    "code": _("row"),
    "jurisdiction": _("authority"),
    "title": _("title"),
    "fact": _("fact"),
    "window": _("counted over"),
    "comparison": _("comparison"),
    "limit": _("limit"),
    "limit_high": _("upper limit"),
    "limit_text": _("words or day"),
    "unit": _("unit"),
    "severity": _("effect"),
    "clause": _("clause"),
    "source": _("where it was read"),
    "basis": _("basis"),
    "why": _("why"),
    "exercises": _("exercises"),
    "unit_kinds": _("units"),
    "duties": _("duties"),
    "products": _("products"),
    "asked_at": _("asked at"),
    "waivable_by": _("waived by"),
    "two_people": _("two people waive"),
    "on": _("switched on"),
    "stage": _("when"),
    "text": _("in order when"),
    "blocks": _("blocks"),
    "caps_dry_kg": _("caps, kg dry"),
    "burns_before_cooling": _("burns before cooling"),
    "cooling_min": _("cooling, min"),
    "wait_min": _("wait, min"),
    "trial_on": _("trial burned on"),
    "trial_note": _("what the trial showed"),
}

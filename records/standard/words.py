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
    Window.LIFE: _("the life of the unit"),
}
MOMENTS = {
    Moment.DRAFT: _("drafting"),
    Moment.SUBMIT: _("submission"),
    Moment.APPROVE: _("approval"),
    Moment.IGNITE: _("ignition"),
    Moment.CLOSE: _("close"),
}

"""What the tests of a burn day share: a standard that asks for all of it, and steps of the day."""

from __future__ import annotations

import datetime as dt

from records.burns import before
from records.burns.readiness import fit_hash
from records.plans.selectors import plan_here
from tests import builders
from tests.builders import NOW

START = NOW + dt.timedelta(days=1)
ASKED = [
    {"code": "P-11a", "title": "Fit to burn", "fact": "burn.fit_to_burn", "asked_at": "ignite"},
    {"code": "P-24d", "title": "All briefed", "fact": "burn.all_briefed", "asked_at": "ignite"},
    {"code": "P-26", "title": "Countersigned", "fact": "burn.countersigned", "asked_at": "close"},
]
ITEMS = [
    {"code": "B-01", "stage": "walk_through", "text": "Exits clear"},
    {"code": "B-11", "stage": "briefing", "text": "Signal shown"},
    {"code": "B-21", "stage": "pre_ignition", "text": "Lines charged"},
    {"code": "B-22", "stage": "pre_ignition", "text": "Radios tried", "blocks": False},
]


def ask(ground, rows=ASKED, items=ITEMS):
    """An edition beside the ground's own, in force since today, with these rows and items."""
    usual = {"comparison": "true", "severity": "block", "clause": "1", "basis": "local"}
    return builders.adopt(
        ground, "D-1", [{**usual, **row} for row in rows], at=NOW, day=NOW.date(),
        jurisdiction="county", items=[{"clause": "2", "basis": "local", **each} for each in items],
    )  # fmt: skip


def issued(ground):
    builders.accepted_lot(ground)
    return builders.issued(ground)


def newest(plan):
    return plan_here(plan.site, plan.public_id).version


def looks(plan, *codes, by, at=START, in_order=True, note=""):
    seen = {code: before.Look(in_order, note) for code in codes}
    return before.look_at(plan, seen, seen_at=at, by=by, at=at)


def sign(plan, by, **changes):
    given = {"shown_hash": fit_hash(newest(plan)), "by": by, "at": START}
    return before.sign_fit(plan, **{**given, **changes})


def whole_day(ground, plan):
    """Everything but the two signatures."""
    builders.checked_off(plan, by=ground.safety, at=START)
    builders.rolled(plan, by=ground.safety, at=START)
    builders.briefed(plan, by=ground.instructor, at=START)

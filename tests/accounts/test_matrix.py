"""The permission matrix that is printed is the table that the program obeys."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

from facility.people.matrix import ROLES, acts, addresses
from facility.people.permissions import ACTS, ADDRESSES, OPERATIONAL, READS, Role

# Section 5 of our own requirements: who may, where this program has the act. Read from there, not
# from the code. Holding a lot only ever stops something, so it is open to more than the stores.
WANTED = {
    "stock.delivery_received": {"stores"}, "stock.reading_recorded": {"stores"},
    "stock.lot_accepted": {"stores"}, "stock.lot_held": {"stores", "manager", "safety"},
    "stock.stock_adjusted": {"stores"}, "plans.charge_issued": {"stores"},
    "plans.plan_drafted": {"manager", "instructor"},
    "plans.plan_submitted": {"manager", "instructor"}, "plans.plan_approved": {"manager"},
    "plans.plan_sent_back": {"manager"}, "burns.burn_started": {"instructor"},
    "burns.event_noted": {"instructor"}, "burns.burn_closed": {"instructor"},
    "burns.events_taken": {"instructor"}, "burns.late_events_signed": {"instructor"},
    "inspections.unit_stopped": {"stores", "manager", "instructor", "safety", "inspector"},
    "inspections.unit_inspected": {"inspector"}, "inspections.repair_recorded": {"inspector"},
    "inspections.unit_released": {"inspector"}, "ground.edition_proposed": {"manager", "safety", "inspector"},
    "ground.edition_adopted": {"manager"}, "ground.person_added": {"admin"},
    "ground.person_disabled": {"admin"}, "ground.person_enabled": {"admin"},
    "ground.role_given": {"admin"}, "ground.role_ended": {"admin"}, "ground.password_link_made": {"admin"},
}  # fmt: skip
# Of the own account, documents asked for, and the own calendar feed: no record of the ground.
OF_ONESELF = {
    "people.signed_in", "people.units_chosen", "people.password_changed", "people.password_chosen",
    "people.sessions_ended", "people.second_factor_on", "people.second_factor_off",
    "people.code_set", "reports.paper_asked", "reports.feed_made", "reports.feed_ended",
}  # fmt: skip


@pytest.mark.parametrize("act", WANTED)
def test_who_may_act_is_what_was_required(act):
    assert {str(role) for role in ACTS[act].roles} == WANTED[act]


def test_an_auditor_writes_nothing_but_of_the_own_account():
    assert {name for name, act in ACTS.items() if Role.AUDITOR in act.roles} == OF_ONESELF


def test_an_administrator_makes_no_operational_record_and_reads_none():
    """Units and bays are places, not records of what was burned; a restored backup is signed for."""
    may = {name for name, act in ACTS.items() if Role.ADMIN in act.roles}
    assert {name.partition(".")[0] for name in may - OF_ONESELF} == {"ground", "audit"}
    assert [name for name in may if name.startswith("audit.")] == ["audit.restore_signed"]
    assert Role.ADMIN not in READS["operations"] | READS["log"]
    assert not OPERATIONAL & {Role.ADMIN, Role.AUDITOR}


def test_the_matrix_has_a_row_for_every_act_and_address_and_says_what_the_tables_say():
    assert [row.name for row in acts()] == list(ACTS)
    assert [row.name for row in addresses()] == list(ADDRESSES)
    for row in acts():
        may = {role for role, mark in zip(ROLES, row.marks, strict=True) if mark != "–"}
        assert may == ACTS[row.name].roles
    for row in addresses():
        for role, mark in zip(ROLES, row.marks, strict=True):
            for method in ("GET", "POST"):
                open_to_it = role in (ADDRESSES[row.name].roles(method) or set())
                assert (method in mark.split()) == open_to_it


def test_the_command_prints_both_tables():
    out = StringIO()
    call_command("permission_matrix", stdout=out)
    lines = out.getvalue().splitlines()
    named = [line.split("`")[1] for line in lines if line.startswith("| `")]
    assert named == [*ACTS, *ADDRESSES]
    (approval,) = [line for line in lines if "`plans.plan_approved`" in line]
    assert approval.count("S") == 1


def test_the_page_shows_them(ground, signed_in):
    page = signed_in(ground.auditor).get("/people/permissions/").text
    assert "Plan approved" in page
    assert "accounts:first_password" in page

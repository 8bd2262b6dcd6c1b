"""A trace lists exactly what a plain SQL query gives, and nobody's name to whom it is not due."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from facility.people.permissions import Role
from facility.refusals import NotAllowed
from records.audit.models import Entry
from records.burns import services as burns
from records.plans.content import Line
from records.reports import tracing
from records.reports.tracing import Reader
from records.stock import recalling
from tests import builders
from tests.builders import NOW
from tests.pieces import cut

DAY = dt.timedelta(days=1)

# Written without the program: pieces three cuts deep at most, one join for each; the newest report
# of a closed burn, and what was handed out for one that runs.
FAMILY = """
SELECT lot.id FROM records_stock_lot lot
LEFT JOIN records_stock_lot p1 ON p1.id = lot.cut_from_id
LEFT JOIN records_stock_lot p2 ON p2.id = p1.cut_from_id
LEFT JOIN records_stock_lot p3 ON p3.id = p2.cut_from_id
WHERE COALESCE(p3.id, p2.id, p1.id, lot.id) = (
    SELECT COALESCE(q3.id, q2.id, q1.id, me.id) FROM records_stock_lot me
    LEFT JOIN records_stock_lot q1 ON q1.id = me.cut_from_id
    LEFT JOIN records_stock_lot q2 ON q2.id = q1.cut_from_id
    LEFT JOIN records_stock_lot q3 ON q3.id = q2.cut_from_id
    WHERE me.code = %s)
"""
BURNED = f"""
SELECT DISTINCT burn.id, burn.public_id, burn.unit_id FROM records_burns_burn burn
LEFT JOIN records_burns_burnfuel fuel
  ON fuel.report_id = burn.current_id AND fuel.used > 0 AND fuel.lot_id IN ({FAMILY})
LEFT JOIN records_plans_chargeissue issue
  ON issue.version_id = burn.version_id AND burn.state = 'burning' AND issue.lot_id IN ({FAMILY})
WHERE fuel.id IS NOT NULL OR issue.id IS NOT NULL
"""
EXPOSED = f"""
SELECT DISTINCT burn.public_id, there.person_id FROM records_burns_attendance there
JOIN ({BURNED}) burn ON burn.id = there.burn_id
"""


def plain_sql(sql: str, mark: str) -> set[tuple[object, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, [mark] * sql.count("%s"))
        return set(cursor.fetchall())


def burn_of(ground, lot, day, boards=3, **given):
    """A burn whose charge names the lot."""
    position = ground.unit.positions.get(name="Ceiling")
    line = Line(position, lot.product, Decimal(boards), lot)
    content = builders.content(ground, charge=(line,), starts_at=NOW + day * DAY, **given)
    return builders.closed(ground, content)


def reader(person, *roles, **more):
    return Reader(person, frozenset(roles), **more)


@pytest.fixture
def told(ground):
    """Lot A burned whole and as pieces of pieces; lot B besides it; one burn was corrected."""
    today = NOW.astimezone(ground.site.zone).date()
    builders.adopt(ground, "T-2", builders.rows(U_13="30"), at=NOW, day=today)
    a, b = builders.accepted_lot(ground, 60), builders.accepted_lot(ground, 60)
    piece = cut(ground, a, 12, "P-1")
    small = cut(ground, piece, 4, "P-2")
    known = {
        "whole": burn_of(ground, a, 1), "piece": burn_of(ground, piece, 2, crew=builders.crew(ground, 1)),
        "small": burn_of(ground, small, 3),
    }  # fmt: skip
    known["other"] = burn_of(ground, b, 4)
    never = burn_of(ground, a, 5)
    at = never.ignited_at + dt.timedelta(hours=2)
    burns.correct_burn(
        never, ended_at=never.current.ended_at, used={a.public_id: Decimal(0)}, note="", why="none of it lit",
        seen_report=1, by=ground.instructor, at=at,
    )  # fmt: skip
    position = ground.unit.positions.get(name="Ceiling")
    line = (Line(position, a.product, Decimal(2), a),)
    known["running"] = builders.lit(
        ground, builders.content(ground, charge=line, starts_at=NOW + 6 * DAY)
    )
    return {**known, "a": a, "b": b, "p1": piece, "p2": small}


def test_burns_units_and_people_are_those_of_plain_sql(ground, told):
    for mark in ("a", "b", "p1", "p2"):
        _as_plain_sql(ground, told[mark])
    _figures_counted_by_hand(ground, told)
    _back_to_the_docket(ground, told)
    _found_by_what_stands_on_them(ground, told)
    _queries_do_not_grow(ground, told)
    _recalled_as_plain_sql(ground, told)


def _as_plain_sql(ground, lot):
    found = tracing.trace(ground.site, [lot], reader(ground.safety, Role.SAFETY))
    expected = plain_sql(BURNED, lot.code)
    assert {each.burn.public_id for each in found.burns} == {
        public_id for _, public_id, _ in expected
    }
    assert {unit.pk for unit in found.units} == {unit for _, _, unit in expected}
    people = {
        (each.burn.public_id, there.person_id) for each in found.burns for there in each.people
    }
    assert people == plain_sql(EXPOSED, lot.code)
    assert {lot.pk for lot in found.lots} == {key for (key,) in plain_sql(FAMILY, lot.code)}


def _figures_counted_by_hand(ground, told):
    """The whole boards, the pieces, the small pieces, and the burn that runs."""
    found = tracing.trace(ground.site, [told["p2"]], reader(ground.safety, Role.SAFETY))
    names = ["whole", "piece", "small", "running"]
    assert [each.burn for each in found.burns] == [told[name] for name in names]
    # five of the staff, and three learners but for one burn with one
    assert [each.heads for each in found.burns] == [8, 6, 8, 8]
    assert (found.heads, found.hidden, len(found.people)) == (8, 0, 8)
    assert [each.used for each in found.burns][1] == [(told["p1"], 3)]


def _recalled_as_plain_sql(ground, told):
    made = recalling.recall_lots(
        ground.site, [told["p1"]], source="own", reason="tar", used_in=tracing.burns_with,
        by=ground.manager, at=NOW + 7 * DAY,
    )  # fmt: skip
    entry = Entry.objects.get(act="stock.lot_recalled")
    expected = {public_id for _, public_id, _ in plain_sql(BURNED, "P-1")}
    assert set(dict(entry.after)["burns"]) == expected
    assert len(expected) == 4
    assert {row.lot.code for row in made.lots.all()} == {told["a"].code, "P-1", "P-2"}


def _found_by_what_stands_on_them(ground, told):
    lot = told["a"]
    for asked in (lot.code, lot.code.lower(), f" {lot.code} ", lot.public_id, lot.reference):
        assert tracing.named(ground.site, asked) == [lot]
    by_docket = tracing.named(ground.site, lot.delivery.docket)
    assert {each.code for each in by_docket} == {lot.code, "P-1", "P-2"}
    assert {each.code for each in tracing.named(ground.site, "P-")} == {"P-1", "P-2"}
    for asked in ("", " ", "no such", "a\0b"):
        assert tracing.named(ground.site, asked) == []


def _back_to_the_docket(ground, told):
    (origin,) = tracing.origins_of_burn(told["small"])
    assert (origin.lot, origin.delivered) == (told["p2"], told["a"])
    learner = ground.learners[2]  # was not at the burn with one learner
    rows = tracing.origins_of_person(ground.site, learner, reader(ground.auditor, Role.AUDITOR))
    assert [each.lot.code for each in rows] == [told["b"].code, "P-2", told["a"].code]
    assert {each.delivered for each in rows} == {told["a"], told["b"]}


def test_names_are_for_those_to_whom_trust_gives_them(ground, told, signed_in):
    """Trust, section 5: safety officer and auditor all, manager what is assigned, others their own."""
    _names_of_a_trace(ground, told)
    _burns_of_a_person(ground, told)
    _pages_show_no_names_to_the_store(ground, told, signed_in)


def _names_of_a_trace(ground, told):

    def shown(person, role, **more):
        found = tracing.trace(ground.site, [told["b"]], reader(person, role, **more))
        return len(found.people), found.hidden

    assert shown(ground.safety, Role.SAFETY) == (8, 0)
    assert shown(ground.auditor, Role.AUDITOR) == (8, 0)
    assert shown(ground.manager, Role.MANAGER) == (8, 0)  # approved it
    assert shown(ground.manager_two, Role.MANAGER) == (0, 8)
    assert shown(ground.manager_two, Role.MANAGER, recall=True) == (8, 0)
    assert shown(ground.instructor, Role.INSTRUCTOR) == (1, 7)
    assert shown(ground.stores, Role.STORES) == (0, 8)
    assert shown(ground.stores, Role.STORES, recall=True) == (0, 8)
    assert shown(ground.inspector, Role.INSPECTOR) == (0, 8)


def _burns_of_a_person(ground, told):
    learner = ground.learners[0]
    for person, role in ((ground.stores, Role.STORES), (ground.instructor, Role.INSTRUCTOR)):
        with pytest.raises(NotAllowed):
            tracing.origins_of_person(ground.site, learner, reader(person, role))
    mine = reader(ground.manager, Role.MANAGER)
    assert len(tracing.origins_of_person(ground.site, learner, mine)) == 4
    not_mine = reader(ground.manager_two, Role.MANAGER)
    assert tracing.origins_of_person(ground.site, learner, not_mine) == []
    own = reader(ground.instructor, Role.INSTRUCTOR)
    assert len(tracing.origins_of_person(ground.site, ground.instructor, own)) == 4


def _pages_show_no_names_to_the_store(ground, told, signed_in):
    address = f"/store/trace/?q={told['b'].code}"
    stores, safety = signed_in(ground.stores).get(address), signed_in(ground.safety).get(address)
    learner = ground.learners[0].name
    assert learner not in stores.text and "8 people" in stores.text
    assert learner in safety.text
    person = f"/store/trace/?person={ground.learners[0].public_id}"
    assert signed_in(ground.stores).get(person).status_code == 403
    assert signed_in(ground.safety).get(person).status_code == 200
    burn = f"/store/trace/?burn={told['small'].public_id}"
    assert told["a"].delivery.docket in signed_in(ground.stores).get(burn).text
    assert signed_in(ground.stores).get("/store/trace/?burn=nosuchburn").status_code == 404


def _queries_do_not_grow(ground, told):
    asks = reader(ground.safety, Role.SAFETY)

    def queries(lot):
        with CaptureQueriesContext(connection) as captured:
            tracing.trace(ground.site, [lot], asks)
        return len(captured)

    assert queries(told["a"]) <= queries(told["b"]) + 2  # boards that are out, and whose they are


def test_an_approved_plan_with_a_recalled_lot_says_so_at_once(ground, signed_in):
    lot = builders.accepted_lot(ground)
    position = ground.unit.positions.get(name="Ceiling")
    plan = builders.approved(
        ground, builders.content(ground, charge=(Line(position, lot.product, Decimal(3), lot),))
    )
    page = f"/plans/{plan.public_id}/"
    manager = signed_in(ground.manager)
    assert tracing.recalled_plans(ground.site) == []
    recalling.recall_lots(
        ground.site, [lot], source="own", reason="tar", used_in=tracing.burns_with,
        by=ground.manager_two, at=NOW,
    )  # fmt: skip
    assert [(found.pk, lots) for found, lots in tracing.recalled_plans(ground.site)] == [
        (plan.pk, [lot])
    ]
    assert f"lot {lot.code} is not accepted" in manager.get(page).text
    assert "1 plan ahead counts on recalled boards." in manager.get("/").text
    assert "recalled boards" not in signed_in(ground.instructor).get("/").text

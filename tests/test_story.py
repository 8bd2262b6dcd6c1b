"""The whole job through the services, from delivery to the history an auditor reads."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import LimitExceeded, OwnWork
from records.audit.models import Entry, LogHead
from records.burns import services as burns
from records.burns.models import EventKind, FireStage
from records.ground.selectors import use_of
from records.inspections import services as inspections
from records.inspections.checklists import POST_BURN, PRE_BURN
from records.inspections.selectors import unit_state
from records.plans import services as plans
from records.plans.models import PlanState
from records.plans.selectors import plan_here
from records.reports.history import unit_history
from records.reports.pdf import render_pdf
from records.stock.models import LotBalance
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.builders import NOW, hash_of

DAY = dt.timedelta(days=1)


def test_the_main_job_from_delivery_to_history(ground):
    """Delivery, readings, acceptance, plan over its cap, a lighter one, approval by another
    person, issue, burn, return, burn count, defect, repair, release, history."""
    lot = builders.accepted_lot(ground, 20)

    heavy = builders.drafted(ground, builders.content(ground, boards=5))  # 125 kg, cap 100
    with pytest.raises(LimitExceeded) as refused:
        plans.submit_plan(heavy, seen_hash=hash_of(heavy), by=ground.instructor, at=NOW)
    over = next(finding for finding in refused.value.findings if finding.rule.code == "Q-1")
    assert (over.known.value, over.rule.limit, over.margin) == (125.0, 100.0, -25.0)

    plans.revise_plan(
        heavy, builders.content(ground, boards=4), seen_version=1, by=ground.instructor, at=NOW
    )
    plans.submit_plan(heavy, seen_hash=hash_of(heavy), by=ground.instructor, at=NOW)
    with pytest.raises(OwnWork):
        written_by_manager = builders.drafted(ground)
        plans.revise_plan(
            written_by_manager, builders.content(ground), seen_version=1, by=ground.manager, at=NOW
        )
        plans.submit_plan(
            written_by_manager, seen_hash=hash_of(written_by_manager), by=ground.manager, at=NOW
        )
        plans.approve_plan(
            written_by_manager, meaning="approval", shown_hash=hash_of(written_by_manager),
            by=ground.manager, at=NOW,
        )  # fmt: skip
    plans.approve_plan(
        heavy, meaning="approval", shown_hash=hash_of(heavy), by=ground.manager, at=NOW
    )

    version = plan_here(ground.site, heavy.public_id).version
    handouts = [plans.Handout(version.charge.get(), lot, Decimal(4))]
    plans.issue_charge(heavy, handouts, by=ground.stores, at=NOW)
    assert LotBalance.objects.get(lot=lot).on_hand == 16 == sum_of_movements(lot)

    start = version.starts_at
    burn = burns.start_burn(
        heavy, checks=dict.fromkeys(map(str, PRE_BURN), True), present=builders.everyone(heavy),
        ignition_method="gas burner", weather="dry", by=ground.instructor, ignited_at=start, at=start,
    )  # fmt: skip
    burns.note_event(
        burn, kind=EventKind.STAGE, stage=FireStage.GROWTH, by=ground.instructor,
        happened_at=start + dt.timedelta(minutes=3), at=start + dt.timedelta(minutes=3),
    )  # fmt: skip
    end = start + dt.timedelta(minutes=30)
    burns.close_burn(
        burn, ended_at=end, used={lot.public_id: Decimal(3)}, note="", by=ground.instructor, at=end,
        checks={str(item): item != POST_BURN[-1] for item in POST_BURN},
        defect=inspections.DefectFound("unsafe", "door", "hinge pulled out"),
    )  # fmt: skip
    burns.return_boards(heavy, lot, Decimal(1), returned_at=end, by=ground.stores, at=end)
    assert LotBalance.objects.get(lot=lot).on_hand == 17 == sum_of_movements(lot)
    assert use_of(ground.unit).burns == 1
    assert use_of(ground.unit).dry_mass_kg == pytest.approx(75.0)  # three boards of 25 kg

    after = end + dt.timedelta(hours=1)
    assert unit_state(ground.unit, after).word == "out_of_service"
    defect = ground.unit.defects.get()
    inspections.record_repair(
        defect,
        what="new hinge",
        done_by=ground.inspector,
        done_at=after,
        by=ground.inspector,
        at=after,
    )
    builders.verify(ground, defect, at=after)
    with pytest.raises(OwnWork):
        inspections.release_unit(defect, statement="sound", by=ground.inspector, at=after)
    inspections.release_unit(defect, statement="sound", by=ground.inspector_two, at=after)
    later = after + dt.timedelta(minutes=1)
    assert unit_state(ground.unit, later).word == "in_service"

    history = unit_history(ground.unit, (NOW - 30 * DAY).date(), (NOW + 5 * DAY).date(), later)
    kinds = [row.kind for row in history.rows]
    assert kinds == ["inspection", "burn", "defect", "repair", "release"]
    assert history.burns[0].approved_by == "The manager"
    assert history.burns[0].people == 8
    assert plan_here(ground.site, heavy.public_id).state == PlanState.BURNED

    document = render_pdf(
        "reports/unit_history_pdf.html",
        {"history": history, "ground": ground.site, "printed_at": later, "paper": "A4",
         "printed_by": ground.auditor, "log_size": 1, "drawing": ""},
    )  # fmt: skip
    assert document.startswith(b"%PDF")

    sequence = list(Entry.objects.order_by("seq").values_list("seq", flat=True))
    assert sequence == list(range(LogHead.objects.get().size))

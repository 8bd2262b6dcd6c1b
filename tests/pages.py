"""What the tests of pages share: a thing behind every address, made when first asked for.

The views read the clock of the machine, so this ground lives today. Each plan has a day of its
own, so that no burn counts against another one's cap.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from functools import cached_property
from types import SimpleNamespace

from django.apps import apps
from django.db import models
from django.urls import get_resolver, reverse
from django.utils import timezone

from facility.people.models import Tries
from records.accounts import services as accounts
from records.accounts import tablets
from records.audit.heads import head_now
from records.audit.models import Disclosed, Entry, Tile
from records.inspections import services as inspections
from records.pictures.reading import read_photograph
from records.plans import services as plans
from records.plans.models import Plan, PlanVersion
from records.plans.selectors import plan_here
from records.reports import disposing
from records.reports.making import keep_paper
from records.reports.retention import class_of, latest_due
from records.reports.services import ask_for_history
from records.standard import services as standard
from records.standard.waiving import ask_waiver
from records.stock import counting, recalling, receiving, waste
from records.stock.deciding import accept_on_condition
from records.yard import services as yard
from records.yard.selectors import doubts_without_burn
from tests import builders
from tests.photographs.drawing import photo
from tests.yard.device import Tablet

OURS = ("facility", "records")
REFUSED = ("audit.refused", "people.sign_in_refused")
DAY = dt.timedelta(days=1)


def names_of_addresses() -> list[str]:
    """Every address that the project answers, as ``app:page``."""

    def walk(patterns, prefix: str):
        for pattern in patterns:
            if hasattr(pattern, "url_patterns"):
                yield from walk(pattern.url_patterns, f"{prefix}{pattern.namespace}:")
            else:
                yield f"{prefix}{pattern.name}"

    return list(walk(get_resolver().url_patterns, ""))


def rows() -> dict[str, int]:
    """How many rows each table holds; the log without the attempts it refused, which are counted
    elsewhere as well."""
    ours = [model for model in apps.get_models() if model.__module__.split(".")[0] in OURS]
    kept = [model for model in ours if model not in (Entry, Disclosed, Tile, Tries)]
    counts = {model._meta.label: model._default_manager.count() for model in kept}
    counts["successes"] = Entry.objects.exclude(act__in=REFUSED).count()
    return counts


class Things:
    """A ground with every kind of thing that an address can point at, in the fitting state."""

    def __init__(self, name: str = "Test ground") -> None:
        self.now = timezone.now().replace(second=0, microsecond=0)
        self.ground = builders.found_ground(name, at=self.now)
        self.lot = builders.accepted_lot(self.ground, 200, at=self.now - 4 * DAY)

    def content(self, days: int, **changes):
        return builders.content(self.ground, starts_at=self.now + days * DAY, **changes)

    @cached_property
    def waiting_lot(self):
        lot = builders.deliver(self.ground, at=self.now - DAY)
        builders.read(self.ground, lot, at=self.now - DAY)
        return lot

    @cached_property
    def stocktake(self):
        """Counted, not signed: the lot of this ground, one board short."""
        return self._counted("-1")

    @cached_property
    def far_off(self):
        """Signed, over the threshold, and waiting for a burn manager."""
        stocktake = self._counted("-150")
        counting.sign_stocktake(
            stocktake, shown_hash=counting.content_hash(stocktake, "counted"),
            by=self.ground.stores_two, at=self.now,
        )  # fmt: skip
        return stocktake

    def _counted(self, change: str):
        stocktake = counting.start_stocktake(
            self.ground.site, bays=[self.ground.bay], by=self.ground.stores_two, at=self.now
        )
        found = self.lot.balance.on_hand + Decimal(change)
        counting.enter_counts(
            stocktake, [counting.Count(self.lot, found, "looked twice")], counted_at=self.now,
            by=self.ground.stores_two, at=self.now,
        )  # fmt: skip
        return stocktake

    @cached_property
    def waste(self):
        return waste.record_waste(
            self.ground.site,
            waste.Waste(
                kind="ash", docket=f"W-{self.ground.site.pk}", container="steel bin",
                destination="landfill", mass_kg=Decimal(80), cooled_since=self.now - 2 * DAY,
                weighed_at=self.now - DAY, untreated=True,
            ),
            by=self.ground.stores, at=self.now,
        )  # fmt: skip

    @cached_property
    def lapsed(self) -> Plan:
        """Approved for yesterday and not burned, so that its boards can be released."""
        return builders.approved(self.ground, self.content(-1), at=self.now - 3 * DAY)

    @cached_property
    def conditional_lot(self):
        lot = builders.deliver(self.ground, at=self.now - DAY)
        builders.read(self.ground, lot, at=self.now - DAY)
        accept_on_condition(lot, condition="floor only", by=self.ground.stores_two, at=self.now)
        return lot

    @cached_property
    def meter(self):
        return self.ground.meter

    @cached_property
    def bay(self):
        return self.ground.bay

    @cached_property
    def recall(self):
        lot = builders.accepted_lot(self.ground, at=self.now - 2 * DAY)
        return recalling.recall_lots(
            self.ground.site, [lot], source="own", reason="smells of tar", used_in=lambda lots: [],
            by=self.ground.manager_two, at=self.now - DAY,
        )  # fmt: skip

    @cached_property
    def unit(self):
        return self.ground.unit

    @cached_property
    def product(self):
        return self.ground.board

    @cached_property
    def old_unit(self):
        """Commissioned more than a year before anything was recorded of it."""
        return builders.commission(self.ground, "Unit 9", at=self.now, days_old=400)

    @cached_property
    def person(self):
        return self.ground.observer

    @cached_property
    def heavy_lot(self):
        """A sheet of it weighs 30 kg instead of 25."""
        return builders.deliver(self.ground, at=self.now - DAY, sheet_mass_kg=Decimal(30))

    @cached_property
    def delivery(self):
        return self.lot.delivery

    @cached_property
    def picture(self):
        return receiving.photograph_docket(
            self.delivery, read_photograph(photo()), by=self.ground.stores, at=self.now
        )

    @cached_property
    def tablet(self):
        made, _key = tablets.enrol_tablet(
            self.ground.site, name="yard 1", by=self.ground.admin, at=self.now
        )
        return made

    @cached_property
    def link_key(self) -> str:
        """Of a link by which an inspector chooses a password."""
        return accounts.make_password_link(
            self.ground.site, self.ground.inspector_two, reason="forgot it", by=self.ground.admin,
            at=self.now,
        )  # fmt: skip

    @cached_property
    def switched_off(self):
        """Someone whose account is switched off."""
        accounts.disable_person(
            self.ground.site, self.ground.stores_two, reason="left", by=self.ground.admin,
            at=self.now,
        )  # fmt: skip
        return self.ground.stores_two

    @cached_property
    def receipt(self):
        """The entry of a signature, by which its receipt is found."""
        plan = f"plan:{self.approved.public_id}"
        entry = Entry.objects.get(act="plans.plan_approved", obj=plan)
        return SimpleNamespace(public_id=entry.entry_id.hex)

    @cached_property
    def draft(self) -> Plan:
        return builders.drafted(self.ground, self.content(5), at=self.now)

    @cached_property
    def shown_to_go(self) -> str:
        """A plan that was withdrawn and ended seven years ago; gives the hash of what would go."""
        plan, then = self.draft, self.now - dt.timedelta(days=7 * 366)
        plans.withdraw_plan(plan, reason="rained off", by=self.ground.instructor, at=self.now)
        models.QuerySet(PlanVersion).filter(plan=plan).update(starts_at=then, ends_at=then)
        return disposing.content_of(self.ground.site, "plans", self._latest()).hash

    def _latest(self) -> dt.date:
        return latest_due(class_of("plans"), timezone.localdate(self.now, self.ground.site.zone))

    @cached_property
    def disposal_order(self):
        return disposing.order_disposal(
            self.ground.site, kind="plans", until=self._latest(), reason="its time is over",
            shown_hash=self.shown_to_go, by=self.ground.safety, at=self.now,
        )  # fmt: skip

    @cached_property
    def submitted(self) -> Plan:
        return builders.submitted(self.ground, self.content(4), at=self.now)

    @cached_property
    def approved(self) -> Plan:
        return builders.approved(self.ground, self.content(3), at=self.now)

    @cached_property
    def issued(self) -> Plan:
        """Its start is now, so that it can be lit."""
        return builders.issued(self.ground, self.content(0), at=self.now)

    @cached_property
    def ready(self) -> Plan:
        """Issued, every item in order and the roll called: it only has to be signed as fit."""
        at = self.issued.version.starts_at
        builders.checked_off(self.issued, by=self.ground.setter, at=at)
        builders.rolled(self.issued, by=self.ground.setter, at=at)
        return plan_here(self.ground.site, self.issued.public_id)

    @cached_property
    def second_asked(self):
        """In force beside the ground's own: a second person signs what happened."""
        row = {"code": "P-26", "title": "Countersigned", "fact": "burn.countersigned",
               "comparison": "true", "asked_at": "close", "severity": "block", "clause": "9",
               "basis": "local"}  # fmt: skip
        then = self.now - 4 * DAY
        day = timezone.localdate(then, self.ground.site.zone)
        return builders.adopt(self.ground, "T-8", [row], at=then, day=day, jurisdiction="region")

    @cached_property
    def closed(self):
        assert self.second_asked
        return builders.closed(self.ground, self.content(-2), at=self.now - 3 * DAY)

    @cached_property
    def logger_file(self):
        return builders.logged(self.ground, self.closed, at=self.now)

    @cached_property
    def running(self):
        """A unit burns once at a time, so the closed burn comes first."""
        assert self.closed
        return builders.lit(self.ground, self.content(-1), at=self.now - 3 * DAY)

    def sent(self, burn, at: dt.datetime, device: str):
        """An event that a browser of the instructor sent of a burn."""
        given = {"by": self.ground.instructor, "at": self.now}
        yard.take_seat(self.ground.site, device, **given)
        tablet = Tablet(device, burn.public_id, self.ground.instructor.public_id, at - DAY / 24)
        yard.take_events(self.ground.site, [tablet.tap("steam", at=at)], device=device, **given)
        return burn

    @cached_property
    def doubted(self):
        """It runs, and something of its fire was recorded before it was lit."""
        device = f"office-{self.ground.site.pk}"
        return self.sent(self.running, self.running.ignited_at - DAY / 24, device)

    @cached_property
    def recorded_late(self):
        """Closed, and then an event came."""
        device = f"office-late-{self.ground.site.pk}"
        return self.sent(self.closed, self.closed.ignited_at + DAY / 288, device)

    @cached_property
    def stray_doubt(self) -> str:
        """About something that was sent and names no burn."""
        yard.take_events(self.ground.site, ["{"], by=self.ground.instructor, at=self.now)
        return doubts_without_burn(self.ground.site)[0].key

    @cached_property
    def rescued_line(self) -> bytes:
        """An event of the running burn that was never sent."""
        assert self.doubted
        lit = self.running.ignited_at
        tablet = Tablet(f"office-{self.ground.site.pk}", self.running.public_id, self.ground.instructor.public_id, lit)  # fmt: skip
        tablet.seq = 1
        return tablet.tap("steam", at=lit + DAY / 288).encode()

    @cached_property
    def defect(self):
        """Found in another unit, so that plans in the first one can still pass."""
        unit = builders.commission(self.ground, "Unit 2", at=self.now - 2 * DAY)
        return inspections.stop_unit(
            unit, place="door", description="hinge pulled out", by=self.ground.instructor,
            at=self.now - DAY,
        )  # fmt: skip

    @cached_property
    def repaired(self):
        inspections.record_repair(
            self.defect, what="new hinge", done_by=self.ground.inspector_two, done_at=self.now,
            by=self.ground.inspector_two, at=self.now,
        )  # fmt: skip
        return self.defect

    @cached_property
    def checked(self):
        """A repaired defect of which it is recorded that the repair holds."""
        builders.verify(self.ground, self.repaired, at=self.now)
        return self.repaired

    @cached_property
    def edition(self):
        """A draft, with the rows and charts of the one in force."""
        item = {"code": "B-01", "stage": "walk_through", "text": "Exits clear", "clause": "1",
                "basis": "local"}  # fmt: skip
        return standard.draft_edition(
            self.ground.site, code="T-5", title="Draft", copy_of=self.ground.edition,
            items=[item], by=self.ground.safety, at=self.now,
        )  # fmt: skip

    @cached_property
    def proposed_edition(self):
        edition = standard.draft_edition(
            self.ground.site, code="T-6", title="Proposed", copy_of=self.ground.edition,
            by=self.ground.safety, at=self.now,
        )  # fmt: skip
        standard.propose_edition(edition, by=self.ground.safety, at=self.now)
        return edition

    @cached_property
    def waivable_edition(self):
        """In force beside the ground's own, with a row that the burn manager may waive."""
        row = {"code": "W-1", "title": "Kindling", "fact": "charge.kindling", "comparison": "<=",
               "limit": "5", "severity": "block", "clause": "5", "basis": "local",
               "waivable_by": "manager"}  # fmt: skip
        return builders.adopt(
            self.ground,
            "T-7",
            [row],
            at=self.now,
            day=timezone.localdate(self.now, self.ground.site.zone),
            jurisdiction="county",
        )

    @cached_property
    def waiver(self):
        row = self.waivable_edition.rows.get()
        return ask_waiver(
            self.ground.site, row, scope="ground", target="", reason="wet wood",
            measure="less of it", expires_on=(self.now + 5 * DAY).date(),
            by=self.ground.instructor, at=self.now,
        )  # fmt: skip

    @cached_property
    def paper(self):
        """A document that the worker made."""
        paper = ask_for_history(
            self.unit, self.now.date() - 3 * DAY, self.now.date(), size="a4",
            by=self.ground.auditor, at=self.now,
        )  # fmt: skip
        keep_paper(paper, b"%PDF-1.7 history", pages=1, head=head_now(), at=self.now)
        return paper

    def typed(self, when: dt.datetime) -> str:
        """A time as the form fields write it, in the zone of the ground."""
        return timezone.localtime(when, self.ground.site.zone).strftime("%Y-%m-%dT%H:%M")

    def address(self, name: str) -> str:
        return reverse(name, args=self.key(name))

    def key(self, name: str) -> list[str]:
        """What fills the blanks of the address."""
        if name in NAMED:
            return NAMED[name]
        if name in MORE:
            return [self.edition.public_id, MORE[name](self)]
        if name == "audit:proof":
            return [Entry.objects.filter(site=self.ground.site.public_id).first().seq]
        if name == "accounts:choose_password":
            return [self.link_key]
        return [getattr(self, THING[name]).public_id] if name in THING else []


# What fills the blanks of an address that names no row.
NAMED = {
    "reports:working": ["board_mass"],
    "stock:file": ["readings"],
    "reports:feed": ["nobody-holds-this-key"],
    "reports:disposal_new": ["plans"],
    "stock:export": ["on_hand", "csv"],
}

# What fills the second blank of an address under an edition.
MORE = {
    "standard:row": lambda things: "F-07",
    "standard:item": lambda things: "B-01",
    "standard:chart": lambda things: things.unit.public_id,
    "standard:compare": lambda things: things.ground.edition.public_id,
    "standard:export": lambda things: "csv",
}

# What the id in an address stands for, in a state that lets the page be shown.
THING = {
    "stock:lot": "lot", "stock:readings": "waiting_lot", "stock:verdict": "waiting_lot",
    "stock:readings_judged": "waiting_lot", "stock:dried": "waiting_lot",
    "stock:condition": "waiting_lot", "stock:reject": "waiting_lot", "stock:hold": "waiting_lot",
    "stock:confirm": "conditional_lot", "stock:meter": "meter", "stock:calibrate": "meter",
    "stock:correction": "meter", "stock:bay": "bay", "stock:climate": "bay",
    "stock:climate_file": "bay",
    "stock:adjust": "lot", "stock:reorder": "product", "stock:delivery": "delivery", "stock:docket_picture": "delivery",
    "stock:marks": "lot", "stock:weigh": "lot", "stock:explain": "heavy_lot",
    "stock:carry": "lot", "stock:split": "lot", "stock:cut": "lot",
    "stock:scrap": "lot", "stock:release": "lapsed", "stock:stocktake": "stocktake",
    "stock:count": "stocktake", "stock:stocktake_sign": "stocktake",
    "stock:stocktake_approve": "far_off", "reports:count_sheet_pdf": "stocktake",
    "stock:waste_docket": "waste", "stock:waste_sign": "waste",
    "reports:labels": "lot", "reports:labels_pdf": "lot", "plans:plan": "draft", "plans:edit": "draft", "plans:submit": "draft",
    "plans:withdraw": "draft", "plans:approve": "submitted", "plans:send_back": "submitted",
    "plans:issue": "approved", "burns:start": "issued", "burns:return": "issued",
    "burns:before": "issued", "burns:check": "issued", "burns:briefing": "issued",
    "burns:roll": "issued", "burns:weather": "issued", "burns:fit": "ready",
    "burns:remark": "running", "burns:countersign": "closed",
    "burns:burn": "running", "burns:event": "running", "burns:close": "running",
    "burns:correct": "closed", "yard:recorded": "doubted", "yard:settle": "doubted",
    "yard:late": "recorded_late", "capture:recorded": "closed", "capture:take": "closed",
    "capture:original": "logger_file", "capture:fires": "unit", "capture:fit": "unit",
    "reports:recorded_pdf": "closed", "inspections:unit": "unit", "inspections:take_over": "old_unit",
    "inspections:inspect": "unit", "inspections:walls": "unit", "inspections:points": "unit",
    "inspections:calibrate": "unit", "reports:engineer_pdf": "unit",
    "inspections:stop": "unit", "inspections:defect": "defect", "inspections:repair": "defect",
    "inspections:verify": "repaired", "inspections:release": "checked",
    "inspections:unit_change": "unit", "inspections:make_up": "unit", "ground:role_new": "person",
    "accounts:person": "person", "accounts:role_end": "person", "accounts:disable": "person",
    "accounts:enable": "switched_off", "accounts:first_password": "person",
    "accounts:competence_new": "person", "accounts:tablet_end": "tablet",
    "pictures:picture": "picture", "audit:receipt": "receipt",
    "reports:unit_history": "unit", "reports:unit_history_pdf": "unit",
    "reports:evidence": "unit", "reports:plan_pdf": "approved", "reports:burn_pdf": "closed",
    "reports:papers": "unit", "reports:paper": "paper", "reports:paper_pdf": "paper",
    "reports:paper_evidence": "paper",
    "reports:open_plans": "edition", "reports:rejudge": "edition", "standard:edition": "edition",
    "standard:row_new": "edition", "standard:item_new": "edition", "standard:import": "edition", "standard:propose": "edition",
    "standard:withdraw": "edition", "standard:adopt": "proposed_edition",
    "standard:give_back": "proposed_edition", "standard:grant": "waiver",
    "standard:end": "waiver", "reports:recall": "recall", "reports:recall_lift": "recall",
    "reports:recall_pdf": "recall",
    "reports:disposal": "disposal_order", "reports:disposal_carry_out": "disposal_order",
}  # fmt: skip

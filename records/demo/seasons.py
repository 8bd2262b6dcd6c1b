"""Two seasons of a training ground, with the untidiness of real life, through the services."""

from __future__ import annotations

import datetime as dt
import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from facility.kinds import Duty
from facility.people.models import Person
from facility.refusals import LimitExceeded
from facility.sites.models import Bay, Unit
from records.burns import services as burns
from records.burns.models import Burn, EventKind, FireStage
from records.demo.days import after, has_day, prepare, remark
from records.demo.logged import log_burn
from records.demo.setting import Setting
from records.demo.yarded import YardTablet
from records.inspections import services as inspections
from records.inspections.calibrating import calibrate_sensors
from records.inspections.checklists import POST_BURN, PRE_BURN, all_in_order
from records.inspections.gauging import Gauge, mark_points
from records.inspections.gauging_selectors import points_of
from records.inspections.looking import Look
from records.inspections.models import Outcome
from records.plans import services as plans
from records.plans.content import Line, Place, PlanContent
from records.plans.models import Plan, PlanVersion
from records.plans.selectors import plan_here, suggested_handouts
from records.stock import counting, cutting, waste
from records.stock import selectors as store
from records.stock import services as stock
from records.stock.climate_files import Air
from records.stock.marks import CODES
from records.stock.measuring import calibrate_meter
from records.stock.models import CountState, Lot, Stocktake
from records.stock.rounds import due_for_reading
from records.stock.storing import record_climate

# Boards at each position for the first burn of the day, by unit; the caps fall with each burn,
# so the later ones drop the last lines.
CHARGES: dict[str, list[list[tuple[str, str, int]]]] = {
    "Unit 1": [
        [("Ceiling, rear", "particle_board", 2), ("Side walls", "particle_board", 1), ("Rear wall", "osb", 1), ("Crib", "fibreboard", 1), ("Crib", "kindling", 2)],
        [("Ceiling, rear", "particle_board", 2), ("Side walls", "osb", 2), ("Crib", "kindling", 3)],
        [("Ceiling, rear", "osb", 3), ("Side walls", "plywood", 2), ("Crib", "kindling", 2)],
    ],
    "Unit 2": [
        [("Ceiling", "osb", 2), ("Side walls", "plywood", 2), ("Crib", "kindling", 2)],
        [("Ceiling", "osb", 2), ("Side walls", "plywood", 1), ("Crib", "kindling", 3)],
        [("Ceiling", "osb", 2), ("Side walls", "plywood", 1), ("Crib", "kindling", 2)],
        [("Ceiling", "osb", 1), ("Side walls", "plywood", 2), ("Crib", "kindling", 2)],
    ],
    "Unit 3": [
        [("Ceiling", "particle_board", 2), ("Side walls", "particle_board", 1), ("Rear wall", "osb", 1), ("Crib", "kindling", 3)],
        [("Ceiling", "particle_board", 2), ("Side walls", "osb", 2), ("Crib", "kindling", 2)],
    ],
}  # fmt: skip
EXERCISES = {"Unit 1": "demonstration", "Unit 2": "attack", "Unit 3": "multi"}
OBJECTIVES = {
    "demonstration": "Show fire growth to flashover from behind the line; read smoke and air track",
    "attack": "Door entry, gas cooling on the move, knock-down from the threshold",
    "multi": "Search under a hot layer, door control, attack from the second room",
}
ABORT = (
    "Stop on: neutral plane below 0.9 m where people sit, any air warning, loss of water, a person "
    "unaccounted for, structural noise, or the safety officer's word"
)
WEATHER = ("dry, light westerly", "overcast, calm", "showers, fresh south-westerly", "cold and clear", "drizzle, light air", "dry, gusty north-westerly")  # fmt: skip
HOUR = dt.timedelta(hours=1)
INSTRUCTORS = (
    "instructor",
    "instructor2",
    "instructor3",
    "instructor4",
    "instructor5",
    "instructor6",
)
MANAGERS = ("manager", "manager2")
NONE_SEEN = dict.fromkeys(CODES, False)
ORDER_BELOW = {"particle_board": 20, "osb": 20, "plywood": 14, "fibreboard": 5, "kindling": 30}
PRICES = {
    "particle_board": Decimal("11.40"), "osb": Decimal("13.90"), "plywood": Decimal("24.50"),
    "fibreboard": Decimal("7.80"), "kindling": Decimal("0.45"), "liquid": Decimal("2.10"),
}  # fmt: skip
ORDERED = {"particle_board": 60, "osb": 60, "plywood": 40, "fibreboard": 20, "kindling": 120}


@dataclass
class Teller:
    """Tells the story: one source of chance, and the running lot number."""

    setting: Setting
    chance: random.Random
    lot_number: int = 300
    docket_number: int = 4100
    burned: list[Burn] = field(default_factory=list)
    refused: list[Plan] = field(default_factory=list)
    gauged: list[int] = field(default_factory=list)
    weather: random.Random = field(default_factory=lambda: random.Random(1805))
    logged_until: dt.date | None = None
    tablet: YardTablet | None = None

    def local(self, day: dt.date, hour: int, minute: int = 0) -> dt.datetime:
        return dt.datetime.combine(day, dt.time(hour, minute), tzinfo=self.setting.site.zone)

    # -- the store ---------------------------------------------------------------------

    def restock(self, day: dt.date) -> None:
        """Order whatever runs low, and take it in at eight in the morning."""
        held = store.burnable_lots(self.setting.site)
        for kind, least in ORDER_BELOW.items():
            product = self.setting.products[kind]
            on_hand = sum(lot.balance.on_hand for lot in held if lot.product_id == product.pk)
            if on_hand < least:
                self.deliver(kind, Decimal(ORDERED[kind]), day)

    def deliver(
        self, kind: str, count: Decimal, day: dt.date, *, mean: float = 8.0, accept: bool = True,
        bay: Bay | None = None,
    ) -> Lot:  # fmt: skip
        setting, at = self.setting, self.local(day, 7, 40)
        product, by = setting.products[kind], setting.people["stores"]
        self.lot_number += 1
        self.docket_number += self.chance.randint(1, 9)
        sheet = self._weighed(product) if product.is_board else None
        code = f"L-{self.lot_number:04d}"
        delivery = stock.receive_delivery(
            setting.site, supplier=self.chance.choice(setting.suppliers),
            docket=f"D{self.docket_number}", delivered_at=at, untreated=True, by=by, at=at,
            lots=[
                stock.LotReceived(
                    product, code, count, bay or self.chance.choice(setting.bays), sheet,
                    unit_cost=cost_of(kind, day), marks=NONE_SEEN,
                    mill_mark=f"M7-{self.docket_number % 97:02d}" if product.is_board else "",
                    emission_class="E1" if product.is_board else "",
                )
            ],
        )  # fmt: skip
        lot = delivery.lots.get()
        if product.is_board:
            self.read(lot, mean, at + dt.timedelta(minutes=30))
        if accept:
            stock.accept_lot(lot, by=by, at=at + dt.timedelta(minutes=40))
        return lot

    def _weighed(self, product: Any) -> Decimal:
        volume = product.length_m * product.width_m * product.thickness_mm / 1000
        nominal = float(volume * product.density_kg_m3)
        return Decimal(f"{nominal * self.chance.uniform(0.97, 1.03):.1f}")

    def read(self, lot: Lot, mean: float, at: dt.datetime) -> None:
        readings = [Decimal(f"{max(4.5, self.chance.gauss(mean, 0.7)):.1f}") for _board in range(8)]
        stock.record_readings(
            lot, readings=readings, meter="pin meter 2", read_at=at,
            by=self.setting.people["stores"], at=at,
        )  # fmt: skip

    def recheck(self, day: dt.date) -> None:
        """Read again what was not read for a month."""
        at = self.local(day, 7, 20)
        due = {lot.pk for lot in due_for_reading(self.setting.site, at, shown=100).lots}
        for lot in store.lots_of(self.setting.site).filter(pk__in=due):
            mean = self.weather.uniform(7.6, 8.8) if lot.burnable else 13.6
            stock.record_readings(
                lot, meter="pin meter 2", read_at=at, by=self.setting.people["stores"], at=at,
                readings=[Decimal(f"{self.weather.gauss(mean, 0.5):.1f}") for _board in range(8)],
            )  # fmt: skip

    def log_air(self, day: dt.date) -> None:
        """The logger of each bay is read out: one line a day since the last time."""
        first = (self.logged_until or day - dt.timedelta(days=14)) + dt.timedelta(days=1)
        days = [first + dt.timedelta(days=step) for step in range((day - first).days + 1)]
        for place, bay in enumerate(self.setting.bays):
            air = [self._air(each, place) for each in days]
            record_climate(bay, air, by=self.setting.people["stores"], at=self.local(day, 7, 10))
        self.logged_until = day

    def _air(self, day: dt.date, place: int) -> Air:
        """Cold and damp in winter; the further bay is the damper one."""
        summer = math.cos((day.timetuple().tm_yday - 200) / 365 * 2 * math.pi)
        warm = 10 + 7 * summer + self.weather.gauss(0, 1.5)
        damp = 56 - 6 * summer + 3 * place + self.weather.gauss(0, 3)
        return Air(self.local(day, 7), Decimal(f"{warm:.1f}"), Decimal(f"{min(damp, 96):.1f}"))

    # -- a burn, from plan to close ------------------------------------------------------

    def content(
        self, unit: Unit, nth: int, starts_at: dt.datetime, *, extra: int = 0
    ) -> PlanContent:
        charge = CHARGES[unit.name][nth - 1]
        positions = {place.name: place for place in unit.positions.all()}
        lines = tuple(
            Line(positions[name], self.setting.products[kind], Decimal(count + (extra if order == 0 else 0)))
            for order, (name, kind, count) in enumerate(charge)
        )  # fmt: skip
        exercise = EXERCISES[unit.name]
        return PlanContent(
            unit=unit, exercise=exercise, starts_at=starts_at,
            ends_at=starts_at + dt.timedelta(minutes=45), water_l=Decimal(18000),
            objective=OBJECTIVES[exercise], abort_criteria=ABORT, charge=lines,
            crew=self._crew(starts_at, 6 if unit.name == "Unit 1" else 4),
            stated=(("burn.medic_on_site", "yes"),),
        )  # fmt: skip

    def _crew(self, starts_at: dt.datetime, learners: int) -> tuple[Place, ...]:
        people = self.setting.people
        lead, first, second, setter, observer = self.chance.sample(INSTRUCTORS, 5)
        safety = people[self.chance.choice(("safety", "safety2"))]
        names = [
            name
            for name in self.setting.learners
            if name.startswith(f"Course {starts_at.year % 100}")
        ] or list(self.setting.learners)
        group = self.chance.sample(self.setting.learners[self.chance.choice(names)], learners)
        staff = (
            (lead, Duty.IN_CHARGE), (first, Duty.CREW), (second, Duty.CREW),
            (setter, Duty.IGNITION), (observer, Duty.OBSERVER),
        )  # fmt: skip
        return (
            *(Place(people[name], duty) for name, duty in staff),
            Place(safety, Duty.SAFETY),
            *(Place(person, Duty.LEARNER) for person in group),
        )

    def author(self, content: PlanContent) -> Person:
        return content.people_in(Duty.IN_CHARGE)[0]

    def planned(self, content: PlanContent, at: dt.datetime) -> Plan:
        """Drafted, submitted and approved, some days before the burn."""
        author = self.author(content)
        plan = plans.draft_plan(self.setting.site, content, by=author, at=at)
        return self.approved(plan, author, at)

    def approved(self, plan: Plan, author: Person, at: dt.datetime) -> Plan:
        version = current_version(plan)
        plans.submit_plan(
            plan, seen_hash=version.content_hash, by=author, at=at + dt.timedelta(minutes=20)
        )
        manager = self.setting.people[self.chance.choice(MANAGERS)]
        plans.approve_plan(
            plan, meaning="approval to burn as planned", shown_hash=version.content_hash,
            by=manager, at=at + dt.timedelta(hours=3),
        )  # fmt: skip
        return plan

    def issue(self, plan: Plan, at: dt.datetime) -> None:
        """The oldest accepted lots first, as the store does."""
        handouts = suggested_handouts(current_version(plan))
        plans.issue_charge(plan, handouts, by=self.setting.people["stores"], at=at)

    def burn(self, plan: Plan, *, close: Callable[[Burn, dt.datetime], None] | None = None) -> Burn:
        """Issue, light, watch and close one approved plan."""
        version = current_version(plan)
        self.issue(plan, version.starts_at - dt.timedelta(minutes=50))
        lit = version.starts_at + dt.timedelta(minutes=self.chance.randint(-4, 9))
        lead = next(place.person for place in version.crew.all() if place.duty == Duty.IN_CHARGE)
        weather, whole = self.chance.choice(WEATHER), has_day(plan, lit)
        if whole:
            prepare(plan, lit)
        burn = burns.start_burn(
            plan, checks={} if whole else {str(item): True for item in PRE_BURN},
            ignition_method="gas burner", weather="" if whole else weather, by=lead,
            ignited_at=lit, at=lit,
        )  # fmt: skip
        self._watch(burn, lead, lit)
        ended = lit + dt.timedelta(minutes=self.chance.randint(24, 38))
        (close or self.close)(burn, ended)
        log_burn(burn, random.Random(len(self.burned)))
        self.burned.append(burn)
        return burn

    def _watch(self, burn: Burn, lead: Person, lit: dt.datetime) -> None:
        def note(minute: float, kind: str, **seen: Any) -> None:
            when = lit + dt.timedelta(minutes=minute)
            burns.note_event(burn, kind=kind, happened_at=when, by=lead, at=when, **seen)

        growth = self.chance.uniform(2, 4)
        high = Decimal(f"{self.chance.uniform(1.5, 1.9):.2f}")
        if len(self.burned) % 3 == 2:  # every third was watched on the tablet of the yard
            self._tablet(lit).watch(burn, lead, growth, high)
            self._tablet(lit).let_in(burn, lead, random.Random(len(self.burned)))
            return
        note(growth, EventKind.STAGE, stage=FireStage.GROWTH)
        note(growth + 1.5, EventKind.NEUTRAL_PLANE, height_m=high)
        note(growth + 3.0, EventKind.NEUTRAL_PLANE, height_m=high - Decimal("0.40"))
        note(growth + 4.0, EventKind.STAGE, stage=FireStage.FULLY_DEVELOPED)
        note(growth + 4.5, EventKind.WATER, note="short pulses into the layer")
        vents = [each.public_id for each in burn.unit.openings.all()]
        note(growth + 6.0, EventKind.VENT_OPENED, opening=vents[-1])
        note(growth + 14.0, EventKind.STAGE, stage=FireStage.DECAY)

    def _tablet(self, at: dt.datetime) -> YardTablet:
        if self.tablet is None:
            admin = self.setting.people["admin"]
            self.tablet = YardTablet.enrolled(self.setting.site, by=admin, at=at)
        return self.tablet

    def close(self, burn: Burn, ended: dt.datetime, *, short: int = 0, defect: Any = None) -> None:
        """Close with all issued boards used, or with ``short`` boards left over and returned."""
        plan = burn.version.plan
        issued = _issued(burn)
        first = next(iter(issued))
        used = {key: count - (short if key == first else 0) for key, count in issued.items()}
        checks = {str(item): True for item in POST_BURN}
        if defect is not None:
            checks[str(POST_BURN[-1])] = False
        if has_day(plan, burn.ignited_at):
            remark(burn, ended)
        burns.close_burn(
            burn, ended_at=ended, used=used, checks=checks, note="", by=burn.started_by,
            defect=defect, after=after(burn), at=ended + dt.timedelta(minutes=25),
        )  # fmt: skip
        if short:
            back = ended + dt.timedelta(minutes=70)
            lot = Lot.objects.get(public_id=first)
            burns.return_boards(
                plan, lot, Decimal(short), returned_at=back,
                by=self.setting.people["stores"], at=back,
            )  # fmt: skip

    # -- the unit --------------------------------------------------------------------------

    def inspect(self, unit: Unit, day: dt.date, note: str) -> None:
        """Look the unit over, gauge its walls at marked points, calibrate what measures in it."""
        by, at = self.setting.people["inspector"], self.local(day, 12)
        self._mark_walls(unit, at)
        chance = random.Random(f"{unit.name} {day}")  # its own: the story goes on as it did
        calibrate_sensors(
            unit, against="dry block, certificate DB-17", done_on=day, by=by, at=at,
            read={
                sensor.public_id: (Decimal(400), Decimal(f"{400 + chance.gauss(0, 1.3):.1f}"))
                for sensor in unit.sensors.all()
            },
        )  # fmt: skip
        inspections.inspect_unit(
            unit, outcome=Outcome.GOOD, done_at=self.local(day, 9), note=note,
            items=all_in_order(), readings=self._gauged(unit), by=by, at=at,
            gauge=Gauge("UT-2", Decimal(5), Decimal("5.02"), day),
        )  # fmt: skip

    def _mark_walls(self, unit: Unit, at: dt.datetime) -> None:
        """A grid on the left wall and a row in the roof, once."""
        if points_of(unit):
            return
        for wall, letters, columns, rows in (("left", "W", 6, 2), ("roof", "R", 5, 1)):
            mark_points(
                unit, wall=wall, letters=letters, nominal_mm=Decimal(2), columns=columns,
                rows=rows, by=self.setting.people["inspector"], at=at,
            )  # fmt: skip

    def _gauged(self, unit: Unit) -> dict[str, list[Decimal]]:
        """A wall that loses most low at the burn end, read twice to a hundredth of a millimetre."""
        worn = Counter(self.gauged)[unit.pk] + 0.6
        self.gauged.append(unit.pk)
        chance, found = random.Random(f"{unit.name} {worn}"), {}
        for point in points_of(unit):
            along, up = float(point.along_m or 0), float(point.up_m or 0)
            left = 2.0 - worn * (0.012 + 0.05 * math.exp(-along / 3 - up / 4))
            found[point.mark] = [
                Decimal(f"{left + chance.uniform(-0.008, 0.008):.2f}") for _twice in range(2)
            ]
        return found


def cost_of(kind: str, day: dt.date) -> Decimal:
    """The price of a board, or of a kg or litre: invented, and a little dearer every quarter."""
    quarters = (day.year - 2024) * 4 + (day.month - 1) // 3
    return (PRICES[kind] * (100 + quarters) / 100).quantize(Decimal("0.01"))


def current_version(plan: Plan) -> PlanVersion:
    version = plan_here(plan.site, plan.public_id).current
    assert version is not None
    return version


def _issued(burn: Burn) -> dict[str, Decimal]:
    totals: dict[str, Decimal] = {}
    for issue in burn.version.issues.select_related("lot").order_by("id"):
        key = issue.lot.public_id
        totals[key] = totals.get(key, Decimal(0)) + issue.quantity
    return totals


def tell(teller: Teller, first_day: dt.date, last_day: dt.date) -> None:
    """Every training day from the first to the last, in order, with what went wrong on the way."""
    for unit in teller.setting.units:
        teller.inspect(unit, first_day - dt.timedelta(days=3), "before the season")
    for number, day in enumerate(_training_days(first_day, last_day)):
        _trouble(teller, number, day)
        teller.restock(day)
        if number % 4 == 0:
            teller.log_air(day)
            teller.recheck(day)
        _burn_day(teller, number, day)


def _training_days(first: dt.date, last: dt.date) -> list[dt.date]:
    """Tuesdays from March to November, up to the day before the last."""
    days = (first + dt.timedelta(days=step) for step in range((last - first).days))
    return [day for day in days if day.weekday() == 1 and 3 <= day.month <= 11]


def _burn_day(teller: Teller, number: int, day: dt.date) -> None:
    """One unit burned once or twice; on every third day a second one in the afternoon as well."""
    units = teller.setting.units
    first, second = units[number % 3], units[(number + 1) % 3]
    if not _is_down(first, teller.local(day - dt.timedelta(days=2), 9)):
        count = 2 if first.name == "Unit 2" else teller.chance.choice((1, 1, 2))
        _burn_unit(teller, number, first, day, [(9, 30), (11, 30)][:count])
    if number % 3 == 0 and not _is_down(second, teller.local(day - dt.timedelta(days=2), 9)):
        _burn_unit(teller, number, second, day, [(14, 0)])


def _burn_unit(
    teller: Teller, number: int, unit: Unit, day: dt.date, times: list[tuple[int, int]]
) -> None:
    approved = []
    for nth, (hour, minute) in enumerate(times, start=1):
        content = teller.content(unit, nth, teller.local(day, hour, minute))
        written = teller.local(day - dt.timedelta(days=2), 9 + nth)
        approved.append(_plan(teller, number, nth, content, written))
    for plan in approved:
        if _is_down(unit, teller.local(day, 18)):
            plans.withdraw_plan(
                plan, reason="The unit went out of service after the burn before",
                by=teller.setting.people["manager"], at=teller.local(day, 18),
            )  # fmt: skip
            continue
        short = 1 if teller.chance.random() < 0.12 else 0
        teller.burn(plan, close=_closing(teller, number, day, unit, short))


def _plan(teller: Teller, number: int, nth: int, content: PlanContent, at: dt.datetime) -> Plan:
    """Most plans pass at once; some days one is refused over the cap, or sent back, first."""
    author = teller.author(content)
    if nth == 1 and number % 31 == 9:
        return _refused_then_lighter(teller, content, author, at)
    if nth == 1 and number % 37 == 20:
        return _sent_back_then_better(teller, content, author, at)
    return teller.planned(content, at)


def _refused_then_lighter(
    teller: Teller, content: PlanContent, author: Person, at: dt.datetime
) -> Plan:
    heavy = teller.content(content.unit, 1, content.starts_at, extra=2)
    plan = plans.draft_plan(teller.setting.site, heavy, by=author, at=at)
    try:
        plans.submit_plan(
            plan,
            seen_hash=current_version(plan).content_hash,
            by=author,
            at=at + dt.timedelta(minutes=5),
        )
    except LimitExceeded:
        teller.refused.append(plan)
    plans.revise_plan(plan, content, seen_version=1, by=author, at=at + dt.timedelta(minutes=12))
    return teller.approved(plan, author, at + dt.timedelta(minutes=15))


def _sent_back_then_better(
    teller: Teller, content: PlanContent, author: Person, at: dt.datetime
) -> Plan:
    plan = plans.draft_plan(teller.setting.site, content, by=author, at=at)
    shown = current_version(plan).content_hash
    plans.submit_plan(plan, seen_hash=shown, by=author, at=at + dt.timedelta(minutes=10))
    plans.send_back_plan(
        plan, reason="Name the second way out in the briefing, and who watches it.",
        shown_hash=shown, by=teller.setting.people["manager"], at=at + dt.timedelta(minutes=50),
    )  # fmt: skip
    plans.revise_plan(plan, content, seen_version=1, by=author, at=at + dt.timedelta(minutes=80))
    return teller.approved(plan, author, at + dt.timedelta(minutes=90))


HINGE = inspections.DefectFound(
    "unsafe",
    "entry door, lower hinge",
    "Lower hinge pulled from the frame, door drags and jams when hot",
)
SEAL = inspections.DefectFound(
    "monitor", "main doors, left leaf", "Door seal burned away over 30 cm"
)


def _closing(
    teller: Teller, number: int, day: dt.date, unit: Unit, short: int
) -> Callable[[Burn, dt.datetime], None]:
    defect = HINGE if number == 46 and unit.name == "Unit 2" else None
    defect = SEAL if number == 63 and unit.name == "Unit 1" else defect

    def close(burn: Burn, ended: dt.datetime) -> None:
        down = (
            defect
            if not burn.unit.defects.filter(description=getattr(defect, "description", "")).exists()
            else None
        )
        teller.close(burn, ended, short=short, defect=down)

    return close


def _is_down(unit: Unit, at: dt.datetime) -> bool:
    unsafe = unit.defects.filter(severity="unsafe", found_at__lte=at)
    return unsafe.exclude(release__released_at__lte=at).exists()


def _trouble(teller: Teller, number: int, day: dt.date) -> None:
    """What is not routine: a wet lot, a repair, a correction, a count that is off, inspections."""
    setting = teller.setting
    if number in (30, 74):
        wet = teller.deliver("particle_board", Decimal(40), day, mean=15.2, accept=False)
        stock.hold_lot(
            wet, reason="Pallet stood in the rain, mean over 15 %", by=setting.people["stores"],
            at=teller.local(day, 9),
        )  # fmt: skip
    if number == 49:
        _repair(teller, setting.units[1], day)
    if number == 52:
        inspections.inspect_unit(
            setting.units[0], outcome=Outcome.MONITOR, done_at=teller.local(day, 8),
            kind="engineer", items=all_in_order("engineer"), note="report KM-E-2 in the unit file",
            looks={"roof": Look("monitor", "sags a little between the ribs, no crack")},
            by=setting.people["inspector"], at=teller.local(day, 9),
        )  # fmt: skip
    if number == 36:
        calibrate_meter(
            setting.meters["pin meter 2"], calibrated_on=day, due_on=day + dt.timedelta(days=420),
            note="checked on the 12 % and 18 % blocks", by=setting.people["stores"],
            at=teller.local(day, 7),
        )  # fmt: skip
    if number in (24, 66):
        _correct(teller, day)
    if number in (35, 68):
        _count_is_off(teller, day)
    if number in (40, 70):
        _count_the_store(teller, day)
    if number in (20, 69):
        _cut_some(teller, day)
    if day.day <= 7:
        _ash(teller, day)
    if number in (30, 60):
        for unit in setting.units:
            teller.inspect(unit, day - dt.timedelta(days=1), "by burns, before the limit")


def _repair(teller: Teller, unit: Unit, day: dt.date) -> None:
    defect = unit.defects.filter(severity="unsafe", release__isnull=True).first()
    if defect is None:
        return
    people = teller.setting.people
    inspections.record_repair(
        defect, what="New hinge plate welded on, frame straightened, door swung hot and cold",
        done_by=people["inspector"], done_at=teller.local(day - dt.timedelta(days=1), 15),
        by=people["inspector"], at=teller.local(day - dt.timedelta(days=1), 16),
        contractor="Fellgate Welding", material="hinge plate 10 mm, two bolts M16",
        cost=Decimal("340.00"),
    )  # fmt: skip
    inspections.verify_repair(
        defect, checked="Door swung hot and cold ten times; welds by eye, gap at the seal 2 mm",
        holds=True, done_at=teller.local(day, 7, 30), by=people["inspector2"],
        at=teller.local(day, 7, 40),
    )  # fmt: skip
    inspections.release_unit(
        defect, statement="Door opens and closes freely, welds sound; fit for burning",
        by=people["inspector2"], at=teller.local(day, 8),
    )  # fmt: skip


def _correct(teller: Teller, day: dt.date) -> None:
    """Two days later someone finds that one board less was burned than written."""
    burn = Burn.objects.get(pk=teller.burned[-1].pk)
    report = burn.current
    assert report is not None
    used = {fuel.lot.public_id: fuel.used for fuel in report.fuel.select_related("lot")}
    key = next(iter(used))
    used[key] -= 1
    burns.correct_burn(
        burn, seen_report=report.number, ended_at=report.ended_at, used=used, note=report.note,
        why="Counted the rack again: one board stayed unburned behind the baffle",
        by=burn.started_by, at=teller.local(day, 8),
    )  # fmt: skip


def _count_is_off(teller: Teller, day: dt.date) -> None:
    boards = [lot for lot in store.burnable_lots(teller.setting.site) if lot.product.is_board]
    lot = next((lot for lot in boards if lot.balance.on_hand >= 3), None)
    if lot is not None:
        count = counting.adjust_stock(
            lot, counted_now=lot.balance.on_hand - 1,
            reason="Count by bay: one sheet broken by the fork-lift and scrapped",
            by=teller.setting.people["stores2"], at=teller.local(day, 16),
        )  # fmt: skip
        _approve_count(teller, count, teller.local(day, 17))


def _approve_count(teller: Teller, count: Stocktake, at: dt.datetime) -> None:
    """What is over the threshold is looked into by a burn manager the same day."""
    if count.lines.filter(state=CountState.SIGNED).exists():
        shown = counting.content_hash(count, CountState.SIGNED)
        counting.approve_stocktake(
            count, shown_hash=shown, by=teller.setting.people["manager"], at=at
        )


def _count_the_store(teller: Teller, day: dt.date) -> None:
    """Every lot counted between the burns; one board short somewhere, one lot left for later."""
    people, at = teller.setting.people, teller.local(day, 7)
    stocktake = counting.start_stocktake(teller.setting.site, by=people["stores2"], at=at)
    lines = list(stocktake.lines.select_related("lot__balance", "lot__product"))
    counts = [counting.Count(line.lot, line.lot.balance.on_hand) for line in lines[1:]]
    short = next((each for each in counts if each.lot.product.is_board and each.counted > 12), None)
    if short is not None:
        found = counting.Count(short.lot, short.counted - 1, "One sheet used as a shelf, marked")
        counts[counts.index(short)] = found
    counting.enter_counts(
        stocktake, counts, counted_at=at + HOUR / 2, by=people["stores2"], at=at + HOUR
    )
    counting.sign_stocktake(
        stocktake, shown_hash=counting.content_hash(stocktake, CountState.COUNTED),
        by=people["stores2"], at=at + HOUR,
    )  # fmt: skip


def _cut_some(teller: Teller, day: dt.date) -> None:
    """Half sheets for the crib, cut with a thin blade, the strips kept."""
    boards = [
        lot for lot in store.burnable_lots(teller.setting.site) if lot.balance.available >= 12
    ]
    lot = next((lot for lot in boards if lot.product.kind == "osb"), None)
    if lot is not None:
        length = (lot.product.length_m / 2 - Decimal("0.05")).quantize(Decimal("0.01"))
        pattern = cutting.Pattern(length, Decimal("0.6"), Decimal(3))
        cutting.cut_sheets(
            lot, sheets=Decimal(2), pattern=pattern, code=f"{lot.code}-C", keep_offcuts=True,
            by=teller.setting.people["stores"], at=teller.local(day, 8),
        )  # fmt: skip


def _ash(teller: Teller, day: dt.date) -> None:
    """A container a month, cold since the week before, signed off by the safety officer."""
    people, at = teller.setting.people, teller.local(day, 15)
    mass = Decimal(f"{teller.chance.uniform(60, 140):.1f}")
    row = waste.record_waste(
        teller.setting.site,
        waste.Waste(
            kind="ash", docket=f"A{day:%y%m}", container="Steel skip 3, lid closed", mass_kg=mass,
            destination="Licensed landfill, Moor Lane", cooled_since=at - dt.timedelta(days=6),
            weighed_at=at, untreated=True, unburnt_kg=Decimal("4.5"),
        ),
        by=people["stores"], at=at,
    )  # fmt: skip
    waste.sign_off_waste(row, shown_hash=waste.waste_hash(row), by=people["safety"], at=at + HOUR)

"""A small ground, built through the services as its users would build it.

The cast is by role, never by name. Figures are round, so that sums can be checked by hand:
a board of 2.5 m x 1.0 m x 20 mm at 500 kg/m3 oven-dry holds 25 kg of dry wood.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.db import connection
from django.db.models.sql import InsertQuery
from django.utils import timezone

from facility.kinds import Duty
from facility.people import totp
from facility.people.models import Person, SecondFactor
from facility.people.permissions import Role
from facility.rulebook.models import Edition
from facility.sites.models import Bay, Site, Unit
from records.accounts import second_factor
from records.burns import before
from records.burns import services as burns
from records.burns.models import Burn
from records.burns.readiness import fit_hash, items_for, places_on_the_day
from records.capture import services as capture
from records.capture.models import LoggerFile
from records.ground import services as ground
from records.inspections import services as inspections
from records.inspections.checklists import POST_BURN, PRE_BURN, all_in_order
from records.plans import services as plans
from records.plans.content import Line, Place, PlanContent
from records.plans.models import Plan
from records.plans.oldest import passed_over
from records.plans.selectors import plan_here, suggested_handouts
from records.standard import services as standard
from records.stock import counting, measuring
from records.stock import services as stock
from records.stock.marks import CODES
from records.stock.models import Lot, Meter, Product
from records.stock.rounds import needed_for

PASSWORD = "a long enough password"
# A Wednesday morning in winter; the ground lies in a zone of its own, so that a day of the
# ground and a day of UTC differ.
NOW = dt.datetime(2026, 2, 4, 8, 0, tzinfo=dt.UTC)
ZONE = "Pacific/Auckland"
DRY_MASS_KG = 25.0

ROWS: list[dict[str, Any]] = [
    {"code": "P-01", "title": "Learners to each crew instructor", "fact": "people.learners_per_instructor", "comparison": "<=", "limit": Decimal(5)},
    {"code": "P-06", "title": "Instructor in charge named", "fact": "crew.in_charge", "comparison": "=", "limit": Decimal(1)},
    {"code": "P-07", "title": "Safety officer named", "fact": "crew.safety", "comparison": ">=", "limit": Decimal(1)},
    {"code": "P-08", "title": "Safety officer has no other duty", "fact": "crew.safety_distinct", "comparison": "true"},
    {"code": "C-03", "title": "Qualified that day", "fact": "crew.qualified", "comparison": "true"},
    {"code": "F-03", "title": "Every lot known and accepted", "fact": "charge.lots_accepted", "comparison": "true"},
    {"code": "F-05", "title": "Starter liquid", "fact": "charge.liquid", "comparison": "<=", "limit": Decimal(0)},
    {"code": "F-07", "title": "Energy in the charge", "fact": "charge.energy", "comparison": "<=", "limit": Decimal(2000)},
    {"code": "F-15", "title": "Moisture of the wettest lot", "fact": "charge.moisture_highest", "comparison": "<=", "limit": Decimal(12)},
    {"code": "U-03", "title": "Unit in service", "fact": "unit.in_service", "comparison": "true"},
    {"code": "U-04", "title": "Days since the structural inspection", "fact": "unit.days_since_inspection", "comparison": "<=", "limit": Decimal(365)},
    {"code": "U-13", "title": "Burns since the structural inspection", "fact": "unit.burns_since_inspection", "comparison": "<=", "limit": Decimal(3)},
]  # fmt: skip


def rows(**limits: str) -> list[dict[str, Any]]:
    """The rows of the small standard, with other limits for the codes named (``F_07="900"``)."""
    changed = {code.replace("_", "-"): Decimal(limit) for code, limit in limits.items()}
    return [
        {"severity": "block", "clause": "test standard", "basis": "local", **row}
        | ({"limit": changed[row["code"]]} if row["code"] in changed else {})
        for row in ROWS
    ]


@dataclass
class Ground:
    """A founded ground. ``cast`` holds one person for each role, and spares."""

    site: Site
    cast: dict[str, Person]
    learners: list[Person] = field(default_factory=list)
    unit: Unit = None  # type: ignore[assignment]
    bay: Bay = None  # type: ignore[assignment]
    meter: Meter = None  # type: ignore[assignment]
    board: Product = None  # type: ignore[assignment]
    kindling: Product = None  # type: ignore[assignment]
    liquid: Product = None  # type: ignore[assignment]
    edition: Edition = None  # type: ignore[assignment]

    def __getattr__(self, name: str) -> Any:
        """``ground.stores`` is the stores officer, and so on."""
        try:
            return self.__dict__["cast"][name]
        except KeyError:
            raise AttributeError(name) from None


STAFF = {
    "stores": Role.STORES, "stores_two": Role.STORES, "manager": Role.MANAGER,
    "manager_two": Role.MANAGER, "instructor": Role.INSTRUCTOR, "instructor_two": Role.INSTRUCTOR,
    "setter": Role.INSTRUCTOR, "observer": Role.INSTRUCTOR, "safety": Role.SAFETY,
    "inspector": Role.INSPECTOR, "inspector_two": Role.INSPECTOR, "auditor": Role.AUDITOR,
}  # fmt: skip
QUALIFIED = {"instructor": "live_fire", "instructor_two": "live_fire", "setter": "live_fire", "observer": "live_fire", "manager": "live_fire", "safety": "safety"}  # fmt: skip


def found_ground(name: str = "Test ground", *, at: dt.datetime = NOW) -> Ground:
    """A ground with a cast, one unit, products and a standard in force, a week old."""
    start = at - dt.timedelta(days=7)
    prefix = name.split()[0].lower()
    site, admin = ground.found_ground(
        name=name, time_zone=ZONE, admin_name="The administrator", admin_sign_in=f"{prefix}-admin",
        password=PASSWORD, at=start,
    )  # fmt: skip
    made = Ground(site, {"admin": admin})
    _cast(made, prefix, start)
    _place(made, start)
    _standard(made, start)
    _fuel(made, start)
    return made


def _cast(made: Ground, prefix: str, at: dt.datetime) -> None:
    day = at.date()
    for key, role in STAFF.items():
        made.cast[key] = ground.add_person(
            made.site, name=f"The {key.replace('_', ' ')}", sign_in=f"{prefix}-{key}",
            password=PASSWORD, lasting=True, role=role, since=day, by=made.admin, at=at,
        )  # fmt: skip
    for key, kind in QUALIFIED.items():
        ground.record_competence(
            made.site, made.cast[key], kind=kind, issued_on=day,
            expires_on=day + dt.timedelta(days=900), by=made.admin, at=at,
        )  # fmt: skip
    made.learners = [
        ground.add_person(
            made.site, name=f"Learner {number}", role=Role.LEARNER, course="Course A", since=day,
            by=made.admin, at=at,
        )
        for number in range(1, 8)
    ]  # fmt: skip


def _place(made: Ground, at: dt.datetime) -> None:
    made.bay = ground.add_bay(made.site, name="Bay 1", by=made.stores, at=at)
    made.meter = add_meter(made, "meter", at=at)
    add_meter(made, "pin meter", at=at)
    made.unit = commission(made, "Unit 1", at=at)


def add_meter(made: Ground, name: str, *, at: dt.datetime = NOW, **more: Any) -> Meter:
    """A pin meter, calibrated a month before."""
    day = at.astimezone(made.site.zone).date()
    given = {"kind": "pin", "mark": "no. 1", "calibrated_on": day - dt.timedelta(days=30),
             "due_on": day + dt.timedelta(days=900), "note": "checked on the block"}  # fmt: skip
    return measuring.add_meter(made.site, name=name, by=made.stores, at=at, **{**given, **more})


def commission(
    made: Ground, name: str, *, at: dt.datetime = NOW, inspected: bool = True, days_old: int = 0
) -> Unit:
    """A demonstration unit with two positions, inspected unless told otherwise."""
    size = {"length_m": Decimal(12), "width_m": Decimal("2.4"), "height_m": Decimal("2.4")}
    unit = ground.commission_unit(
        made.site,
        description={"name": name, "kind": "demonstration", "max_people": 10, "wall": "steel",
                     "commissioned_on": at.date() - dt.timedelta(days=days_old), **size},
        openings=[{"kind": "door", "name": "door", "x_m": Decimal(12), "width_m": Decimal("2.2"),
                   "height_m": Decimal("2.1")}],
        positions=[
            {"name": "Ceiling", "surface": "ceiling", "x_m": Decimal("0.2"), "length_m": Decimal("2.5")},
            {"name": "Crib", "surface": "floor", "x_m": Decimal("0.4"), "length_m": Decimal("0.6")},
        ],
        sensors=[{"name": "T1", "x_m": Decimal(5), "z_m": Decimal("1.2")}],
        by=made.inspector, at=at,
    )  # fmt: skip
    if inspected:
        inspect(made, unit, at=at)
    return unit


def inspect(made: Ground, unit: Unit, *, at: dt.datetime, **given: Any) -> Any:
    return inspections.inspect_unit(
        unit, **{"outcome": "good", "items": all_in_order(given.get("kind", "structural")), "note": "",
                 "done_at": at, "by": made.inspector, "at": at, **given},
    )  # fmt: skip


def verify(made: Ground, defect: Any, *, at: dt.datetime = NOW, holds: bool = True) -> None:
    """What is checked after a repair, by the inspector."""
    inspections.verify_repair(
        defect, checked="swung hot and cold, welds seen", holds=holds, done_at=at,
        by=made.inspector, at=at,
    )  # fmt: skip


def _standard(made: Ground, at: dt.datetime) -> None:
    today = at.astimezone(made.site.zone).date()  # the ground's, which may be a day ahead of UTC's
    made.edition = adopt(made, "T-1", rows(), at=at, day=today)


def adopt(
    made: Ground, code: str, rule_rows: Sequence[Mapping[str, Any]], *, at: dt.datetime, day: dt.date,
    caps: Sequence[str] = ("100", "75"), units: Sequence[Unit] = (), **more: Any,
) -> Edition:  # fmt: skip
    """Propose and put in force; caps for the first and second burn of the day, in kg of dry mass."""
    chart = {
        "caps_dry_kg": [Decimal(cap) for cap in caps], "burns_before_cooling": 2,
        "cooling_min": 60, "wait_min": 30, "trial_on": day, "trial_note": "trial",
    }  # fmt: skip
    when = min(at, dt.datetime.combine(day, at.time(), at.tzinfo))
    edition = standard.draft_edition(
        made.site, code=code, title=f"Edition {code}", rows=rule_rows,
        charts=[{**chart, "unit": unit} for unit in (made.unit, *units)],
        by=made.safety, at=when, **more,
    )  # fmt: skip
    standard.propose_edition(edition, by=made.safety, at=when)
    standard.adopt_edition(edition, in_force_from=day, by=made.manager, at=when)
    edition.refresh_from_db()
    return edition


def _fuel(made: Ground, at: dt.datetime) -> None:
    sheet = stock.Sheet(Decimal("2.5"), Decimal(1), Decimal(20), Decimal(500), Decimal(0))

    def add(name: str, kind: str, **more: Any) -> Product:
        return stock.add_product(
            made.site, name=name, kind=kind, calorific_dry_mj_kg=Decimal("17.5"),
            calorific_source="EN 1991-1-2 Table E.3, wood", by=made.stores, at=at, **more,
        )  # fmt: skip

    made.board = add("Test board", "particle_board", sheet=sheet)
    made.kindling = add("Kindling", "kindling")
    made.liquid = add("Liquid", "liquid")


NONE_SEEN = dict.fromkeys(CODES, False)
# A test that types the code of a lot into a form gives it another letter: the number a lot gets
# here hangs on how many this process has made before.
_lot_codes = iter(range(1, 10**9))


def deliver(
    made: Ground,
    boards: int = 40,
    *,
    product: Product | None = None,
    at: dt.datetime = NOW,
    **more: Any,
) -> Lot:
    """A delivery of one lot, looked over, not yet read or accepted."""
    code = f"L-{next(_lot_codes)}"
    delivery = stock.receive_delivery(
        made.site, supplier="Board yard", docket=f"D-{code}", delivered_at=at, untreated=True,
        lots=[
            stock.LotReceived(
                product or made.board, code, Decimal(boards), made.bay,
                **{"marks": NONE_SEEN, **more},
            )
        ],
        by=made.stores, at=at,
    )  # fmt: skip
    return delivery.lots.get()


def read(made: Ground, lot: Lot, *readings: str, at: dt.datetime = NOW) -> None:
    """Readings of a lot, or a whole dry round of as many as its plan asks for."""
    values = [Decimal(each) for each in readings or ["8.0"] * needed_for(lot)]
    stock.record_readings(lot, readings=values, meter="meter", read_at=at, by=made.stores, at=at)


def accepted_lot(made: Ground, boards: int = 40, *, at: dt.datetime = NOW, **more: Any) -> Lot:
    lot = deliver(made, boards, at=at, **more)
    if lot.product.is_board:
        read(made, lot, at=at)
    stock.accept_lot(lot, by=made.stores, at=at)
    return lot


def content(made: Ground, boards: int = 3, **changes: Any) -> PlanContent:
    """A plan that meets the small standard: three boards, 75 kg dry, tomorrow morning."""
    starts_at = changes.pop("starts_at", NOW + dt.timedelta(days=1))
    position = made.unit.positions.get(name="Ceiling")
    whole = PlanContent(
        unit=made.unit, exercise="demonstration", starts_at=starts_at,
        ends_at=starts_at + dt.timedelta(minutes=45), water_l=Decimal(12000),
        objective="Show the growth of a fire", abort_criteria="Stop when the layer drops",
        charge=(Line(position, made.board, Decimal(boards)),), crew=crew(made),
    )  # fmt: skip
    return replace(whole, **changes)


def code_of(seed: str, at: dt.datetime) -> str:
    """What the person's phone shows at that moment."""
    return totp.code_at(second_factor.key_of(seed), totp.step_at(at.timestamp()))


def with_factor(person: Person, at: dt.datetime | None = None) -> str:
    """Give the person a second factor, once; gives its seed."""
    held = SecondFactor.objects.filter(person=person).exclude(seed="").first()
    if held:
        return held.seed
    at = at or timezone.now()
    sealed = second_factor.offer(person)
    seed = second_factor.seed_offered(person, sealed)
    site = person.roles.get().site
    # Half a minute ago, so that the code of now has not been used.
    then = at - dt.timedelta(seconds=totp.STEP_S)
    second_factor.switch_on(site, person, sealed=sealed, code=code_of(seed, then), at=then)
    return seed


def crew(made: Ground, learners: int = 3) -> tuple[Place, ...]:
    named = {
        Duty.IN_CHARGE: made.instructor, Duty.CREW: made.instructor_two, Duty.IGNITION: made.setter,
        Duty.OBSERVER: made.observer, Duty.SAFETY: made.safety,
    }  # fmt: skip
    return (
        *(Place(person, duty) for duty, person in named.items()),
        *(Place(person, Duty.LEARNER) for person in made.learners[:learners]),
    )


def drafted(
    made: Ground, plan_content: PlanContent | None = None, *, at: dt.datetime = NOW
) -> Plan:
    return plans.draft_plan(made.site, plan_content or content(made), by=made.instructor, at=at)


def hash_of(plan: Plan) -> str:
    return plan_here(plan.site, plan.public_id).version.content_hash


def approve(made: Ground, plan: Plan, *, at: dt.datetime = NOW) -> None:
    """Submit the newest version and approve it."""
    plans.submit_plan(plan, seen_hash=hash_of(plan), by=made.instructor, at=at)
    meaning = "approval to burn as planned"
    plans.approve_plan(plan, meaning=meaning, shown_hash=hash_of(plan), by=made.manager, at=at)


def issue(made: Ground, plan: Plan, *, at: dt.datetime = NOW) -> None:
    """Issue what the store would put forward."""
    handouts = suggested_handouts(plan_here(made.site, plan.public_id).version)
    departures = passed_over(made.site, handouts)
    why = "the plan names this lot" if departures else ""
    plans.issue_charge(plan, handouts, by=made.stores, why_younger=why, at=at)


def counted(made: Ground, lot: Lot, boards: int, *, at: dt.datetime = NOW) -> None:
    """The lot is counted, and a manager approves however far off that is."""
    stocktake = counting.adjust_stock(
        lot, counted_now=Decimal(boards), reason="counted", by=made.stores, at=at
    )
    if stocktake.lines.filter(state="count_signed").exists():
        counting.approve_stocktake(
            stocktake, shown_hash=counting.content_hash(stocktake, "count_signed"), by=made.manager,
            at=at,
        )  # fmt: skip


def submitted(
    made: Ground, plan_content: PlanContent | None = None, *, at: dt.datetime = NOW
) -> Plan:
    plan = drafted(made, plan_content, at=at)
    plans.submit_plan(plan, seen_hash=hash_of(plan), by=made.instructor, at=at)
    return plan


def approved(
    made: Ground, plan_content: PlanContent | None = None, *, at: dt.datetime = NOW
) -> Plan:
    plan = drafted(made, plan_content, at=at)
    approve(made, plan, at=at)
    return plan


def issued(made: Ground, plan_content: PlanContent | None = None, *, at: dt.datetime = NOW) -> Plan:
    plan = approved(made, plan_content, at=at)
    issue(made, plan, at=at)
    return plan


def everyone(plan: Plan) -> list[str]:
    version = plan_here(plan.site, plan.public_id).version
    return [place.person.public_id for place in version.crew.all()]


def checked_off(plan: Plan, *, by: Person, at: dt.datetime) -> None:
    """Every item of the check list looked at and in order."""
    version = plan_here(plan.site, plan.public_id).version
    looks = {item.code: before.Look(True) for item in items_for(plan.site, version.starts_at)}
    before.look_at(plan, looks, seen_at=at, by=by, at=at)


def rolled(plan: Plan, *, by: Person, at: dt.datetime, **instead: Person | None) -> None:
    """The roll called: everybody planned is there, but for the duties named in ``instead``."""
    crew = plan_here(plan.site, plan.public_id).version.crew.select_related("person")
    there = {(place.duty, place.person.public_id): place.person for place in crew}
    there |= {key: instead[key[0]] for key in there if key[0] in instead}  # type: ignore[dict-item]
    here = {key: person.public_id for key, person in there.items() if person}
    before.call_roll(plan, here, by=by, at=at)


def briefed(plan: Plan, *, by: Person, at: dt.datetime) -> None:
    """Everybody there heard the briefing."""
    people = [place.person.public_id for place in places_on_the_day(plan.version)]
    before.hold_briefing(plan, people, held_at=at, by=by, at=at)


def fit(plan: Plan, *people: Person, at: dt.datetime) -> None:
    """Signed as fit to burn, by these people one after the other."""
    for person in people:
        before.sign_fit(plan, shown_hash=fit_hash(plan.version), by=person, at=at)


def lit(made: Ground, plan_content: PlanContent | None = None, *, at: dt.datetime = NOW) -> Burn:
    """A burn that runs, lit at its planned start."""
    plan = issued(made, plan_content, at=at)
    starts_at = plan_here(made.site, plan.public_id).version.starts_at
    return burns.start_burn(
        plan, checks={str(item): True for item in PRE_BURN}, present=everyone(plan),
        ignition_method="gas burner", weather="dry, calm", by=made.instructor,
        ignited_at=starts_at, at=starts_at,
    )  # fmt: skip


def used_all(burn: Burn) -> dict[str, Decimal]:
    totals: dict[str, Decimal] = {}
    for issue in burn.version.issues.select_related("lot"):
        key = issue.lot.public_id
        totals[key] = totals.get(key, Decimal(0)) + issue.quantity
    return totals


def closed(
    made: Ground, plan_content: PlanContent | None = None, *, at: dt.datetime = NOW, **given: Any
) -> Burn:
    """A burn closed half an hour after ignition, with everything issued used."""
    burn = lit(made, plan_content, at=at)
    ended = burn.ignited_at + dt.timedelta(minutes=30)
    burns.close_burn(
        burn, **{"ended_at": ended, "used": used_all(burn), "note": "", "by": made.instructor,
                 "checks": {str(item): True for item in POST_BURN}, "at": ended, **given},
    )  # fmt: skip
    return Burn.objects.get(pk=burn.pk)


_first_ground: list[tuple[Ground, list[tuple[str, Any]]]] = []


def ground_again() -> Ground:
    """The ground of ``found_ground`` in an empty database.

    The services found it once. After that the statements which lay down its rows are sent as
    they were, without a model or a query being made anew for any of them.
    """
    if not _first_ground:
        made = found_ground()
        _first_ground.append((made, _statements()))
    else:
        with connection.cursor() as cursor:
            for sql, values in _first_ground[0][1]:
                cursor.execute(sql, values)
    return deepcopy(_first_ground[0][0])


def _statements() -> list[tuple[str, Any]]:
    """What writes every row that there is now."""
    kept: list[tuple[str, Any]] = []
    for model in apps.get_models():
        rows = list(model._base_manager.order_by("pk"))
        if rows and model.__module__.startswith(("facility", "rec")):
            insert = InsertQuery(model)
            insert.insert_values(model._meta.concrete_fields, rows, raw=True)
            kept += insert.get_compiler(connection=connection).as_sql()
    return kept


LOGGED = b"Time,Ceiling,Crouch\ns,C,C\n-10,12,11\n0,20,15\n10,420,80\n20,620,90\n"


def logged(
    ground: Ground, burn: Burn, *, data: bytes = LOGGED, at: dt.datetime = NOW, **given: Any
) -> LoggerFile:
    """A logger's file taken in with a burn: ignition at its second 0."""
    usual = {"name": "unit 1.csv", "logger": "logger 1", "ignition_s": 0.0, "sensors": {},
             "by": ground.instructor}  # fmt: skip
    return capture.take_logger_file(burn, data=data, at=at, **{**usual, **given})

"""Disposing of records whose time is over: ordered by one person, carried out by another.

The log is never shortened and no row of a record is removed. What can go, and honestly, are the
texts that people typed into the log, files that were kept, and the names of learners. A safety
officer signs an order for one class up to a day; an administrator carries it out, if what would go
is still the very same.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from django.db import transaction
from django.db.models import Exists, F, OuterRef
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.people.models import Person, RoleHeld
from facility.people.permissions import Role
from facility.refusals import (
    NotHere,
    OwnWork,
    StaleVersion,
    WrongState,
    refuse_if,
    text_within,
)
from facility.sites.models import Site
from records.audit.disposing import (
    File,
    KeptDisposal,
    Text,
    disposal_line,
    dispose,
    files_left,
    texts_about,
)
from records.audit.door import door
from records.audit.erasing import NO_SIGNATURE, keep_line, wipe_free_space
from records.audit.models import Disposal, DisposalOrder, Entry, Erasure
from records.audit.selectors import names_of
from records.audit.signing import signed
from records.burns.models import Burn, BurnFuel, BurnState
from records.capture.models import LoggerFile
from records.ground.erasing import erase_behind_door
from records.ground.models import Exposure
from records.plans.models import Plan
from records.reports.retention import RetentionClass, class_of, falls_due
from records.stock.models import Delivery, DocketPicture, LotBalance, Movement

ORDER = "order: this may be disposed of"
CARRY_OUT = "carrying out: erased for good"
MOST_PEOPLE = 100  # under one order: each name is looked for in every text there is

type Files = Mapping[str, list[File]]


@dataclass(frozen=True, slots=True)
class Going:
    """What of one thing would go: texts of the log about it, files kept with it, a name."""

    obj: str
    texts: tuple[Text, ...]
    files: tuple[File, ...]
    named: bool = False

    @property
    def kind(self) -> str:
        return self.obj.partition(":")[0]

    @property
    def public_id(self) -> str:
        return self.obj.partition(":")[2]


@dataclass(frozen=True)
class Content:
    """Everything that an order covers. ``hash`` stands for the very texts, files and people."""

    kind: str
    until: dt.date
    things: tuple[Going, ...]

    @cached_property
    def texts(self) -> tuple[Text, ...]:
        return tuple(text for each in self.things for text in each.texts)

    @cached_property
    def files(self) -> tuple[File, ...]:
        return tuple(file for each in self.things for file in each.files)

    @cached_property
    def people(self) -> tuple[str, ...]:
        return tuple(each.public_id for each in self.things if each.named)

    @cached_property
    def hash(self) -> str:
        told = [
            self.kind, self.until.isoformat(),
            [[each.obj, each.texts, each.files, each.named] for each in self.things],
        ]  # fmt: skip
        return hashlib.sha256(json.dumps(told, separators=(",", ":")).encode()).hexdigest()


def _midnight_after(site: Site, day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), site.zone)


def _things(objs: Iterable[str], files: Files | None = None) -> list[Going]:
    files = files or {}
    texts = texts_about(sorted({*objs}))
    return [
        Going(obj, tuple(texts.get(obj, ())), tuple(sorted(files.get(obj, ()))))
        for obj in sorted(texts.keys() | files.keys())
    ]


def _plans(site: Site, before: dt.datetime) -> list[Going]:
    """Plans that never burned; one that did is kept with its burn."""
    found = Plan.objects.filter(site=site, current__ends_at__lt=before)
    ids = found.exclude(versions__burn__isnull=False).values_list("public_id", flat=True)
    return _things(f"plan:{each}" for each in ids)


def _burns(site: Site, before: dt.datetime) -> list[Going]:
    """Burns and the plans they rest on, and what loggers wrote, as it came."""
    burns = Burn.objects.filter(site=site, ignited_at__lt=before).exclude(state=BurnState.BURNING)
    rows = burns.values_list("public_id", "version__plan__public_id")
    objs = [obj for burn, plan in rows for obj in (f"burn:{burn}", f"plan:{plan}")]
    kept = LoggerFile.objects.filter(burn__in=burns).values_list("public_id", "burn__public_id")
    return _things(objs, _files("loggerfile", {file: f"burn:{burn}" for file, burn in kept}))


def _lots(site: Site, before: dt.datetime) -> list[Going]:
    """Deliveries of which nothing is left, moved, or burned since."""
    mine = {"lot__delivery": OuterRef("pk")}
    used = BurnFuel.objects.filter(report__burn__current=F("report"), **mine)
    found = Delivery.objects.filter(site=site, delivered_at__lt=before).exclude(
        Exists(Movement.objects.filter(happened_at__gte=before, **mine))
        | Exists(LotBalance.objects.filter(lot__delivery=OuterRef("pk")).exclude(on_hand=0))
        | Exists(used.filter(report__burn__ignited_at__gte=before))
    )
    objs = [f"delivery:{each}" for each in found.values_list("public_id", flat=True)]
    objs += [f"lot:{each}" for each in found.values_list("lots__public_id", flat=True) if each]
    shots = DocketPicture.objects.filter(delivery__in=found)
    rows = shots.values_list("picture__public_id", "delivery__public_id")
    return _things(objs, _files("picture", {shot: f"delivery:{key}" for shot, key in rows}))


def _files(kind: str, owners: Mapping[str, str]) -> Files:
    """Files not yet disposed of, by the thing that they belong to."""
    found: dict[str, list[File]] = {}
    for public_id in files_left(kind, owners):
        found.setdefault(owners[public_id], []).append((kind, public_id))
    return found


def _exposures(site: Site, before: dt.datetime) -> list[Going]:
    """Learners whose last burn anywhere lies that far back. Whoever signed anything, ever held
    another role, or has come back since stays named."""
    roles = RoleHeld.objects.all()
    found = (
        Person.objects.filter(exposures__site=site)
        .exclude(Exists(Exposure.objects.filter(person=OuterRef("pk"), ended_at__gte=before)))
        .exclude(pk__in=roles.exclude(role=Role.LEARNER).values("person"))
        .exclude(pk__in=roles.filter(since__gte=before.date()).values("person"))
        .exclude(pk__in=roles.exclude(site=site).values("person"))
        .exclude(public_id__in=Entry.objects.exclude(act__in=NO_SIGNATURE).values("actor"))
        .exclude(public_id__in=Erasure.objects.values("person"))
        .distinct()
    )
    objs = [f"person:{each}" for each in found.values_list("public_id", flat=True)]
    texts = texts_about(objs)
    return [Going(obj, tuple(texts.get(obj, ())), (), named=True) for obj in sorted(objs)]


@dataclass(frozen=True, slots=True)
class Disposable:
    """What can go of one class, in words, and where to find it before a moment."""

    what: str | Promise
    found: Callable[[Site, dt.datetime], list[Going]]


DISPOSABLE = {
    "exposures": Disposable(
        gettext_lazy("names of learners; who was exposed stays, by key"), _exposures
    ),
    "lots": Disposable(gettext_lazy("texts of the log about them, photographs of dockets"), _lots),
    "burns": Disposable(
        gettext_lazy("texts of the log about them and their plans, loggers' files as they came"),
        _burns,
    ),
    "plans": Disposable(gettext_lazy("texts of the log about plans that never burned"), _plans),
}  # the file of a unit is kept: nothing in it can go without the rest


def content_of(site: Site, kind: str, until: dt.date) -> Content:
    """What would go now of one class, up to a day."""
    return Content(kind, until, tuple(DISPOSABLE[kind].found(site, _midnight_after(site, until))))


def class_to_dispose(kind: str) -> RetentionClass:
    found = class_of(kind)
    if found is None:
        raise NotHere(_("There is no such kind of record."))
    if kind not in DISPOSABLE:
        raise WrongState(
            _("{kind}: nothing of it can go without the rest; it is kept.").format(kind=found.title)
        )
    return found


def order_disposal(
    site: Site, *, kind: str, until: dt.date, reason: str, by: Person, meaning: str = ORDER,
    shown_hash: str = "", at: dt.datetime | None = None, once: str = "",
) -> DisposalOrder:  # fmt: skip
    """Order that what is due of one class, up to a day, be disposed of. Signed; nothing goes yet.

    Raises
    ------
    WrongState
        when nothing of the class can go, or nothing is left of it up to that day.
    WrongValue
        when the day is not yet due, or more names would go than under one order.
    StaleVersion
        when something else would go than what was shown.
    """
    found, reason = class_to_dispose(kind), text_within("reason", reason, 300)
    with door("ground.disposal_ordered", by=by, site=site, at=at, why=reason, once=once) as entry:
        _refuse_early(found, until, entry.at.astimezone(site.zone).date())
        content = content_of(site, kind, until)
        _refuse_amount(content)
        if shown_hash and shown_hash != content.hash:
            raise StaleVersion(_("Something else would go now than what was shown; read it again."))
        order = DisposalOrder(
            site=site, kind=kind, until=until, reason=reason, texts=len(content.texts),
            files=len(content.files), people=len(content.people), content_hash=content.hash,
            ordered_at=entry.at, ordered_by=by,
        )  # fmt: skip
        order.save()
        entry.on(order)
        signed(entry, meaning=meaning, content_hash=content.hash)
        entry.changed(
            kind=kind, until=until, texts=order.texts, files=order.files, people=order.people
        )
    return order


def _refuse_early(kind: RetentionClass, until: dt.date, today: dt.date) -> None:
    due = falls_due(kind, until)
    refuse_if(
        due > today,
        "until",
        _("{day} falls due on {due}; records of this kind are kept for {years} years.").format(
            day=until.isoformat(), due=due.isoformat(), years=kind.years
        ),
    )


def _refuse_amount(content: Content) -> None:
    if not content.things:
        raise WrongState(_("Nothing of this kind is left to dispose of up to that day."))
    refuse_if(
        len(content.people) > MOST_PEOPLE,
        "until",
        _("{given} people would go; at most {allowed} go under one order: take an earlier day.")
        .format(given=len(content.people), allowed=MOST_PEOPLE),
    )  # fmt: skip


def carry_out(
    order: DisposalOrder, *, by: Person, meaning: str = CARRY_OUT, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> Disposal:  # fmt: skip
    """Erase for good what an order names. Signed, by somebody else than who ordered it.

    Raises
    ------
    OwnWork
        for whoever ordered it.
    WrongState
        when it was carried out before, or what would go is not what was ordered any more.
    """
    site = order.site
    with door("ground.disposal_done", by=by, site=site, on=order, at=at, once=once) as entry:
        order = order.fresh()
        if by.pk == order.ordered_by_id:
            raise OwnWork(_("You ordered this; somebody else carries it out."))
        if Disposal.objects.filter(order=order.public_id).exists():
            raise WrongState(_("This order was carried out before."))
        content = content_of(site, order.kind, order.until)
        if content.hash != order.content_hash or shown_hash not in ("", content.hash):
            raise WrongState(
                _("What would go is not what was ordered any more; it takes a new order.")
            )
        disposal = Disposal(
            order=order.public_id, kind=order.kind, until=order.until, at=entry.at,
            by=by.public_id, ordered_by=order.ordered_by.public_id,
        )  # fmt: skip
        _dispose(order, content, disposal, by)
        signed(entry, meaning=meaning, content_hash=content.hash)
        entry.changed(
            kind=order.kind, until=order.until, texts=order.texts, files=order.files,
            people=order.people, ordered_by=order.ordered_by,
        )  # fmt: skip
    return disposal


def _dispose(order: DisposalOrder, content: Content, disposal: Disposal, by: Person) -> None:
    """Texts and files first, so that they tell of this order; names by an order to erase each."""
    dispose(disposal, content.texts, content.files)
    basis = f"{order}: {order.reason}"[:300]
    for person in Person.objects.filter(public_id__in=content.people).order_by("pk"):
        erase_behind_door(order.site, person, basis=basis, by=by, at=disposal.at)
    line = disposal_line(KeptDisposal(disposal, content.texts, content.files))
    transaction.on_commit(lambda: keep_line(line))
    # the act stands already, whether or not the database can let go of its free pages just now
    transaction.on_commit(wipe_free_space, robust=True)


@dataclass(frozen=True, slots=True)
class Ordered:
    """An order, and how it was carried out, if it was."""

    order: DisposalOrder
    disposal: Disposal | None
    done_by: str = ""

    @property
    def state(self) -> str:
        return "disposal_done" if self.disposal else "disposal_ordered"


def orders_of(site: Site) -> list[Ordered]:
    """The newest orders of a ground."""
    orders = list(
        DisposalOrder.objects.filter(site=site).select_related("ordered_by__details")[:50]
    )
    return _with_disposals(orders)


def order_here(site: Site, public_id: str) -> Ordered:
    rows = DisposalOrder.objects.filter(site=site, public_id=public_id)
    found = _with_disposals(list(rows.select_related("site", "ordered_by__details")))
    if not found:
        raise NotHere(f"No disposal order {public_id} on this ground.")
    return found[0]


def _with_disposals(orders: list[DisposalOrder]) -> list[Ordered]:
    done = Disposal.objects.filter(order__in=[order.public_id for order in orders])
    carried_out = {disposal.order: disposal for disposal in done}
    names = names_of(disposal.by for disposal in carried_out.values())
    return [
        Ordered(order, found, names.get(found.by, found.by) if found else "")
        for order in orders
        for found in [carried_out.get(order.public_id)]
    ]

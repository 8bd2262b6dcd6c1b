"""The door: every change of a record goes through here, and nowhere else.

One transaction, the role check, the change, one entry in the log. The head of the log is locked
last, so that the lock is short and cannot be part of a deadlock. What the screen calls saved is
thus in the tree already, and the sequence has no gaps: it comes from the head, never from a
sequence of the database, which loses numbers when a transaction is undone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import PublicModel, opened
from facility.people.entrance import entrance
from facility.people.models import Person
from facility.people.permissions import ACTS, BY_CODE, SIGNED, Role
from facility.people.selectors import roles_of
from facility.refusals import AlreadyDone, Collided, NotAllowed, OwnWork, plain_number
from facility.sites.models import Site
from records.audit import bodies
from records.audit.appending import append
from records.audit.models import Entry


@dataclass
class EntryDraft:
    """What the service fills in while the door is open."""

    act: str
    at: dt.datetime
    obj: str = ""
    before: dict[str, Any] = field(default_factory=dict)
    after: dict[str, Any] = field(default_factory=dict)
    why: str = ""
    seq: int | None = None  # its number, once it is written
    typed: set[str] = field(default_factory=lambda: {"why"})

    def on(self, row: PublicModel) -> None:
        """Name the row that the act made."""
        self.obj = row.named_in_log

    def changed(self, before: dict[str, Any] | None = None, **after: Any) -> None:
        """Tell values before and after. Text outside ``bodies.OPEN_TEXT`` is kept erasable."""
        self._tell("before", self.before, before or {})
        self._tell("after", self.after, after)

    def _tell(self, part: str, told: dict[str, Any], values: dict[str, Any]) -> None:
        told.update({key: _plain(value) for key, value in values.items()})
        self.typed |= {
            f"{part}.{key}" for key, value in values.items() if bodies.holds_text(key, value)
        }


@contextmanager
def door(
    act: str,
    *,
    by: Person | None,
    site: Site,
    on: PublicModel | None = None,
    at: dt.datetime | None = None,
    why: str = "",
    once: str = "",
) -> Iterator[EntryDraft]:
    """Open the door for one act.

    ``by`` is None only for acts of the program itself, which no role holds. ``at`` is when it
    happens, now unless demo data or an import says otherwise. ``once`` is the key of the form
    or device event: a second act with the same key is refused as ``AlreadyDone``.

    Raises
    ------
    NotAllowed
        when ``by`` holds no role here that covers the act, or was let in by six digits, which are
        not enough for it; the attempt is logged, as is one at what is ``by``'s own work.
    AlreadyDone
        when ``once`` was used before.
    ReadOnly
        when the log failed its newest check, or a restored backup waits to be signed for.
    """
    at = at or timezone.now()
    held = _held(by, site, at)
    role = _role_for(act, by, site, on, at, held.roles)
    if by is not None:
        _refuse_code(act, by, site, on, at)
    _refuse_repeat(once)
    draft = EntryDraft(act, at, obj=on.named_in_log if on else "", why=why)
    try:
        with transaction.atomic(), opened(), _inside(held):
            yield draft
            _append(draft, by=by, site=site, role=role, once=once)
    except OwnWork:
        log_refusal(act, by=by, site=site, on=on, at=at, kind="own work")
        raise
    except IntegrityError as error:
        _refuse_repeat(once)  # two sendings raced, and the other one won
        if "unique" in str(error).lower():
            raise Collided(
                _("Someone recorded the same thing at the same moment; look at the page again.")
            ) from error
        raise


@dataclass(frozen=True, slots=True)
class _Held:
    """Everything somebody is on a ground on a day."""

    person: int | None
    site: int
    day: dt.date
    roles: frozenset[Role] = frozenset()


_around: ContextVar[_Held | None] = ContextVar("around", default=None)


def _held(by: Person | None, site: Site, at: dt.datetime) -> _Held:
    """A door inside a door goes by what was found at the one around it: it is one act."""
    asked = _Held(by.pk if by else None, site.pk, at.astimezone(site.zone).date())
    around = _around.get()
    if around is not None and replace(around, roles=frozenset()) == asked:
        return around
    return replace(asked, roles=roles_of(by, site, asked.day)) if by else asked


@contextmanager
def _inside(held: _Held) -> Iterator[None]:
    token = _around.set(held)
    try:
        yield
    finally:
        _around.reset(token)


def _role_for(
    act: str, by: Person | None, site: Site, on: PublicModel | None, at: dt.datetime,
    found: frozenset[Role],
) -> str:  # fmt: skip
    """The roles under which the act is done, or a logged refusal."""
    allowed = ACTS[act].roles
    if by is None:
        if allowed:
            raise NotAllowed(_("This act needs a person."))
        return "program"
    held = found & allowed if by.is_active else frozenset()
    if not held:
        log_refusal(act, by=by, site=site, on=on, at=at, kind="role")
        needed = ", ".join(str(Role(role).label) for role in sorted(allowed)) or _("nobody")
        raise NotAllowed(
            _("{act}: this needs the role of {roles}.").format(act=ACTS[act].label, roles=needed)
        )
    return ",".join(sorted(held))


def _refuse_code(act: str, by: Person, site: Site, on: PublicModel | None, at: dt.datetime) -> None:
    """A personal code records; it signs only with the password, and never administers."""
    way = entrance()
    if not way.by_code or act in BY_CODE or (act in SIGNED and way.proved):
        return
    raise code_refused(by, act=act, site=site, on=on, at=at)


def code_refused(
    by: Person, *, act: str, site: Site, on: PublicModel | None, at: dt.datetime
) -> NotAllowed:
    """Keep that somebody with six digits tried what takes the password; gives what to say."""
    log_refusal(act, by=by, site=site, on=on, at=at, kind="personal code")
    return NotAllowed(
        _("{act}: a personal code is for recording; this needs your password.").format(
            act=ACTS[act].label
        )
    )


def log_refusal(
    act: str, *, by: Person | None, site: Site, on: PublicModel | None, at: dt.datetime, kind: str
) -> None:
    """Keep that an act was tried and refused, and for want of what."""
    draft = EntryDraft("audit.refused", at, obj=on.named_in_log if on else "")
    draft.changed(act=act, kind=kind)
    with transaction.atomic(), opened():
        _append(draft, by=by, site=site, role="none", once="")


def _refuse_repeat(once: str) -> None:
    if (
        once
        and (obj := Entry.objects.filter(once=once).values_list("obj", flat=True).first())
        is not None
    ):
        raise AlreadyDone(obj)


def _append(draft: EntryDraft, *, by: Person | None, site: Site, role: str, once: str) -> None:
    """Write the entry: the only place that does."""
    way = entrance()
    said = bodies.Said(
        at=draft.at, site=site.public_id, actor=by.public_id if by else "", role=role,
        act=draft.act, obj=draft.obj, before=draft.before, after=draft.after, why=draft.why,
        once=once, src=way.src, device=way.device, typed=draft.typed,
    )  # fmt: skip
    draft.seq = append(said, bodies.write(said))


def _plain(value: Any) -> Any:
    """What the log can hold: text, whole numbers, true and false; a decimal is kept as written.

    A mapping becomes pairs, for its keys are data, and keys of the log are words of ours.
    """
    if isinstance(value, dict):
        return [[_plain(key), _plain(item)] for key, item in value.items()]
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, (dt.datetime, dt.date)):
        return value.isoformat()
    if isinstance(value, Decimal):
        return plain_number(value)
    if isinstance(value, float):
        return repr(value)
    return getattr(value, "public_id", value)

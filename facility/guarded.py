"""No open door, no write.

Rows built on ``GuardedModel`` can be written only while the door of ``records.audit`` is open;
rows built on ``AppendOnlyModel`` can, besides, never be changed or removed. A forgotten door
fails loudly instead of leaving a change without an entry in the log.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, ClassVar, Self

from django.db import models
from django.db.models.signals import pre_save
from django.dispatch import receiver

from facility.refusals import spelled_out

_open_doors: ContextVar[int] = ContextVar("open_doors", default=0)


class DoorClosed(RuntimeError):
    """A write was tried outside the door: a defect in the program, not a user's mistake."""


class NeverChanged(RuntimeError):
    """An append-only row was to be changed or removed."""


@contextmanager
def opened() -> Iterator[None]:
    """Let guarded rows be written inside the block. Only ``records.audit.door`` calls this."""
    token = _open_doors.set(_open_doors.get() + 1)
    try:
        yield
    finally:
        _open_doors.reset(token)


def door_is_open() -> bool:
    return _open_doors.get() > 0


def need_open_door(model: type[models.Model], what: str) -> None:
    """Raise ``DoorClosed`` unless a door is open."""
    if not door_is_open():
        raise DoorClosed(f"{what} {model.__name__}: open the door of records.audit first")


class GuardedQuerySet[Row: models.Model](models.QuerySet[Row]):
    """Bulk writes pass the guard as well."""

    def update(self, **changes: Any) -> int:
        need_open_door(self.model, "update")
        return super().update(**changes)

    def delete(self) -> tuple[int, dict[str, int]]:
        raise NeverChanged(f"{self.model.__name__}: nothing recorded is removed")

    def bulk_create(self, objs: Any, *args: Any, **options: Any) -> list[Row]:
        need_open_door(self.model, "create")
        return super().bulk_create(objs, *args, **options)

    def bulk_update(self, objs: Any, *args: Any, **options: Any) -> int:
        need_open_door(self.model, "update")
        return super().bulk_update(objs, *args, **options)


class AppendOnlyQuerySet[Row: models.Model](GuardedQuerySet[Row]):
    def bulk_create(self, objs: Any, *args: Any, **options: Any) -> list[Row]:
        if options.get("update_conflicts"):
            raise NeverChanged(f"{self.model.__name__}: correct it by a new row")
        return super().bulk_create(objs, *args, **options)

    def update(self, **changes: Any) -> int:
        raise NeverChanged(f"{self.model.__name__}: correct it by a new row")

    def bulk_update(self, objs: Any, *args: Any, **options: Any) -> int:
        raise NeverChanged(f"{self.model.__name__}: correct it by a new row")


class GuardedModel(models.Model):
    """A row that is written only through the door."""

    objects: ClassVar[Any] = models.Manager.from_queryset(GuardedQuerySet)()

    class Meta:
        abstract = True

    def save_base(self, *args: Any, **options: Any) -> None:
        need_open_door(type(self), "save")
        super().save_base(*args, **options)

    def delete(self, *args: Any, **options: Any) -> tuple[int, dict[str, int]]:
        raise NeverChanged(f"{type(self).__name__}: nothing recorded is removed")

    @classmethod
    def named(cls) -> str:
        return str(cls._meta.model_name)


@receiver(pre_save)
def refuse_fixture(instance: models.Model, raw: bool, **_sent: Any) -> None:
    """A fixture is saved past the methods of its class, and past the log; so it never is."""
    if raw and isinstance(instance, GuardedModel):
        raise DoorClosed(f"load {type(instance).__name__}: records enter by the services only")


class AppendOnlyModel(GuardedModel):
    """A row that is written once."""

    objects: ClassVar[Any] = models.Manager.from_queryset(AppendOnlyQuerySet)()

    class Meta:
        abstract = True

    def save_base(self, *args: Any, **options: Any) -> None:
        """Always an insert: a row built by hand with the key of another must not replace it."""
        if not self._state.adding:
            raise NeverChanged(f"{type(self).__name__}: correct it by a new row")
        super().save_base(*args, **{**options, "force_insert": True})


# Letters and digits that are not mistaken for one another when read out over a radio.
_ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"


def new_public_id() -> str:
    """Ten random letters and digits, 49 bits: tells nothing about how many rows there are."""
    return "".join(secrets.choice(_ALPHABET) for _place in range(10))


class PublicModel(models.Model):
    """A row with an address of its own that does not count rows."""

    public_id = models.CharField(max_length=10, unique=True, default=new_public_id, editable=False)

    class Meta:
        abstract = True

    @property
    def reference(self) -> str:
        return spelled_out(self.public_id)

    @property
    def named_in_log(self) -> str:
        return f"{self._meta.model_name}:{self.public_id}"

    def fresh(self) -> Self:
        """The row as it is now, locked until the transaction ends.

        The lock lets rows be written that only refer to this one; else two acts that write such
        rows before and after their locks would wait for each other on PostgreSQL.
        """
        return type(self)._default_manager.select_for_update(no_key=True).get(pk=self.pk)

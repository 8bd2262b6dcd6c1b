"""What every act is asked: what it writes, what it refuses, and that a refusal writes nothing.

The whole database is compared, not only the rows an act is thought to touch, so that a change to
a neighbour shows up as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.db.models import Model

from facility.people.models import Person
from facility.people.permissions import ACTS, Role
from facility.refusals import NotAllowed, OwnWork, Refused
from records.audit.models import Entry
from tests.builders import Ground

LOG = "records_audit"


def refused_roles(act: str) -> list[Role]:
    """Every role that the table of acts does not list for the act."""
    return [role for role in Role if role not in ACTS[act].roles]


def actor(ground: Ground, role: Role) -> Person:
    """Someone who holds this role and no other."""
    return ground.learners[0] if role == Role.LEARNER else ground.cast[str(role)]


def whole_database() -> dict[str, dict[Any, tuple[Any, ...]]]:
    """Every row of ours by table and key, the log left out."""
    ours = [each for each in apps.get_models() if each.__module__.startswith(("facility", "rec"))]
    return {each.__name__: _rows(each) for each in ours if each._meta.app_label != LOG}


def _rows(model: type[Model]) -> dict[Any, tuple[Any, ...]]:
    """Read past the models, which is quick: this runs twice in most tests."""
    meta = model._meta
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT "{meta.pk.column}", t.* FROM "{meta.db_table}" t')
        return {row[0]: row for row in cursor.fetchall()}


def acts_after(count: int) -> list[str]:
    return list(Entry.objects.filter(seq__gte=count).order_by("seq").values_list("act", flat=True))


@contextmanager
def refuses(refusal: type[Refused], field: str | None = None, *, logged: Sequence[str] = ()) -> Any:
    """The block is refused by this name, and not one row is written but the entries ``logged``."""
    before, count = whole_database(), Entry.objects.count()
    with pytest.raises(refusal) as caught:
        yield caught
    assert whole_database() == before
    assert acts_after(count) == list(logged)
    if field is not None:
        assert caught.value.field == field


def refuses_role() -> Any:
    """Refused for want of a role; the attempt is logged, and nothing else is written."""
    return refuses(NotAllowed, logged=["audit.refused"])


def refuses_own_work() -> Any:
    """Refused because it is the person's own work; the attempt is logged, and nothing else."""
    return refuses(OwnWork, logged=["audit.refused"])


@contextmanager
def writes(act: str, *added: type[Model], alters: Sequence[type[Model]] = ()) -> Iterator[None]:
    """The block leaves exactly one entry, adds rows to these tables and alters rows of those.

    Rows of every other table are as they were, and no row that was there is gone.
    """
    before, count = whole_database(), Entry.objects.count()
    yield
    after = whole_database()
    assert acts_after(count) == [act]
    grown = {name for name in after if after[name].keys() - before[name].keys()}
    assert grown == {each.__name__ for each in added}
    changed = {
        name for name in before if any(after[name].get(k) != row for k, row in before[name].items())
    }
    assert changed == {each.__name__ for each in alters}

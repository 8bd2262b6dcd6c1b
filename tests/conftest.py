"""Fixtures shared by all tests: a ground of our own, and another one to keep out of."""

from __future__ import annotations

import pytest
from django.db import connection, connections
from django.test import Client, TransactionTestCase
from hypothesis import settings

from facility.people.models import Person
from records.audit.models import Entry
from records.audit.triggers import drop_triggers
from tests import builders

# Speed is measured in ``make bench``; a busy machine must not fail a property.
settings.register_profile("charline", deadline=None)
settings.load_profile("charline")


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """Before the database is dropped, end what the live server's threads left connected to it.

    A browser may leave in mid-answer; PostgreSQL does not drop a database that is in use.
    """
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


_flushed = TransactionTestCase._fixture_teardown


def _flushed_in_spite_of_triggers(self):
    """A transactional test empties every table after it, which the triggers of the log refuse.

    The flush sends post_migrate, and so they are made again.
    """
    for name in self._databases_names(include_mirrors=False):
        drop_triggers(connections[name])
    _flushed(self)


TransactionTestCase._fixture_teardown = _flushed_in_spite_of_triggers


@pytest.fixture
def ground(db) -> builders.Ground:
    return builders.ground_again()


@pytest.fixture
def other(db) -> builders.Ground:
    """A second ground, whose things nobody of the first may see."""
    return builders.found_ground("Other ground")


@pytest.fixture
def signed_in():
    """Gives a client signed in as the person given."""

    def sign_in(person: Person) -> Client:
        client = Client()
        client.force_login(person)
        return client

    return sign_in


@pytest.fixture
def log(db):
    """Gives the acts logged since the fixture was asked for the first time."""

    class Log:
        def __init__(self) -> None:
            self.start = Entry.objects.count()

        def mark(self) -> None:
            self.start = Entry.objects.count()

        @property
        def acts(self) -> list[str]:
            return list(
                Entry.objects.filter(seq__gte=self.start)
                .order_by("seq")
                .values_list("act", flat=True)
            )

    return Log()

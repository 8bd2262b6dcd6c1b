"""No open door, no write; and what is append-only never changes, door or no door."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.core import serializers
from django.core.management import call_command
from django.db import IntegrityError

from facility.guarded import (
    AppendOnlyModel,
    DoorClosed,
    GuardedModel,
    NeverChanged,
    door_is_open,
    opened,
)
from facility.people.models import Tries
from facility.sites.models import Bay
from records.audit.models import Entry
from records.reports.models import PaperProgress
from records.stock.models import Movement
from tests.asking import whole_database

OURS = [
    each
    for each in apps.get_models()
    if each.__module__.startswith(("facility", "records"))
    and each not in (Tries, PaperProgress)  # no records
]


def entry() -> Entry:
    return Entry.objects.order_by("seq").last()


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_every_table_of_ours_is_guarded(model):
    assert issubclass(model, GuardedModel)


def write_by_save(ground):
    Bay(site=ground.site, name="Bay 9").save()


def change_by_save(ground):
    ground.bay.name = "Bay 9"
    ground.bay.save()


def write_by_create(ground):
    Bay.objects.create(site=ground.site, name="Bay 9")


def write_by_relation(ground):
    ground.site.bays.create(name="Bay 9")


def write_in_bulk(ground):
    Bay.objects.bulk_create([Bay(site=ground.site, name="Bay 9")])


def change_in_bulk(ground):
    ground.bay.name = "Bay 9"
    Bay.objects.bulk_update([ground.bay], ["name"])


def change_by_update(ground):
    Bay.objects.filter(site=ground.site).update(name="Bay 9")


def change_or_write(ground):
    Bay.objects.update_or_create(site=ground.site, name="Bay 1", defaults={"name": "Bay 9"})


def change_by_relation(ground):
    ground.site.bays.update(name="Bay 9")


@pytest.mark.parametrize(
    "way",
    [write_by_save, change_by_save, write_by_create, write_by_relation, write_in_bulk,
     change_in_bulk, change_by_update, change_or_write, change_by_relation],
)  # fmt: skip
def test_without_an_open_door_nothing_is_written(ground, way):
    before = whole_database()
    with pytest.raises(DoorClosed):
        way(ground)
    assert whole_database() == before


@pytest.mark.parametrize("key", ["new", "old"])
def test_a_fixture_is_not_loaded_past_the_log(ground, tmp_path, key):
    """Fixtures are saved past ``save``; neither a new row nor an old one may come in by them."""
    row = ground.bay if key == "old" else Bay(pk=99, site=ground.site)
    row.name = "Bay 9"
    fixture = tmp_path / "bay.json"
    fixture.write_text(serializers.serialize("json", [row]))
    before = whole_database()
    with pytest.raises(DoorClosed):
        call_command("loaddata", str(fixture), verbosity=0)
    assert whole_database() == before


@pytest.mark.parametrize("removal", [lambda bay: bay.delete(), lambda _bay: Bay.objects.all().delete()])  # fmt: skip
def test_nothing_recorded_is_removed_even_with_the_door_open(ground, removal):
    with opened(), pytest.raises(NeverChanged):
        removal(ground.bay)
    assert Bay.objects.filter(pk=ground.bay.pk).exists()


def test_append_only_rows_are_not_saved_again(ground):
    kept = entry()
    kept.obj = "changed"
    with opened(), pytest.raises(NeverChanged):
        kept.save()
    assert entry().obj != "changed"


def test_append_only_rows_are_not_updated_one_by_one_or_in_bulk(ground):
    kept = entry()
    kept.obj = "changed"
    with opened(), pytest.raises(NeverChanged):
        Entry.objects.update(obj="changed")
    with opened(), pytest.raises(NeverChanged):
        Entry.objects.bulk_update([kept], ["obj"])
    with opened(), pytest.raises(NeverChanged):
        kept.delete()
    assert entry().obj != "changed"


def test_a_new_row_with_an_old_key_does_not_overwrite_an_append_only_row(ground):
    """A row built by hand counts as new; it must be inserted or fail, never update."""
    kept = entry()
    forged = Entry(seq=kept.seq, at=kept.at, act=kept.act, obj="forged")
    with opened(), pytest.raises(IntegrityError):
        forged.save()


def test_a_bulk_insert_does_not_overwrite_an_append_only_row(ground):
    kept = entry()
    forged = Entry(seq=kept.seq, at=kept.at, act=kept.act, obj="forged")
    with opened(), pytest.raises(NeverChanged):
        Entry.objects.bulk_create(
            [forged], update_conflicts=True, update_fields=["obj"], unique_fields=["seq"]
        )
    assert entry().obj != "forged"


def test_the_records_that_must_never_change_are_append_only():
    loose = {"LogHead", "Site", "Bay", "Unit", "Opening", "ChargePosition", "Sensor", "Compartment",
             "Baffle", "Lining", "Person",
             "PersonDetails", "RoleHeld", "Competence", "Edition", "LimitRow", "CheckItem", "BurnSequence",
             "BurnSequenceStep", "Waiver", "Product", "Supplier", "LotBalance", "Plan", "Burn",
             "SecondFactor", "RecoveryCode", "PersonalCode", "PasswordLink", "Device", "FeedKey",
             "Paper", "Logger", "Meter", "ProductStock", "WallPoint",
             "Stocktake", "StocktakeLine"}  # fmt: skip
    assert {each.__name__ for each in OURS if not issubclass(each, AppendOnlyModel)} == loose
    assert issubclass(Movement, AppendOnlyModel)


def test_the_door_closes_again_also_when_the_block_raises():
    with pytest.raises(ZeroDivisionError), opened(), opened():
        raise ZeroDivisionError
    assert not door_is_open()

"""Founding a ground, commissioning a unit, adding a bay, choosing units of measure."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.people.models import Person, PersonDetails, RoleHeld
from facility.refusals import WrongValue
from facility.sites.models import Bay, ChargePosition, Opening, Sensor, Site, Unit
from records.accounts import signing_in
from records.ground import services
from records.ground.models import UnitVersion
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW, PASSWORD


def found(**changes):
    given = {"name": "New ground", "time_zone": "Europe/Tallinn", "admin_name": "First",
             "admin_sign_in": "first", "password": PASSWORD, "at": NOW}  # fmt: skip
    return services.found_ground(**{**given, **changes})


def commission(ground, **changes):
    described = {"name": "Unit 9", "kind": "attack", "length_m": Decimal(12), "max_people": 8,
                 "width_m": Decimal("2.4"), "height_m": Decimal("2.4"), "wall": "steel",
                 "commissioned_on": NOW.date(), **changes}  # fmt: skip
    return services.commission_unit(
        ground.site, description=described, by=changes.pop("by", ground.inspector), at=NOW,
        openings=[{"kind": "door", "name": "door", "x_m": 12, "width_m": 2, "height_m": 2}],
        positions=[{"name": "Rear", "surface": "rear", "x_m": 0, "length_m": 1}],
        sensors=[{"name": "T1", "x_m": 5, "z_m": 1}],
    )  # fmt: skip


def test_a_ground_is_founded_by_the_program_with_one_administrator(db):
    with writes("ground.founded", Site, Person, PersonDetails, RoleHeld):
        site, admin = found()
    assert list(admin.roles.values_list("role", "site")) == [("admin", site.pk)]


@pytest.mark.parametrize(
    ("field", "value"),
    [("time_zone", "Mars/Base"), ("name", ""), ("name", "x" * 81), ("password", "short")],
)
def test_a_ground_has_a_name_a_real_time_zone_and_a_good_password(db, field, value):
    with refuses(WrongValue, field):
        found(**{field: value})


def test_a_unit_is_commissioned_with_its_geometry(ground):
    with writes("ground.unit_commissioned", Unit, Opening, ChargePosition, Sensor, UnitVersion):
        commission(ground)


@pytest.mark.parametrize("role", refused_roles("ground.unit_commissioned"))
def test_other_roles_may_not_commission_a_unit(ground, role):
    with refuses_role():
        services.commission_unit(
            ground.site, description={"name": "U", "kind": "attack", "length_m": 1, "width_m": 1,
            "height_m": 1, "max_people": 1, "wall": "", "commissioned_on": NOW.date()},
            openings=[], positions=[], sensors=[], by=actor(ground, role), at=NOW,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("field", "value"),
    [("length_m", 0), ("length_m", 61), ("width_m", -1), ("height_m", "0.4"), ("max_people", -1),
     ("max_people", 61)],
)  # fmt: skip
def test_a_unit_has_the_size_of_one(ground, field, value):
    with refuses(WrongValue, field):
        commission(ground, **{field: Decimal(value)})


def test_a_bay_is_added(ground):
    with writes("ground.bay_added", Bay):
        services.add_bay(ground.site, name="Bay 2", by=ground.stores, at=NOW)


@pytest.mark.parametrize("role", refused_roles("ground.bay_added"))
def test_other_roles_may_not_add_a_bay(ground, role):
    with refuses_role():
        services.add_bay(ground.site, name="Bay 2", by=actor(ground, role), at=NOW)


@pytest.mark.parametrize("name", ["", "x" * 41, "\0", "Bay 1"])
def test_a_bay_has_a_plain_name_of_its_own(ground, name):
    with refuses(WrongValue, "name"):
        services.add_bay(ground.site, name=name, by=ground.stores, at=NOW)


def test_a_person_chooses_units_for_their_own_reading(ground):
    with writes("people.units_chosen", alters=[Person]):
        services.choose_units(ground.site, ground.auditor, system="US")
    with refuses(WrongValue, "units"):
        services.choose_units(ground.site, ground.auditor, system="cubits")


@pytest.mark.parametrize("role", refused_roles("people.signed_in"))
def test_a_learner_neither_signs_in_nor_chooses_units(ground, role):
    with refuses_role():
        signing_in.note_sign_in(actor(ground, role), at=NOW)
    with refuses_role():
        services.choose_units(ground.site, actor(ground, role), system="US")

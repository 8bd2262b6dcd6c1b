"""No serious or critical fault of accessibility on the pages people use most, light and dark."""

from __future__ import annotations

import datetime as dt

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone

from tests import builders

pytestmark = pytest.mark.browser
GRAVE = {"serious", "critical"}


def faults(page) -> list[str]:
    """Each grave fault with the first place it was found at."""
    found = Axe().run(page).response["violations"]
    return [
        f"{page.url}: {each['id']} at {each['nodes'][0]['target']}, {len(each['nodes'])} in all: "
        f"{each['nodes'][0]['html'][:160]}"
        for each in found
        if each["impact"] in GRAVE
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_grave_fault_on_the_pages_people_use_most(visitors, ground_today, scheme):
    now = timezone.now()
    burn = builders.closed(
        ground_today,
        builders.content(ground_today, starts_at=now - dt.timedelta(hours=20)),
        at=accepted(ground_today, now),
    )
    plan = builders.drafted(
        ground_today, builders.content(ground_today, boards=5, starts_at=now), at=now
    )
    lot = ground_today.site.lots.get()
    stranger = visitors.stranger(color_scheme=scheme)
    stranger.goto("/sign-in/")
    found = faults(stranger)
    page = visitors.person(ground_today.manager, color_scheme=scheme)
    for address in (
        "/", f"/plans/{plan.public_id}/", f"/plans/{plan.public_id}/edit/",
        f"/store/lots/{lot.public_id}/", f"/burns/{burn.public_id}/",
        f"/units/{ground_today.unit.public_id}/", "/standard/", "/audit/",
    ):  # fmt: skip
        page.goto(address)
        found += faults(page)
    assert found == [], "\n".join(found)
    assert visitors.complaints == []


def accepted(ground: builders.Ground, now: dt.datetime) -> dt.datetime:
    """A day before the burn, with a lot in the store."""
    before = now - dt.timedelta(days=2)
    builders.accepted_lot(ground, 40, at=before)
    return before

"""A stores officer at the lorry with a phone: a delivery from photograph to label."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from records.pictures.models import Picture
from tests import builders
from tests.browser.conftest import Visitors
from tests.photographs.drawing import photo

pytestmark = pytest.mark.browser
PHONE = {"viewport": {"width": 390, "height": 844}}


def fits(page: Page) -> bool:
    """Nothing has to be pushed sideways."""
    return page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def fill_lot(page: Page, row: int, mark: str) -> None:
    """Like a thumb: one field after the other, each question answered."""
    page.locator(f"[name=product_{row}]").select_option(label="Test board")
    page.locator(f"[name=code_{row}]").fill(mark)
    page.locator(f"[name=received_{row}]").fill("40")
    for name, value in (("length_m", "2,5"), ("width_m", "1"), ("thickness_mm", "20"), ("sheet_mass_kg", "25,6")):  # fmt: skip
        page.locator(f"[name={name}_{row}]").fill(value)
    for answer in page.locator(f"[name^=mark_][name$=_{row}][value=no]").all():
        answer.check()


def test_a_delivery_on_a_phone_from_photograph_to_label(
    visitors: Visitors, ground_today: builders.Ground
):
    page = visitors.person(ground_today.stores, **PHONE)
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("link", name="Store", exact=True).click()
    page.get_by_role("link", name="Record a delivery").click()
    assert fits(page)

    camera = page.get_by_label("Photograph of the docket")
    assert camera.get_attribute("capture") == "environment"
    camera.set_input_files({"name": "docket.jpg", "mimeType": "image/jpeg", "buffer": photo(3000, 2000)})  # fmt: skip
    page.get_by_label("Supplier").fill("Board yard")
    page.get_by_label("Docket number").fill("D-77")
    when = timezone.localtime(timezone.now(), ground_today.site.zone).strftime("%Y-%m-%dT%H:%M")
    page.get_by_label("Delivered").fill(when)
    page.get_by_label("The docket states new").check()

    expect(page.locator("[data-lot]:visible")).to_have_count(1)
    fill_lot(page, 0, "P-77")
    page.get_by_role("button", name="Another lot on this docket").click()
    expect(page.locator("[data-lot]:visible")).to_have_count(2)
    fill_lot(page, 1, "P-78")
    page.locator("[name=mark_cca_1][value=seen]").check()
    assert fits(page)
    page.get_by_role("button", name="Take into the store").click()

    expect(page.locator("h1")).to_contain_text("Docket D-77")
    expect(page.locator("main")).to_contain_text("held")
    shown = page.locator("figure.photo img")
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("naturalWidth", 2000)
    assert fits(page)
    assert Picture.objects.count() == 1

    page.get_by_role("link", name="P-78").click()
    expect(page.get_by_text("This lot is held")).to_be_visible()
    expect(page.locator("main")).to_contain_text("Stamp CCA")
    page.go_back()
    page.get_by_role("link", name="P-77").click()
    expect(page.locator("main")).to_contain_text("within its band")
    assert fits(page)
    page.get_by_role("link", name="Print labels").click()
    page.get_by_label("Packs").fill("3")
    address = page.evaluate(
        "(() => { const form = document.querySelector('main form');"
        " return form.action + '?' + new URLSearchParams(new FormData(form)) })()"
    )
    sheet = page.request.get(address)
    assert (sheet.status, sheet.headers["content-type"]) == (200, "application/pdf")
    assert sheet.body().startswith(b"%PDF-")

    scanned = visitors.stranger(**PHONE)
    scanned.goto(re.sub(r"labels\.pdf.*", "", address))
    scanned.get_by_label("Sign-in").fill(ground_today.stores.sign_in)
    scanned.get_by_label("Password").fill(builders.PASSWORD)
    scanned.get_by_role("button", name="Sign in").click()
    expect(scanned.locator("h1")).to_contain_text("Lot P-77")
    assert visitors.complaints == []

"""Where a thing that the log names can be looked at."""

from __future__ import annotations

from django.urls import reverse

_PAGES = {
    "plan": "plans:plan",
    "burn": "burns:burn",
    "lot": "stock:lot",
    "delivery": "stock:delivery",
    "meter": "stock:meter",
    "bay": "stock:bay",
    "unit": "inspections:unit",
    "defect": "inspections:defect",
    "edition": "standard:edition",
    "person": "accounts:person",
    "stocktake": "stock:stocktake",
    "wastedocket": "stock:waste_docket",
    "recall": "reports:recall",
    "paper": "reports:paper",
    "disposalorder": "reports:disposal",
}
_LISTS = {
    "product": "stock:products",
    "storefile": "stock:files",
    "columnmapping": "stock:files",
    "waiver": "standard:waivers",
    "statement": "standard:statements",
    "site": "reports:day_sheet",
    "device": "accounts:tablets",
    "inspection": "inspections:units",
    "feedkey": "reports:calendar",
}


def address_of(obj: str) -> str:
    """The page of ``kind:public_id``, or the list it stands in; empty when it has none."""
    kind, _colon, public_id = obj.partition(":")
    if kind in _PAGES:
        return reverse(_PAGES[kind], args=[public_id])
    return reverse(_LISTS[kind]) if kind in _LISTS else ""

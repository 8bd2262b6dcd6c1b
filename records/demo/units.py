"""A unit that was just commissioned through its make-up, and a defect that restricts another."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from facility.sites.makeup import PARTS
from records.demo.seasons import Teller
from records.demo.setting import numbers
from records.ground import building
from records.ground import services as ground
from records.ground.selectors import unit_here
from records.inspections import services as inspections
from records.inspections.checklists import all_in_order

# What restricts Unit 1 since its plan for tomorrow was approved.
BENT = inspections.DefectFound(
    "restricts", "", "Front ceiling hangers bent, boards hang askew", "roof", most_boards=4
)


def tell_units(teller: Teller, told: Mapping[str, Any], now: dt.datetime) -> None:
    """The unit of several compartments, its relining, and the defect of this morning."""
    setting, new = teller.setting, told["new_unit"]
    by = setting.people["inspector"]
    day = now.astimezone(setting.site.zone).date()
    commissioned = teller.local(day - dt.timedelta(days=11), 14)
    described: dict[str, Any] = {kind: [numbers(row) for row in new[kind]] for kind in PARTS}
    unit = ground.commission_unit(
        setting.site,
        description={**numbers(new["description"]), "commissioned_on": commissioned.date()},
        **described,
        trials=new["trials"], by=by, at=commissioned,
    )  # fmt: skip
    unit = unit_here(setting.site, unit.public_id)
    parts = {
        kind: [
            {"key": part.public_id, **{name: getattr(part, name) for name in part.DESCRIBED}}
            for part in getattr(unit, kind).all()
        ]
        for kind in PARTS
    }
    relined = teller.local(day - dt.timedelta(days=9), 11)
    building.change_unit(
        unit, kind="relined", parts={**parts, "linings": [numbers(row) for row in new["relined"]]},
        description={name: getattr(unit, name) for name in new["description"] if name != "name"},
        what=new["relining"], since=relined, seen_version=1, by=by, at=relined,
    )  # fmt: skip
    for number, kind in enumerate(("structural", "lining")):
        inspections.inspect_unit(
            unit, outcome="good", items=all_in_order(kind), note="after relining", kind=kind, by=by,
            done_at=relined + dt.timedelta(hours=4 + number),
            at=relined + dt.timedelta(hours=4 + number),
        )  # fmt: skip
    first, at = setting.units[0], now - dt.timedelta(minutes=25)
    items = all_in_order("periodic")
    items[list(items)[1]] = False
    inspections.inspect_unit(
        first, outcome="defect", items=items, note="found while hanging boards", kind="periodic",
        defect=BENT, by=by, done_at=at, at=at,
    )  # fmt: skip

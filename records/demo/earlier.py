"""The oldest unit before its burns were recorded here: what its paper log says, year by year."""

from __future__ import annotations

import datetime as dt
import random
from decimal import Decimal

from records.demo.setting import Setting
from records.ground.taking_over import take_over_use
from records.inspections import services as inspections
from records.inspections.checklists import all_in_order

MJ_KG = Decimal("16.4")  # of boards at eight per cent


def tell_earlier(setting: Setting, at: dt.datetime) -> None:
    """Take over every year up to the day before the first record, with its inspection."""
    unit, chance = setting.units[0], random.Random(2006)
    by = setting.people["inspector"]
    for year in range(unit.commissioned_on.year, at.year + 1):
        first = max(dt.date(year, 1, 1), unit.commissioned_on)
        last = min(dt.date(year, 12, 31), at.date() - dt.timedelta(days=1))
        days = (last - first).days + 1
        burns = max(1, round(chance.uniform(0.35, 0.5) * days))
        mass = Decimal(f"{burns * chance.uniform(104, 119):.0f}")
        take_over_use(
            unit, first=first, last=last, burns=burns, dry_mass_kg=mass, energy_mj=mass * MJ_KG,
            document=f"paper log of the training ground, {year}", by=by, at=at,
        )  # fmt: skip
        looked = dt.datetime.combine(last, dt.time(9), setting.site.zone) - dt.timedelta(days=20)
        if looked.date() <= unit.commissioned_on:
            continue
        inspections.inspect_unit(
            unit, outcome="good", done_at=looked, note="from the paper file", by=by, at=at,
            items=all_in_order(),
        )  # fmt: skip

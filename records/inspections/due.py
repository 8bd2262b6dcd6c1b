"""When each inspection of a unit comes due: by date, by burns, by cycles, whichever comes first.

The limits are rows of the editions in force. What is projected is told as such, with its band.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from facility.calc.life import time_to_count
from facility.calc.working import Working
from facility.rulebook.models import Edition
from facility.rulebook.selectors import standing_rules
from facility.rules.engine import Rule
from facility.sites.models import Site, Unit
from records.ground import selectors as ground
from records.ground.heat_selectors import cycles_since
from records.inspections.models import InspectionKind
from records.inspections.selectors import SCHEMES, last_inspections

COUNTED = ("days", "burns", "cycles")
BAND_PCT = 80.0  # our choice
FAR = dt.timedelta(days=3653)  # ten years; a projection beyond is not told: our choice
SOON = dt.timedelta(days=30)  # within which a date is said to be near: our choice

Limits = Mapping[str, Mapping[str, float]]  # by kind of inspection, then by what is counted


@dataclass(frozen=True, slots=True)
class Due:
    """One inspection of one unit: what is allowed since the last, and when that is used up."""

    kind: str
    last: dt.date | None
    days_allowed: float | None
    burns_allowed: int | None
    cycles_allowed: float | None
    burns: int  # since the last
    on: dt.date | None  # by date alone
    today: dt.date
    reach: Working | None  # days until the burns are used up, at this season's rate
    cycles: float = 0.0  # recorded since the last
    burns_recorded: int = 0  # of how many burns that is

    @property
    def label(self) -> str:
        return str(InspectionKind(self.kind).label)

    @property
    def burns_left(self) -> int | None:
        return None if self.burns_allowed is None else self.burns_allowed - self.burns

    @property
    def cycles_known(self) -> bool:
        """Whether the temperatures of every burn since the last are recorded."""
        return self.burns_recorded >= self.burns

    @property
    def overdue(self) -> bool:
        """Whether no further burn would be within the rows.

        Cycles of a part of the burns are a lower bound: over the limit they are over it for sure.
        """
        by_date = self.on is not None and self.today > self.on
        by_burns = self.burns_left is not None and self.burns_left < 1
        by_cycles = self.cycles_allowed is not None and self.cycles > self.cycles_allowed
        return self.last is None or by_date or by_burns or by_cycles

    @property
    def far(self) -> bool:
        """Whether the burns last so long that no day is worth telling."""
        return self.reach is not None and float(self.reach.value()) > FAR.days

    def _after(self, result: str) -> dt.date | None:
        if self.reach is None or self.far:
            return None
        days = min(float(self.reach.value(result)), 10.0 * FAR.days)
        return self.today + dt.timedelta(days=days)

    @property
    def about(self) -> dt.date | None:
        """When the burns are used up, at this season's rate."""
        return self._after("days")

    @property
    def early(self) -> dt.date | None:
        return self._after("early")

    @property
    def late(self) -> dt.date | None:
        return self._after("late")

    @property
    def first(self) -> dt.date | None:
        """Whichever comes first; today where it is due already, None where nothing can be told."""
        if self.overdue:
            return self.today
        return min((day for day in (self.on, self.about) if day is not None), default=None)

    @property
    def by_burns(self) -> bool:
        """Whether the burns are used up before the date."""
        return self.about is not None and (self.on is None or self.about < self.on)

    @property
    def state(self) -> str:
        if self.overdue:
            return "inspection_overdue"
        near = self.first is not None and self.first - self.today <= SOON
        return "inspection_soon" if near else "inspection_ahead"


def limits_of(rules: Iterable[Rule], unit_kind: str) -> Limits:
    """What rows allow a kind of unit since each inspection; the stricter where several say it."""
    facts = {
        f"unit.{counted}_since_{name}": (kind, counted)
        for kind, name in SCHEMES.items()
        for counted in COUNTED
    }
    found: dict[str, dict[str, float]] = {}
    for rule in rules:
        narrowed = rule.applies.unit_kinds
        if rule.fact not in facts or rule.limit is None or rule.comparison not in ("<=", "within"):
            continue
        if narrowed and unit_kind not in narrowed:
            continue
        kind, counted = facts[rule.fact]
        held = found.setdefault(kind, {})
        held[counted] = min(rule.limit / rule.scale, held.get(counted, float("inf")))
    return found


def dues(
    site: Site, units: Iterable[Unit], editions: Sequence[Edition], now: dt.datetime
) -> dict[int, list[Due]]:
    """The inspections that rows ask of each unit, the next one first, by the unit's key."""
    units, rules = list(units), standing_rules(editions)
    limits = {unit.pk: limits_of(rules, unit.kind) for unit in units}
    asked = sorted({kind for each in limits.values() for kind in each})
    last = last_inspections(units, now) if asked else {}
    season = season_of(site, now)
    seen = ground.burns_since({unit.pk: season for unit in units}) if asked else {}
    found: dict[int, list[Due]] = {unit.pk: [] for unit in units}
    for kind in asked:
        since = {unit: looked[kind] for unit, looked in last.items() if kind in looked}
        counts = ground.burns_since(since)
        counted = any("cycles" in limits[unit].get(kind, {}) for unit in since)
        turned = cycles_since(since) if counted else {}
        for unit in units:
            if kind in limits[unit.pk]:
                found[unit.pk].append(
                    _due(
                        kind, limits[unit.pk][kind], since.get(unit.pk), counts.get(unit.pk, 0),
                        seen.get(unit.pk, 0), (now - season).total_seconds() / 86400,
                        now.astimezone(site.zone).date(), site, turned.get(unit.pk, (0, 0.0)),
                    )
                )  # fmt: skip
    for each in found.values():
        each.sort(key=lambda due: (due.first is None, due.first or due.today, due.kind))
    return found


def season_of(site: Site, now: dt.datetime) -> dt.datetime:
    """The first moment of this season, which is the calendar year of the ground."""
    day = now.astimezone(site.zone).date()
    return dt.datetime(day.year, 1, 1, tzinfo=site.zone)


def _due(
    kind: str, allowed: Mapping[str, float], last: dt.datetime | None, burns: int, seen: int,
    days_seen: float, today: dt.date, site: Site, turned: tuple[int, float],
) -> Due:  # fmt: skip
    most = int(allowed["burns"]) if "burns" in allowed else None
    on = None
    if last is not None and "days" in allowed:
        on = (last + dt.timedelta(days=allowed["days"])).astimezone(site.zone).date()
    left = None if most is None or last is None else most - burns
    reach = None
    if left is not None and left > 0 and seen and days_seen > 0:
        reach = time_to_count.of(
            events_left=left, events_seen=seen, days_seen=round(days_seen, 2), share=BAND_PCT
        )
    return Due(
        kind=kind, last=last.astimezone(site.zone).date() if last else None,
        days_allowed=allowed.get("days"), burns_allowed=most,
        cycles_allowed=allowed.get("cycles"), burns=burns, on=on, today=today, reach=reach,
        burns_recorded=turned[0], cycles=turned[1],
    )  # fmt: skip

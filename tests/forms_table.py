"""Every form of the program: who sends it, where to, with what, and what each field may not be.

``good`` is a sending that is accepted; the tests spoil one field of it at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from facility.guarded import opened
from facility.rulebook.selectors import fingerprint
from records.accounts import second_factor
from records.audit.models import LogHead
from records.burns.aftermath import sheet_hash
from records.burns.before import FIT
from records.burns.closing import CLOSES, COUNTERSIGNS
from records.burns.readiness import fit_hash
from records.ground import services as ground_services
from records.inspections.checklists import POST_BURN, PRE_BURN, STRUCTURAL
from records.inspections.content import content_hash
from records.reports import disposing
from records.reports.tracing import burns_with
from records.stock import counting, recalling, waste
from records.stock.deciding import shown_hash_of
from records.stock.marks import CODES
from records.yard.forms import LateForm
from records.yard.selectors import open_doubts
from records.yard.services import late_hash
from tests import builders
from tests.pages import DAY, Things

Data = dict[str, Any]
WRONG_DATES = ("2026-02-31T10:00", "0001-01-01T00:00", "9999-12-31T23:59", "soon")
CONTROL = "bell \x07 rings"


@dataclass(frozen=True)
class Text:
    longest: int
    needed: bool = True

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("", "   ") if self.needed else ()
        yield from ("x" * (self.longest + 1), CONTROL)


@dataclass(frozen=True)
class Number:
    """``wrong_unit`` is a unit of another kind, ``fine`` a number with more decimals than kept."""

    wrong_unit: str
    fine: str = "1.23456"
    needed: bool = True
    zero: bool = False  # zero is allowed
    minus: bool = False  # and less than that: a temperature

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("", "   ") if self.needed else ()
        yield from () if self.zero else ("0",)
        yield from ("-99",) if self.minus else ("-1",)
        yield from ("abc", "1,234", "1e99", "nan", "1 2 3 x", "--5", self.fine)
        yield from (f"5 {self.wrong_unit}", "5 furlongs per")
        yield from () if self.minus else ("70 °F",)


@dataclass(frozen=True)
class Time:
    """A time; what has happened cannot lie ahead."""

    past: bool = True
    needed: bool = True
    drawn: bool = True  # the page has a field for it

    def spoiled(self, things: Things) -> Iterator[str]:
        yield from ("", "   ") if self.needed else ()
        yield from WRONG_DATES
        if self.past:
            yield things.typed(things.now + DAY)


@dataclass(frozen=True)
class Day:
    needed: bool = True

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("",) if self.needed else ()
        yield from ("2026-02-31", "0000-01-01", "soon")


@dataclass(frozen=True)
class Choice:
    """``foreign`` finds the id of the same kind of thing on another ground."""

    needed: bool = True
    foreign: Callable[[Things], str] | None = None

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("",) if self.needed else ()
        yield from ("no-such-choice", "' OR 1=1 --")


@dataclass(frozen=True)
class Secret:
    """A new password: not empty, long enough, not one that everybody takes."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from (
            "",
            "   ",
            "fourteen chars",
            "x" * 201,
            "1q2w3e4r5t6y7u8i9o0p",
            "ember ember ember ",
        )


@dataclass(frozen=True)
class Digits:
    """Six digits that are not guessed at once."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("", "   ", "48291", "4829130", "48291a", "４８２９１３", "-48291")
        yield from ("000000", "123456", "654321", "890123", "135791", "121212", "123123", "112233")


@dataclass(frozen=True)
class Tick:
    """A box that must be ticked."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield ""


@dataclass(frozen=True)
class Limit:
    """The limit of a row: a plain number in sense, three decimals at most."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("-1", "abc", "1e99", "nan", "Infinity", "1.2345", "5 kg", "1,234,5")


@dataclass(frozen=True)
class Code:
    """The code of a row: letters, digits, points and dashes."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("", "   ", "x" * 13, "R 1", "<b>", "../1", CONTROL)


@dataclass(frozen=True)
class Unit:
    """The unit of a row: none, or one of the fact's dimension."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("MJ", "furlong", "degC", "kg kg", "x" * 60)


@dataclass(frozen=True)
class Whole:
    """A whole number in sense."""

    zero: bool = True
    needed: bool = True

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from () if self.zero else ("0",)
        yield from ("",) if self.needed else ()
        yield from ("-1", "1.5", "abc", "99999", "1e9")


@dataclass(frozen=True)
class Value:
    """A stated value of a fact that is true or not."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("maybe", "1", "TRUE", "x" * 70)


@dataclass(frozen=True)
class Hidden:
    """What the page itself sends along: what was seen, and by which key."""

    def spoiled(self, _things: Things) -> Iterator[str]:
        yield from ("", "x" * 200, "no-such-thing")


Kind = (
    Secret
    | Digits
    | Tick
    | Hidden
    | Text
    | Number
    | Time
    | Day
    | Choice
    | Limit
    | Code
    | Unit
    | Whole
    | Value
)


@dataclass(frozen=True)
class Form:
    who: str
    address: str
    act: str
    good: Callable[[Things], Data]
    fields: dict[str, Kind] = field(default_factory=dict)
    leads_to: str = "it was not recorded twice"  # what is said to whoever sends it again


def ticked(items: tuple[Any, ...]) -> Data:
    return {f"item_{index}": "on" for index, _item in enumerate(items)}


def looked(row: str = "", **seen: str) -> Data:
    """Every mark looked for, and none seen but those given."""
    return {f"mark_{code}{row}": seen.get(code, "no") for code in CODES}


def plan_data(things: Things) -> Data:
    ground, start = things.ground, things.now + 6 * DAY
    return {
        "unit": ground.unit.public_id, "exercise": "demonstration", "starts_at": things.typed(start),
        "ends_at": things.typed(start + DAY / 48), "water_l": "12000", "objective": "Show growth",
        "abort_criteria": "Stop when the layer drops",
        "position_0": ground.unit.positions.get(name="Ceiling").public_id,
        "product_0": ground.board.public_id, "quantity_0": "3",
        "in_charge": ground.instructor.public_id, "safety": ground.safety.public_id,
        "ignition": ground.setter.public_id, "observer": ground.observer.public_id,
        "crew": [ground.instructor_two.public_id],
        "learners": [person.public_id for person in ground.learners[:3]],
    }  # fmt: skip


def restore_data(_things: Things) -> Data:
    """As if this ground had just come out of a backup."""
    with opened():
        LogHead.objects.update(restore_unsigned=True)
    return {"checked": "the head mailed last night", "password": builders.PASSWORD}


def second_bay(things: Things) -> str:
    """A bay that the lot does not lie in, added once."""
    site = things.ground.site
    found = site.bays.filter(name="Yard").first() or ground_services.add_bay(
        site, name="Yard", by=things.ground.stores, at=things.now
    )
    return found.public_id


PLAN_FIELDS: dict[str, Kind] = {
    "unit": Choice(foreign=lambda other: other.unit.public_id),
    "exercise": Choice(),
    "starts_at": Time(past=False),
    "ends_at": Time(past=False),
    "water_l": Number("kg", fine="1.5", zero=True),
    "objective": Text(300),
    "abort_criteria": Text(500),
    "position_0": Choice(foreign=lambda other: other.unit.positions.get(name="Crib").public_id),
    "product_0": Choice(foreign=lambda other: other.ground.board.public_id),
    "lot_0": Choice(needed=False, foreign=lambda other: other.lot.public_id),
    "quantity_0": Number("kg", fine="2.5"),
    "in_charge": Choice(needed=False, foreign=lambda other: other.ground.instructor.public_id),
    "crew": Choice(needed=False, foreign=lambda other: other.ground.instructor.public_id),
    "learners": Choice(needed=False, foreign=lambda other: other.ground.learners[0].public_id),
}


def factor_data(things: Things) -> Data:
    """An offer to the stores officer, and the code that a phone makes of it now."""
    sealed = second_factor.offer(things.ground.stores)
    seed = second_factor.seed_offered(things.ground.stores, sealed)
    return {"sealed": sealed, "code": builders.code_of(seed, timezone.now())}


def signing_waiting(meaning: str, **more: str) -> Callable[[Things], Data]:
    """A signature under a decision on the lot that waits for one."""
    return lambda things: {
        "meaning": meaning,
        "password": builders.PASSWORD,
        "shown_hash": shown_hash_of(things.waiting_lot),
        **more,
    }


def unit_data(_things: Things) -> Data:
    return {
        "length_m": "12", "width_m": "2.4", "height_m": "2400 mm", "wall": "steel 2 mm",
        "max_people": "8", "max_charge_kg": "90", "max_burns_day": "3", "cool_down_min": "60",
        "openings_0_name": "main door", "openings_0_kind": "door", "openings_0_side": "front",
        "openings_0_width_m": "2.2", "openings_0_height_m": "2.1",
        "openings_1_name": "hatch", "openings_1_kind": "hatch", "openings_1_x_m": "3",
        "openings_1_width_m": "0.9", "openings_1_height_m": "0.9",
        "baffles_0_name": "baffle", "baffles_0_x_m": "4", "baffles_0_y_m": "0",
        "baffles_0_width_m": "2.4", "baffles_0_z_m": "1.4", "baffles_0_height_m": "1",
        "linings_0_name": "board", "linings_0_surface": "ceiling", "linings_0_thickness_mm": "25",
        "positions_0_name": "Ceiling", "positions_0_surface": "ceiling", "positions_0_x_m": "0.2",
        "positions_0_length_m": "2.44",
        "sensors_0_name": "T1", "sensors_0_x_m": "5", "sensors_0_z_m": "1.2",
    }  # fmt: skip


FORMS: dict[str, Form] = {
    "commission": Form(
        "inspector", "inspections:unit_new", "ground.unit_commissioned",
        lambda things: unit_data(things) | {
            "name": "Unit 7", "kind": "attack", "trials": "two trial burns", "handover_document":
            "H-7", "commissioned_on": (things.now - 2 * DAY).date().isoformat(),
        },
        {
            "name": Text(40), "kind": Choice(), "wall": Text(80), "trials": Text(500),
            "handover_document": Text(120), "commissioned_on": Day(), "max_people": Whole(),
            "length_m": Number("kg"), "height_m": Number("kg"),
            "max_charge_kg": Number("mm", fine="90.25", needed=False),
            "cool_down_min": Number("mm", fine="60.5", needed=False),
            "openings_0_name": Text(40), "openings_0_kind": Choice(),
            "openings_0_side": Choice(needed=False), "openings_0_height_m": Number("kg"),
            "linings_0_thickness_mm": Number("kg", fine="25.25"),
            "positions_0_surface": Choice(), "sensors_0_z_m": Number("kg", zero=True),
        },
    ),
    "take over": Form(
        "inspector", "inspections:take_over", "ground.use_taken_over",
        lambda things: {
            "first": (things.now - 399 * DAY).date().isoformat(),
            "last": (things.now - 300 * DAY).date().isoformat(), "burns": "40",
            "dry_mass_kg": "3200", "energy_mj": "56000", "document": "paper log 3",
        },
        {
            "first": Day(), "last": Day(), "burns": Whole(), "document": Text(120),
            "dry_mass_kg": Number("mm"), "energy_mj": Number("kg", fine="900.25"),
        },
    ),
    "change unit": Form(
        "inspector", "inspections:unit_change", "ground.unit_changed",
        lambda things: unit_data(things) | {
            "what_happened": "modified", "since": things.typed(things.now), "what": "second door",
            "document": "drawing 4", "seen_version": "1",
        },
        {
            "what_happened": Choice(), "since": Time(), "what": Text(500),
            "document": Text(120, needed=False), "seen_version": Hidden(),
        },
    ),
    "delivery": Form(
        "stores", "stock:delivery_new", "stock.delivery_received",
        lambda things: {
            "supplier": "Board yard", "docket": "D-900", "untreated": "on",
            "delivered_at": things.typed(things.now - DAY / 24),
            "product_0": things.ground.board.public_id, "code_0": "P-900", "received_0": "40",
            "bay_0": things.ground.bay.public_id, "sheet_mass_kg_0": "25.4", "length_m_0": "2.5",
            "width_m_0": "1", "thickness_mm_0": "20", "unit_cost_0": "11.50",
            "mill_mark_0": "Mill 7", "emission_class_0": "E1", **looked("_0"),
        },
        {
            "supplier": Text(80), "docket": Text(40), "delivered_at": Time(), "code_0": Text(20),
            "received_0": Number("kg", fine="2.5"),
            "sheet_mass_kg_0": Number("mm", fine="25.123"),
            "length_m_0": Number("kg", fine="2.5001"), "width_m_0": Number("kg", fine="1.0001"),
            "thickness_mm_0": Number("kg", fine="20.123"),
            "unit_cost_0": Number("kg", fine="11.505", needed=False, zero=True),
            "mill_mark_0": Text(60, needed=False), "emission_class_0": Choice(needed=False),
            "mark_mb_0": Choice(), "mark_mixed_0": Choice(),
            "product_0": Choice(foreign=lambda other: other.ground.board.public_id),
            "bay_0": Choice(needed=False, foreign=lambda other: other.ground.bay.public_id),
            "untreated": Tick(),
        },
    ),
    "marks": Form(
        "stores", "stock:marks", "stock.marks_checked",
        lambda things: looked() | {"note": "looked again"},
        {"mark_mb": Choice(), "mark_smell": Choice(), "note": Text(300, needed=False)},
    ),
    "weigh": Form(
        "stores", "stock:weigh", "stock.sheet_weighed",
        lambda things: {
            "sheet_mass_kg": "25.4", "length_m": "2.5", "width_m": "1", "thickness_mm": "20",
        },
        {
            "sheet_mass_kg": Number("mm", fine="25.123"), "length_m": Number("kg", fine="2.5001"),
            "width_m": Number("kg", fine="1.0001"), "thickness_mm": Number("kg", fine="20.123"),
        },
    ),
    "explain": Form(
        "stores", "stock:explain", "stock.density_explained",
        lambda things: {"reason": "the mill confirms it by letter"}, {"reason": Text(300)},
    ),
    "readings": Form(
        "stores", "stock:readings", "stock.reading_recorded",
        lambda things: {
            "reading_0": "8.0", "reading_1": "8.5", "reading_2": "9", "place_0": "pack 1, board 4",
            "meter": things.ground.meter.public_id, "read_at": things.typed(things.now),
        },
        {
            "reading_0": Number("kg", fine="8.25", zero=True, needed=False),
            "place_0": Text(40, needed=False), "read_at": Time(),
            "board_temperature_c": Number("kg", fine="8.25", zero=True, needed=False, minus=True),
            "meter": Choice(foreign=lambda other: other.ground.meter.public_id),
        },
    ),
    "dried": Form(
        "stores", "stock:dried", "stock.samples_dried",
        lambda things: {
            "wet_0": "115", "dry_0": "100", "place_0": "pack 1, board 4",
            "read_at": things.typed(things.now),
        },
        {
            "wet_0": Number("mm", fine="115.123"), "dry_0": Number("mm", fine="99.123"),
            "place_0": Text(40, needed=False), "read_at": Time(),
        },
    ),
    "accept": Form(
        "stores", "stock:verdict", "stock.lot_accepted", signing_waiting("acceptance for burning"),
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "condition": Form(
        "stores", "stock:condition", "stock.lot_conditioned",
        signing_waiting("acceptance on the condition written here", condition="only on the floor"),
        {"condition": Text(300), "meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "reject": Form(
        "stores", "stock:reject", "stock.lot_rejected",
        signing_waiting("rejection of the lot", reason="mould on the edges"),
        {"reason": Text(300), "meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "confirm": Form(
        "manager", "stock:confirm", "stock.verdict_confirmed",
        lambda things: {
            "meaning": "second check of this decision", "password": builders.PASSWORD,
            "shown_hash": shown_hash_of(things.conditional_lot),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "hold": Form(
        "stores", "stock:hold", "stock.lot_held",
        lambda things: {"reason": "wet"}, {"reason": Text(300)},
    ),
    "meter": Form(
        "stores", "stock:meter_new", "stock.meter_added",
        lambda things: {
            "name": "pin meter 9", "kind": "pin", "mark": "serial 77", "note": "block 12 %",
            "calibrated_on": (things.now - 9 * DAY).date().isoformat(),
            "due_on": (things.now + 300 * DAY).date().isoformat(),
        },
        {
            "name": Text(40), "kind": Choice(), "mark": Text(40), "note": Text(160),
            "calibrated_on": Day(), "due_on": Day(),
        },
    ),
    "calibrate": Form(
        "stores", "stock:calibrate", "stock.meter_calibrated",
        lambda things: {
            "calibrated_on": things.now.date().isoformat(), "note": "block 12 %",
            "due_on": (things.now + 300 * DAY).date().isoformat(),
        },
        {"note": Text(160), "calibrated_on": Day(), "due_on": Day()},
    ),
    "correction": Form(
        "stores", "stock:correction", "stock.correction_set",
        lambda things: {
            "product": things.ground.board.public_id, "factor": "0.9", "points": "-0.5",
            "source": "five oven-dry samples",
        },
        {
            "product": Choice(foreign=lambda other: other.ground.board.public_id),
            "factor": Number("kg", fine="0.91234"), "source": Text(160),
            "points": Number("kg", fine="1.234", zero=True, minus=True),
        },
    ),
    "climate": Form(
        "stores", "stock:climate", "stock.climate_recorded",
        lambda things: {
            "measured_at": things.typed(things.now), "temperature_c": "-3", "humidity_pct": "65",
        },
        {
            "measured_at": Time(), "humidity_pct": Number("kg", fine="65.25", zero=True),
            "temperature_c": Number("kg", fine="3.25", zero=True, minus=True),
        },
    ),
    "adjust": Form(
        "stores", "stock:adjust", "stock.stock_adjusted",
        lambda things: {
            "counted": "190", "reason": "counted again", "meaning": counting.SIGNS,
            "password": builders.PASSWORD, "shown_hash": counting.record_hash(things.lot),
        },
        {
            "counted": Number("kg", fine="190.5", zero=True), "reason": Text(300),
            "meaning": Choice(), "password": Choice(), "shown_hash": Hidden(),
        },
    ),
    "carry": Form(
        "stores", "stock:carry", "stock.lot_moved",
        lambda things: {
            "bay": second_bay(things),
            "reason": "dry corner",
        },
        {
            "bay": Choice(foreign=lambda other: other.ground.bay.public_id),
            "reason": Text(300, needed=False),
        },
    ),
    "split": Form(
        "stores", "stock:split", "stock.lot_split",
        lambda things: {
            "quantity": "3", "code": "P-901", "bay": things.ground.bay.public_id, "reason": "yard",
        },
        {
            "quantity": Number("kg", fine="2.5"), "code": Text(20),
            "bay": Choice(foreign=lambda other: other.ground.bay.public_id),
            "reason": Text(300, needed=False),
        },
    ),
    "cut": Form(
        "stores", "stock:cut", "stock.lot_cut",
        lambda things: {
            "sheets": "3", "piece_length_m": "1.2", "piece_width_m": "0.45", "kerf_mm": "5",
            "code": "P-902", "bay": things.ground.bay.public_id, "keep_offcuts": "on",
        },
        {
            "sheets": Number("kg", fine="2.5"), "piece_length_m": Number("kg", fine="1.12345"),
            "piece_width_m": Number("kg", fine="0.12345"),
            "kerf_mm": Number("kg", fine="3.123", zero=True), "code": Text(18),
            "bay": Choice(needed=False, foreign=lambda other: other.ground.bay.public_id),
        },
    ),
    "scrap": Form(
        "stores", "stock:scrap", "stock.boards_scrapped",
        lambda things: {"quantity": "3", "reason": "soaked"},
        {"quantity": Number("kg", fine="2.5"), "reason": Text(300)},
    ),
    "start a stocktake": Form(
        "stores", "stock:stocktake_new", "stock.stocktake_started",
        lambda things: {"bays": [things.ground.bay.public_id]},
        {"bays": Choice(foreign=lambda other: other.ground.bay.public_id)},
    ),
    "count": Form(
        "stores", "stock:count", "stock.stock_counted",
        lambda things: {
            "counted_at": things.typed(timezone.now()), "lot_0": things.lot.public_id,
            "counted_0": "198", "reason_0": "two broken",
        } if things.stocktake else {},
        {
            "counted_at": Time(), "counted_0": Number("kg", fine="190.5", needed=False, zero=True),
            "reason_0": Text(300, needed=False),
            "lot_0": Choice(foreign=lambda other: other.lot.public_id),
        },
    ),
    "sign a stocktake": Form(
        "stores", "stock:stocktake_sign", "stock.stocktake_signed",
        lambda things: {
            "meaning": counting.SIGNS, "password": builders.PASSWORD,
            "shown_hash": counting.content_hash(things.stocktake, "counted"),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "approve a stocktake": Form(
        "manager", "stock:stocktake_approve", "stock.stocktake_approved",
        lambda things: {
            "meaning": counting.APPROVES, "password": builders.PASSWORD,
            "shown_hash": counting.content_hash(things.far_off, "count_signed"),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "threshold": Form(
        "manager", "stock:count_limits", "stock.count_limits_set",
        lambda things: {"over_pct": "5", "over_value": "50"},
        {"over_pct": Number("kg", fine="5.123", zero=True), "over_value": Limit()},
    ),
    "waste": Form(
        "stores", "stock:waste_new", "stock.waste_recorded",
        lambda things: {
            "kind": "ash", "mass_kg": "84.5", "unburnt_kg": "3", "container": "bin 2",
            "destination": "landfill", "docket": "W-900", "untreated": "on",
            "cooled_since": things.typed(things.now - 2 * DAY),
            "weighed_at": things.typed(things.now - DAY / 24),
        },
        {
            "kind": Choice(), "mass_kg": Number("mm", fine="84.55"),
            "unburnt_kg": Number("mm", fine="3.55", needed=False, zero=True),
            "container": Text(80), "destination": Text(120), "docket": Text(40),
            "untreated": Tick(), "cooled_since": Time(), "weighed_at": Time(),
        },
    ),
    "sign off waste": Form(
        "safety", "stock:waste_sign", "stock.waste_signed_off",
        lambda things: {
            "meaning": waste.SIGNS_OFF, "password": builders.PASSWORD,
            "shown_hash": waste.waste_hash(things.waste),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "reorder": Form(
        "stores", "stock:reorder", "stock.reorder_set",
        lambda things: {
            "lead_days": "12", "spread_days": "4", "service_pct": "95", "multiple": "20",
            "lasts_days": "56",
        },
        {
            "lead_days": Number("kg", fine="12.34", zero=True),
            "spread_days": Number("kg", fine="4.56", zero=True),
            "service_pct": Number("kg", fine="95.55"),
            "multiple": Number("kg", fine="20.5"), "lasts_days": Number("kg", fine="56.12"),
        },
    ),
    "product": Form(
        "stores", "stock:product_new", "stock.product_added",
        lambda things: {
            "name": "Thick board", "kind": "osb", "standard_class": "local",
            "local_class": "LS 7 B", "length_m": "2.5", "density_band_pct": "12",
            "width_m": "1.25", "thickness_mm": "18", "density_kg_m3": "620",
            "density_moisture_pct": "8", "net_calorific_dry_mj_kg": "17.5",
            "calorific_source": "EN 1991-1-2",
        },
        {
            "name": Text(60), "kind": Choice(), "standard_class": Choice(needed=False),
            "local_class": Text(40), "density_band_pct": Number("kg", fine="8.12", needed=False),
            "length_m": Number("kg", fine="2.12345"), "width_m": Number("kg", fine="1.12345"),
            "thickness_mm": Number("kg", fine="18.123"),
            "density_kg_m3": Number("kg", fine="620.55"),
            "density_moisture_pct": Number("kg", fine="8.123", zero=True),
            "net_calorific_dry_mj_kg": Number("MJ", fine="17.123"), "calorific_source": Text(120),
        },
    ),
    "recall": Form(
        "manager", "reports:recall_new", "stock.lot_recalled",
        lambda things: {
            "q": things.lot.code, "source": "supplier", "notice": "N-7", "reason": "smells of tar",
            "meaning": recalling.RECALL, "password": builders.PASSWORD,
            "shown_hash": recalling.content_hash(
                recalling.lots_of_family(things.ground.site, [things.lot]), burns_with([things.lot])
            ),
        },
        {
            "source": Choice(), "notice": Text(80, needed=False), "reason": Text(300),
            "meaning": Choice(), "password": Choice(), "shown_hash": Hidden(),
        },
    ),
    "lift recall": Form(
        "safety", "reports:recall_lift", "stock.recall_lifted",
        lambda things: {
            "reason": "tested, sound", "meaning": recalling.LIFT, "password": builders.PASSWORD,
            "shown_hash": recalling.lifting_hash(things.recall),
        },
        {"reason": Text(300), "meaning": Choice(), "password": Choice(), "shown_hash": Hidden()},
    ),
    "plan": Form("instructor", "plans:new", "plans.plan_drafted", plan_data, PLAN_FIELDS),
    "plan again": Form(
        "instructor", "plans:edit", "plans.plan_revised",
        lambda things: plan_data(things) | {"seen_version": "1"},
        # The same form; its fields are spoiled above.
        {"seen_version": Hidden(), "unit": PLAN_FIELDS["unit"], "lot_0": PLAN_FIELDS["lot_0"]},
    ),
    "approve": Form(
        "manager", "plans:approve", "plans.plan_approved",
        lambda things: {
            "meaning": "approval to burn as planned", "password": builders.PASSWORD,
            "shown_hash": builders.hash_of(things.submitted),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "send back": Form(
        "manager", "plans:send_back", "plans.plan_sent_back",
        lambda things: {
            "reason": "too heavy", "shown_hash": builders.hash_of(things.submitted),
        },
        {"reason": Text(500), "shown_hash": Hidden()},
    ),
    "issue": Form(
        "stores", "plans:issue", "plans.charge_issued", lambda things: {"quantity_0": "3"},
        {"quantity_0": Number("kg", fine="2.5")},
    ),
    "start": Form(
        "instructor", "burns:start", "burns.burn_started",
        lambda things: {
            **ticked(PRE_BURN), "ignited_at": things.typed(things.now), "ignition_method": "burner",
            "weather": "dry, calm", "present": builders.everyone(things.issued),
        },
        {
            "ignited_at": Time(), "ignition_method": Text(80), "weather": Text(120),
            "item_3": Tick(),
            "present": Choice(foreign=lambda other: other.ground.safety.public_id),
        },
    ),
    "look at items": Form(
        "instructor", "burns:check", "burns.items_checked",
        lambda things: {
            "item_B-1": "on", "note_B-2": "hatch sticks", "seen_at": things.typed(things.now),
        },
        {"seen_at": Time(), "note_B-2": Text(200, needed=False)},
    ),
    "briefing": Form(
        "safety", "burns:briefing", "burns.briefing_held",
        lambda things: {
            "given_by": things.ground.safety.public_id, "held_at": things.typed(things.now),
            "people": [each.public_id for each in things.ground.learners[:3]],
        },
        {
            "given_by": Choice(foreign=lambda other: other.ground.safety.public_id),
            "held_at": Time(),
            "people": Choice(foreign=lambda other: other.ground.learners[0].public_id),
        },
    ),
    "roll": Form(
        "instructor", "burns:roll", "burns.roll_called",
        lambda things: {
            f"place_{number}": key for number, key in enumerate(builders.everyone(things.issued))
        },
        {"place_0": Choice(needed=False, foreign=lambda other: other.ground.setter.public_id)},
    ),
    "weather": Form(
        "instructor", "burns:weather", "burns.weather_noted",
        lambda things: {
            "words": "dry, light cloud", "wind_m_s": "4.5", "wind_from": "w",
            "temperature_c": "-2.5", "humidity_pct": "71", "read_at": things.typed(things.now),
        },
        {
            "words": Text(120), "wind_m_s": Number("kg", fine="1.25", needed=False, zero=True),
            "wind_from": Choice(needed=False),
            "temperature_c": Number("kg", fine="1.25", needed=False, zero=True, minus=True),
            "humidity_pct": Number("kg", fine="1.25", needed=False, zero=True), "read_at": Time(),
        },
    ),
    "fit": Form(
        "instructor", "burns:fit", "burns.fit_signed",
        lambda things: {
            "meaning": FIT, "password": builders.PASSWORD,
            "shown_hash": fit_hash(things.ready.version),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "remark": Form(
        "safety", "burns:remark", "burns.remark_recorded",
        lambda things: {
            "kind": "injury", "what": "a finger pinched in the door", "then": "cooled, dressed",
            "person": things.ground.setter.public_id, "happened_at": things.typed(things.now),
        },
        {
            "kind": Choice(), "what": Text(500), "then": Text(300), "happened_at": Time(),
            "person": Choice(needed=False, foreign=lambda other: other.ground.setter.public_id),
        },
    ),
    "countersign": Form(
        "safety", "burns:countersign", "burns.burn_countersigned",
        lambda things: {
            "meaning": COUNTERSIGNS, "password": builders.PASSWORD,
            "shown_hash": sheet_hash(things.closed.current),
        },
        {"meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "stage": Form(
        "instructor", "burns:event", "burns.event_noted",
        lambda things: {"kind": "stage", "stage": "growth"},
        {"kind": Choice(), "stage": Choice(), "happened_at": Time(needed=False, drawn=False)},
    ),
    "neutral plane": Form(
        "instructor", "burns:event", "burns.event_noted",
        lambda things: {"kind": "neutral_plane", "height_m": "1.25"},
        {"height_m": Number("kg", zero=True)},
    ),
    "stop note": Form(
        "instructor", "burns:event", "burns.event_noted",
        lambda things: {"kind": "stop", "note": "wind"}, {"note": Text(200)},
    ),
    "vent": Form(
        "instructor", "burns:event", "burns.event_noted",
        lambda things: {
            "kind": "vent_opened", "opening": things.unit.openings.get().public_id, "note": "",
        },
        {"opening": Choice(foreign=lambda other: other.unit.openings.get().public_id)},
    ),
    "settle a doubt": Form(
        "instructor", "yard:settle", "burns.doubt_settled",
        lambda things: {"doubt": open_doubts(things.doubted)[0].key, "reason": "lit early"},
        {"reason": Text(300)},
    ),
    "settle a stray doubt": Form(
        "instructor", "yard:settle_here", "burns.doubt_settled",
        lambda things: {"doubt": things.stray_doubt, "reason": "a broken file"},
        {"reason": Text(300)},
    ),
    "rescue file": Form(
        "instructor", "yard:rescue", "burns.events_taken",
        lambda things: {"file": SimpleUploadedFile("yard.jsonl", things.rescued_line)},
    ),
    "late events": Form(
        "instructor", "yard:late", "burns.late_events_signed",
        lambda things: {
            "reason": "no signal", "meaning": LateForm.meanings[0][0],
            "password": builders.PASSWORD, "shown_hash": late_hash(things.recorded_late),
        },
        {"reason": Text(300), "meaning": Choice(), "shown_hash": Hidden(), "password": Choice()},
    ),
    "close": Form(
        "instructor", "burns:close", "burns.burn_closed",
        lambda things: {
            **ticked(POST_BURN), "ended_at": things.typed(things.now), "note": "",
            f"used_{things.lot.public_id}": "3", "water_l": "240", "unburnt_kg": "3.5",
            f"minutes_{things.ground.safety.public_id}": "5",
            f"position_{things.ground.safety.public_id}": "opening",
            "meaning": CLOSES, "password": builders.PASSWORD,
        },
        {
            "ended_at": Time(), "used": Number("kg", fine="2.5", zero=True),
            "note": Text(500, needed=False), "item_1": Tick(), "meaning": Choice(),
            "password": Choice(), "water_l": Number("kg", fine="1.25", needed=False, zero=True),
            "unburnt_kg": Number("L", fine="1.25", needed=False, zero=True),
            "minutes": Whole(needed=False), "position": Choice(needed=False),
        },
    ),
    "correct": Form(
        "instructor", "burns:correct", "burns.burn_corrected",
        lambda things: {
            "ended_at": things.typed(things.closed.current.ended_at), "why": "counted again",
            "note": "", "seen_report": "1", f"used_{things.lot.public_id}": "2", "water_l": "250",
            "meaning": CLOSES, "password": builders.PASSWORD,
        },
        {
            "ended_at": Time(), "used": Number("kg", fine="2.5", zero=True), "why": Text(300),
            "note": Text(500, needed=False), "seen_report": Hidden(), "meaning": Choice(),
            "password": Choice(), "water_l": Number("kg", fine="1.25", needed=False, zero=True),
            "minutes": Whole(needed=False), "position": Choice(needed=False),
        },
    ),
    "logger file": Form(
        "instructor", "capture:take", "capture.file_taken",
        lambda things: {
            "file": SimpleUploadedFile("unit 1.csv", builders.LOGGED), "logger": "logger 1",
            "ignition_s": "0", "keep": "1",
        },
        {"logger": Text(40), "ignition_s": Number("kg", fine="1.25", needed=False, zero=True)},
    ),
    "return": Form(
        "stores", "burns:return", "burns.boards_returned",
        lambda things: {
            "lot": things.lot.public_id, "quantity": "1", "returned_at": things.typed(things.now),
        },
        {
            "lot": Choice(foreign=lambda other: other.lot.public_id), "returned_at": Time(),
            "quantity": Number("kg", fine="0.5"),
        },
    ),
    "inspect": Form(
        "inspector", "inspections:inspect", "inspections.unit_inspected",
        lambda things: {
            **ticked(STRUCTURAL), "outcome": "defect", "done_at": things.typed(things.now),
            "note": "", "severity": "restricts", "place": "roof vent", "description": "stiff",
        },
        {
            "outcome": Choice(), "done_at": Time(), "note": Text(500, needed=False),
            "severity": Choice(), "place": Text(80), "description": Text(500),
            "kind": Choice(needed=False),
            "part": Choice(needed=False, foreign=lambda other: other.unit.openings.get().public_id),
            "most_dry_kg": Number("mm", fine="1.25", needed=False, zero=True),
        },
    ),
    "points": Form(
        "inspector", "inspections:points", "inspections.points_marked",
        lambda things: {
            "wall": "left", "letters": "W", "nominal_mm": "2", "columns": "4", "rows": "2",
        },
        {
            "wall": Choice(), "nominal_mm": Number("kg", fine="1.234"),
            "along_m": Number("kg", fine="1.234", needed=False, zero=True),
            "up_m": Number("kg", fine="1.234", needed=False, zero=True),
        },
    ),
    "thermocouples": Form(
        "inspector", "inspections:calibrate", "inspections.sensors_calibrated",
        lambda things: {
            "against": "dry block, certificate 12", "done_on": f"{things.now:%Y-%m-%d}",
            f"reference_{things.unit.sensors.get().public_id}": "400",
            f"read_{things.unit.sensors.get().public_id}": "402.5",
        },
        {"against": Text(120), "done_on": Day()},
    ),
    "stop": Form(
        "safety", "inspections:stop", "inspections.unit_stopped",
        lambda things: {"place": "door", "description": "hinge pulled out"},
        {"place": Text(80), "description": Text(500)},
    ),
    "verify": Form(
        "inspector", "inspections:verify", "inspections.repair_verified",
        lambda things: {
            "checked": "swung ten times", "holds": "yes", "done_at": things.typed(things.now),
        },
        {"checked": Text(500), "holds": Choice(), "done_at": Time()},
    ),
    "repair": Form(
        "inspector", "inspections:repair", "inspections.repair_recorded",
        lambda things: {
            "what": "new hinge", "done_by": things.ground.inspector.public_id,
            "done_at": things.typed(things.now),
        },
        {
            "what": Text(500), "done_at": Time(), "contractor": Text(80, needed=False),
            "material": Text(200, needed=False), "cost": Number("kg", fine="1.234", needed=False, zero=True),
            "done_by": Choice(foreign=lambda other: other.ground.inspector.public_id),
        },
    ),
    "release": Form(
        "inspector", "inspections:release", "inspections.unit_released",
        lambda things: {
            "statement": "seen, sound", "meaning": "return to service",
            "password": builders.PASSWORD, "shown_hash": content_hash(things.checked),
        },
        {
            "statement": Text(500), "meaning": Choice(), "password": Choice(),
            "shown_hash": Hidden(),
        },
    ),
    "restore": Form(
        "manager", "audit:restored", "audit.restore_signed", restore_data,
        {"checked": Text(300), "password": Choice()},
    ),
    "person": Form(
        "admin", "ground:person_new", "ground.person_added",
        lambda things: {
            "name": "New person", "role": "stores", "course": "", "sign_in": "new-person",
        },
        {
            "name": Text(80), "role": Choice(), "course": Text(40, needed=False),
            "sign_in": Text(40),
        },
    ),
    "role": Form(
        "admin", "ground:role_new", "ground.role_given",
        lambda things: {
            "role": "safety", "since": things.now.date().isoformat(), "course": "",
        },
        {"role": Choice(), "since": Day(), "course": Text(40, needed=False)},
    ),
    "edition": Form(
        "safety", "standard:edition_new", "ground.edition_drafted",
        lambda things: {
            "code": "T-8", "title": "Third", "copy_of": "empty", "jurisdiction": "",
        },
        {
            "code": Text(20), "title": Text(120), "jurisdiction": Text(60, needed=False),
            "copy_of": Choice(foreign=lambda other: other.edition.public_id),
        },
    ),
    "row": Form(
        "safety", "standard:row_new", "ground.row_written",
        lambda things: {
            "code": "R-1", "title": "Kindling", "fact": "charge.kindling", "window": "burn",
            "comparison": "<=", "limit": "4", "severity": "block", "clause": "7.1",
            "basis": "local", "on": "on",
        },
        {
            "code": Code(), "title": Text(120), "fact": Choice(), "comparison": Choice(),
            "limit": Limit(), "severity": Choice(), "clause": Text(160), "basis": Choice(),
            "jurisdiction": Text(60, needed=False), "source": Text(200, needed=False),
            "why": Text(300, needed=False), "window": Choice(needed=False),
            "unit": Unit(), "waivable_by": Choice(needed=False),
            "exercises": Choice(needed=False), "asked_at": Choice(needed=False),
        },
    ),
    "row again": Form(
        "safety", "standard:row", "ground.row_written",
        lambda things: {
            "code": "F-07", "title": "Energy", "fact": "charge.energy", "comparison": "<=",
            "limit": "900", "severity": "block", "clause": "7.1", "basis": "local", "on": "on",
        },
        {"limit": Limit()},  # the same form; its fields are spoiled above
    ),
    "chart": Form(
        "inspector", "standard:chart", "ground.chart_written",
        lambda things: {
            "caps": "90 60", "burns_before_cooling": "2", "cooling_min": "90", "wait_min": "30",
            "trial_on": things.now.date().isoformat(), "trial_note": "trial, ceiling read",
        },
        {
            "caps": Number("MJ", fine="90.25"), "burns_before_cooling": Whole(zero=False),
            "cooling_min": Whole(), "wait_min": Whole(), "trial_on": Day(), "trial_note": Text(200),
        },
    ),
    "new item": Form(
        "inspector", "standard:item_new", "ground.check_written",
        lambda things: {
            "code": "B-31", "stage": "pre_ignition", "text": "Drains closed", "blocks": "on",
            "clause": "decided by the ground", "source": "", "basis": "local", "on": "on",
        },
        {
            "code": Code(), "stage": Choice(), "text": Text(120), "clause": Text(160),
            "source": Text(200, needed=False), "basis": Choice(),
        },
    ),
    "item": Form(
        "safety", "standard:item", "ground.check_written",
        lambda things: {
            "code": "B-01", "stage": "walk_through", "text": "Exits clear", "clause": "1",
            "basis": "local", "on": "on",
        },
        {"text": Text(120)},  # the same form; its fields are spoiled above
    ),
    "give back": Form(
        "manager", "standard:give_back", "ground.edition_returned",
        lambda things: {"reason": "the moisture row is missing"}, {"reason": Text(300)},
    ),
    "withdraw draft": Form(
        "safety", "standard:withdraw", "ground.edition_withdrawn",
        lambda things: {"reason": "begun again"}, {"reason": Text(300)},
    ),
    "adopt": Form(
        "manager", "standard:adopt", "ground.edition_adopted",
        lambda things: {
            "in_force_from": (things.now + 3 * DAY).date().isoformat(),
            "password": builders.PASSWORD, "meaning": "put in force as it stands",
            "shown_hash": fingerprint(things.proposed_edition),
        },
        {"in_force_from": Day(), "password": Choice(), "meaning": Choice(), "shown_hash": Hidden()},
    ),
    "waiver": Form(
        "instructor", "standard:waiver_new", "ground.waiver_asked",
        lambda things: {
            "row": f"{things.waivable_edition.code}/W-1", "scope": "unit",
            "unit": things.unit.public_id, "plan": "", "reason": "wet wood", "measure": "less",
            "expires_on": (things.now + 5 * DAY).date().isoformat(),
        },
        {
            "row": Choice(), "scope": Choice(), "reason": Text(300), "measure": Text(300),
            "expires_on": Day(),
            "unit": Choice(needed=False, foreign=lambda other: other.unit.public_id),
        },
    ),
    "end waiver": Form(
        "safety", "standard:end", "ground.waiver_ended",
        lambda things: {"reason": "not needed"}, {"reason": Text(300)},
    ),
    "statement": Form(
        "safety", "standard:statement_new", "ground.fact_stated",
        lambda things: {
            "fact": "permit.burn_permit", "target": "", "value": "yes", "until": "",
            "since": things.now.date().isoformat(), "note": "seen in the office",
        },
        {
            "fact": Choice(), "since": Day(), "note": Text(200), "value": Value(),
            "target": Choice(needed=False, foreign=lambda other: other.unit.public_id),
        },
    ),
    "history": Form(
        "auditor", "reports:papers", "reports.paper_asked",
        lambda things: {
            "start": (things.now - DAY).date().isoformat(), "end": things.now.date().isoformat(),
            "paper": "a4",
        },
        {"start": Day(), "end": Day(), "paper": Choice()},
    ),
    "role ends": Form(
        "admin", "accounts:role_end", "ground.role_ended",
        lambda things: {"role": "instructor", "last_day": (things.now + 9 * DAY).date().isoformat()},
        {"role": Choice(), "last_day": Day(needed=False)},
    ),
    "switch off": Form(
        "admin", "accounts:disable", "ground.person_disabled",
        lambda things: {"reason": "left the ground"}, {"reason": Text(300)},
    ),
    "switch on": Form(
        "admin", "accounts:enable", "ground.person_enabled",
        lambda things: {"reason": "came back"}, {"reason": Text(300)},
    ),
    "disposal ordered": Form(
        "safety", "reports:disposal_new", "ground.disposal_ordered",
        lambda things: {
            "shown_hash": things.shown_to_go, "reason": "its time is over",
            "meaning": disposing.ORDER, "password": builders.PASSWORD,
        },
        {"reason": Text(300), "meaning": Choice(), "password": Choice(), "shown_hash": Hidden()},
    ),
    "disposal carried out": Form(
        "admin", "reports:disposal_carry_out", "ground.disposal_done",
        lambda things: {
            "shown_hash": things.disposal_order.content_hash, "meaning": disposing.CARRY_OUT,
            "password": builders.PASSWORD,
        },
        {"meaning": Choice(), "password": Choice(), "shown_hash": Hidden()},
    ),
    "password link": Form(
        "admin", "accounts:first_password", "ground.password_link_made",
        lambda things: {"reason": "forgot it"}, {"reason": Text(300)},
    ),
    "password by link": Form(
        "inspector_two", "accounts:choose_password", "people.password_chosen",
        lambda things: {"new": "quite another long one", "again": "quite another long one"},
        {"new": Secret(), "again": Choice()}, leads_to="Sign in",
    ),
    "qualification": Form(
        "admin", "accounts:competence_new", "ground.competence_recorded",
        lambda things: {
            "kind": "live_fire", "issued_on": things.now.date().isoformat(),
            "expires_on": (things.now + 400 * DAY).date().isoformat(),
        },
        {"kind": Choice(), "issued_on": Day(), "expires_on": Day()},
    ),
    "own password": Form(
        "stores", "accounts:my_password", "people.password_changed",
        lambda things: {"old": builders.PASSWORD, "new": "quite another long one"},
        {"old": Choice(), "new": Secret()},
    ),
    "tablet": Form(
        "admin", "accounts:tablets", "ground.tablet_enrolled",
        lambda things: {"name": "yard 2", "password": builders.PASSWORD},
        {"name": Text(40), "password": Choice()},
        leads_to="Who records?",  # the first sending signed the administrator out
    ),
    "tablet ends": Form(
        "admin", "accounts:tablet_end", "ground.tablet_ended",
        lambda things: {"reason": "lost in the yard"}, {"reason": Text(300)},
    ),
    "personal code": Form(
        "stores", "accounts:my_code", "people.code_set",
        lambda things: {"code": "482913", "password": builders.PASSWORD},
        {"code": Digits(), "password": Choice()},
    ),
    "second factor": Form(
        "stores", "accounts:factor_on", "people.second_factor_on", factor_data,
        {"sealed": Hidden(), "code": Choice()},
    ),
}  # fmt: skip

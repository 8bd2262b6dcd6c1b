"""What happens to a lot as it comes in: looked over for marks, a sheet weighed, its docket kept.

A lot with a mark that is forbidden is received all the same and held at once: its boards stand on
the ground and must be counted until the lorry has taken them back.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.calc.boards import board_density
from facility.kinds import ProductKind
from facility.people.models import Person
from facility.refusals import (
    OwnWork,
    WrongState,
    WrongValue,
    number_between,
    plain_number,
    refuse_if,
    text_within,
)
from records.audit.door import door
from records.pictures.models import Picture
from records.pictures.reading import Photograph
from records.pictures.services import keep_picture
from records.stock import receipts, selectors
from records.stock.marks import CODES, MARKS, seen
from records.stock.models import (
    Delivery,
    DensityReason,
    DocketPicture,
    Lot,
    LotVerdict,
    MarkCheck,
    Product,
    SheetWeighing,
    Verdict,
)

# A sheet further off its product than this was taken for another one, or measured in another
# unit: common practice, no source.
SIZE_OFF_PCT = 20
LEAST_DENSITY, MOST_DENSITY = 100, 1200  # kg/m3, of any wood-based board


@dataclass(frozen=True, slots=True)
class MeasuredSheet:
    """One sheet as tape, gauge and scale found it."""

    length_m: Decimal
    width_m: Decimal
    thickness_mm: Decimal
    mass_kg: Decimal


def photograph_docket(
    delivery: Delivery, shot: Photograph, *, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> Picture:  # fmt: skip
    """Add a photograph of the docket, where there was none or the docket has another page."""
    with door(
        "stock.docket_photographed", by=by, site=delivery.site, on=delivery, at=at, once=once
    ) as entry:
        picture = keep_docket(delivery, shot, by=by, at=entry.at)
        entry.changed(picture_sha256=picture.kept_sha256)
    return picture


def keep_docket(delivery: Delivery, shot: Photograph, *, by: Person, at: dt.datetime) -> Picture:
    """Keep the picture as the delivery's; behind an open door."""
    picture = keep_picture(delivery.site, shot, by=by, at=at)
    DocketPicture(delivery=delivery, picture=picture).save()
    return picture


def check_marks(
    lot: Lot, answers: Mapping[str, bool], *, by: Person, note: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> MarkCheck:  # fmt: skip
    """Look the bundle over, for the first time or again.

    Whatever is seen holds the lot. To say that marks seen before are none takes another person
    and a note; accepting the lot is then an act of its own.
    """
    _refuse_unanswered(answers)
    note = text_within("note", note, 300, needed=False)
    with door(
        "stock.marks_checked", by=by, site=lot.site, on=lot, at=at, why=note, once=once
    ) as entry:
        earlier = receipts.mark_checks_of(lot)
        if earlier and seen(earlier[0].answers) and not seen(answers):
            refuse_if(not note, "note", _("Say why what was seen is no prohibited mark."))
            if earlier[0].checked_by_id == by.pk:
                raise OwnWork(
                    _("The second look is taken by another person than the one who saw the marks.")
                )
        row = keep_check(lot, answers, by=by, at=entry.at, note=note)
        entry.changed(marks={code: bool(answers[code]) for code in CODES})
    return row


def keep_check(
    lot: Lot, answers: Mapping[str, bool], *, by: Person, at: dt.datetime, note: str = ""
) -> MarkCheck:
    """Keep the answers, and hold the lot for what was seen; behind an open door."""
    _refuse_unanswered(answers)
    kept = {code: bool(answers[code]) for code in CODES}
    row = MarkCheck(lot=lot, answers=kept, note=note, checked_at=at, checked_by=by)
    row.save()
    if reason := reason_to_hold(kept):
        standing = selectors.verdict_of(lot)
        if standing not in (Verdict.HELD, Verdict.REJECTED):
            LotVerdict(
                lot=lot, verdict=Verdict.HELD, reason=reason, decided_at=at, decided_by=by
            ).save()
    return row


def reason_to_hold(answers: Mapping[str, bool]) -> str:
    marks = seen(answers)
    return _("Prohibited marks seen: {marks}.").format(marks="; ".join(marks)) if marks else ""


def _refuse_unanswered(answers: Mapping[str, bool]) -> None:
    missing = [mark for mark in MARKS if mark.code not in answers]
    if missing:
        raise WrongValue(
            _("Not looked for: {marks}.").format(marks="; ".join(str(each.words) for each in missing)),
            field=f"mark_{missing[0].code}",
        )  # fmt: skip


def weigh_sheet(
    lot: Lot, sheet: MeasuredSheet, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> SheetWeighing:
    """Measure and weigh one more sheet; its density is compared with the product's."""
    refuse_if(not lot.product.is_board, "mass_kg", _("Only boards are weighed by the sheet."))
    refuse_if(lot.cut_from_id is not None, "mass_kg", _("Weigh whole sheets of the lot it was cut from."))  # fmt: skip
    with door("stock.sheet_weighed", by=by, site=lot.site, on=lot, at=at, once=once) as entry:
        row = keep_weighing(lot, sheet, by=by, at=entry.at)
        entry.changed(
            mass_kg=row.mass_kg, density_kg_m3=row.density_kg_m3,
            expected_kg_m3=row.expected_kg_m3, outside=receipts.density_of(lot).outside,
        )  # fmt: skip
    return row


def keep_weighing(lot: Lot, sheet: MeasuredSheet, *, by: Person, at: dt.datetime) -> SheetWeighing:
    """Keep one sheet; behind an open door."""
    product = lot.product
    density = density_in_sense(product, sheet)
    row = SheetWeighing(
        lot=lot, length_m=sheet.length_m, width_m=sheet.width_m, thickness_mm=sheet.thickness_mm,
        mass_kg=sheet.mass_kg, density_kg_m3=density, expected_kg_m3=product.density_kg_m3 or 0,
        band_pct=receipts.band_of(product), weighed_at=at, weighed_by=by,
    )  # fmt: skip
    row.save()
    return row


def density_in_sense(product: Product, sheet: MeasuredSheet) -> Decimal:
    """The density of the sheet [kg/m3]; refused where no board of this product can be like it."""
    number_between("sheet_mass_kg", sheet.mass_kg, 0.5, 200, "kg")
    for field, unit in (("length_m", "m"), ("width_m", "m"), ("thickness_mm", "mm")):
        measured, nominal = getattr(sheet, field), getattr(product, field)
        number_between(field, measured, 0, 1e4, unit, above=True)
        refuse_if(
            abs(measured - nominal) * 100 > nominal * SIZE_OFF_PCT,
            field,
            _(
                "{given} {unit} was measured, and a sheet of {product} has {nominal} {unit}: "
                "another product, or another unit?"
            ).format(
                given=plain_number(measured), nominal=plain_number(nominal), unit=unit,
                product=product,
            ),
        )  # fmt: skip
    working = board_density.of(
        length=float(sheet.length_m), width=float(sheet.width_m),
        thickness=float(sheet.thickness_mm), mass=float(sheet.mass_kg),
        expected=float(product.density_kg_m3 or 0),
    )  # fmt: skip
    density = Decimal(f"{working.value():.1f}")
    refuse_if(
        not LEAST_DENSITY <= density <= MOST_DENSITY,
        "sheet_mass_kg",
        _(
            "A sheet of that size and {mass} kg would have {density} kg/m³; boards have "
            "{least} to {most} kg/m³. Check size and mass."
        ).format(
            mass=plain_number(sheet.mass_kg), density=density, least=LEAST_DENSITY,
            most=MOST_DENSITY,
        ),
    )  # fmt: skip
    return density


def explain_density(
    lot: Lot, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> DensityReason:
    """Say why a lot that weighs too much or too little for its product is taken all the same."""
    reason = text_within("reason", reason, 300)
    with door(
        "stock.density_explained", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        found = receipts.density_of(lot)
        if not found.outside:
            raise WrongState(
                _("The sheets weighed lie within the band; nothing is to be explained.")
            )
        row = DensityReason(
            lot=receipts.root_of(lot), reason=reason, decided_at=entry.at, decided_by=by
        )
        row.save()
        entry.changed(deviation_pct=Decimal(f"{found.deviation_pct:.1f}"))
    return row


def refuse_unready(lot: Lot) -> None:
    """Refuse to accept a lot, on a condition or without, before it was looked over and its density
    explained. Every way to accept asks this.

    Raises
    ------
    WrongState
        when nobody looked for marks, when some were seen, or when the density lies outside its
        band and nobody said why.
    """
    if lot.product.kind == ProductKind.LIQUID:
        return
    checks = receipts.mark_checks_of(lot)
    if not checks:
        raise WrongState(_("Nobody looked this lot over for prohibited marks yet; do that first."))
    if reason := reason_to_hold(checks[0].answers):
        raise WrongState(
            _("{reason} The lot cannot be accepted; a second look by another person may clear it.").format(reason=reason)
        )  # fmt: skip
    density = receipts.density_of(lot)
    if density.unexplained:
        raise WrongState(
            _(
                "The sheets weighed differ {given:+.1f} % from the product's density, and ±{band} % "
                "is allowed: weigh another one, or say why the lot is taken."
            ).format(given=density.deviation_pct or 0, band=plain_number(density.band_pct or Decimal(0)))
        )  # fmt: skip

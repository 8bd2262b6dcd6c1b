"""The store: products, deliveries, lots, moisture readings and movements.

Stock on hand is the sum of movements; ``LotBalance`` guards it and must always equal that sum.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F, Q, Value
from django.db.models.functions import Lower, Replace
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, GuardedModel, PublicModel
from facility.kinds import BOARD_KINDS, ProductKind
from facility.people.models import Person
from facility.sites.models import Bay, Site
from records.pictures.models import Picture


def spelt_alike(field: str) -> Lower:
    """A text without its case and blanks: D-1 and d - 1 are the same docket."""
    return Lower(Replace(F(field), Value(" "), Value("")))


class Product(PublicModel, GuardedModel):
    """A kind of fuel that the ground buys. Boards have a sheet size; the rest is loose."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="products")
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=20, choices=ProductKind.choices)
    standard_class = models.CharField(max_length=40, blank=True)
    length_m = models.DecimalField(max_digits=5, decimal_places=3, null=True)
    width_m = models.DecimalField(max_digits=5, decimal_places=3, null=True)
    thickness_mm = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    density_kg_m3 = models.DecimalField(max_digits=6, decimal_places=1, null=True)
    density_moisture_pct = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(0))
    density_band_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True)  # None: ours
    net_calorific_dry_mj_kg = models.DecimalField(max_digits=5, decimal_places=2)
    calorific_source = models.CharField(max_length=120)
    # The sheet that a piece was cut from; what was stated of the sheet holds for the piece.
    piece_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="pieces", null=True, blank=True
    )

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="product_name_on_site")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_board(self) -> bool:
        return self.kind in BOARD_KINDS

    @property
    def counted_in(self) -> str:
        """The unit of a count: "" for whole boards, kg for loose fuel, L for liquid."""
        if self.is_board:
            return ""
        return "L" if self.kind == ProductKind.LIQUID else "kg"


class Supplier(PublicModel, GuardedModel):
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="suppliers")
    name = models.CharField(max_length=80)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="supplier_on_site")]

    def __str__(self) -> str:
        return self.name


class Delivery(PublicModel, AppendOnlyModel):
    """One docket."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="deliveries")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="deliveries")
    docket = models.CharField(max_length=40)
    delivered_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    received_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    untreated = models.BooleanField()  # the docket states new, untreated material

    class Meta:
        ordering = ["-delivered_at"]
        indexes = [models.Index(fields=["delivered_at"], name="delivery_by_day")]  # lists of lots
        constraints = [
            models.UniqueConstraint(fields=["supplier", "docket"], name="docket_once"),
            models.UniqueConstraint("supplier", spelt_alike("docket"), name="docket_once_alike"),
        ]


class DocketPicture(AppendOnlyModel):
    """A photograph of a docket, taken at the lorry or added later; a docket has several pages."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="pictures")
    picture = models.OneToOneField(Picture, on_delete=models.PROTECT, related_name="+")


class Lot(PublicModel, AppendOnlyModel):
    """Boards of one product received under one docket."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="lots")
    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="lots")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="lots")
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="lots", null=True)
    code = models.CharField(max_length=20)
    received = models.DecimalField(max_digits=9, decimal_places=2)
    sheet_mass_kg = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    unit_cost = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    cut_from = models.ForeignKey("self", on_delete=models.PROTECT, related_name="pieces", null=True)
    mill_mark = models.CharField(max_length=60, blank=True)  # of the mill or batch, on the bundle
    emission_class = models.CharField(max_length=10, blank=True)  # of formaldehyde, on the docket
    # Whose readings count while this lot has none of its own; its sheet was weighed with those.
    moisture_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="moisture_parts", null=True
    )

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="lot_code_on_site"),
            models.UniqueConstraint("site", spelt_alike("code"), name="lot_code_once_alike"),
            models.CheckConstraint(condition=Q(received__gt=0), name="lot_has_boards"),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def standing(self) -> str | None:
        """The newest verdict, or that its condition waits for the second signature.

        Only of a lot that ``selectors.with_standing`` read, which reads both along.
        """
        read: Any = self
        waits = read.verdict == Verdict.CONDITIONAL and read.confirmed_verdict is None
        return UNCONFIRMED if waits else read.verdict

    @property
    def burnable(self) -> bool:
        """Whether it may be planned, issued and burned: the one answer to that."""
        return self.standing in (Verdict.ACCEPTED, Verdict.CONDITIONAL)


class MeterKind(models.TextChoices):
    PIN = "pin", _("pin meter")
    OTHER = "other", _("other kind")


class Meter(PublicModel, GuardedModel):
    """A moisture meter. Whether it may be used on a day is for its calibrations to say."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="meters")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=6, choices=MeterKind.choices)
    mark = models.CharField(max_length=40)  # serial number, or what is written on it

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="meter_name_on_site")]

    def __str__(self) -> str:
        return self.name


class Calibration(AppendOnlyModel):
    """A meter was checked, and may be used until the next check is due."""

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="calibrations")
    calibrated_on = models.DateField()
    due_on = models.DateField()
    note = models.CharField(max_length=160)  # who did it, or the certificate
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-calibrated_on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(due_on__gt=F("calibrated_on")), name="calibration_lasts"
            )
        ]


class ProductCorrection(AppendOnlyModel):
    """What one meter shows on one product, put right: factor and points; the newest counts."""

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="corrections")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="corrections")
    factor = models.DecimalField(max_digits=4, decimal_places=3)
    points = models.DecimalField(max_digits=4, decimal_places=2)
    source = models.CharField(max_length=160)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-id"]


class Method(models.TextChoices):
    METER = "meter", _("meter")
    OVEN_DRY = "oven_dry", _("oven-dry sample")


class MarkCheck(AppendOnlyModel):
    """The bundle looked over for prohibited marks: for each mark, whether it was seen.

    The newest one counts. ``answers`` goes from the code of a mark (``marks.MARKS``) to true.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="mark_checks")
    answers = models.JSONField()
    note = models.CharField(max_length=300, blank=True)
    checked_at = models.DateTimeField()
    checked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class SheetWeighing(AppendOnlyModel):
    """One sheet measured and weighed, with what its density was compared with that day."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="weighings")
    length_m = models.DecimalField(max_digits=5, decimal_places=3)
    width_m = models.DecimalField(max_digits=5, decimal_places=3)
    thickness_mm = models.DecimalField(max_digits=5, decimal_places=2)
    mass_kg = models.DecimalField(max_digits=6, decimal_places=2)
    density_kg_m3 = models.DecimalField(max_digits=6, decimal_places=1)
    expected_kg_m3 = models.DecimalField(max_digits=6, decimal_places=1)
    band_pct = models.DecimalField(max_digits=4, decimal_places=1)
    weighed_at = models.DateTimeField()
    weighed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class DensityReason(AppendOnlyModel):
    """Why a lot whose sheets weigh too much or too little is taken all the same."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="density_reasons")
    reason = models.CharField(max_length=300)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class MoistureReading(AppendOnlyModel):
    """Moisture of one board, percent of dry mass, as it counts; what was shown or weighed beside.

    Readings from before meters had rows of their own name theirs in words alone.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="readings")
    moisture_pct = models.DecimalField(max_digits=5, decimal_places=2)
    method = models.CharField(max_length=8, choices=Method.choices, default=Method.METER)
    meter = models.CharField(max_length=40, blank=True)
    read_with = models.ForeignKey(
        Meter, on_delete=models.PROTECT, related_name="readings", null=True
    )
    place = models.CharField(max_length=40, blank=True)  # which board it was
    shown_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    board_temperature_c = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    wet_mass_g = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    dry_mass_g = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    read_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["lot", "read_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(moisture_pct__gte=0, moisture_pct__lte=200), name="moisture_in_sense"
            )
        ]


class BayClimate(AppendOnlyModel):
    """The air of a bay at one moment."""

    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="climate")
    measured_at = models.DateTimeField()
    temperature_c = models.DecimalField(max_digits=4, decimal_places=1)
    humidity_pct = models.DecimalField(max_digits=4, decimal_places=1)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["measured_at"]
        constraints = [
            models.UniqueConstraint(fields=["bay", "measured_at"], name="bay_climate_once"),
            models.CheckConstraint(
                condition=Q(humidity_pct__gte=0, humidity_pct__lte=100), name="humidity_in_sense"
            ),
        ]


UNCONFIRMED = "unconfirmed"  # a condition that the second person has not signed


class Verdict(models.TextChoices):
    ACCEPTED = "accepted", _("accepted")
    CONDITIONAL = "conditional", _("accepted on a condition")
    HELD = "held", _("held")
    REJECTED = "rejected", _("rejected")


class LotVerdict(AppendOnlyModel):
    """What was decided on a lot; the newest one counts. A lot without one waits for its readings.

    The second signature under a condition or a rejection is a row of its own, which names in
    ``confirms`` the decision that it confirms.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="verdicts")
    verdict = models.CharField(max_length=12, choices=Verdict.choices)
    reason = models.CharField(max_length=300, blank=True)
    moisture_mean_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    moisture_highest_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    readings = models.PositiveSmallIntegerField(default=0)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    confirms = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="confirmed_by", null=True
    )


class MovementKind(models.TextChoices):
    RECEIVE = "receive", _("received")
    ISSUE = "issue", _("issued")
    RETURN = "return", _("returned")
    CUT = "cut", _("cut up")
    PIECES = "pieces", _("from cutting")
    MOVED_OUT = "moved_out", _("split off")
    MOVED_IN = "moved_in", _("from splitting")
    SCRAP = "scrap", _("scrapped")
    ADJUST_UP = "adjust_up", _("adjusted up")
    ADJUST_DOWN = "adjust_down", _("adjusted down")


INTO_STORE = frozenset(
    {
        MovementKind.RECEIVE, MovementKind.RETURN, MovementKind.PIECES, MovementKind.MOVED_IN,
        MovementKind.ADJUST_UP,
    }
)  # fmt: skip


class Movement(AppendOnlyModel):
    """Boards in or out. Quantities are positive; ``sign`` is the direction, 1 in and -1 out."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=12, choices=MovementKind.choices)
    sign = models.SmallIntegerField()
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    value = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal(0))  # at cost
    plan = models.CharField(max_length=10, blank=True, db_index=True)  # public id of the plan
    reason = models.CharField(max_length=300, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["happened_at", "id"]
        indexes = [
            models.Index(fields=["happened_at"]),
            models.Index(fields=["lot", "happened_at"]),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="movement_is_positive"),
            models.CheckConstraint(condition=Q(sign__in=(1, -1)), name="movement_has_direction"),
        ]


class LotBalance(GuardedModel):
    """The guard against overselling: changed by a conditional update in the same transaction.

    ``on_hand`` is the sum of movements, ``reserved`` the sum of reservations, ``bay`` the newest
    place, ``read_at`` the newest reading that the lot goes by; they stand here so that lists need
    no sums.
    """

    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="balance")
    on_hand = models.DecimalField(max_digits=9, decimal_places=2)
    reserved = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(0))
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="+", null=True)
    read_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [
            models.Index(fields=["lot"], name="lots_in_stock", condition=Q(on_hand__gt=0)),
            models.Index(fields=["read_at"], name="stock_by_reading", condition=Q(on_hand__gt=0)),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="stock_never_negative"),
            models.CheckConstraint(
                condition=Q(reserved__gte=0, reserved__lte=F("on_hand")), name="reserved_is_there"
            ),
        ]

    @property
    def available(self) -> Decimal:
        """What no approved plan has a claim on."""
        return self.on_hand - self.reserved


class ProductStock(GuardedModel):
    """Quantity and value at cost of all lots of a product: the moving weighted average.

    Locked by each movement. Value is kept in cents and never as a price, so that nothing is lost
    in rounding: what the last board takes with it is whatever is left.
    """

    product = models.OneToOneField(Product, on_delete=models.PROTECT, related_name="stock")
    quantity = models.DecimalField(max_digits=11, decimal_places=2, default=Decimal(0))
    value = models.DecimalField(max_digits=13, decimal_places=2, default=Decimal(0))

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=0, value__gte=0), name="stock_value_never_negative"
            )
        ]


class ReservationCause(models.TextChoices):
    APPROVED = "approved", _("plan approved")
    ISSUED = "issued", _("charge issued")
    REVISED = "revised", _("plan revised")
    WITHDRAWN = "withdrawn", _("plan withdrawn")
    LAPSED = "lapsed", _("released by the store")
    COUNTED = "counted", _("a count found fewer")


class Reservation(AppendOnlyModel):
    """Boards set aside for an approved plan (``sign`` 1), or released again (-1)."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="reservations")
    plan = models.CharField(max_length=10, db_index=True)  # public id of the plan
    cause = models.CharField(max_length=10, choices=ReservationCause.choices)
    sign = models.SmallIntegerField()
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    until = models.DateTimeField()  # end of the planned burn; after it the claim has lapsed
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, sign__in=(1, -1)), name="reservation_has_direction"
            )
        ]


class LotPlace(AppendOnlyModel):
    """Where a lot was carried to; the newest place is where it lies."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="places")
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)
    moved_at = models.DateTimeField()
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-id"]


class Cutting(AppendOnlyModel):
    """Sheets of one lot cut to one pattern. Masses are dry wood, known where the sheet's is."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="cuttings")
    pieces = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="cutting")
    sheets = models.PositiveSmallIntegerField()
    per_sheet = models.PositiveSmallIntegerField()
    kerf_mm = models.DecimalField(max_digits=4, decimal_places=2)
    offcuts = models.PositiveIntegerField()  # how many fell, kept or not
    offcuts_kept = models.BooleanField()
    pieces_share = models.DecimalField(max_digits=7, decimal_places=6)  # of the sheet's area
    kerf_share = models.DecimalField(max_digits=7, decimal_places=6)
    scrapped_kg = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    cut_at = models.DateTimeField()
    cut_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]


class Stocktake(PublicModel, GuardedModel):
    """A count of the lots that lay in some bays, or of one lot."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="stocktakes")
    title = models.CharField(max_length=80)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-started_at"]


class CountState(models.TextChoices):
    OPEN = "count_open", _("not counted")
    COUNTED = "counted", _("counted")
    SIGNED = "count_signed", _("waits for a second person")
    POSTED = "count_posted", _("in the record")


class StocktakeLine(GuardedModel):
    """One lot to count. Book and value are those at the moment of the count, kept when signed."""

    stocktake = models.ForeignKey(Stocktake, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="counts")
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="+", null=True)
    state = models.CharField(max_length=12, choices=CountState.choices, default=CountState.OPEN)
    counted = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    counted_at = models.DateTimeField(null=True)
    counted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    reason = models.CharField(max_length=300, blank=True)
    book = models.DecimalField(max_digits=9, decimal_places=2, null=True)
    value = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    signed_at = models.DateTimeField(null=True)
    approved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    movement = models.OneToOneField(
        Movement, on_delete=models.PROTECT, related_name="count_line", null=True
    )

    class Meta:
        ordering = ["bay__name", "lot__code"]
        constraints = [
            models.UniqueConstraint(fields=["stocktake", "lot"], name="lot_counted_once")
        ]


class WasteKind(models.TextChoices):
    ASH = "ash", _("ash")
    UNBURNT = "unburnt", _("unburnt remainder")
    RUBBLE = "rubble", _("other waste of the burns")


class WasteDocket(PublicModel, AppendOnlyModel):
    """One container of ash or remainder, weighed and sent away."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="waste")
    kind = models.CharField(max_length=10, choices=WasteKind.choices)
    docket = models.CharField(max_length=40)
    container = models.CharField(max_length=80)
    destination = models.CharField(max_length=120)
    mass_kg = models.DecimalField(max_digits=8, decimal_places=1)
    unburnt_kg = models.DecimalField(max_digits=8, decimal_places=1, default=Decimal(0))
    untreated = models.BooleanField()
    cooled_since = models.DateTimeField()
    weighed_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    weighed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-weighed_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["site", "docket"], name="waste_docket_once"),
            models.CheckConstraint(
                condition=Q(mass_kg__gt=0, unburnt_kg__gte=0, unburnt_kg__lte=F("mass_kg")),
                name="waste_weighs",
            ),
        ]


class WasteSignOff(AppendOnlyModel):
    """Somebody else saw that the container was cold and left for the place on the docket."""

    waste = models.OneToOneField(WasteDocket, on_delete=models.PROTECT, related_name="sign_off")
    meaning = models.CharField(max_length=120)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()


class ReorderRule(AppendOnlyModel):
    """How a product is ordered; the newest row counts. The store records no orders, so the wait
    for them is what the stores officer knows of the supplier."""

    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="reorder_rules")
    lead_days = models.DecimalField(max_digits=5, decimal_places=1)
    spread_days = models.DecimalField(max_digits=5, decimal_places=1)
    service_pct = models.DecimalField(max_digits=3, decimal_places=1)
    multiple = models.DecimalField(max_digits=9, decimal_places=2)
    lasts_days = models.DecimalField(max_digits=5, decimal_places=1)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lead_days__gte=0, spread_days__gte=0, multiple__gt=0),
                name="reorder_rule_in_sense",
            ),
            models.CheckConstraint(
                condition=Q(service_pct__gte=50, service_pct__lte=Decimal("99.9")),
                name="service_level_in_sense",
            ),
        ]


SIGNED_QUANTITY = F("sign") * F("quantity")
SIGNED_VALUE = F("sign") * F("value")


class NoticeSource(models.TextChoices):
    SUPPLIER = "supplier", _("notice of the supplier")
    OWN = "own", _("own finding")


class Recall(PublicModel, AppendOnlyModel):
    """Lots called back in one act. It stands until somebody else lifts it."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="recalls")
    source = models.CharField(max_length=10, choices=NoticeSource.choices)
    notice = models.CharField(max_length=80, blank=True)  # the supplier's number of it
    reason = models.CharField(max_length=300)
    recalled_at = models.DateTimeField()
    recalled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-recalled_at"]


class RecalledLot(AppendOnlyModel):
    """One lot of a recall: what was left of it, and where, at that moment."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="recalls")
    on_hand = models.DecimalField(max_digits=9, decimal_places=2)
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="+", null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["recall", "lot"], name="lot_once_in_a_recall")
        ]


class RecallLifted(AppendOnlyModel):
    """The end of a recall, by a second person. Its lots stay held until they are accepted anew."""

    recall = models.OneToOneField(Recall, on_delete=models.PROTECT, related_name="lifted")
    reason = models.CharField(max_length=300)
    lifted_at = models.DateTimeField()
    lifted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class FileKind(models.TextChoices):
    DELIVERIES = "deliveries", _("deliveries")
    READINGS = "readings", _("moisture readings")
    COUNTS = "counts", _("stock counts")


class ColumnMapping(PublicModel, AppendOnlyModel):
    """What the columns of somebody's files mean; the newest row of a kind and supplier counts."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=FileKind.choices)
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="+", null=True)
    columns = models.JSONField()  # heading as it stands in the file, to the column it means
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class StoreFile(PublicModel, AppendOnlyModel):
    """A file that was taken, known again by its hash."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="store_files")
    kind = models.CharField(max_length=12, choices=FileKind.choices)
    name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    rows = models.PositiveIntegerField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-taken_at"]
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "sha256"], name="file_taken_once")
        ]

"""The store: products, deliveries, lots, moisture readings and movements.

Stock on hand is the sum of movements; ``LotBalance`` guards it and must always equal that sum.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, GuardedModel, PublicModel
from facility.kinds import BOARD_KINDS, ProductKind
from facility.people.models import Person
from facility.sites.models import Bay, Site


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
    net_calorific_dry_mj_kg = models.DecimalField(max_digits=5, decimal_places=2)
    calorific_source = models.CharField(max_length=120)

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
        constraints = [models.UniqueConstraint(fields=["supplier", "docket"], name="docket_once")]


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

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="lot_code_on_site"),
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
    SCRAP = "scrap", _("scrapped")
    ADJUST_UP = "adjust_up", _("adjusted up")
    ADJUST_DOWN = "adjust_down", _("adjusted down")


INTO_STORE = frozenset(
    {MovementKind.RECEIVE, MovementKind.RETURN, MovementKind.PIECES, MovementKind.ADJUST_UP}
)


class Movement(AppendOnlyModel):
    """Boards in or out. Quantities are positive; ``sign`` is the direction, 1 in and -1 out."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=12, choices=MovementKind.choices)
    sign = models.SmallIntegerField()
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    plan = models.CharField(max_length=10, blank=True, db_index=True)  # public id of the plan
    reason = models.CharField(max_length=300, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["happened_at", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="movement_is_positive"),
            models.CheckConstraint(condition=Q(sign__in=(1, -1)), name="movement_has_direction"),
        ]


class LotBalance(GuardedModel):
    """The guard against overselling: changed by a conditional update in the same transaction."""

    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="balance")
    on_hand = models.DecimalField(max_digits=9, decimal_places=2)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="stock_never_negative")
        ]


SIGNED_QUANTITY = F("sign") * F("quantity")

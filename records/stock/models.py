"""The store: products, deliveries, lots, moisture readings and movements.

Stock on hand is the sum of movements; ``LotBalance`` guards it and must always equal that sum.
"""

from __future__ import annotations

from decimal import Decimal

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


class MoistureReading(AppendOnlyModel):
    """One meter reading on one board, percent of dry mass."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="readings")
    moisture_pct = models.DecimalField(max_digits=5, decimal_places=2)
    meter = models.CharField(max_length=40)
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


class Verdict(models.TextChoices):
    ACCEPTED = "accepted", _("accepted")
    CONDITIONAL = "conditional", _("accepted on a condition")
    HELD = "held", _("held")
    REJECTED = "rejected", _("rejected")


class LotVerdict(AppendOnlyModel):
    """Accepted or held; the newest one counts. A lot without one waits for its readings."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="verdicts")
    verdict = models.CharField(max_length=12, choices=Verdict.choices)
    reason = models.CharField(max_length=300, blank=True)
    moisture_mean_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    moisture_highest_pct = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    readings = models.PositiveSmallIntegerField(default=0)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


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

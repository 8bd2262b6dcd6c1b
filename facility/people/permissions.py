"""Who may do what: one table of acts, one table of addresses. Everything else reads these.

``ACTS`` names every change the log can hold and the roles that may make it; the door refuses
whoever holds none of them. ``READS`` does the same for reading. ``ADDRESSES`` ties each page to
a read and an act; the gate refuses an address that is not listed.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    STORES = "stores", _("stores officer")
    MANAGER = "manager", _("burn manager")
    INSTRUCTOR = "instructor", _("instructor")
    SAFETY = "safety", _("safety officer")
    INSPECTOR = "inspector", _("inspector")
    AUDITOR = "auditor", _("auditor")
    ADMIN = "admin", _("administrator")
    LEARNER = "learner", _("learner")


SO, BM, IN, SF, EN, AU, AD = (
    Role.STORES, Role.MANAGER, Role.INSTRUCTOR, Role.SAFETY, Role.INSPECTOR, Role.AUDITOR, Role.ADMIN,
)  # fmt: skip
OPERATIONAL = frozenset({SO, BM, IN, SF, EN})
READERS = OPERATIONAL | {AU}
EVERYONE = READERS | {AD}
NOBODY: frozenset[Role] = frozenset()
AUTHORS = frozenset({BM, SF, EN})  # of the local standard, and of waivers from it

# A learner is on the ground's list of people but has no sign-in and no rights here.
SIGNS_IN = EVERYONE


@dataclass(frozen=True, slots=True)
class Act:
    """One kind of entry in the log: the sentence it prints, and who may make it."""

    label: str | Promise
    roles: frozenset[Role]


ACTS: dict[str, Act] = {
    "audit.refused": Act(_("Attempt refused"), NOBODY),
    "audit.restored": Act(_("Restored from a backup"), NOBODY),
    "audit.restore_signed": Act(_("Restored backup signed for"), frozenset({AD, BM})),
    "people.signed_in": Act(_("Signed in"), EVERYONE),
    "people.sign_in_refused": Act(_("Sign-in refused"), NOBODY),
    "people.password_changed": Act(_("Own password changed"), EVERYONE),
    "people.password_chosen": Act(_("Password chosen by a one-time link"), EVERYONE),
    "people.link_refused": Act(_("One-time link refused"), NOBODY),
    "people.sessions_ended": Act(_("Own sessions ended"), EVERYONE),
    "people.second_factor_on": Act(_("Second factor switched on"), EVERYONE),
    "people.second_factor_off": Act(_("Second factor switched off"), EVERYONE),
    "people.code_set": Act(_("Personal code set"), EVERYONE),
    "people.units_chosen": Act(_("Units of measure chosen"), EVERYONE),
    "ground.founded": Act(_("Ground founded"), NOBODY),
    "ground.unit_commissioned": Act(_("Unit commissioned"), frozenset({AD, EN})),
    "ground.unit_changed": Act(_("Unit modified, moved or relined"), frozenset({AD, EN})),
    "ground.bay_added": Act(_("Bay added"), frozenset({AD, SO})),
    "ground.person_added": Act(_("Person added"), frozenset({AD})),
    "ground.role_given": Act(_("Role given"), frozenset({AD})),
    "ground.person_erased": Act(_("Person erased"), frozenset({AD})),
    "ground.disposal_ordered": Act(_("Disposal ordered"), frozenset({SF})),
    "ground.disposal_done": Act(_("Disposed of"), frozenset({AD})),
    "ground.role_ended": Act(_("Role ended"), frozenset({AD})),
    "ground.person_disabled": Act(_("Account switched off"), frozenset({AD})),
    "ground.person_enabled": Act(_("Account switched on again"), frozenset({AD})),
    "ground.tablet_enrolled": Act(_("Tablet enrolled"), frozenset({AD})),
    "ground.tablet_ended": Act(_("Tablet ended"), frozenset({AD})),
    "ground.password_link_made": Act(_("One-time link for a password made"), frozenset({AD})),
    "ground.competence_recorded": Act(_("Competence recorded"), frozenset({AD, BM})),
    "ground.edition_drafted": Act(_("Edition drafted"), AUTHORS),
    "ground.row_written": Act(_("Row of a draft written"), AUTHORS),
    "ground.rows_imported": Act(_("Rows of a draft imported"), AUTHORS),
    "ground.chart_written": Act(_("Burn-sequence chart written"), AUTHORS),
    "ground.check_written": Act(_("Item of a check list written"), AUTHORS),
    "ground.edition_proposed": Act(_("Edition proposed"), AUTHORS),
    "ground.edition_returned": Act(_("Edition given back"), AUTHORS),
    "ground.edition_withdrawn": Act(_("Draft edition withdrawn"), AUTHORS),
    "ground.edition_adopted": Act(_("Edition put in force"), frozenset({BM})),
    "ground.waiver_asked": Act(_("Waiver asked for"), frozenset({IN, BM, SF, EN})),
    "ground.waiver_granted": Act(_("Waiver granted"), AUTHORS),
    "ground.waiver_ended": Act(_("Waiver refused or ended"), AUTHORS),
    "ground.fact_stated": Act(_("Fact stated"), frozenset({BM, SF, EN})),
    "ground.use_taken_over": Act(_("Earlier use taken over"), frozenset({EN})),
    "stock.product_added": Act(_("Product added"), frozenset({SO})),
    "stock.delivery_received": Act(_("Delivery received"), frozenset({SO})),
    "stock.docket_photographed": Act(_("Docket photographed"), frozenset({SO})),
    "stock.marks_checked": Act(_("Looked over for marks"), frozenset({SO})),
    "stock.sheet_weighed": Act(_("Sheet weighed"), frozenset({SO})),
    "stock.density_explained": Act(_("Density explained"), frozenset({SO})),
    "stock.reading_recorded": Act(_("Moisture readings recorded"), frozenset({SO})),
    "stock.meter_added": Act(_("Meter added"), frozenset({SO})),
    "stock.meter_calibrated": Act(_("Meter calibrated"), frozenset({SO})),
    "stock.correction_set": Act(_("Correction of a meter set"), frozenset({SO})),
    "stock.samples_dried": Act(_("Oven-dry samples recorded"), frozenset({SO})),
    "stock.lot_accepted": Act(_("Lot accepted"), frozenset({SO})),
    "stock.lot_conditioned": Act(_("Lot accepted on a condition"), frozenset({SO})),
    "stock.lot_rejected": Act(_("Lot rejected"), frozenset({SO})),
    "stock.verdict_confirmed": Act(_("Decision on a lot confirmed"), frozenset({BM, SF})),
    "stock.lot_held": Act(_("Lot held"), frozenset({SO, BM, SF})),
    "stock.climate_recorded": Act(_("Climate of a bay recorded"), frozenset({SO})),
    "stock.stock_adjusted": Act(_("Stock adjusted"), frozenset({SO})),
    "stock.lot_moved": Act(_("Lot moved to another bay"), frozenset({SO})),
    "stock.lot_split": Act(_("Part of a lot split off"), frozenset({SO})),
    "stock.lot_cut": Act(_("Sheets cut up"), frozenset({SO})),
    "stock.boards_scrapped": Act(_("Boards scrapped"), frozenset({SO})),
    "stock.boards_released": Act(_("Reserved boards released"), frozenset({SO})),
    "stock.count_limits_set": Act(_("Threshold of counts set"), frozenset({BM})),
    "stock.stocktake_started": Act(_("Stocktake started"), frozenset({SO})),
    "stock.stock_counted": Act(_("Stock counted"), frozenset({SO})),
    "stock.stocktake_signed": Act(_("Stocktake signed"), frozenset({SO})),
    "stock.stocktake_approved": Act(_("Differences of a stocktake approved"), frozenset({BM})),
    "stock.waste_recorded": Act(_("Ash or waste weighed"), frozenset({SO})),
    "stock.waste_signed_off": Act(_("Waste docket signed off"), frozenset({BM, SF})),
    "stock.reorder_set": Act(_("Lead time and service level of a product set"), frozenset({SO})),
    "stock.lot_recalled": Act(_("Lots recalled"), frozenset({BM})),
    "stock.recall_lifted": Act(_("Recall lifted"), frozenset({BM, SF})),
    "stock.columns_mapped": Act(_("Columns of files explained"), frozenset({SO})),
    "stock.file_taken": Act(_("File taken into the store"), frozenset({SO})),
    "plans.plan_drafted": Act(_("Plan drafted"), frozenset({IN, BM})),
    "plans.plan_revised": Act(_("Plan revised"), frozenset({IN, BM})),
    "plans.plan_submitted": Act(_("Plan submitted"), frozenset({IN, BM})),
    "plans.plan_approved": Act(_("Plan approved"), frozenset({BM})),
    "plans.plan_sent_back": Act(_("Plan sent back"), frozenset({BM})),
    "plans.plan_withdrawn": Act(_("Plan withdrawn"), frozenset({IN, BM})),
    "plans.charge_issued": Act(_("Charge issued"), frozenset({SO})),
    "burns.boards_returned": Act(_("Boards returned"), frozenset({SO})),
    "burns.items_checked": Act(_("Items of the check list looked at"), frozenset({IN, SF})),
    "burns.briefing_held": Act(_("Briefing held"), frozenset({IN, SF})),
    "burns.roll_called": Act(_("Roll called"), frozenset({IN, SF})),
    "burns.weather_noted": Act(_("Weather read"), frozenset({IN, SF})),
    "burns.fit_signed": Act(_("Signed as fit to burn"), frozenset({IN, SF})),
    "burns.burn_started": Act(_("Burn started"), frozenset({IN})),
    "burns.event_noted": Act(_("Event noted"), frozenset({IN})),
    "burns.seat_taken": Act(_("Device of the yard taken up"), frozenset({IN})),
    "burns.events_taken": Act(_("Events of the yard taken in"), frozenset({IN})),
    "burns.doubt_settled": Act(_("Doubt about an event settled"), frozenset({IN})),
    "burns.late_events_signed": Act(_("Late events signed into a burn"), frozenset({IN})),
    "burns.burn_closed": Act(_("Burn closed"), frozenset({IN})),
    "burns.burn_countersigned": Act(_("Burn countersigned"), frozenset({IN, BM, SF})),
    "burns.remark_recorded": Act(
        _("Injury, near miss or deviation recorded"), frozenset({IN, BM, SF})
    ),
    "capture.file_taken": Act(_("Logger file taken"), frozenset({IN})),
    "capture.unit_fitted": Act(_("Factors of a unit fitted to its burns"), frozenset({IN, BM})),
    "burns.burn_corrected": Act(_("Burn record corrected"), frozenset({IN, BM})),
    "inspections.unit_inspected": Act(_("Unit inspected"), frozenset({EN})),
    "inspections.points_marked": Act(_("Points of a wall marked"), frozenset({EN})),
    "inspections.sensors_calibrated": Act(_("Thermocouples calibrated"), frozenset({EN})),
    "inspections.unit_stopped": Act(_("Unit taken out of service"), OPERATIONAL),
    "inspections.repair_recorded": Act(_("Repair recorded"), frozenset({EN})),
    "inspections.repair_verified": Act(_("Repair checked"), frozenset({EN})),
    "inspections.unit_released": Act(_("Unit returned to service"), frozenset({EN})),
    "reports.paper_asked": Act(_("Document asked for"), READERS),
    "reports.paper_made": Act(_("Document made"), NOBODY),
    "reports.feed_made": Act(_("Private calendar address made"), READERS),
    "reports.feed_ended": Act(_("Private calendar address ended"), READERS),
}

# Acts that are signed: meaning, password again, and the hash of what was shown.
SIGNED = frozenset({
    "plans.plan_approved", "inspections.unit_released", "ground.edition_adopted",
    "stock.stock_adjusted", "stock.stocktake_signed", "stock.stocktake_approved",
    "stock.waste_signed_off",
    "stock.lot_accepted", "stock.lot_conditioned", "stock.lot_rejected", "stock.verdict_confirmed",
    "stock.lot_recalled", "stock.recall_lifted",
    "ground.disposal_ordered", "ground.disposal_done",
    "burns.fit_signed", "burns.burn_closed", "burns.burn_corrected", "burns.burn_countersigned",
    "burns.late_events_signed",
})  # fmt: skip

# What six digits on a shared tablet are enough for: recording the work of the day. Signing takes
# the password; accounts, the ground, its standard and the log are kept elsewhere.
_RECORDING = ("stock", "plans", "burns", "capture", "inspections")
BY_CODE = frozenset(
    name for name in ACTS if name.partition(".")[0] in _RECORDING and name not in SIGNED
) | {"people.signed_in", "people.units_chosen"}  # fmt: skip

READS: dict[str, frozenset[Role]] = {
    "anyone": frozenset(Role),  # also without signing in
    "home": EVERYONE,
    "operations": READERS,
    "standard": EVERYONE,
    "people": EVERYONE,
    "log": frozenset({BM, SF, EN, AU}),
    "heads": frozenset({BM, SF, EN, AU, AD}),
    "checks": frozenset({BM, AU, AD}),  # on the day sheet
    "exports": frozenset({SO, BM, IN, SF, EN, AU}),
    "exposure": frozenset({BM, SF, AU}),  # of others: the burn manager's as far as assigned
}


@dataclass(frozen=True, slots=True)
class Address:
    """What an address answers: a read for GET (None: no GET), an act or a read for POST."""

    get: frozenset[Role] | None = None
    post: frozenset[Role] | None = None
    public: bool = False
    data: bool = False  # asked by a script, which is told 401 where a page leads to the sign-in

    def roles(self, method: str) -> frozenset[Role] | None:
        return self.post if method == "POST" else self.get


def _reads(name: str, *, post: str = "") -> Address:
    return Address(get=READS[name], post=READS[post] if post else None)


def _does(act: str, *, get: str | None = "") -> Address:
    """A page with a form: shown to those who may act, unless ``get`` names a wider read."""
    roles = ACTS[act].roles
    return Address(get=None if get is None else READS[get] if get else roles, post=roles)


ADDRESSES: dict[str, Address] = {
    "accounts:sign_in": Address(get=READS["anyone"], post=READS["anyone"], public=True),
    "accounts:sign_in_code": Address(get=READS["anyone"], post=READS["anyone"], public=True),
    "accounts:choose_password": Address(get=READS["anyone"], post=READS["anyone"], public=True),
    "accounts:lock": Address(get=READS["anyone"], post=READS["anyone"], public=True),
    "accounts:sign_out": Address(post=EVERYONE),
    "accounts:me": _reads("home"),
    "accounts:my_password": _does("people.password_changed"),
    "accounts:my_code": _does("people.code_set"),
    "accounts:typed": _reads("home"),
    "accounts:my_sessions": _does("people.sessions_ended", get=None),
    "accounts:factor_on": _does("people.second_factor_on"),
    "accounts:factor_off": _does("people.second_factor_off"),
    "accounts:recovery_codes": _reads("home"),
    "accounts:permissions": _reads("people"),
    "accounts:tablets": _does("ground.tablet_enrolled"),
    "accounts:tablet_end": _does("ground.tablet_ended"),
    "accounts:person": _reads("people"),
    "accounts:role_end": _does("ground.role_ended"),
    "accounts:disable": _does("ground.person_disabled"),
    "accounts:enable": _does("ground.person_enabled"),
    "accounts:first_password": _does("ground.password_link_made"),
    "accounts:competence_new": _does("ground.competence_recorded"),
    "ground:choose_ground": Address(post=EVERYONE),
    "ground:choose_units": _does("people.units_chosen", get=None),
    "reports:day_sheet": _reads("home"),
    "reports:unit_history": _reads("operations"),
    "reports:unit_history_pdf": _reads("exports"),
    "reports:papers": _does("reports.paper_asked", get="exports"),
    "reports:paper": _reads("exports"),
    "reports:paper_pdf": _reads("exports"),
    "reports:paper_evidence": _reads("log"),
    "reports:calendar": _reads("operations"),
    "reports:feed_new": _does("reports.feed_made", get=None),
    "reports:feed_end": _does("reports.feed_ended", get=None),
    "reports:feed": Address(get=READS["anyone"], public=True),  # to whoever holds its key
    "reports:engineer_pdf": _reads("exports"),
    "reports:plan_pdf": _reads("exports"),
    "reports:burn_pdf": _reads("exports"),
    "reports:open_plans": _reads("operations"),
    "reports:rejudge": _reads("operations"),
    "reports:workings": _reads("standard"),
    "reports:working": _reads("standard"),
    "stock:on_hand": _reads("operations"),
    "stock:products": _reads("operations"),
    "stock:product_new": _does("stock.product_added"),
    "stock:deliveries": _reads("operations"),
    "stock:delivery_new": _does("stock.delivery_received"),
    "stock:delivery": _reads("operations"),
    "stock:docket_picture": _does("stock.docket_photographed"),
    "stock:marks": _does("stock.marks_checked"),
    "stock:weigh": _does("stock.sheet_weighed"),
    "stock:explain": _does("stock.density_explained"),
    "reports:labels": _reads("exports"),
    "reports:labels_pdf": _reads("exports"),
    "stock:lot": _reads("operations"),
    "stock:readings": _does("stock.reading_recorded"),
    "stock:readings_judged": Address(post=ACTS["stock.reading_recorded"].roles),
    "stock:dried": _does("stock.samples_dried"),
    "stock:verdict": _does("stock.lot_accepted"),
    "stock:condition": _does("stock.lot_conditioned"),
    "stock:reject": _does("stock.lot_rejected"),
    "stock:confirm": _does("stock.verdict_confirmed"),
    "stock:hold": _does("stock.lot_held"),
    "stock:meters": _reads("operations"),
    "stock:meter_new": _does("stock.meter_added"),
    "stock:meter": _reads("operations"),
    "stock:calibrate": _does("stock.meter_calibrated"),
    "stock:correction": _does("stock.correction_set"),
    "stock:bays": _reads("operations"),
    "stock:bay": _reads("operations"),
    "stock:climate": _does("stock.climate_recorded"),
    "stock:climate_file": _does("stock.climate_recorded"),
    "stock:adjust": _does("stock.stock_adjusted"),
    "pictures:picture": _reads("operations"),
    "stock:carry": _does("stock.lot_moved"),
    "stock:split": _does("stock.lot_split"),
    "stock:cut": _does("stock.lot_cut"),
    "stock:scrap": _does("stock.boards_scrapped"),
    "stock:reservations": _reads("operations"),
    "stock:release": _does("stock.boards_released", get=None),
    "stock:stocktakes": _reads("operations"),
    "stock:stocktake_new": _does("stock.stocktake_started"),
    "stock:count_limits": _does("stock.count_limits_set"),
    "stock:stocktake": _reads("operations"),
    "stock:count": _does("stock.stock_counted"),
    "stock:stocktake_sign": _does("stock.stocktake_signed"),
    "stock:stocktake_approve": _does("stock.stocktake_approved"),
    "reports:count_sheet_pdf": _reads("exports"),
    "stock:waste": _reads("operations"),
    "stock:waste_new": _does("stock.waste_recorded"),
    "stock:waste_docket": _reads("operations"),
    "stock:waste_sign": _does("stock.waste_signed_off"),
    "stock:values": _reads("operations"),
    "stock:reorder": _does("stock.reorder_set"),
    "reports:outlook": _reads("operations"),
    "stock:files": _reads("operations"),
    "stock:file": _does("stock.file_taken"),
    "stock:export": _reads("exports"),
    "reports:trace": _reads("operations"),
    "reports:recalls": _reads("operations"),
    "reports:recall_new": _does("stock.lot_recalled"),
    "reports:recall": _reads("operations"),
    "reports:recall_lift": _does("stock.recall_lifted"),
    "reports:recall_pdf": _reads("exposure"),
    "plans:plans": _reads("operations"),
    "plans:new": _does("plans.plan_drafted"),
    "plans:findings": Address(post=ACTS["plans.plan_drafted"].roles),
    "plans:propose": Address(post=ACTS["plans.plan_drafted"].roles),
    "plans:plan": _reads("operations"),
    "plans:edit": _does("plans.plan_revised"),
    "plans:submit": _does("plans.plan_submitted", get=None),
    "plans:withdraw": _does("plans.plan_withdrawn", get=None),
    "plans:approve": _does("plans.plan_approved"),
    "plans:send_back": _does("plans.plan_sent_back"),
    "plans:to_issue": _reads("operations"),
    "plans:issue": _does("plans.charge_issued"),
    "burns:return": _does("burns.boards_returned"),
    "burns:burns": _reads("operations"),
    "burns:before": _reads("operations"),
    "burns:check": _does("burns.items_checked"),
    "burns:briefing": _does("burns.briefing_held"),
    "burns:roll": _does("burns.roll_called"),
    "burns:weather": _does("burns.weather_noted"),
    "burns:fit": _does("burns.fit_signed"),
    "burns:countersign": _does("burns.burn_countersigned"),
    "burns:remark": _does("burns.remark_recorded"),
    "burns:start": _does("burns.burn_started"),
    "burns:burn": _reads("operations"),
    "burns:event": _does("burns.event_noted"),
    "burns:close": _does("burns.burn_closed"),
    "burns:correct": _does("burns.burn_corrected"),
    # The page and its worker hold nothing of anybody, so that they open without a signal.
    "yard:yard": Address(get=READS["anyone"], public=True),
    "yard:worker": Address(get=READS["anyone"], public=True),
    "yard:manifest": Address(get=READS["anyone"], public=True),
    "yard:hello": Address(get=ACTS["burns.seat_taken"].roles, data=True),
    "yard:seat": Address(post=ACTS["burns.seat_taken"].roles, data=True),
    "yard:kit": Address(get=ACTS["burns.events_taken"].roles, data=True),
    "yard:sync": Address(post=ACTS["burns.events_taken"].roles, data=True),
    "yard:rescue": _does("burns.events_taken"),
    "yard:recorded": _reads("operations"),
    "yard:settle": _does("burns.doubt_settled", get=None),
    "yard:settle_here": _does("burns.doubt_settled", get=None),
    "yard:late": _does("burns.late_events_signed"),
    "capture:recorded": _reads("operations"),
    "capture:take": _does("capture.file_taken"),
    "capture:original": _reads("exports"),
    "capture:fires": _reads("operations"),
    "capture:fit": _does("capture.unit_fitted", get=None),
    "reports:recorded_pdf": _reads("exports"),
    "inspections:units": _reads("operations"),
    "inspections:unit_new": _does("ground.unit_commissioned"),
    "inspections:drawing": Address(post=ACTS["ground.unit_commissioned"].roles),
    "inspections:unit": _reads("operations"),
    "inspections:unit_change": _does("ground.unit_changed"),
    "inspections:make_up": _reads("home"),  # an administrator commissions units as well
    "inspections:take_over": _does("ground.use_taken_over"),
    "inspections:inspect": _does("inspections.unit_inspected"),
    "inspections:walls": _reads("operations"),
    "inspections:points": _does("inspections.points_marked"),
    "inspections:calibrate": _does("inspections.sensors_calibrated"),
    "inspections:stop": _does("inspections.unit_stopped"),
    "inspections:defect": _reads("operations"),
    "inspections:repair": _does("inspections.repair_recorded"),
    "inspections:verify": _does("inspections.repair_verified"),
    "inspections:release": _does("inspections.unit_released"),
    "ground:people": _reads("people"),
    "ground:person_new": _does("ground.person_added"),
    "ground:role_new": _does("ground.role_given"),
    "standard:standard": _reads("standard"),
    "standard:facts": _reads("standard"),
    "standard:edition_new": _does("ground.edition_drafted"),
    "standard:edition": _reads("standard"),
    "standard:row_new": _does("ground.row_written"),
    "standard:row": _does("ground.row_written"),
    "standard:chart": _does("ground.chart_written"),
    "standard:item_new": _does("ground.check_written"),
    "standard:item": _does("ground.check_written"),
    "standard:compare": _reads("standard"),
    "standard:import": _does("ground.rows_imported"),
    "standard:export": _reads("exports"),
    "standard:propose": _does("ground.edition_proposed", get=None),
    "standard:give_back": _does("ground.edition_returned"),
    "standard:withdraw": _does("ground.edition_withdrawn"),
    "standard:adopt": _does("ground.edition_adopted"),
    "standard:waivers": _reads("operations"),
    "standard:waiver_new": _does("ground.waiver_asked"),
    "standard:grant": _does("ground.waiver_granted", get=None),
    "standard:end": _does("ground.waiver_ended"),
    "standard:statements": _reads("operations"),
    "standard:statement_new": _does("ground.fact_stated"),
    "audit:log": _reads("log"),
    "audit:proof": _reads("log"),
    "audit:heads": _reads("heads"),
    "audit:head_note": _reads("heads"),
    "audit:checker": _reads("heads"),
    "audit:consistency": _reads("heads"),
    "audit:restored": _does("audit.restore_signed"),
    "reports:evidence": _reads("log"),
    "reports:retention": _reads("heads"),
    "reports:disposal_new": _does("ground.disposal_ordered"),
    "reports:disposal": _reads("heads"),
    "reports:disposal_carry_out": _does("ground.disposal_done"),
    "audit:receipt": _reads("home"),  # one's own; those who read the log see every one
}

"""Facts that follow from the records: the plan, the store, the burns, the inspections."""

from __future__ import annotations

from facility.rules.fact import COUNT, WORD, YES_NO, Fact, Subject, Window, gettext_noop

_USE = (
    Window.DAY, Window.WEEK, Window.MONTH_ROLLING, Window.MONTH, Window.YEAR,
    Window.SINCE_INSPECTION, Window.SINCE_RELINED, Window.LIFE,
)  # fmt: skip
_EXPOSURE = (Window.DAY, Window.WEEK, Window.MONTH_ROLLING, Window.MONTH, Window.YEAR)
_KINDS = ("particle_board", "osb", "plywood", "fibreboard", "kindling", "liquid")

# Inspections that come due beside the structural one, and how each may be counted.
_SCHEMES = {
    "periodic": (
        ("days", "day", gettext_noop("days since the periodic inspection")),
        ("burns", COUNT, gettext_noop("burns since the periodic inspection, this one included")),
        ("cycles", COUNT, gettext_noop("thermal cycles since the periodic inspection")),
    ),
    "engineer": (
        ("days", "day", gettext_noop("days since the engineer's inspection")),
        ("burns", COUNT, gettext_noop("burns since the engineer's inspection, this one included")),
        ("cycles", COUNT, gettext_noop("thermal cycles since the engineer's inspection")),
    ),
    "lining": (
        ("days", "day", gettext_noop("days since the look behind the lining")),
        ("burns", COUNT, gettext_noop("burns since the look behind the lining, this one included")),
        ("cycles", COUNT, gettext_noop("thermal cycles since the look behind the lining")),
    ),
}

_CHARGE = (
    Fact("charge.dry_mass", "kg", gettext_noop("dry mass of the boards and loose wood")),
    Fact("charge.energy", "MJ", gettext_noop("energy in the charge at its moisture")),
    Fact("charge.boards", COUNT, gettext_noop("boards in the charge")),
    Fact("charge.moisture_highest", "%", gettext_noop("moisture of the wettest lot, mean reading")),
    Fact("charge.moisture_lowest", "%", gettext_noop("moisture of the driest lot, mean reading")),
    Fact("charge.kindling", "kg", gettext_noop("loose kindling")),
    Fact("charge.liquid", "L", gettext_noop("starter liquid")),
    Fact("charge.lots_accepted", YES_NO, gettext_noop("every lot is known and accepted")),
)  # fmt: skip

_BURN = (
    Fact("burn.nth_of_day", COUNT, gettext_noop("which burn of the day in this unit this is")),
    Fact("burn.before_cooling", COUNT, gettext_noop("burns in a row without a cooling pause, this one included")),
    Fact("burn.wait", "min", gettext_noop("time since the burn before in this unit ends")),
    Fact("burn.planned_minutes", "min", gettext_noop("planned time from ignition to the end")),
    Fact("burn.fires_in_unit", COUNT, gettext_noop("fires in this unit at the same time, this one included")),
    Fact("burn.fuel_calculated", YES_NO, gettext_noop("the mass and energy of the whole charge are calculated on the plan")),
    Fact("burn.abort_criteria", YES_NO, gettext_noop("the plan says on what the burn is stopped")),
    Fact("burn.weather_recorded", YES_NO, gettext_noop("the weather at ignition is written down")),
    Fact("burn.ignition_method", WORD, gettext_noop("what the fire is lit with")),
    Fact("burn.pre_check_complete", YES_NO, gettext_noop("every point of the check before ignition is answered and in order")),
    Fact("burn.all_briefed", YES_NO, gettext_noop("everybody who is there was briefed")),
    Fact("burn.fit_to_burn", YES_NO, gettext_noop("the instructor in charge and the safety officer, two people, signed that what stands now is fit to burn")),
    Fact("burn.countersigned", YES_NO, gettext_noop("a second person signed what happened")),
    Fact("burn.all_counted_out", YES_NO, gettext_noop("everybody who was counted in is counted out")),
    Fact("burn.post_check_complete", YES_NO, gettext_noop("every point of the check after the burn is answered")),
    Fact("burn.last_post_check", YES_NO, gettext_noop("the burn before in this unit was closed with its check")),
    Fact("burn.added_fuel_counted", YES_NO, gettext_noop("fuel added during the burn is counted in the charge")),
)  # fmt: skip

_CREW = (
    Fact("people.in_unit", COUNT, gettext_noop("people inside the unit"), Subject.CREW),
    Fact("people.learners_per_instructor", COUNT, gettext_noop("learners to each crew instructor"), Subject.CREW),
    Fact("crew.in_charge", COUNT, gettext_noop("instructors in charge"), Subject.CREW),
    Fact("crew.instructors", COUNT, gettext_noop("crew instructors"), Subject.CREW),
    Fact("crew.safety", COUNT, gettext_noop("safety officers"), Subject.CREW),
    Fact("crew.safety_distinct", YES_NO, gettext_noop("the safety officer has no other duty"), Subject.CREW),
    Fact("crew.safety_learner", YES_NO, gettext_noop("a safety officer is a learner"), Subject.CREW),
    Fact("crew.ignition_team", COUNT, gettext_noop("people in the ignition team"), Subject.CREW),
    Fact("crew.ignition_officer_learner", YES_NO, gettext_noop("an ignition officer is a learner"), Subject.CREW),
    Fact("crew.pump", COUNT, gettext_noop("pump operators"), Subject.CREW),
    Fact("crew.qualified", YES_NO, gettext_noop("every instructor and safety officer is qualified that day"), Subject.CREW),
)  # fmt: skip

_PERSON = (
    Fact("person.exposures", COUNT, gettext_noop("live-fire exposures, this burn included"), Subject.PERSON, windows=_EXPOSURE),
    Fact("person.consecutive_days", "day", gettext_noop("days in a row with an exposure, this one included"), Subject.PERSON),
    Fact("person.rest", "min", gettext_noop("time since the last exposure ended"), Subject.PERSON),
    Fact("person.qualification_days_left", "day", gettext_noop("days until the qualification for the duty ends"), Subject.PERSON),
    Fact("person.duties", COUNT, gettext_noop("duties held in this burn"), Subject.PERSON),
)  # fmt: skip

_UNIT = (
    Fact("unit.in_service", YES_NO, gettext_noop("the unit is in service"), Subject.UNIT),
    Fact("unit.unrestricted", YES_NO, gettext_noop("no defect restricts the use of the unit"), Subject.UNIT),
    Fact("unit.open_unsafe_defects", COUNT, gettext_noop("unsafe defects not yet repaired and released"), Subject.UNIT),
    Fact("unit.days_since_inspection", "day", gettext_noop("days since the structural inspection"), Subject.UNIT),
    Fact("unit.burns_since_inspection", COUNT, gettext_noop("burns since the structural inspection, this one included"), Subject.UNIT),
    *(
        Fact(f"unit.{counted}_since_{kind}", unit, meaning, Subject.UNIT)
        for kind, words in _SCHEMES.items()
        for counted, unit, meaning in words
    ),
    Fact("unit.cycles_since_inspection", COUNT, gettext_noop("thermal cycles since the structural inspection"), Subject.UNIT),
    Fact("unit.days_since_thermocouple_calibration", "day", gettext_noop("days since the thermocouple of the unit whose calibration is the oldest was calibrated"), Subject.UNIT),
    Fact("unit.inspected_since_change", YES_NO, gettext_noop("the unit was inspected since it was last moved or modified"), Subject.UNIT),
    Fact("unit.has_chart", YES_NO, gettext_noop("the edition in force holds a dated burn-sequence chart for the unit"), Subject.UNIT),
    Fact("unit.burns", COUNT, gettext_noop("burns in the unit, this one included"), Subject.UNIT, windows=_USE),
    Fact("unit.dry_mass", "kg", gettext_noop("dry mass of fuel burned in the unit, this burn included"), Subject.UNIT, windows=_USE),
    Fact("unit.energy", "MJ", gettext_noop("energy of the fuel burned in the unit, this burn included"), Subject.UNIT, windows=_USE),
    Fact("unit.wall_remaining_life", "year", gettext_noop("time until the thinnest gauged wall point reaches the thickness required"), Subject.UNIT),
)  # fmt: skip

_STORE = (
    Fact("lot.accepted", YES_NO, gettext_noop("the lot is accepted"), Subject.LOT),
    Fact("lot.moisture_mean", "%", gettext_noop("mean moisture of the newest round of readings"), Subject.LOT),
    Fact("lot.moisture_highest", "%", gettext_noop("highest single reading of the newest round"), Subject.LOT),
    Fact("lot.readings", COUNT, gettext_noop("readings in the newest round"), Subject.LOT),
    Fact("lot.days_since_reading", "day", gettext_noop("days since the newest reading"), Subject.LOT),
    Fact("lot.untreated", YES_NO, gettext_noop("the delivery was declared new and untreated"), Subject.LOT),
    Fact("lot.class_recorded", YES_NO, gettext_noop("the product class of the lot is recorded"), Subject.LOT),
    Fact("lot.docket_recorded", YES_NO, gettext_noop("the delivery docket of the lot is recorded"), Subject.LOT),
    Fact("product.kind", WORD, gettext_noop("kind of fuel"), Subject.PRODUCT, choices=_KINDS),
    Fact("product.density", "kg/m3", gettext_noop("density of the board"), Subject.PRODUCT),
    Fact("water.on_site", "L", gettext_noop("water on site for the session"), Subject.WATER),
)  # fmt: skip

WORKED_OUT: tuple[Fact, ...] = (*_CHARGE, *_BURN, *_CREW, *_PERSON, *_UNIT, *_STORE)

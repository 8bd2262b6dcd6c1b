"""The cautions that stand beside what is computed; the same words on screen and on paper."""

from django.utils.translation import gettext_lazy as _

CAUTIONS = {
    "computed": _(
        "Figures come from simplified models and supplied data. They do not replace a competent "
        "person's judgement, the maker's limits, a risk assessment or local law. Do not enter or "
        "ignite on the strength of a screen."
    ),
    "rules": _(
        "Rows are the ground's reading of the cited edition; the authority having jurisdiction "
        "decides. Check edition and amendments. Rows from memory are unconfirmed."
    ),
    "plan": _(
        "No accelerant beyond what the standard allows, no treated or unknown fuel. The safety "
        "officer may stop at any time. A rescue crew and a charged line stand outside. Weather and "
        "permits must be current."
    ),
    "unit": _(
        "Nothing here extends or replaces an engineer's inspection: damage hides behind linings and "
        "in welds. Stop on doubt."
    ),
    "thermal": _(
        "Protective clothing fails by dose and moisture, not by air temperature alone. A critical "
        "reading means leave. Thermocouples read too high or too low; a low reading is no safety."
    ),
    "sampling": _("Acceptance says that a sample passed, not that every board is dry or clean."),
    "exposure": _(
        "Limits of exposure and rest are guidance for work, not medical advice; consult occupational "
        "health. Personal data: for those who need to know only."
    ),
    "people": _("Personal data: for those who need to know only."),
    "copy": _("A print is a copy; check the live record."),
}

"""What templates use to show numbers, states and findings: one look everywhere."""

from __future__ import annotations

import secrets
from typing import Any
from urllib.parse import urlencode

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.calc.units import THIN, grouped, magnitude, pretty_unit, show
from facility.calc.working import Working
from facility.look.cautions import CAUTIONS
from facility.look.reader import current_system
from facility.refusals import spelled_out
from facility.rules import words
from facility.rules.engine import Finding, Verdict

register = template.Library()

# A state is a word with a mark and a tone, never colour alone.
STATES: dict[str, tuple[str, str, Any]] = {
    "within": ("dot-full", "calm", gettext_lazy("within")),
    "near": ("dot-half", "watch", gettext_lazy("near the limit")),
    "over": ("dot-barred", "stop", gettext_lazy("over the limit")),
    "cannot_tell": ("dot-open", "stop", gettext_lazy("cannot tell")),
    "in_service": ("dot-full", "calm", gettext_lazy("in service")),
    "restricted": ("dot-half", "watch", gettext_lazy("restricted")),
    "out_of_service": ("dot-barred", "stop", gettext_lazy("out of service")),
    "accepted": ("dot-full", "calm", gettext_lazy("accepted")),
    "conditional": ("dot-half", "watch", gettext_lazy("accepted on a condition")),
    "unconfirmed": ("dot-open", "watch", gettext_lazy("condition waits for the second signature")),
    "sensor_right": ("dot-full", "calm", gettext_lazy("reads right")),
    "sensor_off": ("dot-barred", "stop", gettext_lazy("reads off")),
    "sensor_unchecked": ("dot-open", "watch", gettext_lazy("never calibrated")),
    "wall_sound": ("dot-full", "calm", gettext_lazy("sound")),
    "wall_thinner": ("dot-half", "watch", gettext_lazy("thinner")),
    "wall_near": ("dot-half", "stop", gettext_lazy("near its end")),
    "wall_under": ("dot-barred", "stop", gettext_lazy("too thin")),
    "wall_unread": ("dot-open", "watch", gettext_lazy("not read")),
    "calibrated": ("dot-full", "calm", gettext_lazy("calibrated")),
    "calibration_due": ("dot-barred", "stop", gettext_lazy("calibration is due")),
    "held": ("dot-barred", "stop", gettext_lazy("held")),
    "rejected": ("dot-barred", "stop", gettext_lazy("rejected")),
    "waiting": ("dot-open", "watch", gettext_lazy("waiting")),
    "draft": ("dot-open", "plain", gettext_lazy("draft")),
    "submitted": ("dot-half", "watch", gettext_lazy("submitted")),
    "sent_back": ("dot-barred", "watch", gettext_lazy("sent back")),
    "approved": ("dot-full", "calm", gettext_lazy("approved")),
    "burning": ("dot-half", "ember", gettext_lazy("burning")),
    "burned": ("dot-full", "plain", gettext_lazy("burned")),
    "withdrawn": ("dot-barred", "plain", gettext_lazy("withdrawn")),
    "closed": ("dot-full", "plain", gettext_lazy("closed")),
    "good": ("dot-full", "calm", gettext_lazy("good")),
    "monitor": ("dot-half", "watch", gettext_lazy("monitor")),
    "defect": ("dot-barred", "stop", gettext_lazy("defect found")),
    "unfit": ("dot-barred", "stop", gettext_lazy("unfit for burning")),
    "restricts": ("dot-half", "watch", gettext_lazy("restricts use")),
    "unsafe": ("dot-barred", "stop", gettext_lazy("unsafe")),
    "proposed": ("dot-half", "watch", gettext_lazy("proposed")),
    "coming": ("dot-open", "calm", gettext_lazy("coming")),
    "in_force": ("dot-full", "calm", gettext_lazy("in force")),
    "superseded": ("dot-full", "plain", gettext_lazy("superseded")),
    "asked": ("dot-open", "watch", gettext_lazy("asked for")),
    "granted": ("dot-half", "watch", gettext_lazy("granted")),
    "refused": ("dot-barred", "plain", gettext_lazy("refused")),
    "ended": ("dot-barred", "plain", gettext_lazy("ended")),
    "expired": ("dot-barred", "plain", gettext_lazy("expired")),
    "check_passed": ("dot-full", "calm", gettext_lazy("nothing wrong")),
    "check_failed": ("dot-barred", "stop", gettext_lazy("failed")),
    "never_checked": ("dot-open", "stop", gettext_lazy("never checked")),
    "head_holds": ("dot-full", "calm", gettext_lazy("holds")),
    "head_fails": ("dot-barred", "stop", gettext_lazy("does not hold")),
    "retention_due": ("dot-half", "watch", gettext_lazy("due")),
    "disposal_ordered": ("dot-half", "watch", gettext_lazy("waits for an administrator")),
    "disposal_done": ("dot-full", "plain", gettext_lazy("disposed of")),
    "count_open": ("dot-open", "watch", gettext_lazy("not counted")),
    "counted": ("dot-half", "watch", gettext_lazy("counted")),
    "count_signed": ("dot-half", "watch", gettext_lazy("waits for a second person")),
    "count_posted": ("dot-full", "calm", gettext_lazy("in the record")),
    "signed_off": ("dot-full", "calm", gettext_lazy("signed off")),
    "not_signed_off": ("dot-open", "watch", gettext_lazy("not signed off")),
    "reserved": ("dot-half", "calm", gettext_lazy("reserved")),
    "lapsed": ("dot-barred", "watch", gettext_lazy("day has passed")),
    "order_now": ("dot-barred", "stop", gettext_lazy("order now")),
    "order_soon": ("dot-half", "watch", gettext_lazy("order soon")),
    "order_later": ("dot-full", "calm", gettext_lazy("lasts")),
    "order_unset": ("dot-open", "plain", gettext_lazy("not set")),
    "recalled": ("dot-barred", "stop", gettext_lazy("recalled")),
    "lifted": ("dot-open", "plain", gettext_lazy("lifted")),
    "inspection_overdue": ("dot-barred", "stop", gettext_lazy("overdue")),
    "inspection_soon": ("dot-half", "watch", gettext_lazy("due soon")),
    "inspection_ahead": ("dot-full", "calm", gettext_lazy("in time")),
    "repaired": ("dot-half", "watch", gettext_lazy("repaired, to be checked")),
    "repair_holds": ("dot-full", "calm", gettext_lazy("it holds")),
    "repair_fails": ("dot-barred", "stop", gettext_lazy("does not hold")),
    "released": ("dot-full", "calm", gettext_lazy("released")),
    "paper_waiting": ("dot-open", "watch", gettext_lazy("waiting")),
    "paper_making": ("dot-half", "watch", gettext_lazy("being made")),
    "paper_silent": ("dot-barred", "stop", gettext_lazy("not finished")),
    "paper_failed": ("dot-barred", "stop", gettext_lazy("failed")),
    "paper_ready": ("dot-full", "calm", gettext_lazy("ready")),
    "fit_weak": ("dot-half", "watch", gettext_lazy("weak: rests on fewer than 5 burns")),
    "in_order": ("dot-full", "calm", gettext_lazy("in order")),
    "not_in_order": ("dot-barred", "stop", gettext_lazy("not in order")),
    "not_looked": ("dot-open", "watch", gettext_lazy("not looked at")),
    "fit_signed": ("dot-full", "calm", gettext_lazy("signed")),
    "fit_void": ("dot-barred", "stop", gettext_lazy("void: changed since")),
    "fit_unsigned": ("dot-open", "watch", gettext_lazy("not signed")),
    "awaits_second": ("dot-half", "watch", gettext_lazy("awaits countersignature")),
    "paper_gone": ("dot-open", "plain", gettext_lazy("thrown away")),
}


@register.filter
def state(key: str | None) -> SafeString:
    """A state as mark and word."""
    mark, tone, word = STATES[key or "waiting"]
    return format_html(
        '<span class="state {}"><span class="dot {}"></span>{}</span>', tone, mark, word
    )


@register.filter
def qty(value: Any, unit: str = "") -> SafeString:
    """A stored number in the reader's units; ``unit`` may name decimals, as in ``kg:2``."""
    if value is None or value == "" or value != value:  # NaN is not equal to itself
        return format_html('<span class="none">{}</span>', "\u2013")
    unit, _colon, places = unit.partition(":")
    shown = show(float(value), unit, current_system(), int(places) if places else None)
    if not shown.unit:
        return format_html('<span class="n">{}</span>', shown.number)
    return format_html(
        '<span class="n">{}</span>{}<span class="u">{}</span>', shown.number, THIN, shown.unit
    )


@register.filter
def clock(seconds: Any) -> SafeString:
    """A span of time in minutes and seconds, or in hours, minutes and seconds from an hour on."""
    if seconds is None or seconds == "" or seconds != seconds:
        return qty(None)
    whole = round(abs(float(seconds)))
    sign = "\u2212" if float(seconds) < 0 and whole else ""
    hours, rest = divmod(whole, 3600)
    number = f"{rest // 60}:{rest % 60:02d}"
    unit = _("min:s")
    if hours:
        number, unit = f"{hours}:{rest // 60:02d}:{rest % 60:02d}", _("h:min:s")
    return format_html(
        '<span class="n">{}{}</span>{}<span class="u">{}</span>', sign, number, THIN, unit
    )


@register.filter
def plain(value: Any, unit: str = "") -> str:
    """The same as text, for titles and PDFs' running heads."""
    return str(show(float(value), unit, current_system()))


@register.filter
def amount(value: Any, product: Any) -> SafeString:
    """A count of boards, or kg or litres, as the product is counted."""
    if value is None:
        return qty(None)
    return qty(value, f"{product.counted_in}:0" if product.is_board else f"{product.counted_in}:1")


@register.filter
def money(value: Any, currency: str = "") -> SafeString:
    """A value at cost, to the cent, in the currency of the ground where it named one."""
    if value is None or value == "":
        return qty(None)
    number = grouped(float(value), 2)
    if not currency:
        return format_html('<span class="n">{}</span>', number)
    return format_html(
        '<span class="n">{}</span>{}<span class="u">{}</span>', number, THIN, currency
    )


@register.filter
def ask(working: Working | None, shown: str = "") -> SafeString:
    """The link behind a number that can be asked for its working."""
    if working is None:
        return SafeString("")
    given = {name: _as_text(working, name) for name in working.inputs}
    address = f"{reverse('reports:working', args=[working.name])}?{urlencode(given)}"
    return format_html(
        '<a class="ask" href="{}" hx-get="{}" hx-target="#working" hx-swap="innerHTML" '
        'title="{}">{}</a>', address, address, _("How was this worked out?"), shown or qty_of(working),
    )  # fmt: skip


def qty_of(working: Working) -> SafeString:
    return qty(working.value(), working.units[working.result_name])


@register.filter
def result(working: Working, name: str) -> SafeString:
    """One of a working's results in the reader's units; its last value when it is a series."""
    return qty(working.value(name), working.units[name])


def _as_text(working: Working, name: str) -> str:
    given = working.inputs[name]
    if isinstance(given, str):
        return given
    number = magnitude(given, working.units[name])
    values = number.tolist() if hasattr(number, "tolist") else number
    text = (
        " ".join(f"{each:.6g}" for each in values) if isinstance(values, list) else f"{values:.6g}"
    )
    return f"{text} {working.units[name]}".strip()


@register.filter
def sentence(finding: Finding) -> str:
    return words.sentence(finding, _, current_system())


@register.filter
def measured(finding: Finding) -> str:
    return words.measured(finding, _, current_system())


@register.filter
def allowed(finding: Finding) -> str:
    return words.allowed(finding, _, current_system())


@register.filter
def margin(finding: Finding) -> str:
    return words.margin(finding, _, current_system())


@register.filter
def limit_bar(finding: Finding) -> SafeString:
    """The measured value as a short bar with a tick at the limit; nothing for a yes or no."""
    rule, value = finding.rule, finding.known.value
    if not isinstance(value, float) or not rule.limit:
        return SafeString("")
    value *= rule.scale
    limit = rule.limit_high if rule.comparison == "between" and rule.limit_high else rule.limit
    scale = max(limit * 1.12, value)
    width, tick = 100 * value / scale, 100 * limit / scale
    tone = {Verdict.OVER: "stop", Verdict.NEAR: "watch"}.get(finding.verdict, "calm")
    return format_html(
        '<svg class="bar {}" viewBox="0 0 100 5" preserveAspectRatio="none" role="presentation">'
        '<rect class="track" width="100" height="3" y="1"/><rect class="fill" width="{}" height="3" '
        'y="1"/><rect class="tick" x="{}" width="0.8" height="5"/></svg>',
        tone, f"{width:.1f}", f"{min(tick, 99.2):.1f}",
    )  # fmt: skip


@register.inclusion_tag("look/field.html")
def field(bound: Any, wide: str = "") -> dict[str, Any]:
    """One form field with label, unit, help and errors."""
    unit = getattr(bound.field, "unit_shown", "")
    return {"field": bound, "unit": unit, "wide": wide}


@register.inclusion_tag("look/findings.html")
def findings(found: Any, plan: Any = None) -> dict[str, Any]:
    """Findings one by one; what merely holds, and could hold no better, is put together below.

    With the ``plan`` they are of, a row that may be waived offers to ask for it.
    """
    held = [each for each in found if each.verdict == Verdict.WITHIN and _just_holds(each)]
    return {"shown": [each for each in found if each not in held], "held": held, "plan": plan}


def _just_holds(finding: Finding) -> bool:
    return finding.margin is None or finding.rule.comparison == "="


@register.filter
def reference(public_id: str) -> str:
    """A public id as it is read out and printed."""
    return spelled_out(public_id)


@register.inclusion_tag("look/cautions.html")
def cautions(*kinds: str) -> dict[str, Any]:
    return {"cautions": [CAUTIONS[kind] for kind in kinds]}


@register.simple_tag(takes_context=True)
def here(context: Any, *prefixes: str) -> str:
    """``aria-current`` for the place in the list of places that the page belongs to."""
    path = context["request"].path
    hit = any(path == prefix if prefix == "/" else path.startswith(prefix) for prefix in prefixes)
    return mark_safe(' aria-current="page"') if hit else ""


@register.filter
def unit_name(unit: str) -> str:
    return pretty_unit(unit)


@register.filter
def shown_inputs(working: Working) -> list[tuple[str, str]]:
    """The inputs of a working as it was given them, each with its unit."""
    return _of(working, working.inputs)


@register.filter
def shown_results(working: Working) -> list[tuple[str, str]]:
    return [
        *_of(working, working.results),
        *((_label(name), word) for name, word in working.words.items()),
    ]


@register.filter
def main_result(working: Working) -> str:
    """The main result as text; of a series, what its peak is called in the results, or its ends."""
    name = "peak" if "peak" in working.results else working.result_name
    return working.text(name)


@register.filter
def as_words(name: str) -> str:
    """A name of the code as words."""
    return _label(name)


def _of(working: Working, names: Any) -> list[tuple[str, str]]:
    return [(_label(name), working.text(name)) for name in names]


def _label(name: str) -> str:
    return name.replace("_", " ")


@register.simple_tag
def once() -> SafeString:
    """A hidden key that makes a small form take effect once, however often it is sent."""
    return format_html('<input type="hidden" name="once" value="{}">', secrets.token_hex(12))

"""Findings in words an officer can act on.

``say`` translates and ``system`` chooses the reader's units, so that this module stays free of
the framework that knows both.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

from facility.calc.units import show, usual_decimals
from facility.rules.engine import Finding, Verdict
from facility.rules.facts import YES_NO, Value, gettext_noop

Say = Callable[[str], str]
LEAP_YEAR = 2000


def as_written(text: str) -> str:
    return text


def amount(
    value: Value,
    unit: str,
    say: Say = as_written,
    system: str = "SI",
    decimals: int | None = None,
) -> str:
    if value is None:
        return say(gettext_noop("not known"))
    if unit == YES_NO:
        return say(gettext_noop("yes") if value else gettext_noop("no"))
    if isinstance(value, str | dt.date):
        return say(value) if isinstance(value, str) else _said(value)
    if decimals is None and not unit and not float(value).is_integer():
        decimals = 1
    return str(show(float(value), unit, system, decimals))


def measured(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    value = finding.known.value
    if finding.rule.scale != 1.0 and isinstance(value, float):
        value *= finding.rule.scale
    return amount(value, finding.rule.unit, say, system, _decimals(finding))


def _decimals(finding: Finding) -> int | None:
    """Decimals that show the margin and the limits as they are; None when the usual ones do."""
    rule, size = finding.rule, abs(finding.margin or 0)
    if rule.limit is None:
        return None
    usual = usual_decimals(rule.limit, rule.unit)
    close = math.ceil(-math.log10(size)) if 0 < size < 10.0**-usual else 0
    limits = [_decimals_of(limit) for limit in (rule.limit, rule.limit_high) if limit is not None]
    needed = min(3, max(close, *limits))
    return needed if needed > usual else None


def _decimals_of(limit: float) -> int:
    """The decimals a limit was set with; three are kept."""
    return next(places for places in range(4) if places == 3 or round(limit, places) == limit)


def allowed(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    rule = finding.rule
    if rule.comparison in ("true", "false"):
        return say(_TRUTHS[rule.comparison])
    if rule.comparison == "one_of" and rule.words:
        return say(gettext_noop("one of: {words}")).format(
            words=", ".join(say(word) for word in sorted(rule.words))
        )
    if rule.comparison == "before" and rule.day:
        return say(gettext_noop("on or before {day}")).format(day=_day(rule.day))
    if rule.limit is None:
        return say(gettext_noop("no value set"))
    text = say(_FORMS[rule.comparison]).format(
        limit=amount(rule.limit, rule.unit, say, system, _exact(rule.limit, rule.unit)),
        high=amount(rule.limit_high, rule.unit, say, system, _exact(rule.limit_high, rule.unit)),
    )
    return f"{text} {say(WINDOWS[rule.window])}" if rule.window in WINDOWS else text


def _exact(limit: float | None, unit: str) -> int | None:
    """Decimals that show a limit as it was set; None when the usual ones do."""
    if limit is None:
        return None
    places = _decimals_of(limit)
    return places if places > usual_decimals(limit, unit) else None


_TRUTHS = {"true": gettext_noop("must hold"), "false": gettext_noop("must not be so")}
_FORMS = {
    "<=": gettext_noop("at most {limit}"),
    "within": gettext_noop("within {limit}"),
    ">=": gettext_noop("at least {limit}"),
    "=": gettext_noop("exactly {limit}"),
    "between": gettext_noop("{limit} to {high}"),
}


WINDOWS = {
    "day": gettext_noop("that day"),
    "7d": gettext_noop("in 7 days"),
    "28d": gettext_noop("in 28 days"),
    "month": gettext_noop("that calendar month"),
    "year": gettext_noop("that calendar year"),
    "since_inspection": gettext_noop("since the last inspection"),
    "since_relined": gettext_noop("since the unit was relined"),
    "life": gettext_noop("in its life"),
}


def _day(text: str) -> str:
    """A day of one year, or of every year: 31 May 2027, or 31 May."""
    every_year = len(text) == len("05-31")
    said = _said(dt.date.fromisoformat(f"{LEAP_YEAR}-{text}" if every_year else text))
    return said.removesuffix(f" {LEAP_YEAR}") if every_year else said


def _said(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"


def margin(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    """The margin in figures: what is left, or how much is over or short."""
    if finding.margin is None:
        return ""
    unit = "day" if finding.rule.comparison == "before" else finding.rule.unit
    size = amount(abs(finding.margin), unit, say, system, _decimals(finding))
    if finding.margin >= 0:
        return say(gettext_noop("{size} left")).format(size=size)
    if finding.rule.comparison == ">=":
        return say(gettext_noop("{size} short")).format(size=size)
    if finding.is_cap and finding.rule.comparison != "between":
        return say(gettext_noop("{size} over")).format(size=size)
    if finding.rule.comparison == "before":
        return say(gettext_noop("{size} late")).format(size=size)
    return say(gettext_noop("{size} off")).format(size=size)


def title(finding: Finding, say: Say = as_written) -> str:
    """What was asked, and of whom."""
    return ", ".join(part for part in (say(finding.rule.title), finding.label) if part)


def sentence(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    """The finding as one sentence."""
    about, why = title(finding, say), say(finding.known.why)
    if finding.verdict is Verdict.CANNOT_TELL:
        form = gettext_noop("{title}: cannot tell, {why}.")
        return say(form).format(title=about, why=why or say("not recorded"))
    if finding.is_yes_no:
        return _truth(finding, about, why, say)
    if finding.margin is None:
        form = gettext_noop("{title}: {measured}, {allowed} allowed.")
    elif finding.is_cap:
        form = gettext_noop("{title}: {measured}, {allowed} allowed, {margin}.")
    else:
        form = gettext_noop("{title}: {measured}, {allowed} needed, {margin}.")
    return say(form).format(
        title=about,
        measured=measured(finding, say, system),
        allowed=allowed(finding, say, system),
        margin=margin(finding, say, system),
    )


def _truth(finding: Finding, about: str, why: str, say: Say) -> str:
    held = finding.verdict is Verdict.WITHIN
    answer = say(gettext_noop("yes") if finding.known.value else gettext_noop("no"))
    if held:
        return say(gettext_noop("{title}: {answer}.")).format(title=about, answer=answer)
    form = gettext_noop("{title}: {answer}, {why}.")
    if finding.rule.comparison == "false":  # the reason tells why a thing is not so
        why = say(gettext_noop("it must not be so"))
    return say(form).format(title=about, answer=answer, why=why or say("it does not hold"))


def also(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    """The milder rules that ask the same of the same case."""
    return "; ".join(
        f"{each.rule.code}, {each.rule.clause}: {allowed(each, say, system)}"
        for each in finding.also
    )

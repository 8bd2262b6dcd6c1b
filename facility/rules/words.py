"""Findings in words an officer can act on.

``say`` translates and ``system`` chooses the reader's units, so that this module stays free of
the framework that knows both.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from facility.calc.units import show
from facility.rules.engine import Finding, Verdict
from facility.rules.facts import YES_NO, gettext_noop

Say = Callable[[str], str]
CLOSE = 0.1  # a margin below this would vanish in the usual rounding


def as_written(text: str) -> str:
    return text


def amount(
    value: float | bool | None,
    unit: str,
    say: Say = as_written,
    system: str = "SI",
    decimals: int | None = None,
) -> str:
    if value is None:
        return say(gettext_noop("not known"))
    if unit == YES_NO:
        return say(gettext_noop("yes") if value else gettext_noop("no"))
    if decimals is None and not unit and not float(value).is_integer():
        decimals = 1
    return str(show(float(value), unit, system, decimals))


def measured(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    return amount(finding.known.value, finding.rule.unit, say, system, _close_call(finding))


def _close_call(finding: Finding) -> int | None:
    """Decimals that show a margin too small for the usual ones; None when they do."""
    size = abs(finding.margin or 0)
    return min(3, math.ceil(-math.log10(size))) if 0 < size < CLOSE else None


def allowed(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    rule = finding.rule
    if rule.comparison == "true":
        return say(gettext_noop("must hold"))
    if rule.limit is None:
        return say(gettext_noop("no value set"))
    forms = {
        "<=": gettext_noop("at most {limit}"),
        ">=": gettext_noop("at least {limit}"),
        "=": gettext_noop("exactly {limit}"),
        "between": gettext_noop("{limit} to {high}"),
    }
    return say(forms[rule.comparison]).format(
        limit=amount(rule.limit, rule.unit, say, system),
        high=amount(rule.limit_high, rule.unit, say, system),
    )


def margin(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    """The margin in figures: what is left, or how much is over or short."""
    if finding.margin is None:
        return ""
    size = amount(abs(finding.margin), finding.rule.unit, say, system, _close_call(finding))
    if finding.margin >= 0:
        return say(gettext_noop("{size} left")).format(size=size)
    if finding.rule.comparison == ">=":
        return say(gettext_noop("{size} short")).format(size=size)
    if finding.rule.comparison == "<=":
        return say(gettext_noop("{size} over")).format(size=size)
    return say(gettext_noop("{size} off")).format(size=size)


def sentence(finding: Finding, say: Say = as_written, system: str = "SI") -> str:
    """The finding as one sentence."""
    title = say(finding.rule.title)
    if finding.verdict is Verdict.CANNOT_TELL:
        form = gettext_noop("{title}: cannot tell, {why}.")
        return say(form).format(title=title, why=say(finding.known.why) or say("not recorded"))
    if finding.is_yes_no:
        held = finding.verdict is Verdict.WITHIN
        form = gettext_noop("{title}: yes.") if held else gettext_noop("{title}: no, {why}.")
        return say(form).format(title=title, why=say(finding.known.why) or say("it does not hold"))
    if finding.rule.comparison in (">=", "="):
        form = gettext_noop("{title}: {measured}, {allowed} needed, {margin}.")
    else:
        form = gettext_noop("{title}: {measured}, {allowed} allowed, {margin}.")
    return say(form).format(
        title=title,
        measured=measured(finding, say, system),
        allowed=allowed(finding, say, system),
        margin=margin(finding, say, system),
    )

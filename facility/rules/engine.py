"""The rule engine: rules and facts in, findings out. Pure, and small enough to argue with."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from facility.rules.facts import REGISTER, YES_NO, Facts, Known

NEAR_SHARE = 0.1  # within a tenth of the limit counts as near it: our choice, no source


class Verdict(StrEnum):
    WITHIN = "within"
    NEAR = "near"
    OVER = "over"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule in force. ``limit`` None means the standard gives no value: cannot tell."""

    code: str
    title: str
    fact: str
    comparison: str  # "<=", ">=", "between", "=" or "true"
    severity: str  # "block", "caution" or "note"
    clause: str
    limit: float | None = None
    limit_high: float | None = None
    missing: str = ""  # why there is no limit

    @property
    def unit(self) -> str:
        return REGISTER[self.fact].unit


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says of one subject; ``margin`` is what is left, negative when over."""

    rule: Rule
    known: Known
    verdict: Verdict
    margin: float | None = None

    @property
    def blocks(self) -> bool:
        unmet = self.verdict in (Verdict.OVER, Verdict.CANNOT_TELL)
        return unmet and self.rule.severity == "block"

    @property
    def is_cap(self) -> bool:
        """Whether the rule sets an upper bound, so that "over" is the word for a breach."""
        return self.rule.comparison in ("<=", "between")

    @property
    def is_yes_no(self) -> bool:
        return self.rule.unit == YES_NO


def judge(rules: Iterable[Rule], facts: Facts) -> list[Finding]:
    """Judge the facts by every rule; what blocks comes first, then what is near, then the rest."""
    findings = [_finding(rule, facts.get(rule.fact, Known(None, "not recorded"))) for rule in rules]
    return sorted(findings, key=_urgency)


def _urgency(finding: Finding) -> tuple[bool, int, str]:
    order = (Verdict.OVER, Verdict.CANNOT_TELL, Verdict.NEAR, Verdict.WITHIN)
    return (not finding.blocks, order.index(finding.verdict), finding.rule.code)


def _finding(rule: Rule, known: Known) -> Finding:
    if known.value is None:
        return Finding(rule, known, Verdict.CANNOT_TELL)
    if rule.comparison == "true":
        return Finding(rule, known, Verdict.WITHIN if known.value else Verdict.OVER)
    if rule.limit is None:
        return Finding(rule, Known(known.value, rule.missing), Verdict.CANNOT_TELL)
    margin = _margin(rule, float(known.value), rule.limit)
    return Finding(rule, known, _verdict(rule, margin), margin)


def _margin(rule: Rule, value: float, limit: float) -> float:
    """How far inside the limit the value lies, in the rule's unit; negative outside.

    Rounded to a millionth, so that sums of decimals do not miss a limit by their last bit.
    """
    if rule.comparison == "<=":
        margin = limit - value
    elif rule.comparison == ">=":
        margin = value - limit
    elif rule.comparison == "between":
        margin = min(value - limit, (limit if rule.limit_high is None else rule.limit_high) - value)
    else:
        margin = -abs(value - limit)
    return round(margin, 6)


def _verdict(rule: Rule, margin: float) -> Verdict:
    if margin < 0:
        return Verdict.OVER
    near = rule.comparison == "<=" and rule.limit and margin <= NEAR_SHARE * rule.limit
    return Verdict.NEAR if near else Verdict.WITHIN

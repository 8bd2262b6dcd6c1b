"""The rule engine: rules and cases in, findings out. Pure, and small enough to argue with.

A *case* is one subject as it stands: the burn with its unit, crew and site, or one lot, product
or person of it. A rule is asked of every case that knows its kind of fact and that it applies to.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from facility.rules.facts import REGISTER, YES_NO, Facts, Known, Subject, Window

NEAR_SHARE = 0.1  # within a tenth of the limit counts as near it: our choice, no source

# Lots, products and people are judged one by one; everything else belongs to the burn.
ONE_BY_ONE = frozenset({Subject.LOT, Subject.PRODUCT, Subject.PERSON})


class Verdict(StrEnum):
    WITHIN = "within"
    NEAR = "near"
    OVER = "over"
    CANNOT_TELL = "cannot_tell"


class Moment(StrEnum):
    """When a plan is judged."""

    DRAFT = "draft"
    SUBMIT = "submit"
    APPROVE = "approve"
    IGNITE = "ignite"
    CLOSE = "close"


ALWAYS = frozenset(Moment)
BY_APPROVAL = frozenset({Moment.DRAFT, Moment.SUBMIT, Moment.APPROVE})
BY_IGNITION = BY_APPROVAL | {Moment.IGNITE}


@dataclass(frozen=True, slots=True)
class Applies:
    """To which cases and when a rule is asked; an empty set means to all of them."""

    exercises: frozenset[str] = frozenset()
    unit_kinds: frozenset[str] = frozenset()
    duties: frozenset[str] = frozenset()
    products: frozenset[str] = frozenset()
    moments: frozenset[str] = ALWAYS


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule in force. ``limit`` None means the standard gives no value: cannot tell."""

    code: str
    title: str
    fact: str
    comparison: str  # <= >= between = within before one_of true false
    severity: str  # block, caution or note
    clause: str
    limit: float | None = None
    limit_high: float | None = None
    words: frozenset[str] = frozenset()  # one_of: the words allowed
    day: str = ""  # before: YYYY-MM-DD, or MM-DD of the fact's own year
    missing: str = ""  # why there is no limit
    window: str = Window.BURN
    row_unit: str = ""  # the row's own unit, where it is not the fact's
    scale: float = 1.0  # from the fact's unit to the row's
    applies: Applies = Applies()
    edition: str = ""
    jurisdiction: str = ""
    unconfirmed: bool = False  # written from memory, not yet read in the source
    waivable_by: str = ""  # the role that may waive it; empty: nobody may

    @property
    def unit(self) -> str:
        return self.row_unit or REGISTER[self.fact].unit

    @property
    def key(self) -> str:
        """Under which the fact is found, its window included."""
        return windowed(self.fact, self.window)

    @property
    def subject(self) -> Subject:
        """The kind of case that is asked: a lot, a product, a person, or the burn."""
        subject = REGISTER[self.fact].subject
        return subject if subject in ONE_BY_ONE else Subject.BURN


def windowed(fact: str, window: str) -> str:
    """The key of a fact counted over a window: ``person.exposures@month``."""
    return fact if window == Window.BURN else f"{fact}@{window}"


@dataclass(frozen=True, slots=True)
class Case:
    """One subject to judge, with what decides which rules apply to it."""

    facts: Facts
    subject: Subject = Subject.BURN
    label: str = ""  # whom or what, where there are several: a name, a lot's code
    exercise: str = ""
    unit_kind: str = ""
    duties: frozenset[str] = frozenset()
    product: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says of one case; ``margin`` is what is left, negative when over."""

    rule: Rule
    known: Known
    verdict: Verdict
    margin: float | None = None
    label: str = ""
    waiver: str = ""  # the waiver that lifts it, by its reference
    also: tuple[Finding, ...] = ()  # milder rules that ask the same of the same case
    alike: tuple[str, ...] = ()  # further cases of which the same rule says the same or better

    @property
    def unmet(self) -> bool:
        return self.verdict in (Verdict.OVER, Verdict.CANNOT_TELL)

    @property
    def blocks(self) -> bool:
        return self.unmet and self.rule.severity == "block" and not self.waiver

    @property
    def is_cap(self) -> bool:
        """Whether the rule sets an upper bound, so that "over" is the word for a breach."""
        return self.rule.comparison in ("<=", "between", "within")

    @property
    def is_yes_no(self) -> bool:
        return self.rule.unit == YES_NO


Waivers = Mapping[tuple[str, str], str]  # (edition, code of the row) -> reference of the waiver


def judge(
    rules: Iterable[Rule], cases: Sequence[Case], *, moment: str | frozenset[str] = BY_APPROVAL,
    waivers: Waivers | None = None,
) -> list[Finding]:  # fmt: skip
    """Judge every case by every rule that is asked of it at a moment, or at one of several.

    What blocks comes first.

    Where several rules ask the same of one case, in one edition or in several, the stricter
    governs and carries the others along. What is met by many cases alike is said once.
    """
    moments = frozenset({moment}) if isinstance(moment, str) else moment
    of_kind: dict[Subject, list[Case]] = {}
    for case in cases:
        of_kind.setdefault(case.subject, []).append(case)
    found = [
        _finding(rule, case, waivers or {})
        for rule in rules
        if not moments.isdisjoint(rule.applies.moments)
        for case in of_kind.get(rule.subject, ())
        if _applies_to(rule.applies, case)
    ]
    return sorted(_alike(_strictest(found)), key=_urgency)


def _applies_to(applies: Applies, case: Case) -> bool:
    return (
        (not applies.exercises or case.exercise in applies.exercises)
        and (not applies.unit_kinds or case.unit_kind in applies.unit_kinds)
        and (not applies.duties or not applies.duties.isdisjoint(case.duties))
        and (not applies.products or case.product in applies.products)
    )


_ORDER = (Verdict.OVER, Verdict.CANNOT_TELL, Verdict.NEAR, Verdict.WITHIN)


def _urgency(finding: Finding) -> tuple[bool, int, str, str, str]:
    rule = finding.rule
    place = _ORDER.index(finding.verdict)
    return (not finding.blocks, place, rule.code, rule.edition, finding.label)


def _strictest(findings: Sequence[Finding]) -> list[Finding]:
    """Of the rules that ask one question of one case, the one that governs, with the others."""
    questions: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        rule = finding.rule
        sense = _SENSES.get(rule.comparison, rule.comparison)
        questions.setdefault((rule.key, sense, finding.label), []).append(finding)
    merged = []
    for asked in questions.values():
        governing, *others = sorted(asked, key=_strictness) if len(asked) > 1 else asked
        merged.append(replace(governing, also=tuple(others)) if others else governing)
    return merged


_SENSES = {"within": "<="}


def _strictness(finding: Finding) -> tuple[bool, bool, float, str, str]:
    """What blocks before what does not, then the smallest margin in the fact's own unit."""
    rule = finding.rule
    margin = 0.0 if finding.margin is None else finding.margin / rule.scale
    return (not finding.blocks, not finding.unmet, margin, rule.code, rule.edition)


def _alike(findings: Sequence[Finding]) -> list[Finding]:
    """Of several cases of which one rule says the same, the one that stands worst speaks for all.

    What blocks is said of each case by itself, and so is what is waived or shares its question.
    """
    kept: list[Finding] = []
    same: dict[tuple[str, str, Verdict], list[Finding]] = {}
    for finding in findings:
        if not finding.label or finding.also or finding.blocks or finding.waiver:
            kept.append(finding)
        else:
            key = (finding.rule.edition, finding.rule.code, finding.verdict)
            same.setdefault(key, []).append(finding)
    for group in same.values():
        worst, *others = sorted(group, key=lambda each: (each.margin or 0.0, each.label))
        kept.append(replace(worst, alike=tuple(each.label for each in others)))
    return kept


def _finding(rule: Rule, case: Case, waivers: Waivers) -> Finding:
    known = case.facts.get(rule.key, _NOT_RECORDED)
    verdict, margin, why = _weigh(rule, known)
    if why:
        known = Known(known.value, why)
    waiver = ""
    if verdict in (Verdict.OVER, Verdict.CANNOT_TELL) and rule.waivable_by:
        waiver = waivers.get((rule.edition, rule.code), "")
    return Finding(rule, known, verdict, margin, case.label, waiver)


_NOT_RECORDED = Known(None, "not recorded")
Weighed = tuple[Verdict, float | None, str]  # verdict, margin, and why the limit is not known


def _weigh(rule: Rule, known: Known) -> Weighed:
    if known.value is None:
        return Verdict.CANNOT_TELL, None, ""
    return _WEIGHERS.get(rule.comparison, _weigh_number)(rule, known.value)


def _met(met: bool) -> Weighed:
    return (Verdict.WITHIN if met else Verdict.OVER), None, ""


def _weigh_words(rule: Rule, value: object) -> Weighed:
    if not rule.words:
        return Verdict.CANNOT_TELL, None, rule.missing
    return _met(str(value) in rule.words)


def _weigh_day(rule: Rule, value: object) -> Weighed:
    if not rule.day or not isinstance(value, dt.date):
        return Verdict.CANNOT_TELL, None, rule.missing
    text = rule.day if len(rule.day) == 10 else f"{value.year}-{rule.day}"
    margin = float((dt.date.fromisoformat(text) - value).days)
    return (Verdict.WITHIN if margin >= 0 else Verdict.OVER), margin, ""


def _weigh_number(rule: Rule, value: object) -> Weighed:
    if rule.limit is None:
        return Verdict.CANNOT_TELL, None, rule.missing
    margin = _margin(rule, float(value) * rule.scale, rule.limit)  # type: ignore[arg-type]
    return _verdict(rule, margin), margin, ""


_WEIGHERS: dict[str, Callable[[Rule, object], Weighed]] = {
    "true": lambda _rule, value: _met(bool(value)),
    "false": lambda _rule, value: _met(not value),
    "one_of": _weigh_words,
    "before": _weigh_day,
}


def _margin(rule: Rule, value: float, limit: float) -> float:
    """How far inside the limit the value lies, in the rule's unit; negative outside.

    Rounded to a millionth, so that sums of decimals do not miss a limit by their last bit.
    """
    if rule.comparison in ("<=", "within"):
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
    if rule.comparison not in ("<=", "within") or not rule.limit:
        return Verdict.WITHIN
    only_one = not rule.unit and rule.limit <= 1  # one of one is no warning
    near = margin <= NEAR_SHARE * rule.limit and not only_one
    return Verdict.NEAR if near else Verdict.WITHIN

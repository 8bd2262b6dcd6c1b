"""The working: a result that carries its inputs, steps, source and range.

A formula is a plain function of floats in declared units, decorated with ``@calculation``.
The decorator puts it in the register, which the command line, the pages under /workings/
and the tests all read. Calling it takes pint quantities and gives a ``Working``; inside
loops call ``.plain`` with floats.

Law: a bare number or a wrong dimension raises; a value outside all sense raises; a value
outside the source's range computes but says so.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pint

from facility.calc.units import (
    QuantityRefused,
    is_bare,
    magnitude,
    parse,
    pretty_unit,
    quantity,
    show,
)


class CalculationRefused(ValueError):
    """An input that no calculation can use: says which, what was given and what is allowed."""

    def __init__(self, name: str, given: object, allowed: str) -> None:
        self.name, self.given, self.allowed = name, given, allowed
        super().__init__(f"{name}: {given} was given; {allowed}")


class UnknownInput(CalculationRefused):
    """An input name that the calculation does not have, or one that is missing."""


class UnitNeeded(CalculationRefused):
    """A bare number where a quantity with a unit is needed."""


class WrongDimension(CalculationRefused):
    """A quantity of another kind, such as a mass where a length is needed."""


class OutOfSense(CalculationRefused):
    """A value that cannot be: NaN, negative mass, humidity over 100 %."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a formula comes from, down to section or equation, and how sure we are of it.

    ``basis`` is "read", "from memory", "common practice, no source" or "derived".
    """

    text: str
    basis: str = "read"

    def __str__(self) -> str:
        return self.text if self.basis == "read" else f"{self.text} ({self.basis})"


@dataclass(frozen=True, slots=True)
class Input:
    """One input: its unit, meaning, the bounds of sense and the range the source covers.

    ``low``/``high`` bound what can be at all (outside: refused); ``valid`` bounds what the
    source covers (outside: computed, and marked). ``choices`` makes it a word instead of a
    quantity; ``many`` makes it a series of one or more values; ``default`` makes it optional.
    ``above_low`` excludes the lower bound itself (a mass of zero is no board).
    """

    name: str
    unit: str
    meaning: str
    low: float = -math.inf
    high: float = math.inf
    above_low: bool = False
    valid: tuple[float, float] | None = None
    default: Any = None
    choices: tuple[str, ...] = ()
    many: bool = False

    @property
    def allowed(self) -> str:
        """What may be given, as words."""
        if self.choices:
            return f"one of {', '.join(self.choices)} is allowed"
        low = f"more than {self.low:g}" if self.above_low else f"{self.low:g} or more"
        parts = [low] if self.low > -math.inf else []
        parts += [f"at most {self.high:g}"] if self.high < math.inf else []
        unit = pretty_unit(self.unit)
        return (
            f"{' and '.join(parts) or 'any finite number'}{f' {unit}' if unit else ''} is allowed"
        )

    def check_sense(self, value: Any) -> Any:
        """Refuse what cannot be; give the value back."""
        if self.many and len(value) == 0:
            raise OutOfSense(self.name, "no value", "one or more values are allowed")
        for number in value if self.many else (value,):
            if not math.isfinite(number):
                raise OutOfSense(self.name, number, self.allowed)
            below = number <= self.low if self.above_low else number < self.low
            if below or number > self.high:
                raise OutOfSense(self.name, str(show_exact(number, self.unit)), self.allowed)
        return value

    def outside(self, value: Any) -> str:
        """Say in words how a value leaves the source's range; empty when it does not."""
        if self.valid is None or self.choices:
            return ""
        low, high = self.valid
        numbers = value if self.many else (value,)
        strays = [number for number in numbers if not low <= number <= high]
        if not strays:
            return ""
        return (
            f"{self.name} {show_exact(strays[0], self.unit)} is outside the range of the source, "
            f"{low:g} to {high:g} {pretty_unit(self.unit)}".rstrip()
        )


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the sum: what, the figures put in, and what came out."""

    what: str
    value: float
    unit: str

    @property
    def shown(self) -> str:
        return str(show_exact(self.value, self.unit))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a formula function gives back: plain numbers in the declared units.

    ``values`` has one entry per declared result; ``outside`` lists, in words, every reason
    why the result lies beyond the source. Series (curves against time) are NumPy arrays.
    A number that the inputs cannot give is NaN, which prints as "not known". ``words`` holds
    results that are no numbers, such as a verdict or a class.
    """

    values: Mapping[str, Any]
    steps: Sequence[Step] = ()
    notes: Sequence[str] = ()
    outside: Sequence[str] = ()
    words: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Working:
    """A result that can be asked why."""

    name: str
    title: str
    formula: str
    inputs: Mapping[str, Any]  # name -> pint quantity, or word
    results: Mapping[str, Any]  # name -> pint quantity; the first is the result
    units: Mapping[str, str]  # name -> unit, for inputs and results
    steps: tuple[Step, ...]
    source: Source
    in_range: bool
    notes: tuple[str, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)  # name -> result that is no number

    @property
    def result(self) -> Any:
        """The main result, a pint quantity."""
        return next(iter(self.results.values()))

    @property
    def result_name(self) -> str:
        return next(iter(self.results))

    def value(self, name: str = "") -> Any:
        """The plain number of one result, in its declared unit."""
        key = name or self.result_name
        return magnitude(self.results[key], self.units[key])

    def text(self, name: str) -> str:
        """An input or result as text: a number with its unit, a word, or the ends of a series."""
        given = self.inputs.get(name, self.results.get(name))
        if isinstance(given, str):
            return given
        unit = self.units[name]
        number = _plain(magnitude(given, unit))
        if isinstance(number, list):
            return f"{number[0]:.4g} … {number[-1]:.4g} {pretty_unit(unit)}, {len(number)} values"
        return str(show_exact(number, unit))

    def as_dict(self) -> dict[str, Any]:
        """The stable shape that the command line and the API print."""
        results = {
            name: {"value": _plain(self.value(name)), "unit": pretty_unit(self.units[name])}
            for name in self.results
        }
        return {
            "name": self.name,
            "inputs": {name: self._input_as_dict(name) for name in self.inputs},
            "result": results[self.result_name],
            "results": results,
            "words": dict(self.words),
            "in_range": self.in_range,
            "notes": list(self.notes),
            "source": str(self.source),
        }

    def _input_as_dict(self, name: str) -> Any:
        given = self.inputs[name]
        if isinstance(given, str):
            return given
        unit = self.units[name]
        return {"value": _plain(magnitude(given, unit)), "unit": pretty_unit(unit)}


def _plain(value: Any) -> Any:
    """NumPy to what JSON can write; what is not known becomes null."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value.tolist() if hasattr(value, "tolist") else value


def show_exact(value: float, unit: str) -> Any:
    """Write a number with the figures it deserves in a sum: four significant ones."""
    if not math.isfinite(value):
        return show(value, unit)
    size = abs(value)
    decimals = 0 if size >= 1000 else 3 if size == 0 else max(0, 3 - math.floor(math.log10(size)))
    return show(value, unit, decimals=min(decimals, 8))


@dataclass(frozen=True)
class Calculation:
    """One formula in the register. Call it with quantities; ``plain`` takes floats."""

    name: str
    subject: str
    title: str
    formula: str
    inputs: tuple[Input, ...]
    results: Mapping[str, str]
    source: Source
    cautions: tuple[str, ...]
    plain: Callable[..., Outcome]
    by_name: Mapping[str, Input] = field(init=False, repr=False)

    # Template languages call what can be called; a calculation is shown, not run, there.
    do_not_call_in_templates = True

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {given.name: given for given in self.inputs})

    @property
    def doc(self) -> str:
        return (self.plain.__doc__ or "").strip()

    def __call__(self, **given: Any) -> Working:
        """Compute from pint quantities (or words for choices); see the class for errors."""
        self._refuse_unknown(given)
        values = {each.name: self._value(each, given.get(each.name)) for each in self.inputs}
        return self._work(values)

    def from_text(self, given: Mapping[str, str]) -> Working:
        """Compute from typed text, each with its unit; for the command line and the pages."""
        self._refuse_unknown(given)
        values = {
            each.name: self._value_of_text(each, given.get(each.name)) for each in self.inputs
        }
        return self._work(values)

    def of(self, **values: Any) -> Working:
        """Compute from plain numbers already in the declared units (stored rows carry the unit)."""
        self._refuse_unknown(values)
        filled = {each.name: values.get(each.name, each.default) for each in self.inputs}
        for each in self.inputs:
            if filled[each.name] is None and each.default is None and not each.choices:
                raise UnknownInput(each.name, "nothing", each.allowed)
        return self._work(filled)

    def _refuse_unknown(self, given: Mapping[str, Any]) -> None:
        for name in given:
            if name not in self.by_name:
                known = ", ".join(self.by_name)
                raise UnknownInput(name, given[name], f"the inputs of {self.name} are {known}")

    def _value(self, each: Input, given: Any) -> Any:
        if given is None:
            return self._default(each)
        if each.choices:
            return given
        if not isinstance(given, pint.Quantity):
            raise UnitNeeded(each.name, given, f"a quantity in {pretty_unit(each.unit)} is needed")
        try:
            number = magnitude(given, each.unit)
        except pint.DimensionalityError:
            allowed = f"a quantity in {pretty_unit(each.unit) or 'no unit'} is needed"
            raise WrongDimension(each.name, f"{given:~P}", allowed) from None
        numbers = [float(item) for item in np.ravel(number)]
        if each.many:
            return numbers
        if len(numbers) != 1:
            raise OutOfSense(each.name, f"{len(numbers)} values", "one value is allowed")
        return numbers[0]

    def _value_of_text(self, each: Input, text: str | None) -> Any:
        if text is None or not text.strip():
            return self._default(each)
        if each.choices:
            return text.strip()
        if each.many:
            return [self._parsed(each, part) for part in _split_series(text)]
        return self._parsed(each, text)

    def _parsed(self, each: Input, text: str) -> float:
        if each.unit and is_bare(text):
            raise UnitNeeded(each.name, text, f"a unit is needed, such as {pretty_unit(each.unit)}")
        try:
            return parse(text, each.unit)
        except QuantityRefused as refused:
            raise WrongDimension(each.name, refused.given, refused.allowed) from None

    def _default(self, each: Input) -> Any:
        if each.default is None:
            raise UnknownInput(each.name, "nothing", each.allowed)
        return each.default

    def _work(self, values: dict[str, Any]) -> Working:
        outside = []
        for each in self.inputs:
            value = values[each.name]
            if each.choices:
                if value not in each.choices:
                    raise OutOfSense(each.name, value, each.allowed)
                continue
            each.check_sense(value)
            outside.append(each.outside(value))
        outcome = self.plain(**values)
        reasons = [reason for reason in (*outside, *outcome.outside) if reason]
        return Working(
            name=self.name,
            title=self.title,
            formula=self.formula,
            inputs={
                each.name: values[each.name]
                if each.choices
                else quantity(values[each.name], each.unit)
                for each in self.inputs
            },
            results={
                name: quantity(outcome.values[name], unit) for name, unit in self.results.items()
            },
            units={**{each.name: each.unit for each in self.inputs}, **self.results},
            steps=tuple(outcome.steps),
            source=self.source,
            in_range=not reasons,
            notes=(*reasons, *outcome.notes),
            words=dict(outcome.words),
        )


def check_whole(name: str, number: float) -> int:
    """Give a count as a whole number, or refuse it."""
    if number != int(number):
        raise OutOfSense(name, f"{number:g}", "a whole number is allowed")
    return int(number)


def check_parallel(**series: Sequence[float]) -> None:
    """Refuse parallel series of different lengths; the first one named sets the length."""
    (model, first), *others = series.items()
    for name, values in others:
        if len(values) != len(first):
            allowed = f"as many as in {model} are allowed, that is {len(first)}"
            raise OutOfSense(name, f"{len(values)} values", allowed)


def check_increasing(name: str, numbers: Sequence[float]) -> None:
    """Refuse a series of times or ages that does not run forward."""
    for earlier, later in itertools.pairwise(numbers):
        if later <= earlier:
            allowed = "each value must be larger than the one before it"
            raise OutOfSense(name, f"{later:g} after {earlier:g}", allowed)


_MEMBER = re.compile(r"([+\-\u2212]?\d[\d.,]*(?:[eE][+-]?\d+)?)(.*)")


def _split_series(text: str) -> list[str]:
    """Split ``8.1 8.4 9,0 %`` or ``8.1 %; 9,0 %`` into values that each carry a unit.

    A number written without a unit takes the next one written after it. A no-break space
    inside a number only groups its digits, as in the program's own print.
    """
    members: list[list[str]] = []
    text = re.sub(r"(?<=\d)[\u00a0\u202f](?=\d{3})", "", text)
    for word in text.replace(";", " ").split():
        match = _MEMBER.fullmatch(word.rstrip(","))
        if match:
            members.append([match[1], match[2]])
        elif members:
            members[-1][1] += f" {word}"
        else:
            members.append([word, ""])  # no number at all, refused when it is read
    unit = ""
    for member in reversed(members):
        unit = member[1] = member[1].strip() or unit
    return [f"{number} {own}".strip() for number, own in members]


REGISTER: dict[str, Calculation] = {}


def calculation(
    *,
    subject: str,
    title: str,
    formula: str,
    inputs: Sequence[Input],
    results: Mapping[str, str],
    source: Source,
    cautions: Sequence[str] = (),
) -> Callable[[Callable[..., Outcome]], Calculation]:
    """Put a formula in the register under its function's name.

    ``formula`` is written in the TeX subset that matplotlib sets; ``results`` maps each
    result's name to its unit, the main one first.
    """

    def register(plain: Callable[..., Outcome]) -> Calculation:
        name = plain.__name__
        if name in REGISTER:
            raise RuntimeError(f"two calculations are called {name}")
        REGISTER[name] = Calculation(
            name,
            subject,
            title,
            formula,
            tuple(inputs),
            dict(results),
            source,
            tuple(cautions),
            plain,
        )
        return REGISTER[name]

    return register

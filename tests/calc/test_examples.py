"""Every calculation in the register: its example runs, its formula can be set, its words are there.

Python's own search for examples looks at functions and classes only, and a registered
calculation is neither, so the examples are collected here.
"""

import doctest
import importlib
import pkgutil
import subprocess
import sys

import pytest
from matplotlib.mathtext import MathTextParser

import facility.calc
from facility.calc.working import REGISTER

for module in pkgutil.iter_modules(facility.calc.__path__):
    importlib.import_module(f"facility.calc.{module.name}")

CALCULATIONS = [pytest.param(each, id=name) for name, each in sorted(REGISTER.items())]


@pytest.mark.parametrize("calculation", CALCULATIONS)
def test_the_example_in_the_docstring_runs(calculation):
    names = vars(sys.modules[calculation.plain.__module__])
    example = doctest.DocTestParser().get_doctest(
        calculation.doc, dict(names), calculation.name, None, None
    )
    assert example.examples, "a calculation carries at least one example"
    report = []
    outcome = doctest.DocTestRunner(verbose=False).run(example, out=report.append)
    assert outcome.failed == 0, "".join(report)


@pytest.mark.parametrize("calculation", CALCULATIONS)
def test_the_formula_can_be_set(calculation):
    MathTextParser("path").parse(f"${calculation.formula}$")


@pytest.mark.parametrize("calculation", CALCULATIONS)
def test_inputs_and_results_are_described(calculation):
    assert calculation.title
    assert calculation.source.text
    assert all(each.meaning for each in calculation.inputs)
    assert list(calculation.results)


def test_building_the_register_does_not_load_the_heavy_libraries():
    """The command line reads the register at every start; scipy.stats alone costs half a second."""
    script = (
        "import importlib, pkgutil, sys, facility.calc\n"
        "for each in pkgutil.iter_modules(facility.calc.__path__):\n"
        "    importlib.import_module('facility.calc.' + each.name)\n"
        "heavy = ('scipy.special', 'scipy.stats', 'matplotlib')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert loaded.stdout.strip() == "[]"

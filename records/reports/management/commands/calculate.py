"""Work out one calculation and show its working.

manage.py calculate --list
manage.py calculate net_calorific_value dry_value="17.5 MJ/kg" moisture="12 %" [--json]
"""

from __future__ import annotations

import json
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.calc.register import REGISTER, subjects
from facility.calc.working import CalculationRefused, Working


class Command(BaseCommand):
    help = "Work out one calculation from typed inputs, and show formula, steps, source and range."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", help="the calculation")
        parser.add_argument("inputs", nargs="*", help='each as name="value unit"')
        parser.add_argument("--list", action="store_true", help="list what can be calculated")
        parser.add_argument("--json", action="store_true", help="print JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["list"]:
            self._list()
            return
        try:
            working = self._work(options["name"] or "", options["inputs"])
        except CalculationRefused as refused:
            self.stderr.write(str(refused))
            sys.exit(2)
        if options["json"]:
            self.stdout.write(json.dumps(working.as_dict(), ensure_ascii=False))
        else:
            self._show(working)

    def _list(self) -> None:
        for subject, calculations in subjects().items():
            self.stdout.write(f"{subject}")
            for each in calculations:
                given = ", ".join(one.name for one in each.inputs)
                self.stdout.write(f"  {each.name}: {given} -> {', '.join(each.results)}")

    def _work(self, name: str, inputs: list[str]) -> Working:
        if name not in REGISTER:
            raise CommandError(
                f"{name or 'nothing'} is not a calculation; see calculate --list", returncode=2
            )
        given = {}
        for each in inputs:
            key, equals, value = each.partition("=")
            if not equals:
                raise CommandError(f'{each}: write it as name="value unit"', returncode=2)
            given[key.strip()] = value
        return REGISTER[name].from_text(given)

    def _show(self, working: Working) -> None:
        lines = [working.title, f"  {working.formula}"]
        lines += [f"  {name} = {working.text(name)}" for name in working.inputs]
        lines += [f"  {step.what}: {step.shown}" for step in working.steps]
        lines += [f"  {name} = {working.text(name)}" for name in working.results]
        lines += [f"  {name}: {word}" for name, word in working.words.items()]
        lines += [f"  note: {note}" for note in working.notes]
        lines += [f"  {'within' if working.in_range else 'OUTSIDE'} the range of the source"]
        lines += [f"  source: {working.source}"]
        self.stdout.write("\n".join(lines))

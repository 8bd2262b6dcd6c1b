"""Speed, as medians and ratios of one run: ``make bench``. Nothing here passes or fails.

``make bench BENCH=log`` measures only what has that word in its title.
"""

from __future__ import annotations

import os
import sys
import tempfile

UNITS = ("ms", "x", "K", "m", "s", "k", "k/s", "%", "MB", "")


def set_up() -> None:
    """A database of its own. Not at import: processes that a bench starts import this again."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    os.environ["CHARLINE_DATA"] = tempfile.mkdtemp(prefix="charline-bench-")
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", run_syncdb=True, verbosity=0)
    call_command("demo")


def main(word: str = "") -> None:
    set_up()
    from tests.benches import (
        calc,
        heat,
        history,
        log,
        outlook,
        pages,
        standard,
        store,
        taps,
        yard,
    )

    benches = {
        "Pages, demo ground": pages.rows, "Charge and outlook": outlook.bench_rows,
        "The standard": standard.rows, "The store": store.rows,
        "The heat of a burn": heat.rows, "The yard": yard.rows, "The yard in a browser": taps.rows,
        "Formulas": calc.bench_rows, "The log": log.bench_rows,
        "A unit of twenty years": history.bench_rows,
    }  # fmt: skip
    asked = {title: bench for title, bench in benches.items() if word.lower() in title.lower()}
    for title, rows in ((title, bench()) for title, bench in asked.items()):
        print(f"\n{title}", flush=True)
        for name, median, beside in rows:
            unit = "" if beside in UNITS else "ms"
            print(f"  {name:<52} {median:9.2f} {unit:2} {beside}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:2])

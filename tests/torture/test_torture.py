"""Said is kept: nothing acknowledged is lost when the process is killed or the power fails.

``make torture`` does the same a thousand times; here are a few, so that the harness stays whole.
Both work on a SQLite file of their own, whatever database the other tests use.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys

import pytest

KILLS = int(os.environ.get("CHARLINE_KILLS", "5"))
CUTS = int(os.environ.get("CHARLINE_CUTS", "10"))
ACTS = int(os.environ.get("CHARLINE_CUT_ACTS", "40"))


def run(module: str, *arguments: object) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", f"tests.torture.{module}", *map(str, arguments)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    seen = json.loads(done.stdout.splitlines()[-1])
    print(f"\n{module}: {seen}")
    return seen


def test_a_killed_process_loses_nothing_it_acknowledged(tmp_path):
    seen = run("kills", tmp_path, KILLS)
    assert (seen["lost"], seen["wrong"]) == (0, [])
    assert seen["acknowledged"] >= KILLS
    assert seen["saved_but_not_yet_said"] <= KILLS


needs_compiler = pytest.mark.skipif(shutil.which("cc") is None, reason="needs a C compiler, cc")


@needs_compiler
def test_a_power_cut_loses_nothing_that_was_acknowledged(tmp_path):
    seen = run("cuts", tmp_path, CUTS, ACTS, "FULL")
    assert (seen["corrupt"], seen["cuts_that_lost"]) == (0, 0)


@needs_compiler
def test_the_harness_sees_what_a_weaker_setting_loses(tmp_path):
    """The control: in the mode NORMAL the same harness finds acts lost, and no file corrupt."""
    seen = run("cuts", tmp_path, 3 * CUTS, ACTS, "NORMAL")
    assert seen["cuts_that_lost"] > 0
    assert seen["corrupt"] == 0

"""Two people, or sixteen, cannot issue the same last boards."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from urllib.parse import quote

import pytest
from django.db import connection


@pytest.fixture
def empty_database(tmp_path, transactional_db):
    """The environment that names an empty database of the vendor under test."""
    if connection.vendor == "sqlite":
        yield {"CHARLINE_DATA": str(tmp_path)}
        return
    name = f"hammer_{os.getpid()}"
    settings = connection.settings_dict
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    host, user = quote(settings["HOST"] or "", safe=""), settings["USER"] or ""
    login = f"{user}:{quote(settings['PASSWORD'] or '')}" if settings["PASSWORD"] else user
    port = f":{settings['PORT']}" if settings["PORT"] else ""
    yield {
        "DATABASE_URL": f"postgres://{login}@{host}{port}/{name}",
        "CHARLINE_DATA": str(tmp_path),
    }
    with connection.cursor() as cursor:
        cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


def test_sixteen_processes_never_oversell_one_lot(empty_database):
    """61 boards, 32 plans of two boards, and eight sheets to cut, all at once.

    Each board is issued, cut or still there. What is reserved is issued, since nobody else may
    take it, so the lot ends with no claim and with fewer boards than a plan asks for.
    """
    run = subprocess.run(
        [sys.executable, "-m", "tests.stock.hammer"],
        env={**os.environ, **empty_database},
        capture_output=True, text=True, timeout=500, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr[-2000:]
    seen = json.loads(run.stdout.splitlines()[-1])
    told = seen["outcomes"]
    issued, cut = told["issued"], told.get("cut", 0)
    assert set(told) <= {"issued", "reserved", "reserved: refused", "cut", "cut: refused"}
    assert issued == told["reserved"] == seen["issues"]
    assert issued + told["reserved: refused"] == 32
    assert cut + told.get("cut: refused", 0) == 8
    assert seen["on_hand"] == seen["sum_of_movements"] == 61 - 2 * issued - cut
    assert 0 <= seen["on_hand"] < 2
    assert seen["reserved"] == 0
    assert round(sum(seen["value"]), 2) == 203.13  # 61 at 3.33: left, in pieces, and issued
    assert seen["log_gapless"]
    assert seen["log_findings"] == []

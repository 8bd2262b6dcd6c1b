"""``manage.py read_logger``: what would be understood, and nothing stored."""

from __future__ import annotations

import pytest
from django.core.management import call_command


def test_prints_what_it_understood(tmp_path, capsys):
    file = tmp_path / "unit 2.csv"
    file.write_text("Time,Ceiling\ns,C\n0,20\n10,400\n20,600\n")
    call_command("read_logger", file)
    told = capsys.readouterr().out
    for part in ("unit 2.csv: 3 rows, 10 s apart", "comma-separated", "temperature, °C: 20 to 600"):
        assert part in told


@pytest.mark.parametrize("content", ["", "no, numbers\nat, all\n"])
def test_exits_2_with_one_line(tmp_path, capsys, content):
    file = tmp_path / "odd.csv"
    file.write_text(content)
    with pytest.raises(SystemExit) as ended:
        call_command("read_logger", file)
    assert ended.value.code == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_a_file_that_is_not_there_exits_2(tmp_path):
    with pytest.raises(SystemExit) as ended:
        call_command("read_logger", tmp_path / "none.csv")
    assert ended.value.code == 2

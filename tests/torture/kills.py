"""Kill a writing process again and again: ``python -m tests.torture.kills FOLDER COUNT``.

Prints JSON: how often it was killed, what was acknowledged, what of that was lost.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time

from tests.torture import setting

LONGEST_S = 0.06


def kill_once(chance: random.Random, first: int) -> list[int]:
    """Start a writer, kill it in the midst, and say what it acknowledged."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        setting.write_bays(writer, first, 10**6)
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader) as said:
        start = said.readline()  # once it writes, a random while longer
        time.sleep(chance.uniform(0, LONGEST_S))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return setting.numbers_in(start + said.read())


def main(count: int) -> None:
    setting.found()
    chance = random.Random(6962)
    acknowledged: list[int] = []
    lost = unsaid = 0
    wrong: list[str] = []
    first = 0
    for _kill in range(count):
        acknowledged += kill_once(chance, first)
        held = setting.kept()
        lost += len(set(acknowledged) - set(held))
        unsaid += len([number for number in held if number >= first]) - len(
            [number for number in acknowledged if number >= first]
        )
        wrong += setting.broken(setting.FOLDER / "db.sqlite3")
        first = held[-1] + 1 if held else 0
        setting.connections.close_all()  # the next child must not share it
    print(json.dumps({"kills": count, "acknowledged": len(acknowledged), "lost": lost,
                      "saved_but_not_yet_said": unsaid, "wrong": wrong}))  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[2]))

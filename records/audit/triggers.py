"""What the database itself refuses: triggers that keep the log append-only.

SQLite loses the triggers of a table silently whenever a migration rebuilds it, so they are made
again after every migrate, a system check looks for them, and the web server does not start
without them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core.checks import CheckMessage, Error
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

ENTRY, TILE, DISCLOSED = "records_audit_entry", "records_audit_tile", "records_audit_disclosed"
# What is known about the log: heads mailed, checks made, orders to erase and to dispose.
ABOUT = tuple(
    f"records_audit_{name}"
    for name in (
        "headsent", "verification", "erasure", "erasedtext",
        "disposalorder", "disposal", "disposedtext", "disposedfile",
    )
)  # fmt: skip
TABLES = (ENTRY, TILE, DISCLOSED, *ABOUT)
SAYING = "the log is append-only"
FUNCTION = "records_audit_refuse"
FUNCTION_BODY = f"BEGIN RAISE EXCEPTION '{SAYING}: %', TG_ARGV[0] USING ERRCODE = '23514'; END"


@dataclass(frozen=True, slots=True)
class Trigger:
    """``event`` on ``table`` is refused, always or ``when`` the condition holds."""

    table: str
    name: str
    event: str
    why: str
    when: str = ""


NOT_NEXT = f"NEW.seq <> (SELECT coalesce(max(seq) + 1, 0) FROM {ENTRY})"
TAKEN = {
    TILE: f'EXISTS (SELECT 1 FROM {TILE} WHERE level = NEW.level AND "index" = NEW."index")',
    DISCLOSED: f"EXISTS (SELECT 1 FROM {DISCLOSED} "
    "WHERE entry_id = NEW.entry_id AND place = NEW.place)",
}
TRIGGERS = (
    Trigger(ENTRY, "log_entry_next", "INSERT", "an entry takes the next number", NOT_NEXT),
    Trigger(ENTRY, "log_entry_no_update", "UPDATE", "an entry is never changed"),
    Trigger(ENTRY, "log_entry_no_delete", "DELETE", "an entry is never removed"),
    Trigger(TILE, "log_tile_once", "INSERT", "a tile is written once", TAKEN[TILE]),
    Trigger(TILE, "log_tile_no_update", "UPDATE", "a tile is never changed"),
    Trigger(TILE, "log_tile_no_delete", "DELETE", "a tile is never removed"),
    Trigger(DISCLOSED, "log_disclosed_once", "INSERT", "a text is told once", TAKEN[DISCLOSED]),
    Trigger(DISCLOSED, "log_disclosed_no_update", "UPDATE", "a text is never changed"),
    *(
        Trigger(table, f"{table}_no_{event.lower()}", event, "what is known of it is kept")
        for table in ABOUT
        for event in ("UPDATE", "DELETE")
    ),
)
NO_TRUNCATE = tuple(
    Trigger(table, f"{table}_no_truncate", "TRUNCATE", "the log is never emptied")
    for table in TABLES
)


def triggers_of(vendor: str) -> tuple[Trigger, ...]:
    return TRIGGERS if vendor == "sqlite" else TRIGGERS + NO_TRUNCATE


def _sqlite(trigger: Trigger) -> list[str]:
    when = f" WHEN {trigger.when}" if trigger.when else ""
    return [
        f"CREATE TRIGGER {trigger.name} BEFORE {trigger.event} ON {trigger.table}{when} "
        f"BEGIN SELECT RAISE(ABORT, '{SAYING}: {trigger.why}'); END"
    ]


def _postgresql(trigger: Trigger) -> list[str]:
    """PostgreSQL allows no query in WHEN, so a condition gets a function of its own."""
    function, statements = FUNCTION, []
    if trigger.when:
        function = f"{FUNCTION}_{trigger.name}"
        statements.append(_function(function, _conditional(trigger)))
    each = "STATEMENT" if trigger.event == "TRUNCATE" else "ROW"
    statements.append(
        f"CREATE TRIGGER {trigger.name} BEFORE {trigger.event} ON {trigger.table} "
        f"FOR EACH {each} EXECUTE FUNCTION {function}('{trigger.why}')"
    )
    return statements


def _conditional(trigger: Trigger) -> str:
    raising = FUNCTION_BODY.removeprefix("BEGIN ").removesuffix(" END")
    return f"BEGIN IF {trigger.when} THEN {raising} END IF; RETURN NEW; END"


def _function(name: str, body: str) -> str:
    return f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$"


def _run(connection: BaseDatabaseWrapper, statements: Sequence[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement, None)  # no parameters: % stands for itself


def has_tree(connection: BaseDatabaseWrapper) -> bool:
    """Whether the tables of the log are there; before their migration there is nothing to guard."""
    return set(TABLES) <= set(connection.introspection.table_names())


def make_triggers(connection: BaseDatabaseWrapper) -> None:
    """Make every trigger anew."""
    drop_triggers(connection)
    if connection.vendor == "sqlite":
        statements = [each for trigger in TRIGGERS for each in _sqlite(trigger)]
    else:
        every = triggers_of(connection.vendor)
        statements = [_function(FUNCTION, FUNCTION_BODY)]
        statements += [each for trigger in every for each in _postgresql(trigger)]
    _run(connection, statements)


def drop_triggers(connection: BaseDatabaseWrapper) -> None:
    """For a migration that has to touch the log, and for tests; nothing else calls it."""
    named_with_table = connection.vendor != "sqlite"
    _run(
        connection,
        [
            f"DROP TRIGGER IF EXISTS {each.name}" + f" ON {each.table}" * named_with_table
            for each in triggers_of(connection.vendor)
        ],
    )


def missing_triggers(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of triggers that are gone, switched off or no longer say what they should."""
    held = _held_on_sqlite(connection) if connection.vendor == "sqlite" else _held(connection)
    return [each.name for each in triggers_of(connection.vendor) if each.name not in held]


def _held_on_sqlite(connection: BaseDatabaseWrapper) -> set[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        found = dict(cursor.fetchall())
    return {each.name for each in TRIGGERS if found.get(each.name) == _sqlite(each)[-1]}


def _held(connection: BaseDatabaseWrapper) -> set[str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT t.tgname, p.prosrc, t.tgrelid::regclass::text FROM pg_trigger t "
            "JOIN pg_proc p ON p.oid = t.tgfoid WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')"
        )
        found = {row[0]: row[1:] for row in cursor.fetchall()}
    return {
        each.name
        for each in triggers_of(connection.vendor)
        if found.get(each.name) == (_conditional(each) if each.when else FUNCTION_BODY, each.table)
    }


def guard_after_migrate(*, using: str = DEFAULT_DB_ALIAS, **_sent: Any) -> None:
    """After every migrate, also one that rebuilt a table and lost its triggers."""
    if has_tree(connections[using]):
        make_triggers(connections[using])


def check_guarded(*, databases: Sequence[str] | None = None, **_sent: Any) -> list[CheckMessage]:
    """The system check, for databases that are named to it."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        if has_tree(connections[alias]):
            found += [
                Error(
                    f"The trigger {name} of the log is missing or was changed.",
                    hint="Find out by whom; `manage.py migrate --skip-checks` makes it again.",
                    id="records_audit.E001",
                )
                for name in missing_triggers(connections[alias])
            ]
            found += _check_sqlite(connections[alias])
    return found


def _check_sqlite(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    """Whether the settings took: a file that cannot hold a WAL silently gets another journal."""
    if connection.vendor != "sqlite":
        return []
    wanted: dict[str, Any] = {"recursive_triggers": 1, "synchronous": 2, "journal_mode": "wal"}
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA database_list")
        if not cursor.fetchone()[2]:
            wanted = {"recursive_triggers": 1}  # in memory, where nothing outlives anything
        found = {name: cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in wanted}
    return [
        Error(f"SQLite's {name} is {found[name]}, not {value}.", id="records_audit.E002")
        for name, value in wanted.items()
        if found[name] != value
    ]

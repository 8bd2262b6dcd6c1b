"""Entries written before there was a tree get a body, made from their columns, and grow it."""

from django.db import migrations

from records.audit import bodies, merkle
from records.audit.triggers import drop_triggers

AT_ONCE = 500


def pairs(value):
    """Inner mappings as the door writes them now: as pairs."""
    if isinstance(value, dict):
        return [[key, pairs(item)] for key, item in value.items()]
    return [pairs(item) for item in value] if isinstance(value, list) else value


def said_by(entry):
    typed = {
        f"{part}.{key}"
        for part in ("before", "after")
        for key, value in getattr(entry, part).items()
        if bodies.holds_text(key, value)
    }
    return bodies.Said(
        at=entry.at, site=entry.site, actor=entry.actor, role=entry.role, act=entry.act,
        obj=entry.obj, before={key: pairs(value) for key, value in entry.before.items()},
        after={key: pairs(value) for key, value in entry.after.items()}, why=entry.why,
        once=entry.once or "", typed=typed | {"why"},
    )


def grow(apps, schema_editor):
    Entry = apps.get_model("records_audit", "Entry")
    Tile = apps.get_model("records_audit", "Tile")
    Disclosed = apps.get_model("records_audit", "Disclosed")
    LogHead = apps.get_model("records_audit", "LogHead")
    drop_triggers(schema_editor.connection)  # after migrating they are made again
    tree = merkle.GrowingTree()
    while batch := list(Entry.objects.filter(seq__gte=tree.size).order_by("seq")[:AT_ONCE]):
        texts, tiles = [], []
        for entry in batch:
            if entry.seq != tree.size:
                raise RuntimeError(f"The log has no entry {tree.size}; it cannot become a tree.")
            written = bodies.write(said_by(entry), entry.entry_id)
            entry.body, entry.leaf = written.body, merkle.leaf_hash(written.body.encode())
            texts += [
                Disclosed(entry_id=entry.seq, place=text.place, salt=text.salt, value=text.value)
                for text in written.disclosures
            ]
            tiles += [
                Tile(level=each.level, index=each.index, root=each.root, data=each.data)
                for each in tree.add(entry.leaf)
            ]
        Entry.objects.bulk_update(batch, ["body", "leaf"])
        Disclosed.objects.bulk_create(texts)
        Tile.objects.bulk_create(tiles)
    head = LogHead.objects.filter(pk=1).first()
    if (head.size if head else 0) != tree.size:
        raise RuntimeError(f"The head says {head and head.size} entries, the log holds {tree.size}.")
    if head:
        head.frontier = b"".join(tree.peaks)
        head.save()


class Migration(migrations.Migration):

    dependencies = [
        ('records_audit', '0002_tree'),
    ]

    operations = [migrations.RunPython(grow)]

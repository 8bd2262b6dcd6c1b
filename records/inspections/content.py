"""What a return to service is signed over: the defect and every repair of it, as plain values."""

from __future__ import annotations

import datetime as dt
import hashlib
import json

from records.inspections.models import Defect


def content_hash(defect: Defect) -> str:
    """SHA-256 over the content written one way only: sorted keys, keys of rows, no spaces."""
    repairs = defect.repairs.select_related("done_by", "recorded_by").order_by("pk")
    written: dict[str, object] = {
        "unit": defect.unit.public_id,
        "defect": defect.public_id,
        "severity": str(defect.severity),
        "place": defect.place,
        "description": defect.description,
        "found_at": _moment(defect.found_at),
        "repairs": [
            [repair.what, _moment(repair.done_at), repair.done_by.public_id,
             repair.recorded_by.public_id]
            for repair in repairs
        ],
    }  # fmt: skip
    # Left out when empty: releases were signed before these were known.
    if defect.part or defect.restricts:
        written["part"] = defect.part
        written["forbids"] = [
            defect.no_entry, defect.most_boards,
            None if defect.most_dry_kg is None else f"{defect.most_dry_kg:.1f}",
        ]  # fmt: skip
    more = [
        [each.contractor, each.material, None if each.cost is None else f"{each.cost:.2f}"]
        for each in repairs
    ]
    if any(any(each) for each in more):
        written["repaired with"] = more
    checks = defect.verifications.select_related("done_by")
    if checks:
        written["checked"] = [
            [each.checked, each.holds, _moment(each.done_at), each.done_by.public_id]
            for each in checks
        ]
    text = json.dumps(written, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _moment(when: dt.datetime) -> str:
    return when.astimezone(dt.UTC).isoformat()

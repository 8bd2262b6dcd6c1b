"""What a return to service is signed over: the defect and every repair of it, as plain values."""

from __future__ import annotations

import datetime as dt
import hashlib
import json

from records.inspections.models import Defect


def content_hash(defect: Defect) -> str:
    """SHA-256 over the content written one way only: sorted keys, keys of rows, no spaces."""
    repairs = defect.repairs.select_related("done_by", "recorded_by").order_by("pk")
    written = {
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
    text = json.dumps(written, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _moment(when: dt.datetime) -> str:
    return when.astimezone(dt.UTC).isoformat()

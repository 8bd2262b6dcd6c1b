"""What every document carries."""

from __future__ import annotations

from typing import Any

from facility.people.gate import GroundRequest
from records.audit.heads import head_now
from records.audit.qr import qr_code


def carried(request: GroundRequest) -> dict[str, Any]:
    """Whose document, from when, and the head of the log that covers it."""
    head = head_now()
    return {
        "ground": request.ground,
        "printed_at": request.now,
        "printed_by": request.person,
        "head": head,
        "head_at": f"{head.at:%Y-%m-%d %H:%M:%S} UTC",
        "head_qr": qr_code(head),
    }

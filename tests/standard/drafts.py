"""What the tests of drafts share: a draft of one's own, and rows and charts to write into it."""

from __future__ import annotations

from decimal import Decimal

from records.standard import services
from tests import builders
from tests.builders import NOW


def draft(ground, **changes):
    given = {"code": "T-2", "title": "Second", "rows": builders.rows(), "by": ground.safety}
    return services.draft_edition(ground.site, **{**given, "at": NOW, **changes})


def proposed(ground, **changes):
    edition = draft(ground, **changes)
    services.propose_edition(edition, by=changes.get("by", ground.safety), at=NOW)
    return edition


def row(**changes):
    """A row that the small standard does not have."""
    return {"code": "N-1", "title": "Water on site", "fact": "water.on_site", "comparison": ">=",
            "limit": "9000", "severity": "block", "basis": "local", "clause": "9.1",
            **changes}  # fmt: skip


def chart(**changes):
    return {"caps_dry_kg": [Decimal(90), Decimal(60)], "burns_before_cooling": 2,
            "cooling_min": 60, "wait_min": 30, "trial_on": NOW.date(), "trial_note": "trial burn",
            **changes}  # fmt: skip

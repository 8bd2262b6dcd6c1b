"""What the pages of a burn say about the yard, which stands above them."""

from __future__ import annotations

from typing import Any

from django import template

from records.yard import selectors

register = template.Library()


@register.inclusion_tag("yard/_open.html", takes_context=True)
def yard_open(context: template.Context, burn: Any) -> dict[str, Any]:
    """How much the tablets sent of a burn, and what somebody still has to answer for."""
    sent = burn.yard_events.count()
    found = selectors.open_doubts(burn) if sent or burn.set_aside.exists() else []
    return {"burn": burn, "sent": sent, "open": len(found), "late": len(selectors.late_of(burn))}

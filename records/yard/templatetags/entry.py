"""Entry control on pages of other rooms: who is inside now, and the entry log of a burn."""

from __future__ import annotations

import json
from typing import Any

from django import template
from django.utils import timezone

from facility.calc.constants import AIR_FILL_FACTORS, AIR_FILL_PRESSURES
from records.yard import entry_control
from records.yard.board_words import words

register = template.Library()


@register.simple_tag
def board_given() -> str:
    """What the board's script needs of the server whatever the burn, as JSON for an attribute."""
    fill = {"pressures": AIR_FILL_PRESSURES, "factors": AIR_FILL_FACTORS}
    return json.dumps({"words": words(), "fill": fill}, ensure_ascii=False)


@register.inclusion_tag("yard/_inside_now.html", takes_context=True)
def inside_now(context: Any, burn: Any) -> dict[str, Any]:
    at = context.get("now") or timezone.now()
    return {"burn": burn, "inside": entry_control.inside_now(burn, at), "now": at}


@register.inclusion_tag("yard/_entry_log.html", takes_context=True)
def entry_log(context: Any, burn: Any) -> dict[str, Any]:
    at = context.get("now") or timezone.now()
    return {"burn": burn, "log": entry_control.entry_log(burn, at)}

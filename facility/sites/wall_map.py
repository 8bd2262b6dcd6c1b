"""The walls of a unit unrolled, to scale and as seen from inside, with what was gauged where.

Each point shows its mark, its thickness in figures, a tone and a shape: nothing is said by colour
alone. Walls without a point are left out.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

SOUND, THINNER, NEAR, UNDER, UNREAD = "sound", "thinner", "near", "under", "unread"
THIN_SHARE = 0.10  # of the nominal thickness lost, from which a point is called thinner: our choice
NEAR_SHARE = 0.25  # of what there was to lose, left: then it is near its end: our choice

WIDE, MARGIN, GAP, HEAD = 760.0, 12.0, 26.0, 22.0
_TONES = {
    SOUND: "#e3ece6",
    THINNER: "#f5e7c3",
    NEAR: "#f1cba6",
    UNDER: "#eab7ae",
    UNREAD: "#ffffff",
}
_LINES = {
    SOUND: "#2d5a45",
    THINNER: "#7a5300",
    NEAR: "#a4460f",
    UNDER: "#8a1c10",
    UNREAD: "#5b625e",
}
_INK, _QUIET, _STEEL = "#1f2421", "#5b625e", "#3f5560"
_BOX_W, _BOX_H = 50.0, 30.0


def level_of(thickness: float | None, nominal: float | None, required: float | None) -> str:
    """How a thickness [mm] stands between what the wall was built with and what it must have.

    >>> level_of(1.95, 2.0, 1.2), level_of(1.7, 2.0, 1.2), level_of(1.3, 2.0, 1.2)
    ('sound', 'thinner', 'near')
    >>> level_of(1.2, None, 1.2), level_of(None, 2.0, 1.2), level_of(1.5, None, None)
    ('under', 'unread', 'sound')
    """
    if thickness is None:
        return UNREAD
    if required is not None and thickness <= required:
        return UNDER
    if nominal is None:
        return SOUND
    if required is not None and _over(NEAR_SHARE * (nominal - required), thickness - required):
        return NEAR
    return SOUND if _over(THIN_SHARE * nominal, nominal - thickness) else THINNER


def _over(more: float, less: float) -> bool:
    """Whether one is over the other by more than sums of decimals stray; gauges show hundredths."""
    return more - less > 1e-6


def level_words() -> dict[str, str]:
    return {
        SOUND: _("less than 10 % lost, or the nominal thickness not known"),
        THINNER: _("10 % or more lost"),
        NEAR: _("under a quarter left of what there was to lose"),
        UNDER: _("at or under the required thickness"),
        UNREAD: _("not read yet"),
    }


@dataclass(frozen=True, slots=True)
class Gauged:
    """A point of a wall: where [m], how thick [mm], and how that stands."""

    mark: str
    wall: str
    along_m: float
    up_m: float
    thickness_mm: float | None
    level: str


def wall_map(
    points: Sequence[Gauged], extents: Mapping[str, tuple[float, float]], names: Mapping[str, str]
) -> SafeString:
    """The picture; empty without points. ``extents`` gives length and height of each wall [m]."""
    drawn = [wall for wall in extents if any(each.wall == wall for each in points)]
    if not drawn:
        return SafeString("")
    scale = (WIDE - 2 * MARGIN) / max(extents[wall][0] for wall in extents)
    parts: list[str] = []
    top = 4.0
    for row in _rows(drawn, extents, scale):
        left = MARGIN
        for wall in row:
            parts += _wall(points, wall, extents[wall], names[wall], scale, left, top)
            left += extents[wall][0] * scale + GAP
        top += HEAD + max(extents[wall][1] for wall in row) * scale + GAP
    present = {each.level for each in points}
    for level, words in level_words().items():
        if level in present:
            parts += [_mark(level, MARGIN + 8, top + 2), _text(MARGIN + 24, top + 6, words, _INK)]
            top += 20.0
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:.0f} {top:.0f}" '
        f'font-family="DejaVu Sans, sans-serif" font-size="12">{"".join(parts)}</svg>'
    )
    words = _("Walls seen from inside, to scale: {points}").format(points="; ".join(_said(points)))
    data = base64.b64encode(svg.encode()).decode()
    return format_html(
        '<img class="chart" alt="{}" src="data:image/svg+xml;base64,{}">', words, data
    )


def _said(points: Sequence[Gauged]) -> Iterator[str]:
    words = level_words()
    for each in points:
        thick = "–" if each.thickness_mm is None else f"{each.thickness_mm:.2f} mm"
        yield f"{each.mark} {thick}, {words[each.level]}"


def _rows(
    walls: Sequence[str], extents: Mapping[str, tuple[float, float]], scale: float
) -> list[list[str]]:
    """Walls beside one another while they fit, in the order in which one turns round inside."""
    rows: list[list[str]] = []
    room = 0.0
    for wall in walls:
        wide = extents[wall][0] * scale
        if not rows or wide > room:
            rows.append([])
            room = WIDE - 2 * MARGIN
        rows[-1].append(wall)
        room -= wide + GAP
    return rows


def _wall(
    points: Sequence[Gauged], wall: str, extent: tuple[float, float], name: str, scale: float,
    left: float, top: float,
) -> Iterator[str]:  # fmt: skip
    long, high = extent[0] * scale, extent[1] * scale
    foot = top + HEAD + high
    yield _text(left, top + 14, name, _STEEL)
    yield (
        f'<rect x="{left:.1f}" y="{top + HEAD:.1f}" width="{long:.1f}" height="{high:.1f}" '
        f'fill="#ffffff" stroke="{_STEEL}" stroke-width="1.5"/>'
    )
    here = [each for each in points if each.wall == wall]
    for each in here:
        yield from _point(each, left + each.along_m * scale, foot - each.up_m * scale)


def _point(each: Gauged, x: float, y: float) -> Iterator[str]:
    yield (
        f'<rect x="{x - _BOX_W / 2:.1f}" y="{y - _BOX_H / 2:.1f}" width="{_BOX_W}" '
        f'height="{_BOX_H}" rx="3" fill="{_TONES[each.level]}" stroke="{_LINES[each.level]}"/>'
    )
    yield _mark(each.level, x - _BOX_W / 2 + 8, y - 7)
    yield _text(x + 5, y - 3, each.mark, _QUIET, "middle", 10)
    figure = "–" if each.thickness_mm is None else f"{each.thickness_mm:.2f}"
    yield _text(x, y + 11, figure, _INK, "middle", 13)


def _mark(level: str, x: float, y: float) -> str:
    """A shape of its own for each level: ring, half, triangle, cross, dash."""
    line = _LINES[level]
    if level == UNREAD:
        return f'<path d="M{x - 4:.1f} {y:.1f}h8" stroke="{line}" stroke-width="1.5"/>'
    if level == UNDER:
        return (f'<path d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8" stroke="{line}" '
                'stroke-width="2.2"/>')  # fmt: skip
    if level == NEAR:
        return f'<path d="M{x:.1f} {y - 5:.1f}l5 9h-10z" fill="{line}"/>'
    ring = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#ffffff" stroke="{line}" stroke-width="1.5"/>'
    if level == THINNER:
        ring += f'<path d="M{x:.1f} {y - 4:.1f}a4 4 0 0 1 0 8z" fill="{line}"/>'
    return ring


def _text(
    x: float, y: float, words: object, tone: str, anchor: str = "start", size: int = 12
) -> str:
    return format_html(
        '<text x="{}" y="{}" fill="{}" text-anchor="{}" font-size="{}">{}</text>',
        f"{x:.1f}", f"{y:.1f}", tone, anchor, size, words,
    )  # fmt: skip

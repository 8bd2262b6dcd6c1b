"""What is drawn by matplotlib, as SVG that page and print share."""

from __future__ import annotations

from functools import lru_cache

from django.utils.html import format_html
from django.utils.safestring import SafeString


@lru_cache(maxsize=256)
def formula(text: str, size: float = 15.0) -> SafeString:
    """A formula in the TeX subset of matplotlib, as an SVG path in the colour of the text around it.

    A path, not text with styles: the strict content policy allows no inline style.
    """
    from matplotlib.path import Path
    from matplotlib.textpath import TextPath

    path = TextPath((0, 0), f"${text}$", size=size)
    box = path.get_extents()
    letters = {Path.MOVETO: "M", Path.LINETO: "L", Path.CURVE3: "Q", Path.CURVE4: "C"}
    parts = []
    for points, code in path.iter_segments(curves=True):
        if code == Path.CLOSEPOLY:
            parts.append("Z")
        else:
            numbers = [f"{value:.2f}" for value in points * ([1, -1] * (len(points) // 2))]
            parts.append(letters[code] + " ".join(numbers))
    pad = 2
    width, height = box.width + 2 * pad, box.height + 2 * pad
    view = f"{box.x0 - pad:.2f} {-box.y1 - pad:.2f} {width:.2f} {height:.2f}"
    return format_html(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="{}" width="{}" height="{}" role="img" '
        'aria-label="{}"><path fill="currentColor" d="{}"/></svg>',
        view, f"{width * 1.35:.0f}", f"{height * 1.35:.0f}", text, "".join(parts),
    )  # fmt: skip

"""Cutting: how many pieces a sheet gives, and what is left of it."""

import math

from facility.calc.working import Input, Outcome, Source, Step, calculation

_SLACK = 1e-9  # metres; less than any saw, more than the rounding of a division


@calculation(
    subject="cutting",
    title="Pieces from one sheet",
    formula=(
        r"n = \left\lfloor \frac{L + k}{l + k} \right\rfloor"
        r"\left\lfloor \frac{W + k}{w + k} \right\rfloor"
    ),
    inputs=(
        Input("sheet_length", "m", "length of the sheet", low=0, above_low=True, high=15),
        Input("sheet_width", "m", "width of the sheet", low=0, above_low=True, high=5),
        Input("piece_length", "m", "length of a piece, along the sheet", low=0.05, high=15),
        Input("piece_width", "m", "width of a piece, across the sheet", low=0.05, high=5),
        Input("kerf", "mm", "wood that one cut of the saw takes", low=0, high=20, default=3,
              valid=(0, 6)),
    ),
    results={
        "pieces": "", "along": "", "across": "", "turned": "", "offcuts": "",
        "pieces_share": "%", "kerf_share": "%", "offcut_share": "%",
        "end_strip": "m", "side_strip": "m",
    },
    source=Source(
        "geometry of cross cuts from edge to edge, each column then ripped (guillotine cuts in two "
        "stages); one kerf lies between two pieces",
        "derived",
    ),
    cautions=(
        "Pieces are laid one way only; where turning them gives more, the count for that is given "
        "beside. Two pieces of exactly half a sheet need a saw without a kerf.",
    ),
)  # fmt: skip
def pieces_from_sheet(
    sheet_length: float, sheet_width: float, piece_length: float, piece_width: float, kerf: float
) -> Outcome:
    """Pieces of length, width [m] from a sheet [m] with a kerf [mm], and the off-cuts.

    The sheet is cut across into columns of the piece's length, and each column is ripped into
    pieces of its width. Off-cuts are the end strip (full width), and a side strip of each column;
    a strip no wider than a kerf is dust. Shares are of the sheet's area.

    >>> working = pieces_from_sheet.of(
    ...     sheet_length=2.44, sheet_width=1.22, piece_length=1.2, piece_width=0.6, kerf=3)
    >>> working.value(), working.value("offcuts")
    (4.0, 3.0)
    """
    k = kerf / 1000.0
    along = _fit(sheet_length, piece_length, k)
    across = _fit(sheet_width, piece_width, k)
    turned = _fit(sheet_length, piece_width, k) * _fit(sheet_width, piece_length, k)
    end = _strip(sheet_length, piece_length, along, k)
    side = _strip(sheet_width, piece_width, across, k)
    whole = sheet_length * sheet_width
    pieces = along * across * piece_length * piece_width
    left = (end * sheet_width + side * along * piece_length) if along * across else whole
    offcuts = ((end > 0) + (side > 0) * along) if along * across else 1
    return Outcome(
        {
            "pieces": float(along * across),
            "along": float(along),
            "across": float(across),
            "turned": float(turned),
            "offcuts": float(offcuts),
            "pieces_share": 100.0 * pieces / whole,
            "kerf_share": 100.0 * (whole - pieces - left) / whole,
            "offcut_share": 100.0 * left / whole,
            "end_strip": end,
            "side_strip": side,
        },
        steps=[
            Step("area of the sheet", whole, "m2"),
            Step("area of the pieces", pieces, "m2"),
            Step("area of the off-cuts", left, "m2"),
        ],
        outside=[] if along * across else ["the piece is larger than the sheet"],
    )


def _fit(whole: float, part: float, kerf: float) -> int:
    """How many parts lie in a length, with a kerf between two."""
    return math.floor((whole + kerf + _SLACK) / (part + kerf))


def _strip(whole: float, part: float, count: int, kerf: float) -> float:
    """What is left beyond the last part and the kerf that parts it off."""
    left = whole - count * (part + kerf)
    return left if count and left > _SLACK else 0.0

"""The docket of the newest delivery, drawn as a phone would have taken it: paper on a dark bench."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw, ImageFont

from records.stock.models import Lot

SIZE = (1200, 900)
INK, PAPER, BENCH = (40, 42, 46), (244, 241, 232), (74, 66, 58)


def drawn_docket(lot: Lot) -> bytes:
    """A JPEG of an invented docket for this lot."""
    product, delivery = lot.product, lot.delivery
    lines = [
        ("DELIVERY NOTE", 46), (str(delivery.supplier), 34), ("", 20),
        (f"No. {delivery.docket}", 40), (f"{delivery.delivered_at:%d %B %Y}", 28), ("", 20),
        (f"{lot.received:.0f} x {product.name}", 34),
        (f"{product.standard_class}   {lot.emission_class}   {lot.mill_mark}", 28), ("", 20),
        ("New material, untreated.", 28), ("Received:  ________________", 28),
    ]  # fmt: skip
    paper = Image.new("RGB", (900, 700), PAPER)
    pen, top = ImageDraw.Draw(paper), 40
    for text, size in lines:
        pen.text((60, top), text, fill=INK, font=ImageFont.load_default(size))
        top += int(size * 1.5)
    picture = Image.new("RGB", SIZE, BENCH)
    lying = paper.rotate(2.5, expand=True, fillcolor=BENCH, resample=Image.Resampling.BICUBIC)
    picture.paste(lying, (130, 80))
    data = io.BytesIO()
    picture.save(data, "JPEG", quality=80)
    return data.getvalue()

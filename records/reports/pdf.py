"""Documents as PDF. The only module that imports WeasyPrint.

Nothing outside the document is fetched: no address, no file. A long document is laid out in pieces
without foot and page number, which are known last; both are stamped on when the pieces are joined.
A second layout with the right counters would cost as much again as the first, the stamps cost a
hundredth of a second a page.
"""

from __future__ import annotations

import gc
import io
import json
import signal
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pikepdf
from django.http import HttpResponse
from django.template.loader import render_to_string
from django.utils.http import content_disposition_header
from weasyprint import HTML, Attachment
from weasyprint.urls import URLFetcher

PAPERS = {"a4": "A4", "letter": "Letter"}


# Pictures that stand in the document itself, and nothing else.
_nothing_from_outside = URLFetcher(allowed_protocols=("data",), allow_redirects=False)


def render_pdf(template: str, context: dict[str, Any]) -> bytes:
    """Render one document, with the proof of its signature where it has one."""
    return printed(render_to_string(template, context), _attached(context)).document


def _attached(context: dict[str, Any]) -> list[Attachment]:
    """``proof.json`` where the document shows what was signed: that the entry of the signature is
    in the log of the head at the foot, as ``checker.py --proof`` reads it."""
    proof = context.get("proof")
    if proof is None:
        return []
    text = json.dumps(proof.as_json(), indent=1, ensure_ascii=False)
    what = "the signature's entry, and that the log of the printed head holds it"
    return [Attachment(string=text, name="proof.json", description=what, relationship="Data")]


def pdf_of(template: str, context: dict[str, Any], paper: str) -> bytes:
    """The document on that paper: a4 or letter, anything else means A4."""
    return render_pdf(template, {**context, "paper": PAPERS.get(paper.lower(), "A4")})


def pdf_response(template: str, context: dict[str, Any], name: str, paper: str) -> HttpResponse:
    """The document as a download."""
    return as_download(pdf_of(template, context, paper), name)


def as_download(document: bytes, name: str) -> HttpResponse:
    response = HttpResponse(document, content_type="application/pdf")
    response["Content-Disposition"] = str(content_disposition_header(False, f"{name}.pdf"))
    return response


@dataclass(frozen=True, slots=True)
class Printed:
    """A rendered piece: its bytes, and how many pages it has."""

    document: bytes
    pages: int


def printed(html: str, attachments: Sequence[Attachment] = ()) -> Printed:
    """Render one piece. The garbage collector rests meanwhile: measured a quarter faster."""
    gc.disable()
    try:
        laid_out = HTML(string=html, url_fetcher=_nothing_from_outside).render()
        written = laid_out.write_pdf(attachments=list(attachments))
        return Printed(bytes(written or b""), len(laid_out.pages))
    finally:
        gc.enable()


def leave_signals() -> None:
    """Ctrl-C reaches the whole group; the worker decides what becomes of what is in hand."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def joined(
    pieces: Sequence[tuple[str, bytes]], *, foot: bytes, numbers: bytes, title: str
) -> bytes:
    """One document of titled pieces, each of whose pages gets the foot and its number.

    ``foot`` is a document of one page, drawn once and shared by all; ``numbers`` has a page for
    each page. The same pieces give the same bytes. The titles become the bookmarks.
    """
    whole = pikepdf.new()
    starts = []
    for piece_title, piece in pieces:
        starts.append((piece_title, len(whole.pages)))
        with pikepdf.open(io.BytesIO(piece)) as source:
            whole.pages.extend(source.pages)
    with pikepdf.open(io.BytesIO(foot)) as feet, pikepdf.open(io.BytesIO(numbers)) as marks:
        shared = whole.copy_foreign(feet.pages[0].as_form_xobject())
        for page, mark in zip(whole.pages, marks.pages, strict=True):
            page.add_overlay(shared, None)
            page.add_overlay(mark, None)
    with whole.open_outline() as outline:
        outline.root.extend(pikepdf.OutlineItem(name, start) for name, start in starts)
    whole.docinfo["/Title"] = title
    written = io.BytesIO()
    whole.save(written, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return written.getvalue()

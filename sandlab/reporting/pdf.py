"""A report as a PDF: A4, vectors throughout, its faces inside, the same bytes for the same words."""

from __future__ import annotations

import io

import pydyf

from sandlab.reporting.pages import Document
from sandlab.reporting.setting import A4, SMALLEST, Setter
from sandlab.reporting.svg_print import BOLD, REGULAR
from sandlab.reporting.typeface import face, joined

_STEP = 0.04


def pdf_bytes(document: Document) -> tuple[bytes, int]:
    """The whole file and its number of pages; letters shrink a little to fit on the pages asked for."""
    share = 1.0
    set_ = Setter(document, share)
    while document.most_pages and len(set_.pages) > document.most_pages and share - _STEP >= SMALLEST:
        share -= _STEP
        set_ = Setter(document, share)
    pdf = pydyf.PDF()
    fonts = pydyf.Dictionary()
    for name, bold in ((REGULAR, False), (BOLD, True)):
        letters = frozenset(letter for is_bold, letter in set_.letters if is_bold is bold)
        objects = face(bold=bold).objects(letters)
        for one in objects:
            pdf.add_object(one)
        joined(objects)
        fonts[name] = objects[0].reference
    pdf.info["Title"] = pydyf.String(f"{document.title}, {document.subtitle}")
    pdf.info["Producer"] = pydyf.String("sandlab")
    pdf.catalog["Lang"] = pydyf.String("en")
    for sheet in set_.pages:
        pdf.add_object(sheet.stream)
        pdf.add_page(
            pydyf.Dictionary(
                {
                    "Type": "/Page",
                    "Parent": pdf.pages.reference,
                    "MediaBox": pydyf.Array([0, 0, *A4]),
                    "Contents": sheet.stream.reference,
                    "Resources": pydyf.Dictionary({"Font": fonts}),
                }
            )
        )
    output = io.BytesIO()
    pdf.write(output)
    return output.getvalue(), len(set_.pages)

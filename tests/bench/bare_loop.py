"""The least work there is: opens a PDF and renders each page's plates with MuPDF, and does nothing with them.

    python tests/bench/bare_loop.py FILE

Six pixels a millimetre, four inks and the spot inks apart, overprint honoured, anti-aliasing off: as the tool renders. A
script of its own, so that it starts with nothing of the tool loaded.
"""

from __future__ import annotations

import sys

from pymupdf import mupdf

PIXELS_PER_MM = 6.0


def render(path: str) -> int:
    """Renders all pages' plates; answers the number of bytes, so that the work cannot be skipped."""
    mupdf.fz_set_aa_level(0)
    document = mupdf.pdf_open_document(path)
    intent = mupdf.pdf_document_output_intent(document)
    space = intent if intent.m_internal else mupdf.fz_device_cmyk()
    scale = PIXELS_PER_MM * 25.4 / 72.0
    total = 0
    for number in range(mupdf.pdf_count_pages(document)):
        page = mupdf.pdf_load_page(document, number)
        inks = mupdf.fz_page_separations(page.super())
        if inks.m_internal:
            for ink in range(mupdf.fz_count_separations(inks)):
                mupdf.fz_set_separation_behavior(inks, ink, mupdf.FZ_SEPARATION_SPOT)
        else:
            inks = mupdf.fz_new_separations(1)
        plates = mupdf.pdf_new_pixmap_from_page_with_separations_and_usage(
            page, mupdf.fz_scale(scale, scale), space, inks, 0, "Print", mupdf.FZ_MEDIA_BOX
        )
        total += plates.h() * plates.stride()
    return total


if __name__ == "__main__":
    print(render(sys.argv[1]))

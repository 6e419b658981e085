"""An edge meant to lie on the pixel grid lies on it, however a program rounds its coordinates."""

from __future__ import annotations

import pytest
from artwork import PT_PER_MM, Book
from plated import measured

SIZES_MM = ((52.0, 165.0), (85.0, 55.0), (105.0, 148.0), (148.0, 210.0), (148.0, 105.0), (297.0, 210.0))


@pytest.mark.parametrize("decimals", [2, 3, 4, 6])
@pytest.mark.parametrize("trim_mm", SIZES_MM, ids=lambda size: f"{size[0]:g}x{size[1]:g}")
def test_ground_with_exactly_3_mm_bleed_reaches_3_mm(tmp_path, trim_mm, decimals):
    """The truth is the drawing's own: the ground runs 3 mm past the trim, 18 pixels at 6 a millimetre.

    Two decimals of a point are up to 0.01 pixels off, which is still meant.
    """

    def pt(length_mm: float) -> str:
        return f"{length_mm * PT_PER_MM:.{decimals}f}"

    book = Book()
    ground = f"0.3 0 0.4 0 k {pt(-3)} {pt(-3)} {pt(trim_mm[0] + 6)} {pt(trim_mm[1] + 6)} re f"
    book.page(ground, trim_mm=trim_mm)
    plates, _ = measured(book, tmp_path)
    for edge in plates.edges:
        assert min(edge.depth_mm) >= 3.0 - 1e-6, edge.edge


def test_ground_that_stops_a_pixel_earlier_is_seen_so(tmp_path):
    """Twin: what is really short by more than a pixel measures short at every edge."""
    book = Book()
    book.page(f"0.3 0 0.4 0 k {-2.8 * PT_PER_MM} {-2.8 * PT_PER_MM} {105.6 * PT_PER_MM} {85.6 * PT_PER_MM} re f")
    plates, _ = measured(book, tmp_path)
    assert len(plates.edges) == 4
    for edge in plates.edges:
        assert min(edge.depth_mm) <= 2.84

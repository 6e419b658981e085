"""What the fork server loads besides where reports have pictures: what draws them, and the way from inks to the screen's colours.

Also what is otherwise loaded by the first picture that is looked at: a run over many files has many first pictures.
"""

from __future__ import annotations

import numpy.fft
import numpy.ma  # np.median asks for it
import PIL.ImageDraw
import PIL.JpegImagePlugin
import PIL.PngImagePlugin
from pymupdf import mupdf

from preflight.report import beside, illustrate, pictures

__all__ = ["PIL", "beside", "illustrate", "numpy", "pictures"]

# The way from the built-in press profile to the screen takes 40 ms to work out, and is remembered.
for space in (mupdf.fz_device_cmyk(), mupdf.fz_device_gray()):
    pixel = mupdf.FzIrect(0, 0, 1, 1)
    inks = mupdf.fz_new_pixmap_with_bbox(space, pixel, mupdf.FzSeparations(), 0)
    mupdf.fz_clear_pixmap(inks)
    mupdf.fz_convert_pixmap(
        inks,
        mupdf.fz_device_rgb(),
        mupdf.FzColorspace(),
        mupdf.FzDefaultColorspaces(),
        mupdf.FzColorParams(),
        0,
    )

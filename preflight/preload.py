"""What the fork server loads once, before any file is opened: the engines and everything a child needs.

Every child starts as a copy of the server, so whatever is not loaded here is loaded once a file (65 ms for the modules that
readers and pictures import where they use them). Nothing of any customer's file is opened here.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import pkgutil

import numpy as np
import pikepdf
import pymupdf
from PIL import Image

from preflight import flow
from preflight import inventory as readers
from preflight.checking import all_checks

__all__ = ["flow", "np", "pikepdf", "pymupdf"]

#: What makes pictures while the plates are there; the rest of ``report`` is the parent's.
_PICTURES = (
    "preflight.report.beside",
    "preflight.report.illustrate",
    "preflight.report.pictures",
    "PIL.ImageDraw",
    "PIL.JpegImagePlugin",
    "PIL.PngImagePlugin",
)

with contextlib.suppress(RuntimeError):
    all_checks()
for module in [f"{readers.__name__}.{found.name}" for found in pkgutil.iter_modules(readers.__path__)]:
    importlib.import_module(module)
for module in _PICTURES:
    importlib.import_module(module)
Image.preinit()

# The engine's messages are read as warnings, not printed.
pymupdf.TOOLS.mupdf_display_errors(False)
pymupdf.TOOLS.mupdf_display_warnings(False)

# The way from the built-in press profile to the screen takes 40 ms to work out, and is remembered.
for space in (pymupdf.mupdf.fz_device_cmyk(), pymupdf.mupdf.fz_device_gray()):
    pixel = pymupdf.mupdf.FzIrect(0, 0, 1, 1)
    inks = pymupdf.mupdf.fz_new_pixmap_with_bbox(space, pixel, pymupdf.mupdf.FzSeparations(), 0)
    pymupdf.mupdf.fz_clear_pixmap(inks)
    pymupdf.mupdf.fz_convert_pixmap(
        inks,
        pymupdf.mupdf.fz_device_rgb(),
        pymupdf.mupdf.FzColorspace(),
        pymupdf.mupdf.FzDefaultColorspaces(),
        pymupdf.mupdf.FzColorParams(),
        0,
    )

# What is here stays: children do not look through it for rubbish, and so do not copy the memory it lies in.
gc.collect()
gc.freeze()

"""What the fork server loads once, before any file is opened: the engines and everything a child needs.

Every child starts as a copy of the server, so whatever is not loaded here is loaded once a file (65 ms for the modules that
readers import where they use them). What makes pictures is in ``preload_pictures``. Nothing of any customer's file is opened here.

Nobody looks for rubbish in the server: there is none, and looking takes a tenth of the time. A child lets that begin (``errand``).
"""

from __future__ import annotations

import gc

gc.disable()

import contextlib
import importlib
import pkgutil
import tempfile

import numpy as np
import pikepdf
import pymupdf
from PIL import Image

from preflight import flow
from preflight import inventory as readers
from preflight.checking import all_checks

__all__ = ["flow", "np", "pikepdf", "pymupdf"]

with contextlib.suppress(RuntimeError):
    all_checks()
for module in pkgutil.iter_modules(readers.__path__):
    importlib.import_module(f"{readers.__name__}.{module.name}")
Image.preinit()
# Found by writing a trial file, once.
with contextlib.suppress(OSError):
    tempfile.gettempdir()

# The engine's messages are read as warnings, not printed.
pymupdf.TOOLS.mupdf_display_errors(False)
pymupdf.TOOLS.mupdf_display_warnings(False)

"""What the fork server loads once, before any file is opened: the engines and everything a child needs."""

from __future__ import annotations

import contextlib

import numpy as np
import pikepdf
import pymupdf

from preflight import flow
from preflight.checking import all_checks
from preflight.inventory import reading

__all__ = ["flow", "np", "pikepdf", "pymupdf", "reading"]

with contextlib.suppress(RuntimeError):
    all_checks()

# The engine's messages are read as warnings, not printed.
pymupdf.TOOLS.mupdf_display_errors(False)
pymupdf.TOOLS.mupdf_display_warnings(False)

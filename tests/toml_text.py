"""Writes a table of Python values as TOML, so that tests can hand any value to what reads TOML."""

import json
import math
from datetime import date


def toml_text(table):
    return "\n".join(f"{_text(key)} = {_value(value)}" for key, value in table.items()) + "\n"


def _value(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else "inf" if value > 0 else "-inf"
    if isinstance(value, float):
        text = repr(value)
        return text if "." in text or "e" in text else f"{text}.0"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_text(key)} = {_value(item)}" for key, item in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return _text(value) if isinstance(value, str) else str(value)


def _text(text):
    """A basic string; JSON's escapes are TOML's, except for the surrogate pairs and the delete sign."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")

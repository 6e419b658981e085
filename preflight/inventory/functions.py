"""Evaluates a PDF function: sampled, exponential, stitched, or a small calculator program.

ISO 32000-2, 7.10 (types 0, 2, 3 and 4). Inputs and results are clipped to Domain and Range as written there. Used for tint transforms,
where a handful of values are asked; not made for speed. A program is run for a bounded number of steps.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable
from typing import Any

from preflight.inventory.objects import entry, is_array, is_dictionary, is_stream, items_of, number_of

_DEEPEST = 8
_MOST_STEPS = 100_000
_MOST_SAMPLE_BYTES = 64 << 20
_MOST_INPUTS = 12


class FunctionFault(Exception):
    """The function is written wrongly, or is too large to be evaluated here."""


def evaluate(function: Any, inputs: list[float], depth: int = 0) -> list[float]:
    """The values of a function, or of an array of functions of one result each."""
    if depth > _DEEPEST:
        raise FunctionFault("functions nested too deep")
    if is_array(function):
        return [value for part in items_of(function) for value in evaluate(part, inputs, depth + 1)]
    if not is_dictionary(function):
        raise FunctionFault("no function")
    domain = _pairs(entry(function, "/Domain"))
    if len(domain) < len(inputs):
        raise FunctionFault("domain and inputs differ in number")
    inputs = [min(max(value, low), high) for value, (low, high) in zip(inputs, domain, strict=False)]
    kind = entry(function, "/FunctionType")
    if kind == 0:
        values = _sampled(function, inputs, domain)
    elif kind == 2:
        values = _exponential(function, inputs[0])
    elif kind == 3:
        values = _stitched(function, inputs[0], domain[0], depth)
    elif kind == 4:
        values = _calculated(function, inputs)
    else:
        raise FunctionFault("function of no known type")
    limits = _pairs(entry(function, "/Range"))
    if limits:
        values = values[-len(limits) :]
        values = [min(max(value, low), high) for value, (low, high) in zip(values, limits, strict=False)]
    return values


def _numbers(array: Any) -> list[float]:
    values = [number_of(item) for item in items_of(array)]
    if any(value is None for value in values):
        raise FunctionFault("not a number")
    return [value for value in values if value is not None]


def _pairs(array: Any) -> list[tuple[float, float]]:
    values = _numbers(array)
    return list(zip(values[::2], values[1::2], strict=False))


def _between(value: float, source: tuple[float, float], target: tuple[float, float]) -> float:
    if source[1] == source[0]:
        return target[0]
    return target[0] + (value - source[0]) * (target[1] - target[0]) / (source[1] - source[0])


def _exponential(function: Any, x: float) -> list[float]:
    low = _numbers(entry(function, "/C0")) or [0.0]
    high = _numbers(entry(function, "/C1")) or [1.0]
    exponent = number_of(entry(function, "/N")) or 0.0
    try:
        power = x**exponent if x or exponent > 0 else 1.0
    except (OverflowError, ZeroDivisionError) as fault:
        raise FunctionFault("exponent too large") from fault
    if isinstance(power, complex):
        raise FunctionFault("exponent of a negative number")
    return [a + power * (b - a) for a, b in zip(low, high, strict=False)]


def _stitched(function: Any, x: float, domain: tuple[float, float], depth: int) -> list[float]:
    parts = items_of(entry(function, "/Functions"))
    bounds = _numbers(entry(function, "/Bounds"))
    encode = _pairs(entry(function, "/Encode"))
    if not parts or len(bounds) != len(parts) - 1 or len(encode) < len(parts):
        raise FunctionFault("stitched function is incomplete")
    index = sum(x >= bound for bound in bounds)
    edges = [domain[0], *bounds, domain[1]]
    return evaluate(parts[index], [_between(x, (edges[index], edges[index + 1]), encode[index])], depth + 1)


def _sampled(function: Any, inputs: list[float], domain: list[tuple[float, float]]) -> list[float]:
    if not is_stream(function) or len(inputs) > _MOST_INPUTS:
        raise FunctionFault("sampled function without samples, or of too many inputs")
    size = [int(value) for value in _numbers(entry(function, "/Size"))]
    bits = int(number_of(entry(function, "/BitsPerSample")) or 0)
    limits = _pairs(entry(function, "/Range"))
    if len(size) != len(inputs) or min(size) < 1 or bits not in (1, 2, 4, 8, 12, 16, 24, 32) or not limits:
        raise FunctionFault("sampled function is incomplete")
    if math.prod(size) * len(limits) * bits > _MOST_SAMPLE_BYTES * 8:
        raise FunctionFault("sampled function is too large")
    encode = _pairs(entry(function, "/Encode")) or [(0.0, float(count - 1)) for count in size]
    decode = _pairs(entry(function, "/Decode")) or limits
    data = bytes(function.read_bytes())
    corners: list[tuple[tuple[int, float], ...]] = []
    for value, span, target, count in zip(inputs, domain, encode, size, strict=False):
        place = min(max(_between(value, span, target), 0.0), float(count - 1))
        below = min(int(place), count - 1)
        part = place - below
        corners.append(((below, 1.0 - part), (min(below + 1, count - 1), part)))
    values = [0.0] * len(limits)
    for corner in itertools.product(*corners):
        weight = math.prod(part for _, part in corner)
        if weight == 0.0:
            continue
        index = 0
        for (place, _), count in zip(reversed(corner), reversed(size), strict=True):
            index = index * count + place
        for channel in range(len(limits)):
            values[channel] += weight * _sample(data, (index * len(limits) + channel) * bits, bits)
    most = float((1 << bits) - 1)
    return [_between(value, (0.0, most), target) for value, target in zip(values, decode, strict=False)]


def _sample(data: bytes, bit: int, bits: int) -> int:
    start, end = bit // 8, (bit + bits + 7) // 8
    if end > len(data):
        raise FunctionFault("samples are missing")
    return (int.from_bytes(data[start:end], "big") >> (end * 8 - bit - bits)) & ((1 << bits) - 1)


# --- the calculator (7.10.5) -----------------------------------------------------------------------------------------

_Program = list[Any]
_Value = float | int | bool


def _calculated(function: Any, inputs: list[float]) -> list[float]:
    if not is_stream(function):
        raise FunctionFault("calculator function without a program")
    source = re.sub(rb"%[^\r\n]*", b"", bytes(function.read_bytes())).decode("latin-1")
    tokens = re.findall(r"[{}]|[^\s{}]+", source)
    if not tokens or tokens[0] != "{":
        raise FunctionFault("calculator function is written wrongly")
    program, _ = _parsed(tokens, 1, 0)
    stack: list[_Value] = list(inputs)
    _run(program, stack, [_MOST_STEPS])
    return [float(value) for value in stack]


def _parsed(tokens: list[str], at: int, depth: int) -> tuple[_Program, int]:
    if depth > 50:
        raise FunctionFault("calculator program nested too deep")
    program: _Program = []
    while at < len(tokens):
        token = tokens[at]
        at += 1
        if token == "}":  # noqa: S105 - a brace
            return program, at
        if token == "{":  # noqa: S105
            block, at = _parsed(tokens, at, depth + 1)
            program.append(block)
        else:
            program.append(_literal(token))
    raise FunctionFault("calculator function has no end")


def _literal(token: str) -> Any:
    try:
        return int(token)
    except ValueError:
        pass
    try:
        return float(token)
    except ValueError:
        return token


def _run(program: _Program, stack: list[_Value], steps: list[int]) -> None:
    blocks: list[_Program] = []
    for step in program:
        steps[0] -= 1
        if steps[0] < 0 or len(stack) > 1000:
            raise FunctionFault("calculator program runs too long")
        if isinstance(step, list):
            blocks.append(step)
        elif not isinstance(step, str):
            stack.append(step)
        elif step in ("if", "ifelse"):
            _branch(step, blocks, stack, steps)
        else:
            _operate(step, stack)


def _branch(step: str, blocks: list[_Program], stack: list[_Value], steps: list[int]) -> None:
    needed = 1 if step == "if" else 2
    if len(blocks) < needed or not stack:
        raise FunctionFault("calculator function is written wrongly")
    chosen = blocks[-needed:]
    del blocks[-needed:]
    if stack.pop():
        _run(chosen[0], stack, steps)
    elif needed == 2:
        _run(chosen[1], stack, steps)


def _operate(step: str, stack: list[_Value]) -> None:
    try:
        if step in _STACK:
            _STACK[step](stack)
        elif step in _ONE:
            stack.append(_ONE[step](stack.pop()))
        elif step in _TWO:
            second = stack.pop()
            stack.append(_TWO[step](stack.pop(), second))
        elif step in ("true", "false"):
            stack.append(step == "true")
        else:
            raise FunctionFault(f"calculator operator {step[:20]} is not known")
    except (IndexError, ValueError, ZeroDivisionError, OverflowError, TypeError) as fault:
        raise FunctionFault("calculator function cannot be evaluated") from fault


def _copy(stack: list[_Value]) -> None:
    count = int(stack.pop())
    if not 0 <= count <= len(stack):
        raise IndexError
    stack += stack[len(stack) - count :]


def _index(stack: list[_Value]) -> None:
    place = int(stack.pop())
    if place < 0:
        raise IndexError
    stack.append(stack[-1 - place])


def _roll(stack: list[_Value]) -> None:
    by, count = int(stack.pop()), int(stack.pop())
    if not 0 <= count <= len(stack):
        raise IndexError
    if count:
        top = stack[-count:]
        by %= count
        stack[-count:] = top[count - by :] + top[: count - by]


def _exchange(stack: list[_Value]) -> None:
    stack[-1], stack[-2] = stack[-2], stack[-1]


def _shift(value: Any, by: Any) -> int:
    value, by = int(value), int(by)
    if abs(by) > 31:
        return 0
    return int((value << by) & 0xFFFFFFFF if by >= 0 else value >> -by)


def _whole(function: Callable[[float], float]) -> Callable[[Any], _Value]:
    return lambda value: value if isinstance(value, int) else float(function(value))


def _power(base: Any, exponent: Any) -> float:
    result = float(base) ** float(exponent)
    if isinstance(result, complex):
        raise ValueError
    return float(result)


_STACK: dict[str, Callable[[list[_Value]], Any]] = {
    "pop": lambda stack: stack.pop(),
    "dup": lambda stack: stack.append(stack[-1]),
    "exch": _exchange,
    "copy": _copy,
    "index": _index,
    "roll": _roll,
}
_ONE: dict[str, Callable[[Any], _Value]] = {
    "abs": abs,
    "neg": lambda value: -value,
    "ceiling": _whole(math.ceil),
    "floor": _whole(math.floor),
    "round": _whole(lambda value: math.floor(value + 0.5)),
    "truncate": _whole(math.trunc),
    "sqrt": math.sqrt,
    "sin": lambda value: math.sin(math.radians(value)),
    "cos": lambda value: math.cos(math.radians(value)),
    "ln": math.log,
    "log": math.log10,
    "cvi": int,
    "cvr": float,
    "not": lambda value: not value if isinstance(value, bool) else ~int(value),
}
_TWO: dict[str, Callable[[Any, Any], _Value]] = {
    "add": lambda a, b: a + b,
    "sub": lambda a, b: a - b,
    "mul": lambda a, b: a * b,
    "div": lambda a, b: a / b,
    "idiv": lambda a, b: int(a / b),
    "mod": lambda a, b: int(math.fmod(a, b)),
    "atan": lambda a, b: math.degrees(math.atan2(a, b)) % 360.0,
    "exp": _power,
    "eq": lambda a, b: a == b,
    "ne": lambda a, b: a != b,
    "gt": lambda a, b: a > b,
    "ge": lambda a, b: a >= b,
    "lt": lambda a, b: a < b,
    "le": lambda a, b: a <= b,
    "and": lambda a, b: a & b,
    "or": lambda a, b: a | b,
    "xor": lambda a, b: a ^ b,
    "bitshift": _shift,
}

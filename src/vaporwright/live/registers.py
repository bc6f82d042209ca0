"""Numbers in Modbus registers, in any order of words and bytes.

The protocol sends each register's high byte first. Which register of a longer number comes first it leaves open, and
some devices swap bytes too: a number in the wrong order is nonsense, or a float so small that it passes for zero.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from itertools import product
from typing import Final

from vaporwright.files.register_map import ORDERS, REGISTERS_OF, ModbusPoint, Order, RegisterType

_FORMATS: Final[dict[RegisterType, str]] = {
    "int16": "h",
    "uint16": "H",
    "int32": "i",
    "uint32": "I",
    "float32": "f",
    "float64": "d",
}
LARGEST_SINGLE: Final = 3.4028234e38


def number_in(registers: Sequence[int], kind: RegisterType, word_order: Order, byte_order: Order) -> float:
    """The number in registers as they came."""
    words = registers if word_order == "big" else tuple(reversed(registers))
    content = b"".join(word.to_bytes(2, byte_order) for word in words)
    number = float(struct.unpack(f">{_FORMATS[kind]}", content)[0])
    return shortest_single(number) if kind == "float32" else number


def shortest_single(number: float) -> float:
    """The shortest decimal number that a single-precision float stands for: 155.3, not 155.3000030517578."""
    if not math.isfinite(number):
        return number
    content = struct.pack(">f", number)
    for digits in range(1, 9):
        shorter = float(f"{number:.{digits}g}")
        if abs(shorter) <= LARGEST_SINGLE and struct.pack(">f", shorter) == content:
            return shorter
    return float(f"{number:.9g}")


def other_orders(registers: Sequence[int], point: ModbusPoint) -> dict[str, float]:
    """What the registers would mean in every other order, by the keys of the register map that say so."""
    found: dict[str, float] = {}
    several = REGISTERS_OF[point.type] > 1
    for word_order, byte_order in product(ORDERS if several else (point.word_order,), ORDERS):
        if (word_order, byte_order) == (point.word_order, point.byte_order):
            continue
        words = [f'word_order = "{word_order}"'] if word_order != point.word_order else []
        words += [f'byte_order = "{byte_order}"'] if byte_order != point.byte_order else []
        found[" and ".join(words)] = number_in(registers, point.type, word_order, byte_order)
    return found

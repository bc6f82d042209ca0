"""The conditions of a table file: signals, rows and effects by name, joined by plain words.

    low_rod                  it is on now
    was blower               it was on one scan ago
    not low_rod              it is off
    a and b, a or b          `not` binds closest, then `and`, then `or`; parentheses as usual
    true, false              always, never

A button that counts only in the scan in which it goes down is written `reset and not was reset`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from vaporwright.controls.expressions import All, Any, Expr, Is, Not, Was
from vaporwright.foundation.errors import InputError

WORDS: Final = ("and", "or", "not", "was", "true", "false")
LONGEST_CONDITION: Final = 2000
DEEPEST: Final = 50
_TOKEN: Final = re.compile(r"\s*([a-z_][a-z0-9_]*|[()]|\S)")


def condition_text(expr: Expr) -> str:
    """A condition in words; groups within groups stand in parentheses."""
    match expr:
        case Is(name):
            return name
        case Was(name):
            return f"was {name}"
        case Not(part):
            return f"not {_part_text(part)}"
        case All(parts):
            return " and ".join(_part_text(part) for part in parts) or "true"
        case Any(parts):
            return " or ".join(_part_text(part) for part in parts) or "false"


def _part_text(part: Expr) -> str:
    group = isinstance(part, All | Any) and len(part.parts) > 1
    return f"({condition_text(part)})" if group else condition_text(part)


def read_condition(text: str, *, where: str, key: str) -> Expr:
    """The condition that a text says.

    Raises: InputError with file, key, position and what is allowed there. Whether names are known is not asked here.
    """
    if len(text) > LONGEST_CONDITION:
        raise InputError(where, key, f"is {len(text)} characters long", f"at most {LONGEST_CONDITION}")
    return _Reader(text, where, key).whole()


@dataclass(frozen=True)
class _Token:
    text: str  # "" at the end
    position: int  # from 1


class _Reader:
    def __init__(self, text: str, where: str, key: str) -> None:
        self.text, self.where, self.key = text, where, key
        found = [_Token(match[1], match.start(1) + 1) for match in _TOKEN.finditer(text)]
        self.tokens = [*found, _Token("", len(text) + 1)]
        self.next = 0
        self.depth = 0

    def whole(self) -> Expr:
        expr = self.alternatives()
        if self.token.text:
            raise self.error("and, or, the end" if self.token.text != ")" else "the end: no parenthesis is open")
        return expr

    @property
    def token(self) -> _Token:
        return self.tokens[self.next]

    def took(self, word: str) -> bool:
        """Whether the next token is that word; it is taken then."""
        if self.token.text != word:
            return False
        self.next += 1
        return True

    def alternatives(self) -> Expr:
        parts = [self.conditions()]
        while self.took("or"):
            parts.append(self.conditions())
        return parts[0] if len(parts) == 1 else Any(tuple(parts))

    def conditions(self) -> Expr:
        parts = [self.part()]
        while self.took("and"):
            parts.append(self.part())
        return parts[0] if len(parts) == 1 else All(tuple(parts))

    def part(self) -> Expr:
        self.depth += 1
        if self.depth > DEEPEST:
            raise self.error(f"groups and nots at most {DEEPEST} deep")
        try:
            if self.took("not"):
                return Not(self.part())
            if self.took("true"):
                return All(())
            if self.took("false"):
                return Any(())
            if self.took("("):
                expr = self.alternatives()
                if not self.took(")"):
                    raise self.error("and, or, )")
                return expr
            return Was(self.name("a name behind was")) if self.took("was") else Is(self.name())
        finally:
            self.depth -= 1

    def name(self, allowed: str = "a name, not, was, true, false, (") -> str:
        token = self.token
        if not re.fullmatch(r"[a-z][a-z0-9_]*", token.text) or token.text in WORDS:
            raise self.error(allowed)
        self.next += 1
        return token.text

    def error(self, allowed: str) -> InputError:
        token = self.token
        found = f'"{token.text}"' if token.text else "the end"
        return InputError(self.where, self.key, f'{found} at position {token.position} of "{self.text}"', allowed)

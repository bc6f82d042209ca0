"""An independent reader of the PLC text: a grammar of the part of IEC 61131-3 that it uses, an executor, a proof.

It knows nothing of how the text was made. Precedence is the standard's: NOT, then +, then comparison, then AND, then
OR. What the grammar does not know (function blocks, RETAIN, loops, jumps) does not parse.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import lark
import z3

from vaporwright.controls.symbols import Beginning, SymbolicScan
from vaporwright.controls.table import Latch, Table

GRAMMAR = r"""
start: program configuration
program: "PROGRAM" NAME block* statement* "END_PROGRAM"
block: BLOCK declaration* "END_VAR"
BLOCK: "VAR_INPUT" | "VAR_OUTPUT" | "VAR"
declaration: NAME ":" TYPE ":=" literal ";"
TYPE: "BOOL" | "DINT" | "LREAL"
configuration: "CONFIGURATION" NAME "RESOURCE" NAME "ON" NAME task run "END_RESOURCE" "END_CONFIGURATION"
task: "TASK" NAME "(" "INTERVAL" ":=" TIME "," "PRIORITY" ":=" INTEGER ")" ";"
run: "PROGRAM" NAME "WITH" NAME ":" NAME ";"
TIME: /T#[0-9]+ms/

?statement: NAME ":=" expression ";"                                                     -> assign
          | "IF" expression "THEN" body ("ELSIF" expression "THEN" body)* otherwise? "END_IF" ";"  -> branch
body: statement*
otherwise: "ELSE" statement*

?expression: conjunct | conjunct ("OR" conjunct)+  -> disjunction
?conjunct: compared | compared ("AND" compared)+   -> conjunction
?compared: total | total COMPARE total             -> comparison
COMPARE: ">=" | "<=" | ">" | "<"
?total: unary | unary ("+" unary)+                 -> sum
?unary: "NOT" unary                            -> negation
      | "(" expression ")"
      | literal
      | NAME                                   -> name
literal: "TRUE" -> true | "FALSE" -> false | REAL -> real | INTEGER -> integer

NAME.-1: /[A-Za-z][A-Za-z0-9_]*/
REAL.2: /-?[0-9]+\.[0-9]+/
INTEGER: /[0-9]+/
COMMENT: /\(\*(.|\n)*?\*\)/
%import common.WS
%ignore WS
%ignore COMMENT
"""


@dataclass(frozen=True)
class Variable:
    """A declared variable."""

    block: str
    kind: str
    start: str


@dataclass(frozen=True)
class ReadText:
    """What the text says."""

    name: str
    variables: Mapping[str, Variable]
    statements: tuple[lark.Tree[lark.Token], ...]
    period_ms: int

    def of_block(self, block: str, kind: str) -> tuple[str, ...]:
        return tuple(name for name, item in self.variables.items() if (item.block, item.kind) == (block, kind))


@lru_cache(maxsize=1)
def _parser() -> lark.Lark:
    return lark.Lark(GRAMMAR, parser="lalr", maybe_placeholders=False)


def read(text: str) -> ReadText:
    """Parse; refuse what is declared twice, undeclared, or written where it must not be."""
    tree = _parser().parse(text)
    program, configuration = tree.children
    variables: dict[str, Variable] = {}
    statements = []
    for child in program.children[1:]:
        if child.data == "block":
            for declaration in child.children[1:]:
                name, kind, start = declaration.children
                assert str(name) not in variables, f"{name} is declared twice"
                variables[str(name)] = Variable(str(child.children[0]), str(kind), _word(start))
        else:
            statements.append(child)
    task, run = (next(configuration.find_data(word)) for word in ("task", "run"))
    assert run.children[1:] == [task.children[0], program.children[0]], "the task runs another program"
    found = ReadText(str(program.children[0]), variables, tuple(statements), int(str(task.children[1]).strip("T#ms")))
    for statement in statements:
        for target in statement.find_data("assign"):
            name = str(target.children[0])
            assert name in variables, f"{name} is not declared"
            assert variables[name].block != "VAR_INPUT", f"the input {name} is written"
    return found


def _word(literal: lark.Tree[lark.Token]) -> str:
    return str(literal.children[0]) if literal.children else str(literal.data)


def executor(text: ReadText) -> Callable[[dict[str, Any]], None]:
    """One pass over the statements, on a dictionary of all variables."""
    lines = ["def one_scan(v):", *(f"    {line}" for statement in text.statements for line in _python(statement))]
    scope: dict[str, Any] = {}
    exec("\n".join(lines), scope)
    return scope["one_scan"]  # type: ignore[no-any-return]


def beginning(text: ReadText) -> dict[str, Any]:
    """All variables as declared."""
    return {
        name: {"BOOL": lambda word: word == "true", "DINT": int, "LREAL": float}[item.kind](item.start)
        for name, item in text.variables.items()
    }


def _python(statement: lark.Tree[lark.Token]) -> Iterator[str]:
    if statement.data == "assign":
        yield f"v['{statement.children[0]}'] = {_spelled(statement.children[1])}"
        return
    for word, condition, body in _branches(statement):
        yield f"{word} {_spelled(condition)}:" if condition is not None else "else:"
        for inner in body or ():
            yield from (f"    {line}" for line in _python(inner))


def _branches(statement: lark.Tree[lark.Token]) -> Iterator[tuple[str, Any, list[Any]]]:
    parts = list(statement.children)
    last = parts.pop() if parts[-1].data == "otherwise" else None
    for place in range(0, len(parts), 2):
        yield "elif" if place else "if", parts[place], parts[place + 1].children
    if last is not None:
        yield "else", None, last.children


def _spelled(tree: Any) -> str:
    parts = [_spelled(part) if isinstance(part, lark.Tree) else str(part) for part in tree.children]
    match tree.data:
        case "name":
            return f"v['{parts[0]}']"
        case "true" | "false":
            return str(tree.data).capitalize()
        case "negation":
            return f"(not {parts[0]})"
        case "comparison":
            return f"({' '.join(parts)})"
        case "sum":
            return f"({' + '.join(parts)})"
        case "conjunction":
            return f"({' and '.join(parts)})"
        case "disjunction":
            return f"({' or '.join(parts)})"
    return parts[0]


def difference_from(text: ReadText, table: Table) -> str | None:
    """A variable that the text and the table make differ after one scan from some common state; None where none can.

    Together with the declared start values, which are the table's power-up, that is equality for ever.
    """
    start = Beginning()
    comparators = {item.name: item for item in table.comparators}
    given = {
        name: _compared(item.side, item.quantity, item.limit, item.back, start.seen(name))
        for name, item in comparators.items()
    }
    scan = SymbolicScan(table, start, 1, inputs=given)
    values = {name: _common(name, item, table, start, scan) for name, item in text.variables.items()}
    for statement in text.statements:
        values = _after(statement, values)
    unlike = {}
    for name in table.names:
        unlike[name] = values[name] != scan.seen(name)
    for timer in table.timers:
        count = scan.count(timer).term(timer.scans)
        unlike[f"{timer.name}_count"] = values[f"{timer.name}_count"] != z3.ZeroExt(32 - count.size(), count)
    for name in text.variables:
        if name.startswith("was_"):
            unlike[name] = values[name] != scan.seen(name.removeprefix("was_"))
    solver = z3.Solver()
    solver.add(start.conditions)
    solver.add(z3.Or(list(unlike.values())))
    if solver.check() == z3.unsat:
        return None
    model = solver.model()
    return next(name for name, term in unlike.items() if z3.is_true(model.eval(term, model_completion=True)))


def _compared(side: str, quantity: str, limit: float, back: float, before: Any) -> Any:
    value, at, still = z3.Real(quantity), z3.RealVal(repr(limit)), z3.RealVal(repr(back))
    if side == "above":
        return z3.Or(value >= at, z3.And(before, value >= still))
    return z3.Or(value <= at, z3.And(before, value <= still))


def _common(name: str, item: Variable, table: Table, start: Beginning, scan: SymbolicScan) -> Any:
    """The variable before the scan, as the table has it; what the table does not keep may be anything."""
    if item.block == "VAR_INPUT":
        return z3.Real(name) if item.kind == "LREAL" else scan.seen(name)
    if name.startswith("was_"):
        return start.seen(name.removeprefix("was_"))
    if item.kind == "DINT":
        timer = next(timer for timer in table.timers if f"{timer.name}_count" == name)
        count = start.count(timer).value
        return z3.ZeroExt(32 - count.size(), count)
    if isinstance(table.item_of.get(name), Latch) or name in {item.name for item in table.comparators}:
        return start.seen(name)
    return z3.Bool(f"{name}@left over")


def _after(statement: lark.Tree[lark.Token], values: dict[str, Any]) -> dict[str, Any]:
    if statement.data == "assign":
        return values | {str(statement.children[0]): _meaning(statement.children[1], values)}
    result, branches = values, list(_branches(statement))
    if branches[-1][0] == "else":
        for inner in branches.pop()[2]:
            result = _after(inner, result)
    for _, condition, body in reversed(branches):
        taken = values
        for inner in body:
            taken = _after(inner, taken)
        holds = _meaning(condition, values)
        result = {
            name: term if term is result[name] else z3.If(holds, term, result[name]) for name, term in taken.items()
        }
    return result


def _meaning(tree: Any, values: Mapping[str, Any]) -> Any:
    if tree.data == "name":
        return values[str(tree.children[0])]
    if tree.data in ("true", "false"):
        return z3.BoolVal(tree.data == "true")
    if tree.data == "integer":
        return z3.BitVecVal(int(str(tree.children[0])), 32)
    if tree.data == "real":
        return z3.RealVal(str(tree.children[0]))
    if tree.data == "comparison":
        left, right = (_meaning(tree.children[place], values) for place in (0, 2))
        compare: dict[str, Callable[[Any, Any], Any]] = {
            ">=": lambda a, b: a >= b,
            "<=": lambda a, b: a <= b,
            ">": lambda a, b: a > b,
            "<": lambda a, b: a < b,
        }
        return compare[str(tree.children[1])](left, right)
    parts = [_meaning(part, values) for part in tree.children]
    if tree.data == "sum":
        return sum(parts[1:], parts[0])
    if tree.data == "negation":
        return z3.Not(parts[0])
    return z3.And(parts) if tree.data == "conjunction" else z3.Or(parts)

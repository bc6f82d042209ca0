"""Who may do what in a test. The record keeps name and role of whoever did it; the roles are those of the trade.

Common practice, no source: the engineer may do what a technician does; electrical and burner work stays with those
qualified for it; the witness accepts, repeats and signs, and enters no readings.
"""

from __future__ import annotations

from typing import Final, Literal, TypeAlias, get_args

from vaporwright.acceptance.record.events import Kind, Refused
from vaporwright.acceptance.steps.procedure import Performer

Role: TypeAlias = Literal["technician", "engineer", "electrician", "burner technician", "witness"]
ROLES: Final[tuple[Role, ...]] = get_args(Role)

_LEADERS: Final = frozenset({"technician", "engineer"})
_SHOP: Final = _LEADERS | {"electrician", "burner technician"}
_EVERYONE: Final = _SHOP | {"witness"}
MAY: Final[dict[Kind, frozenset[str]]] = {
    "run opened": _LEADERS,
    "procedure issued": _LEADERS,
    "instrument registered": _EVERYONE,  # the witness may bring a thermometer
    "reading taken": _SHOP,
    "reading corrected": _SHOP,
    "step done": _SHOP,
    "step not run": _SHOP,
    "step repeated": _EVERYONE,
    "point accepted": frozenset({"engineer", "witness"}),
    "deviation agreed": _EVERYONE,
    "interrupted": _EVERYONE,
    "voided": _LEADERS | {"witness"},
    "log rows appended": _LEADERS,
    "performance result": _LEADERS,
    "attachment added": _EVERYONE,
    "punch item opened": _EVERYONE,
    "punch item closed": _EVERYONE,
    "punch item accepted open": frozenset({"witness"}),
    "signed": _EVERYONE,
    "ship released": frozenset({"engineer"}),
    "reopened": frozenset({"engineer", "witness"}),
    "run closed": frozenset({"engineer"}),
}
_STEPS_OF: Final[dict[Performer, frozenset[str]]] = {
    "technician": _LEADERS,
    "engineer": frozenset({"engineer"}),
    "electrician": frozenset({"electrician"}),
    "burner technician": frozenset({"burner technician"}),
}


def require_role(kind: Kind, role: str) -> None:
    """Raise Refused unless the role may do this at all."""
    if role not in ROLES:
        raise Refused(f"{role!r} is no role", ", ".join(ROLES))
    if role not in MAY[kind]:
        raise Refused(f"{kind}: not for the {role}", ", ".join(one for one in ROLES if one in MAY[kind]))


def require_performer(step: str, by: Performer, role: str) -> None:
    """Raise Refused unless the role may do a step."""
    if role not in _STEPS_OF[by]:
        allowed = ", ".join(one for one in ROLES if one in _STEPS_OF[by])
        raise Refused(f"step {step}: not for the {role}", allowed)

"""The steps of a procedure as its paper groups them: what several share is said once, what binds one is said there.

A caution has one letter all through the procedure; its words stand at the head of each section that it binds, its
letter at each step. A step of the cause-and-effect table is printed look by look: what to do, what to see then.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, zip_longest
from string import ascii_lowercase, ascii_uppercase
from typing import Any, Final

from vaporwright.acceptance.steps.procedure import YES_OR_NO, ProcedureSection, ReadingField, Step
from vaporwright.acceptance.steps.walk import SET_UP, Part, parts_of
from vaporwright.documents.measured_words import expected_text, paper_quantity, unit_of
from vaporwright.documents.printed import plain

FEW: Final = 3  # steps that share something before it is worth saying once for all
USUAL_FIELDS: Final = 10  # that share a reason before it is the section's usual one
MOST_RUNS: Final = 4  # of steps, named one by one


def single_cautions(step: Step, known: Iterable[str]) -> tuple[str, ...]:
    """Cautions of a step one by one: what was joined of two known ones comes apart again."""
    whole = set(known)
    found: list[str] = []
    for words in step.cautions:
        pieces = words.split("; ")
        splits = [("; ".join(pieces[:at]), "; ".join(pieces[at:])) for at in range(1, len(pieces))]
        found += next((pair for pair in splits if set(pair) <= whole), (words,))
    return tuple(dict.fromkeys(found))


def caution_letters(steps: Sequence[Step]) -> dict[str, str]:
    """A letter for each caution that binds more than one step of the procedure, in order of appearance."""
    known = {words for step in steps for words in step.cautions}
    counts = Counter(words for step in steps for words in single_cautions(step, known))
    shared = [words for words, count in counts.items() if count > 1]
    return dict(zip(shared, ascii_uppercase, strict=False))


def short_caution(words: str) -> str:
    """The hazard alone: "Electricity kills"."""
    ends = [at for mark in ":;,." if (at := words.find(mark)) > 0]
    return words[: min(ends, default=len(words))]


def runs_of(numbers: Sequence[str], every: Sequence[str]) -> str:
    """Step numbers as people list them: "5.2 to 5.9 and 5.12", "every step"."""
    if list(numbers) == list(every):
        return "every step"
    places = [every.index(number) for number in numbers]
    runs = [list(run) for _, run in groupby(range(len(places)), key=lambda at: places[at] - at)]
    said = [
        numbers[run[0]] if len(run) == 1 else f"{numbers[run[0]]} {'and' if len(run) == 2 else 'to'} {numbers[run[-1]]}"
        for run in runs
    ]
    return ", ".join(said) if len(runs) <= MOST_RUNS else f"{len(numbers)} steps, each marked"


def own_reason(one: ReadingField, step: Step) -> str:
    """A reason without the purpose that stands above it already."""
    return one.reason.removeprefix(step.purpose).strip() if step.purpose and one.reason != step.purpose else one.reason


@dataclass(frozen=True)
class Shared:
    """What the head of a section says for its steps."""

    letters: Mapping[str, str]  # of cautions
    usual: str  # reason where none stands
    reasons: Mapping[str, str]  # reason to its letter
    after: tuple[str, ...]  # prerequisites that are not said at each step
    known: frozenset[str]  # cautions, each by itself

    def cautions(self, step: Step) -> tuple[str, ...]:
        """Each caution of a step by itself."""
        return single_cautions(step, self.known)


def shared_of(section: ProcedureSection, letters: Mapping[str, str], known: frozenset[str]) -> Shared:
    """What the steps of a section have in common."""
    reasons = Counter(own_reason(one, step) for step in section.steps for one in step.fields if one.reason)
    steps = Counter(reason for step in section.steps for reason in {own_reason(one, step) for one in step.fields})
    usual = next((words for words, count in reasons.most_common(1) if count >= USUAL_FIELDS), "")
    often = [words for words in reasons if words and words != usual and steps[words] >= FEW]
    waits = Counter(step.after for step in section.steps if step.after).most_common(1)
    after = waits[0][0] if waits and waits[0][1] >= FEW else ()
    return Shared(letters, usual, dict(zip(often, ascii_lowercase, strict=False)), after, known)


def section_data(
    place: int, section: ProcedureSection, shared: Shared, numbers: Mapping[str, str], system: str, picture: bool
) -> dict[str, Any]:
    """Head, groups and steps of a section."""
    every = [numbers[step.key] for step in section.steps]
    bound: dict[str, list[str]] = {}
    for step in section.steps:
        for words in shared.cautions(step):
            if words in shared.letters:
                bound.setdefault(words, []).append(numbers[step.key])
    marked = sorted(bound, key=lambda words: shared.letters[words])
    return {
        "number": str(place),
        "title": plain(section.title),
        "note": plain(section.note),
        "picture": picture,
        "cautions": [
            {
                "letter": shared.letters[words],
                "words": full_sentence(plain(words)),
                "steps": runs_of(bound[words], every),
            }
            for words in marked
        ],
        "marks": [[shared.letters[words], full_sentence(plain(short_caution(words)))[:-1]] for words in marked],
        "alike": _alike(section, shared, numbers, every),
        "groups": _groups(section, shared, numbers, system),
    }


def _alike(
    section: ProcedureSection, shared: Shared, numbers: Mapping[str, str], every: Sequence[str]
) -> list[list[str]]:
    found = []
    if shared.after:
        waiting = [numbers[step.key] for step in section.steps if step.after == shared.after]
        before = listed([numbers.get(key, key) for key in shared.after])
        found.append([f"Only after {before}", runs_of(waiting, every)])
    if shared.usual:
        found.append(["Why, where nothing else is said", plain(shared.usual)])
    return found + [[f"Why {letter}", plain(words)] for words, letter in shared.reasons.items()]


def _groups(section: ProcedureSection, shared: Shared, numbers: Mapping[str, str], system: str) -> list[dict[str, Any]]:
    """Steps in a row that begin from one set-up stand under it; the others stand by themselves."""
    often = Counter(step.purpose for step in section.steps)
    found: list[dict[str, Any]] = []
    for (set_up, purpose), run in groupby(
        section.steps, key=lambda step: (_set_up(step), step.purpose if often[step.purpose] >= FEW else "")
    ):
        steps = list(run)
        together = bool(set_up) and len(steps) >= FEW
        said, why = (set_up, purpose) if together else ("", "")
        data = [_step(step, shared, numbers, system, said=said, why=why) for step in steps]
        if together or not found or found[-1]["set_up"]:
            found.append({"set_up": plain(said), "purpose": plain(why), "steps": data})
        else:
            found[-1]["steps"] += data
    return found


def _set_up(step: Step) -> str:
    return step.actions[0] if step.actions and step.actions[0].startswith(SET_UP) and len(parts_of(step)) > 1 else ""


def _step(
    step: Step, shared: Shared, numbers: Mapping[str, str], system: str, *, said: str, why: str
) -> dict[str, Any]:
    """A step; `said` and `why` stand above its group already."""
    facts = [f"{max(round(step.minutes), 1)} min", *(["hot"] if step.hot else [])]
    waits = step.after if step.after != shared.after else ()
    facts += [f"after {listed([numbers.get(key, key) for key in waits])}"] if waits else []
    cautions = shared.cautions(step)
    return {
        "number": numbers[step.key],
        "title": plain(step.title),
        "point": step.point,
        "by": step.by,
        "facts": " · ".join([*facts, step.key]),
        "letters": sorted(shared.letters[words] for words in cautions if words in shared.letters),
        "caution": " ".join(full_sentence(plain(words)) for words in cautions if words not in shared.letters),
        "purpose": "" if why and why == step.purpose else plain(step.purpose),
        "parts": [_part(part, step, shared, system, said) for part in parts_of(step)],
        "restore": "" if _is_done(step) else full_sentence(plain(step.restore)),
    }


def _is_done(step: Step) -> bool:
    """Whether what is put back is among the deeds already, in the same words."""
    deeds = {words.rstrip(".") for words in step.actions}
    return step.restore.rstrip(".") in deeds


def _part(part: Part, step: Step, shared: Shared, system: str, said: str) -> dict[str, Any]:
    deeds = [words for words in part.deeds if words != said]
    leads = _leads(part)
    return {
        "deeds": [plain(words) for words in deeds],
        "when": plain(part.when),
        "set_up": len(deeds) == 1 and deeds[0].startswith(SET_UP) and bool(part.when),
        "fields": [
            _field(one, part, step, shared, system, before, following) | _led(one, leads)
            for before, one, following in zip_longest((None, *part.fields[:-1]), part.fields, part.fields[1:])
            if one is not None
        ],
    }


def _leads(part: Part) -> dict[str, tuple[str, bool]]:
    """Words that several labels in a row begin with, up to a colon, by field key, and whether it is the first."""
    found = {}
    for lead, run in groupby(part.fields, key=lambda one: one.label.partition(": ")[0] if ": " in one.label else ""):
        fields = list(run)
        if lead and not part.when and len(fields) >= FEW:
            found.update({one.key: (f"{lead}:", place == 0) for place, one in enumerate(fields)})
    return found


def _led(one: ReadingField, leads: Mapping[str, tuple[str, bool]]) -> dict[str, str]:
    """The label without its lead, and the lead where the first of its fields stands."""
    if one.key not in leads:
        return {"lead": ""}
    lead, first = leads[one.key]
    return {"lead": plain(lead) if first else "", "label": plain(one.label.removeprefix(lead))}


def _field(
    one: ReadingField,
    part: Part,
    step: Step,
    shared: Shared,
    system: str,
    before: ReadingField | None,
    following: ReadingField | None,
) -> dict[str, Any]:
    """A reading; a reason that the next one shares is printed there, once for all, as is an instrument."""
    reason = own_reason(one, step)
    letter = shared.reasons.get(reason, "")
    alike = following is not None and own_reason(following, step) == reason
    hidden = alike or reason == shared.usual or bool(letter)
    expected = expected_text(one, system)
    return {
        "kind": YES_OR_NO if one.quantity == YES_OR_NO else "",
        "label": plain(one.label.removeprefix(f"{part.when}: ") if part.when else one.label),
        "unit": unit_of(paper_quantity(one.quantity, one.instrument), system).text,
        "expected": expected,
        "proven": one.limits is not None and one.limits.proven,
        "reason": "" if hidden else plain(reason),
        "why": letter,
        "instrument": one.instrument,
        "ditto": before is not None and bool(one.instrument) and before.instrument == one.instrument,
        "optional": not one.needed,
    }


def full_sentence(words: str) -> str:
    """Words with a capital first and a stop last, so that they may stand beside others."""
    return words and words[0].upper() + words[1:] + ("" if words[-1] in ".:;)" else ".")


def listed(words: Sequence[str]) -> str:
    """Words in a row: "4.1, 4.2 and 4.3"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))

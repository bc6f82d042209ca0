"""A unit in service for programs: its history and the diagnoses that were made of it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Path, Request

from vaporwright.store.service_store import ServiceStore
from vaporwright.web.api.shapes import Shape, faults
from vaporwright.web.context import book, shop
from vaporwright.web.pages.service import history_of

router = APIRouter(tags=["service"])
JobId = Annotated[str, Path(max_length=40)]


class HistoryEntry(Shape):
    """Something that happened to a unit; times are seconds since 1970."""

    at: float
    what: str
    who: str
    words: str


class DiagnosisListed(Shape):
    """A diagnosis as listed."""

    id: str
    revision: int
    at: float
    who: str
    likeliest: str
    probability: float


class DiagnosisShown(DiagnosisListed):
    """A diagnosis with its readings and its causes, SI."""

    readings: dict[str, Any]
    found: dict[str, Any]


@router.get("/jobs/{job}/history", summary="What happened to a unit", responses=faults(404))
def history(request: Request, job: JobId) -> list[HistoryEntry]:
    """Revisions, runs, diagnoses and stages, newest first."""
    entry = book(request).job(job)
    return [
        HistoryEntry(at=one.at, what=one.what, who=one.who, words=one.words) for one in history_of(request, entry.id)
    ]


@router.get("/jobs/{job}/diagnoses", summary="Diagnoses of a unit", responses=faults(404))
def diagnoses(request: Request, job: JobId) -> list[DiagnosisListed]:
    """Those that were made, newest first."""
    entry = book(request).job(job)
    return [
        DiagnosisListed(**_listed(one.id, one.revision, one.at, one.who, one.found))
        for one in ServiceStore(shop(request).database).diagnoses(entry.id)
    ]


@router.get("/jobs/{job}/diagnoses/{identifier}", summary="One diagnosis", responses=faults(404))
def diagnosis(request: Request, job: JobId, identifier: Annotated[str, Path(max_length=40)]) -> DiagnosisShown:
    """Readings, and causes by how likely they are."""
    entry = book(request).job(job)
    one = ServiceStore(shop(request).database).diagnosis(entry.id, identifier)
    if one is None:
        raise HTTPException(404, "there is no such diagnosis of this job")
    listed = _listed(one.id, one.revision, one.at, one.who, one.found)
    readings = {name: value for name, value in one.readings.items() if name != "task"}
    return DiagnosisShown(**listed, readings=readings, found=one.found)


def _listed(identifier: str, revision: int, at: float, who: str, found: dict[str, Any]) -> dict[str, Any]:
    likeliest = found["suspects"][0]
    return {
        "id": identifier,
        "revision": revision,
        "at": at,
        "who": who,
        "likeliest": likeliest["title"],
        "probability": likeliest["probability"],
    }

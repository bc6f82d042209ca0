"""The interface for programs, asked with everything that its own description allows, and much that it does not."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import CHECKS

from floor_shop import RUN, open_invented
from vaporwright.actions.job_book import demo_job_text
from vaporwright.unit.fields import FIELDS_BY_KEY
from web_client import Site, site

HEADERS: Final = {"Host": "127.0.0.1:8420", "X-Vaporwright-Name": "A program"}
# Texts that the description can only call texts: a job file must be good TOML with values that can be, and a value as
# typed one with a unit. What is sent to these may be refused however well it fits the description.
TEXTS: Final = (
    "POST /api/v1/jobs",
    "POST /api/v1/jobs/{job}/revisions",
    "POST /api/v1/jobs/{job}/revisions/{number}/rating",
)
EVERY_CHECK: Final = CHECKS.get_all()
CHECKED: Final = [check for check in EVERY_CHECK if check.__name__ != "positive_data_acceptance"]
# It takes nothing but the job's address, which the test of odd addresses fills in; an answer is half a minute's proof.
PROOF: Final = "GET /api/v1/jobs/{job}/controls/proof"
_NO_VALUES: Final = """ "" | "26 gal/h" | "-1 gal/h" | "1e999 L/h" | "nan K" | "0/0 degF" | nan | -inf | 1e999 | -1 |
true | [] | {} | ["a", 1] | 1979-05-27 | "\\u0000" | "26 furlong" | "1,5 m" | = = | \"\"\" """
ODD: Final = st.sampled_from([*(one.strip() for one in _NO_VALUES.split("|")), f'"{"9" * 400} m"']) | st.text(
    max_size=30
)
SETTINGS: Final = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def job_files(draw: st.DrawFn) -> str:
    """A good job file in which a few lines were made odd."""
    lines = demo_job_text("nickel_rinse_electric").splitlines()
    for _ in range(draw(st.integers(0, 4))):
        place = draw(st.integers(0, len(lines) - 1))
        key, equals, _ = lines[place].partition("=")
        lines[place] = (
            f"{key}= {draw(ODD)}" if equals else draw(st.sampled_from(["", lines[place] * 2, "[duty]", "\x00"]))
        )
    return "\n".join(lines)


TYPED: Final = st.dictionaries(
    st.sampled_from(sorted(FIELDS_BY_KEY)) | st.text(max_size=8), ODD.map(lambda one: one.strip('"')), max_size=4
)
ENTERED: Final = st.fixed_dictionaries(
    {
        "step": st.sampled_from(["sizes.pipe", "tank.leak", "electrical.insulation", ""]),
        "field": st.sampled_from(["near_m", "middle_m", "drops", "resistance_ohm", ""]),
        "text": ODD.map(lambda one: one.strip('"')) | st.sampled_from(["1.0", "1 ft", "no"]),
        "typed_by": st.sampled_from(["A program", "somebody"]),
        "number": st.integers(0, 3),
        "minutes": st.floats(0.0, 100.0),
    }
)


@pytest.mark.slow
def test_every_answer_is_as_described(tmp_path: Path) -> None:
    with site(tmp_path, demo=True) as made:
        count = 0
        for operation in _operations(made):
            checks = CHECKED if operation.label in TEXTS else EVERY_CHECK
            _asks_all(operation, checks)
            count += 1
        assert count >= 11


@pytest.mark.slow
def test_whatever_is_sent_to_what_is_there_has_an_answer_as_described(tmp_path: Path) -> None:
    """With the ids of a job, a run, a simulated unit: a random id only ever finds that there is none."""
    with site(tmp_path, demo=True) as made:
        there, texts = _things(made), 0
        for operation in _operations(made):
            if operation.label == PROOF or not operation.path_parameters:
                continue

            @SETTINGS
            @given(case=operation.as_strategy(), text=job_files(), typed=TYPED, entered=ENTERED)
            def asked(case: schemathesis.Case, text: str, typed: dict[str, str], entered: dict[str, Any]) -> None:
                nonlocal texts
                case.path_parameters = {name: there[name] for name in case.path_parameters}
                if isinstance(case.body, dict):
                    texts += _filled(case.body, text, typed, entered)
                case.call_and_validate(headers=HEADERS, checks=CHECKED)

            asked()
        assert texts > 50


@pytest.mark.slow
@SETTINGS
@given(text=job_files())
def test_any_job_file_is_taken_in_or_refused_in_words(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    with site(tmp_path_factory.mktemp("shop")) as made:
        answer = made.browser().send("POST", "/api/v1/jobs", json={"job": text}, headers=HEADERS)
        assert answer.status_code in (201, 422)
        if answer.status_code == 422:
            assert answer.json()["error"]["problem"]
        assert len(made.shop.book.listed()) == (answer.status_code == 201)


def _asks_all(operation: Any, checks: Any) -> None:
    @SETTINGS
    @given(case=operation.as_strategy())
    def asked(case: schemathesis.Case) -> None:
        case.call_and_validate(headers=HEADERS, checks=checks)

    asked()


def _operations(made: Site) -> list[Any]:
    schema = schemathesis.openapi.from_asgi("/api/v1/openapi.json", made.app, headers=HEADERS)
    return [found.ok() for found in schema.get_all_operations()]


def _things(made: Site) -> dict[str, Any]:
    """Something there is for each name in braces."""
    job = next(one.job.id for one in made.shop.book.listed() if one.job.name.startswith("Nickel"))
    open_invented(made.shop.database.records, made.shop.book, job)
    begun = made.browser().send("POST", f"/api/v1/jobs/{job}/simulated-units", json={}, headers=HEADERS)
    assert begun.status_code == 201, begun.text
    return {"job": job, "run": RUN, "number": 1, "unit": begun.json()["id"], "identifier": "0" * 16}


def _filled(body: dict[str, Any], text: str, typed: dict[str, str], entered: dict[str, Any]) -> bool:
    """Put texts that come near to good ones where a description can only say that they are texts."""
    if "job" in body:
        body["job"] = text
    elif "values" in body:
        body["values"] = typed
    elif "event_id" in body:
        body.update({name: value for name, value in entered.items() if name in body})
    else:
        return False
    return True


def test_the_description_is_complete(tmp_path: Path) -> None:
    """Each route has a summary, a description, and each fault the one shape."""
    with site(tmp_path) as made:
        description = made.browser().get("/api/v1/openapi.json").json()
    assert description["paths"]
    for path, methods in description["paths"].items():
        assert path.startswith("/api/v1/"), "a page is described as if it were for programs"
        for method, told in methods.items():
            where = f"{method} {path}"
            assert told["summary"], where
            assert told["description"], where
            for status, answer in told["responses"].items():
                if status.startswith(("4", "5")):
                    shape = answer["content"]["application/json"]["schema"]
                    assert shape == {"$ref": "#/components/schemas/FaultAnswer"}, f"{where} {status}"


def test_what_never_reaches_a_route_has_the_one_shape_too(tmp_path: Path) -> None:
    with site(tmp_path, largest_upload_bytes=5_000) as made:
        made.add("Ada", "engineer")
        asks = made.browser().send
        program = {"X-Vaporwright": "1"}
        wrong = {"name": "Ada", "password": "wrong password"}
        guessed = [asks("POST", "/api/v1/session", json=wrong) for _ in range(9)][-1]
        answers = {
            404: [asks("GET", path) for path in ("/api", "/api/", "/api/v1/nothing", "/api/v1/jobs/none")],
            405: [asks("PUT", "/api/v1/jobs", headers=program), asks("DELETE", "/api/v1/me", headers=program)],
            413: [asks("POST", "/api/v1/jobs", json={"job": "x" * 6_000})],
            421: [asks("GET", "/api/v1/jobs", headers={"Host": "elsewhere.example"})],
            400: [asks("GET", "/api/v1/jobs", headers={"Content-Length": "ten"})],
            422: [
                asks("POST", "/api/v1/session", content=b"{", headers={"Content-Type": "application/json"}),
                # Another kind than JSON cannot be read as what is asked for: there is no 415 of its own.
                asks("POST", "/api/v1/session", content=b"{}", headers={"Content-Type": "text/plain", **program}),
                asks("POST", "/api/v1/session", content=b"\xff\xfe", headers={"Content-Type": "application/json"}),
                asks("GET", "/api/v1/jobs?stage=%00"),
            ],
            403: [asks("POST", "/api/v1/jobs", content=b"x"), asks("POST", "/api/v1/jobs", json={"job": "x"})],
            401: [asks("POST", "/api/v1/session", json={"name": "Nobody", "password": "wrong password"})],
            429: [guessed],
        }  # fmt: skip
        for status, found in answers.items():
            for answer in found:
                assert answer.status_code == status, answer.request.url
                error = answer.json()["error"]
                assert answer.json().keys() == {"error"}
                assert error.keys() == {"where", "key", "problem", "allowed"}
                assert all(isinstance(one, str) for one in error.values())
        assert guessed.headers["Retry-After"] == "900"
        assert answers[405][0].headers["Allow"]

"""The interface for programs, asked with everything that its own description allows, and much that it does not."""

from __future__ import annotations

from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import CHECKS

from web_client import site

HEADERS = {"Host": "127.0.0.1:8420", "X-Vaporwright-Name": "A program"}
# A job file is text to the description, and must be a good one to the book.
CHECKED = [check for check in CHECKS.get_all() if check.__name__ != "positive_data_acceptance"]


@pytest.mark.slow
def test_every_answer_is_as_described(tmp_path: Path) -> None:
    with site(tmp_path, demo=True) as made:
        schema = schemathesis.openapi.from_asgi("/api/v1/openapi.json", made.app, headers=HEADERS)
        count = 0
        for found in schema.get_all_operations():
            operation = found.ok()

            @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
            @given(case=operation.as_strategy())
            def asked(case: schemathesis.Case) -> None:
                case.call_and_validate(headers=HEADERS, checks=CHECKED)

            asked()
            count += 1
        assert count >= 11


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

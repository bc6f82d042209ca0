"""The pages of the application: from its routes, with something of a filled shop in each address.

A route that is added is a page, unless it stands in NO_PAGES with the reason; what stands there must answer otherwise.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from finished_shop import FinishedShop
from vaporwright.web.app import make_app
from vaporwright.web.settings import Settings
from web_routes import routes_of

# Endings of addresses that answer with a part of a page, a file, or something for a script.
_NO_PAGE_ENDINGS: Final = {
    "/live": "a part of a page",
    "/sizing/full": "a part of a page",
    "/performance/result/{task}": "where a page's script is told to go on to",
    "/run/state": "for the script of the simulated unit",
    "/data": "for the script that draws the trend",
    "/files/{sha256}": "a photograph of the record",
    "/files/{kind}": "a file of the control",
    "/file": "a job file",
    "/start-file": "a job file",
    "/health": "for whoever watches the server",
}
_FILES: Final = re.compile(r"\.(pdf|svg|zip|txt|toml|js|json)$")
# Pages that stand behind a task: there is no address for them beforehand; a test begins the task.
BEHIND_A_TASK: Final = (
    "/jobs/{job}/acceptance/opening/{task}",
    "/jobs/{job}/service/refit/{task}",
    "/jobs/{job}/service/weighing/{task}",
)
ASKED_WITH: Final = {
    "/jobs/{job}/difference": "?old=1&new=2",
    "/jobs/{job}/sizing/why": "?name=capacity.summer.evaporation_kg_s",
}


def routes_to_look_at(folder: Path) -> tuple[list[str], list[str]]:
    """Routes that answer with a page, those behind a task left out; and those that answer with something else."""
    app = make_app(Settings(str(folder / "routes.db"), folder))
    found = sorted({path for method, path in routes_of(app) if method == "GET" and not path.startswith("/api/")})
    app.state.shop.close()
    others = [path for path in found if path.endswith(tuple(_NO_PAGE_ENDINGS)) or _FILES.search(path)]
    missing = set(BEHIND_A_TASK) - set(found)
    assert not missing, f"no longer there: {missing}"
    return [path for path in found if path not in others and path not in BEHIND_A_TASK], others


def address_of(path: str, shop: FinishedShop) -> str:
    """The path with something of the shop for each name in braces. A new name wants an entry here."""
    values = {
        "job": shop.job,
        "run": shop.half,
        "step": shop.step,
        "token": shop.link,
        "account": shop.account,
        "identifier": shop.diagnosis,
        "sha256": shop.photo,
        "kind": "io_list.csv",
        "task": "none",
    }
    return re.sub(r"{(\w+)(?::\w+)?}", lambda found: values[found[1]], path) + ASKED_WITH.get(path, "")

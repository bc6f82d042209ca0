"""The forms of a page as a browser would send them, for tests that talk to a server without one."""

from __future__ import annotations

from html.parser import HTMLParser


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[dict[str, str], dict[str, str]]] = []
        self._select, self._area = "", ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append((given, {}))
        if not self.forms:
            return
        fields, name = self.forms[-1][1], given.get("name", "")
        if tag == "input" and name:
            kind = given.get("type", "text")
            if kind not in ("checkbox", "radio", "file") or "checked" in given:
                fields[name] = given.get("value", "")
        elif tag == "textarea" and name:
            self._area, fields[name] = name, ""
        elif tag == "select" and name:
            self._select = name
        elif tag == "option" and self._select and ("selected" in given or self._select not in fields):
            fields[self._select] = given.get("value", "")

    def handle_data(self, data: str) -> None:
        if self._area:
            self.forms[-1][1][self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._area = ""


def form_in(page: str, **wanted: str) -> dict[str, str]:
    """What the first form with these attributes sends, such as action="/jobs/new"."""
    reader = _Forms()
    reader.feed(page)
    for attributes, fields in reader.forms:
        if all(attributes.get(name) == value for name, value in wanted.items()):
            return fields
    raise AssertionError(f"no form {wanted} in the page; there are {[one for one, _ in reader.forms]}")

"""A refused form: the page that it stands on once more, with what was typed and the refusal beside its field.

One mechanism for every form of every page. Whatever refuses names the place in ``where`` (a refusal of the service, an
error of the library, a check of the request); here that place becomes a field, and the finished page is written anew
with it. No page and no template has to know of it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

from fastapi import Request
from starlette.types import Message

Said = Callable[[str, str, bool], str]
PAGE = "page"
"""Hidden field of a form shown once more: the address of the page that it stands on."""
SHOWN = {"X-Form-Refused": "shown", "HX-Push-Url": "false", "HX-Reswap": "innerHTML show:none"}
"""Headers that tell the desk's script to show the answer and to stay at the address."""


@dataclass(frozen=True)
class Typed:
    """What was typed into a form.

    Attributes
    ----------
    action : str
        Path that it was sent to.
    page : str
        Address, within this service, of the page that the form stands on; empty when unknown.
    fields : tuple of (str, str)
        Names and texts as they were sent, without files.
    """

    action: str
    page: str
    fields: tuple[tuple[str, str], ...]


def is_part(request: Request) -> bool:
    """Whether the desk's script asks for a part of a page, and not for a whole one."""
    return "hx-request" in request.headers and "hx-boosted" not in request.headers


def typed_into(request: Request) -> Typed | None:
    """What a request typed into a form of a page; ``None`` when it is not a form or its body was not read."""
    form = getattr(request, "_form", None)
    if request.method != "POST" or form is None:
        return None
    fields = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]
    page = next((value for name, value in fields if name == PAGE), "") or _own_part(request.headers.get("referer", ""))
    return Typed(request.url.path, page, tuple(pair for pair in fields if pair[0] != PAGE))


def _own_part(address: str) -> str:
    try:
        found = urlsplit(address)
    except ValueError:
        return ""
    return f"{found.path}?{found.query}" if found.query else found.path


async def page_text(request: Request, address: str) -> str | None:
    """The page of this service at an address, asked for as the browser would; ``None`` when there is none.

    Parameters
    ----------
    request : Request
    address : str
    """
    path, _, query = address.partition("?")
    if not path.startswith("/"):
        return None
    kept = (b"host", b"cookie", b"authorization")
    scope = {
        **{name: request.scope[name] for name in ("type", "http_version", "server", "client", "scheme", "root_path")},
        "method": "GET",
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": [*(one for one in request.scope["headers"] if one[0] in kept), (b"accept", b"text/html")],
    }
    status, kind, body = 0, b"", bytearray()

    async def receive() -> Message:
        return {"type": "http.request", "body": b""}

    async def send(message: Message) -> None:
        nonlocal status, kind
        if message["type"] == "http.response.start":
            status, kind = message["status"], dict(message["headers"]).get(b"content-type", b"")
        body.extend(message.get("body", b""))

    await request.app(scope, receive, send)
    return bytes(body).decode() if status == 200 and kind.startswith(b"text/html") else None


def shown_again(page: str, typed: Typed, problem: dict[str, Any], said: Said) -> str | None:
    """The page with what was typed and the refusal beside its field.

    Parameters
    ----------
    page : str
        The page as it stands.
    typed : Typed
    problem : dict
        Problem details; ``errors`` name the places.
    said : callable
        Id, text and whether it takes the focus, to the HTML of a refusal.

    Returns
    -------
    str or None
        ``None`` when the form is no longer on the page.
    """
    scan = _Controls(page)
    form = _form_of(scan.forms, typed)
    if form is None:
        return None
    beside: dict[int, list[str]] = {}
    above: list[str] = []
    for error in problem["errors"] or [{"where": "", "why": problem["detail"]}]:
        name = field_named(str(error["where"]), [control.name for control in form.controls])
        place = next((i for i, control in enumerate(form.controls) if control.name == name), None)
        if place is None:
            above.append(problem["detail"] if len(problem["errors"]) < 2 else f"{error['where']}: {error['why']}")
        else:
            beside.setdefault(place, []).append(str(error["why"]))
    return _written(page, form, typed, beside, above, said)


def field_named(where: str, names: Sequence[str]) -> str | None:
    """The field of a form for the place that a refusal names, if it has one.

    Parameters
    ----------
    where : str
        The place, as the refusal names it.
    names : sequence of str
        Fields of the form.

    Examples
    --------
    >>> field_named("body.price", ["price", "kind"]), field_named("model_year", ["name", "a.model_year"])
    ('price', 'a.model_year')
    >>> field_named("sale.fee_percent", ["fee_percent"]), field_named("goal.sure_percent", ["price", "sure"])
    ('fee_percent', 'sure')
    >>> field_named("", ["price"]) is None
    True
    """
    own = where.removeprefix("body.")
    last = own.rpartition(".")[2]
    spelled = (own, f"a.{own}", last, last.removesuffix("_percent"))
    return next((one for one in spelled if one and one in names), None)


@dataclass
class _Control:
    """A field as it stands in the page: its start tag, and the text of a textarea or the options of a choice."""

    tag: str
    name: str
    attributes: dict[str, str | None]
    start: int
    end: int
    inner: tuple[int, int] = (0, 0)
    after: int = 0


@dataclass
class _Form:
    """A form that is sent by POST: where it may be sent to, its fields, and the folded parts that hold it."""

    actions: set[str]
    begin: int
    controls: list[_Control]
    folded: dict[int, list[tuple[int, int]]]
    around: list[tuple[int, int]]


class _Controls(HTMLParser):
    """Finds the forms of a page with the places of their fields."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.forms: list[_Form] = []
        self._open: _Form | None = None
        self._details: list[tuple[int, int]] = []
        self._holder: _Control | None = None
        self._lines = [0]
        for line in page.splitlines(keepends=True):
            self._lines.append(self._lines[-1] + len(line))
        self.feed(page)

    def _at(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a form, a folded part, a field or an option."""
        found, start = dict(attrs), self._at()
        end = start + len(self.get_starttag_text() or "")
        if tag == "details":
            self._details.append((start, end))
        elif tag == "form" and (found.get("method") or "").casefold() == "post":
            self._open = _Form({found.get("action") or ""}, end, [], {}, list(self._details))
            self.forms.append(self._open)
        elif self._open is not None:
            self._inside(tag, found, start, end)

    def _inside(self, tag: str, found: dict[str, str | None], start: int, end: int) -> None:
        form = self._open
        assert form is not None
        if tag == "button" and found.get("formaction"):
            form.actions.add(str(found["formaction"]).partition("#")[0])
        name = found.get("name") or ""
        if tag == "option" and self._holder is not None:
            form.controls.append(_Control(tag, self._holder.name, found, start, end, after=end))
        elif tag in ("input", "select", "textarea") and name:
            control = _Control(tag, name, found, start, end, after=end)
            form.folded[len(form.controls)] = list(self._details)
            form.controls.append(control)
            if tag != "input":
                self._holder = control

    def handle_endtag(self, tag: str) -> None:
        """Note where a field, a folded part or a form ends."""
        at = self._at()
        if tag in ("select", "textarea") and self._holder is not None:
            self._holder.inner = (self._holder.end, at)
            self._holder.after = at + len(tag) + 3
            self._holder = None
        elif tag == "details" and self._details:
            self._details.pop()
        elif tag == "form":
            self._open = None


def _form_of(forms: Sequence[_Form], typed: Typed) -> _Form | None:
    """The form that was sent: of those with its action the one whose hidden fields agree best."""
    sent = set(typed.fields)

    def agree(form: _Form) -> int:
        hidden = [one for one in form.controls if one.attributes.get("type") == "hidden"]
        return sum(1 if (one.name, one.attributes.get("value") or "") in sent else -1 for one in hidden)

    return max((form for form in forms if typed.action in form.actions), key=agree, default=None)


def _written(
    page: str, form: _Form, typed: Typed, beside: dict[int, list[str]], above: Sequence[str], said: Said
) -> str:
    """The page with its changes put in from the end to the beginning."""
    edits = _typed_again(form, typed)
    to_open = list(form.around)
    for place, texts in beside.items():
        control, number = form.controls[place], f"refusal-{place}"
        described = " ".join(filter(None, [control.attributes.get("aria-describedby"), number]))
        control.attributes |= {"aria-invalid": "true", "aria-describedby": described}
        if place == min(beside) and not above:
            control.attributes["autofocus"] = ""
        edits.append((control.after, control.after, said(number, " ".join(texts), False)))
        to_open += form.folded[place]
    edits += [(one.start, one.end, _tag(one.tag, one.attributes)) for one in form.controls]
    top = f'<input type="hidden" name="{PAGE}" value="{escape(typed.page)}">'
    if above:
        top += said("refusal", " ".join(above), True)
    edits.append((form.begin, form.begin, top))
    for start, end in set(to_open):
        if " open" not in page[start:end]:
            edits.append((start, end, f"{page[start : end - 1]} open>"))
    for start, end, text in sorted(edits, key=lambda one: (one[0], one[1]), reverse=True):
        page = page[:start] + text + page[end:]
    return page


def _typed_again(form: _Form, typed: Typed) -> list[tuple[int, int, str]]:
    """Put what was typed into the fields; what a textarea holds comes back as changes of the page."""
    edits: list[tuple[int, int, str]] = []
    waiting: dict[str, list[str]] = {}
    for name, value in typed.fields:
        waiting.setdefault(name, []).append(value)
    choice: str | None = None
    for control in form.controls:
        attributes, held = control.attributes, waiting.get(control.name, [])
        kind = (attributes.get("type") or "text").casefold()
        if control.tag == "option":
            if choice is not None:
                _mark(attributes, "selected", attributes.get("value") == choice)
        elif kind in ("checkbox", "radio"):
            _mark(attributes, "checked", (attributes.get("value") or "on") in held)
        elif control.tag == "select":
            choice = held.pop(0) if held else None
        elif held and control.tag == "textarea":
            edits.append((*control.inner, escape("\n" + held.pop(0), quote=False)))
        elif held and kind not in ("password", "file"):
            attributes["value"] = held.pop(0)
    return edits


def _mark(attributes: dict[str, str | None], name: str, on: bool) -> None:
    attributes.pop(name, None)
    if on:
        attributes[name] = ""


def _tag(name: str, attributes: dict[str, str | None]) -> str:
    written = "".join(f' {key}="{escape(value)}"' if value else f" {key}" for key, value in attributes.items())
    return f"<{name}{written}>"

"""Pages as one HTML file that needs nothing but itself; what comes from users is escaped by the template."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from sweepkit.report.page import Page
from sweepkit.visible import visible

if TYPE_CHECKING:
    from jinja2 import Template as JinjaTemplate
    from markupsafe import Markup


def page_html(pages: Sequence[Page]) -> str:
    """One HTML document, style and script inside it; a content policy lets nothing else run and nothing be fetched."""
    from markupsafe import Markup

    script = _template("page.js")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    title = pages[0].title if len(pages) == 1 else f"{pages[0].title} and {len(pages) - 1} more"
    return _compiled("page.html.j2").render(
        pages=pages,
        heading=title,
        style=Markup(_template("page.css")),
        script=Markup(script),
        script_hash=f"sha256-{digest}",
    )


@cache
def _compiled(name: str) -> JinjaTemplate:
    """Once a process: it takes longer than filling it in."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, finalize=_gate, keep_trailing_newline=True
    )
    environment.filters |= {"compact": _compact, "drawing": Markup}
    return environment.from_string(_template(name))


def _gate(value: Any) -> Any:
    """Every text that the template puts in, save what is markup of our own."""
    return visible(value) if type(value) is str else value


def _template(name: str) -> str:
    return (files("sweepkit.report") / "templates" / name).read_text(encoding="utf-8")


def _compact(values: Mapping[str, Any]) -> Markup:
    """JSON for a script element: nothing in it can end the element."""
    from markupsafe import Markup

    text = json.dumps(values, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))

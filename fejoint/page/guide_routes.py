"""The guide's pages as HTML, beside the page; the text is the guide's own."""

from __future__ import annotations

import re
from html import escape

from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.routing import Route

from fejoint import guide
from fejoint.errors import BadInput
from fejoint.system import resources

_PICTURE = re.compile(r'src="[^"]*cases/demo/([^"/]+)"')
_FRAME = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title} – fejoint, the guide</title>
<link rel="icon" href="/icon.svg" type="image/svg+xml">
<link rel="stylesheet" href="/page.css">
<link rel="stylesheet" href="/guide.css">
</head>
<body class="guide">
<nav aria-label="Pages of the guide"><a href="/">fejoint</a><ul>{topics}</ul></nav>
<main>{content}</main>
</body>
</html>
"""


def routes() -> list[Route]:
    """Return the routes: a list of the pages, and each page by its topic."""
    return [
        Route("/guide", _list),
        Route("/guide/pictures/{name}", _picture),
        Route("/guide/{topic}", _page),
    ]


async def _list(_: Request) -> Response:
    rows = "".join(
        f'<li><a href="/guide/{topic}">{escape(about)}</a></li>'
        for topic, about in guide.TOPICS.items()
    )
    return _framed("The guide", f"<h1>The guide</h1><ul>{rows}</ul>")


async def _picture(request: Request) -> Response:
    path = resources.folder("demo") / request.path_params["name"]
    if path.suffix != ".png" or path.name not in {p.name for p in path.parent.iterdir()}:
        return _framed("No such picture", "<h1>No such picture</h1>", 404)
    return FileResponse(path)


async def _page(request: Request) -> Response:
    from markdown_it import MarkdownIt

    topic = request.path_params["topic"]
    try:
        text = guide.page(topic)
    except BadInput as error:
        said = escape(str(error))
        return _framed("No such page", f"<h1>No such page</h1><p>{said}</p>", 404)
    # a table may be wider than a phone: it scrolls by itself
    content = MarkdownIt("commonmark", {"html": False}).enable("table").render(text)
    content = _PICTURE.sub(r'src="/guide/pictures/\1"', content)
    content = content.replace("<table>", '<div class="wide" tabindex="0"><table>')
    content = content.replace("</table>", "</table></div>")
    return _framed(guide.TOPICS[topic], content)


def _framed(title: str, content: str, status: int = 200) -> Response:
    topics = "".join(f'<li><a href="/guide/{t}">{t}</a></li>' for t in guide.TOPICS)
    return HTMLResponse(_FRAME.format(title=escape(title), topics=topics, content=content), status)

"""The page's HTTP interface, for the page and for scripts.

| call | takes | gives |
|---|---|---|
| POST /api/joint | `case` or `text`, `changes` | `case`, `joint` (in mm, N, MPa), `text` (a file) |
| POST /api/pulls | the same, `detail`, `tab`, `place` | `id`, `answer` (as the file), `cut_N` |
| POST /api/drop | `tab`, `place` | |
| GET /api/pulls/ID/scene | | meshes and fields over the pull (see `scene`) |
| GET /api/pulls/ID/answer.json | | the answer as a file |
| GET /api/pulls/ID/report.html | `beside`: other IDs | the report, or the comparison of all |
| GET /api/pulls/ID/pictures/WHAT.SUFFIX | `theme`, `width`, `height` | a picture |
| GET /api/pulls/ID/cut/NAME | | a plate as DXF or SVG: "ear.dxf", "ear-1.svg", "shank.dxf" |
| POST /api/pulls/ID/proof | `load_N` | what a pull to that load leaves behind |
| GET /api/progress/TAB | | server-sent events: section and load of every pull of the tab |
| POST /api/studies | the case, `kind`, `options`, `joint` | `id`, `state`: a command run beside |
| GET /api/studies | | every study: `state`, `done`, `total`, `left_s` |
| GET /api/studies/ID | | the same with `said`, `files`, its `case` and it in mm (`plain`) |
| GET /api/studies/ID/files/NAME | | a file that it wrote |
| POST /api/studies/ID/cancel, /forget | | |
| GET /api/materials | | every metal with its values and sources |
| GET /api/hardness | `of`: "48 HRC" | other scales, tensile strength |
| GET /api/start | | two cases to begin from, ranges of every field, cautions |
| GET /api/ | | this text |
| GET /api/state | | workers and waiting jobs |
| GET /guide, /guide/TOPIC | | the guide's pages |

Bodies are JSON. Faults of a case come as status 422 with `faults`: field, value, allowed, mend.
409: a newer pull took its place. 410: the answer is kept no longer. 503: too many solves wait.
A quick answer ends once two parts have given; `cut_N` is the load beyond which it knows nothing,
null where the pull came to its end.
"""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from fejoint.analysis.cautions import CAUTIONS, LIMITS
from fejoint.analysis.definitions import DEFINITIONS, MODES
from fejoint.errors import BadInput
from fejoint.joint.schema import PARTS
from fejoint.output.pictures import table
from fejoint.page import guide_routes, study_routes
from fejoint.page.bodies import (
    DropBody,
    JointBody,
    PictureQuery,
    ProofBody,
    PullBody,
    read_body,
    read_joint,
)
from fejoint.page.guard import Guard
from fejoint.page.jobs import Refused
from fejoint.page.listeners import Listeners
from fejoint.page.solver_pool import SolverPool
from fejoint.page.starting import starting_cases
from fejoint.page.studies import StudyDesk

STATIC = Path(__file__).parent / "static"

DETAIL = {"coarse": (0.35, 1.5, 0), "fine": (1.0, 1.0, 1)}
"""Mesh refinement and pace of a pull, and whether it lets others go first."""

MOST_BESIDE = 3
"""Joints that a report compares one with."""

_KINDS = {"png": "image/png", "svg": "image/svg+xml", "pdf": "application/pdf"}


def app(
    host: str = "127.0.0.1", pool: SolverPool | None = None, book: Path | None = None
) -> Starlette:
    """Return the page as an ASGI application.

    Parameters
    ----------
    host : str
        Address that it will be bound to.
    pool : SolverPool, optional
    book : Path, optional
        The results book that measured pulls may be kept in.

    Returns
    -------
    Starlette
        Its workers start with it and end with it.
    """
    own = pool or SolverPool()
    desk = StudyDesk()

    @asynccontextmanager
    async def running(_: Starlette) -> AsyncIterator[None]:
        own.start()
        try:
            yield
        finally:
            desk.close()
            own.close()

    api = [
        Route("/", _calls),
        Route("/joint", _joint, methods=["POST"]),
        Route("/pulls", _pull, methods=["POST"]),
        Route("/drop", _drop, methods=["POST"]),
        Route("/pulls/{id}/scene", _scene),
        Route("/pulls/{id}/answer.json", _answer),
        Route("/pulls/{id}/report.html", _report),
        Route("/pulls/{id}/pictures/{what}.{suffix}", _picture),
        Route("/pulls/{id}/cut/{name}", _cut),
        Route("/pulls/{id}/proof", _proof, methods=["POST"]),
        Route("/progress/{tab}", _progress),
        *study_routes.routes(),
        Route("/start", _start),
        Route("/state", _state),
    ]
    made = Starlette(
        routes=[
            Mount("/api", routes=api),
            *guide_routes.routes(),
            Mount("/", StaticFiles(directory=STATIC, html=True)),
        ],
        middleware=[Middleware(Guard, host=host)],
        exception_handlers={Refused: _refused, BadInput: _bad_input},
        lifespan=running,
    )
    made.state.pool = own
    made.state.listeners = Listeners()
    made.state.studies = desk
    made.state.book = book
    return made


async def _calls(_: Request) -> Response:
    return PlainTextResponse(__doc__ or "")


async def _joint(request: Request) -> Response:
    table = read_body(JointBody, await request.body()).table()
    joint = read_joint(table)
    return _json({"case": table, "joint": joint.to_dict(), "text": joint.to_toml()})


async def _pull(request: Request) -> Response:
    body = read_body(PullBody, await request.body())
    table = body.table()
    read_joint(table)
    pool, listeners = request.app.state.pool, request.app.state.listeners
    refine, pace, rank = DETAIL[body.detail]

    def tell(word: dict[str, Any]) -> None:
        listeners.tell(body.tab, {"place": body.place, "detail": body.detail, **word})

    key = None if body.tab is None else (body.tab, body.place)
    name, job = pool.pull(table, refine=refine, pace=pace, key=key, rank=rank, tell=tell)
    gone = asyncio.ensure_future(_disconnected(request))
    try:
        await asyncio.wait({job.answer, gone}, return_when=asyncio.FIRST_COMPLETED)
        if not job.answer.done():
            pool.drop_job(job)
        answer, cut = await job.answer
    finally:
        gone.cancel()
    known = json.dumps({"id": name, "detail": body.detail, "cut_N": cut})
    text = f'{known[:-1]}, "answer": {answer}}}'
    return Response(text, media_type="application/json", headers={"cache-control": "no-store"})


async def _disconnected(request: Request) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass


async def _drop(request: Request) -> Response:
    body = read_body(DropBody, await request.body())
    request.app.state.pool.drop((body.tab, body.place))
    return _json({})


async def _scene(request: Request) -> Response:
    packed = await request.app.state.pool.scene(request.path_params["id"])
    return Response(packed, media_type="application/octet-stream")


async def _answer(request: Request) -> Response:
    text = await request.app.state.pool.ask(request.path_params["id"], "json")
    return _file(text, "application/json", "answer.json")


async def _report(request: Request) -> Response:
    pool, others = request.app.state.pool, request.query_params.getlist("beside")[:MOST_BESIDE]
    beside = [json.loads(await pool.ask(other, "json")) for other in others]
    text = await pool.ask(request.path_params["id"], "report", beside=beside)
    return _file(text, "text/html; charset=utf-8", "report.html")


async def _picture(request: Request) -> Response:
    path = request.path_params
    query = {
        k: int(v) if v.isdecimal() and len(v) < 9 else v for k, v in request.query_params.items()
    }
    asked = read_body(PictureQuery, query | {"what": path["what"], "suffix": path["suffix"]})
    size = (asked.width, asked.height) if asked.width and asked.height else None
    drawn = await request.app.state.pool.ask(
        path["id"],
        "picture",
        what=asked.what,
        suffix=asked.suffix,
        theme=asked.theme,
        size=size,
    )
    return _file(drawn, _KINDS[asked.suffix], f"{asked.what}.{asked.suffix}")


async def _cut(request: Request) -> Response:
    drawings = await request.app.state.pool.ask(request.path_params["id"], "cut")
    name = request.path_params["name"]
    if name not in drawings:
        raise Refused(
            404, {"message": f"there is no such drawing; there are {', '.join(drawings)}"}
        )
    kind = "image/svg+xml" if name.endswith(".svg") else "image/vnd.dxf"
    return _file(drawings[name], kind, name)


async def _proof(request: Request) -> Response:
    body = read_body(ProofBody, await request.body())
    pool = request.app.state.pool
    return _json(await pool.ask(request.path_params["id"], "proof", load_N=body.load_N))


async def _progress(request: Request) -> Response:
    tab = request.path_params["tab"][:64]
    listeners = request.app.state.listeners
    queue = listeners.join(tab)

    async def words() -> AsyncIterator[str]:
        try:
            yield ": listening\n\n"
            while True:
                try:
                    word = await asyncio.wait_for(queue.get(), 15.0)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                yield f"data: {json.dumps(word)}\n\n"
        finally:
            listeners.leave(tab, queue)

    return StreamingResponse(words(), media_type="text/event-stream")


async def _start(request: Request) -> Response:
    return _json(
        {
            "cases": starting_cases(),
            "fields": {
                f"{part}.{key}": {
                    "kind": field.kind,
                    "low": field.low if math.isfinite(field.low) else None,
                    "high": field.high if math.isfinite(field.high) else None,
                    "choices": list(field.choices),
                    "note": field.note,
                }
                for part, fields in PARTS.items()
                for key, field in fields.items()
            },
            "cautions": list(CAUTIONS),
            "limits": list(LIMITS),
            "pictures": [[p.name, p.label] for p in table().values() if p.label],
            "meanings": [
                {"mode": d.mode, "cause": d.cause, "says": f"{d.read}: {d.threshold} ({d.source})"}
                for d in DEFINITIONS
            ],
            "titles": {mode.name: mode.title for mode in MODES.values()},
            "book": None if request.app.state.book is None else request.app.state.book.name,
        }
    )


async def _state(request: Request) -> Response:
    return _json(request.app.state.pool.state)


async def _refused(_: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    later = {"retry-after": "2"} if error.status == 503 else {}
    return JSONResponse(error.content, error.status, headers=later)


async def _bad_input(_: Request, error: Exception) -> Response:
    assert isinstance(error, BadInput)
    return JSONResponse({"faults": [vars(f) for f in error.faults]}, 422)


def _json(content: Any) -> Response:
    return JSONResponse(content, headers={"cache-control": "no-store"})


def _file(content: str | bytes, kind: str, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=headers | {"cache-control": "no-store"})

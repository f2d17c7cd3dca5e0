"""The page's calls for long studies and for metals."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from fejoint.joint import model
from fejoint.materials import hardness, library
from fejoint.page.bodies import read_body
from fejoint.page.jobs import Refused
from fejoint.page.studies import Asked, StudyDesk
from fejoint.page.study_bodies import CASE, StudyBody


def routes() -> list[Route]:
    """Return the routes, below /api."""
    return [
        Route("/studies", _begin, methods=["POST"]),
        Route("/studies", _list),
        Route("/studies/{id}", _whole),
        Route("/studies/{id}/cancel", _cancel, methods=["POST"]),
        Route("/studies/{id}/forget", _forget, methods=["POST"]),
        Route("/studies/{id}/files/{name:path}", _file),
        Route("/materials", _materials),
        Route("/hardness", _hardness),
    ]


def _desk(request: Request) -> StudyDesk:
    desk: StudyDesk = request.app.state.studies
    return desk


async def _begin(request: Request) -> Response:
    body = read_body(StudyBody, await request.body())
    table = body.table()
    joint = model.read(table)
    words = body.words(request.app.state.book)
    shown = {k: v for k, v in (body.options or {}).items() if k != "log"}
    # the case goes to the command as it was given: what only a study reads is still in it
    files = {CASE: _text_of(joint, table), **body.inputs}
    asked = Asked(body.joint, table, joint.to_dict())
    study = _desk(request).begin(body.kind, joint.title, words, files, shown, asked)
    return _json(study.summary())


def _text_of(joint: model.Joint, table: dict[str, Any]) -> str:
    from fejoint.joint import writer

    return writer.write(table) if "scatter" in table else joint.to_toml()


async def _list(request: Request) -> Response:
    return _json({"studies": [s.summary() for s in _desk(request).studies.values()]})


async def _whole(request: Request) -> Response:
    return _json(_desk(request).find(request.path_params["id"]).whole())


async def _cancel(request: Request) -> Response:
    _desk(request).cancel(request.path_params["id"])
    return _json({})


async def _forget(request: Request) -> Response:
    desk = _desk(request)
    desk.find(request.path_params["id"])
    desk.forget(request.path_params["id"])
    return _json({})


async def _file(request: Request) -> Response:
    path = _desk(request).find(request.path_params["id"]).file(request.path_params["name"])
    if path is None:
        raise Refused(404, {"message": "the study wrote no such file"})
    return FileResponse(path, headers={"cache-control": "no-store"})


async def _materials(_: Request) -> Response:
    rows = []
    for name in library.names():
        entry = library.entry(name)
        rows.append({"name": name, "note": str(entry.get("source", ""))} | dict(entry))
    return _json({"materials": rows})


async def _hardness(request: Request) -> Response:
    found = hardness.parse(request.query_params.get("of", "")[:40], "hardness")
    estimate = hardness.to_strength(found)
    on = {scale: hardness.convert(found, scale) for scale in ("HV", "HB", "HRC")}
    return _json(
        on
        | {
            "rm_MPa": estimate.rm,
            "low_MPa": estimate.low,
            "high_MPa": estimate.high,
            "source": estimate.source,
            "holds_for": hardness.STEEL,
        }
    )


def _json(content: Any) -> Response:
    return JSONResponse(content, headers={"cache-control": "no-store"})

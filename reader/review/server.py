"""Routes of the desk, and how it is served: on this machine only."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable, Mapping
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from reader.errors import InputError, ReaderError
from reader.review.answers import Answers
from reader.review.desk import Desk
from reader.review.guard import LARGEST_BODY, Guard
from reader.review.pages import STATIC, Pages, static_address

LOOPBACK = "127.0.0.1"

View = Callable[[Mapping[str, str]], str]
Action = Callable[[Mapping[str, Any]], Mapping[str, Any]]


def create_app(desk: Desk, port: int, token: str) -> ASGIApp:
    """The desk as an ASGI application behind its guard.

    Parameters
    ----------
    desk : Desk
    port : int
    token : str
        Opens the desk once; see `reader.review.guard`.
    """
    pages = Pages(desk)
    answers = Answers(desk, pages)
    views: dict[str, View] = {
        "/": pages.desk,
        "/many": pages.many,
        "/many/cards": pages.cards,
        "/pages": pages.page_list,
        "/pages/{id:int}": pages.page,
        "/tabs": pages.tab,
        "/check": pages.check,
        "/learn": pages.learn,
        "/history": pages.history,
        "/keys": pages.keys,
    }
    actions: dict[str, Action] = {
        "/desk/next": answers.next,
        "/desk/edit": answers.edit,
        "/desk/accept": answers.accept,
        "/desk/reject": answers.reject,
        "/undo": answers.undo,
        "/redo": answers.redo,
        "/many/accept": answers.accept_many,
        "/many/reject": answers.reject_many,
        "/pages/{id:int}/read": answers.read_box,
        "/pages/{id:int}/split": answers.split,
        "/pages/{id:int}/merge": answers.merge,
        "/tabs/edit": answers.edit_tab,
        "/tabs/accept": answers.accept_tab,
        "/tabs/reject": answers.reject_tab,
        "/check/draw": answers.draw,
        "/check/answer": answers.check,
        "/check/no-diagram": answers.check_no_diagram,
        "/learn/apply": answers.learn,
        "/history/restore": answers.restore,
    }
    pictures: dict[str, Callable[[int], bytes | None]] = {
        "/crop/{id:int}": desk.pictures.crop,
        "/tab-crop/{id:int}": desk.library.tab_crop,
        "/page/{id:int}.jpg": desk.pictures.page,
    }
    routes = [
        *(Route(path, _shown(view, pages)) for path, view in views.items()),
        *(Route(path, _done(action), methods=["POST"]) for path, action in actions.items()),
        *(Route(path, _picture(picture)) for path, picture in pictures.items()),
        Mount(static_address(), StaticFiles(directory=STATIC)),
    ]
    return Guard(Starlette(routes=routes), port, token, desk.texts)


def _shown(view: View, pages: Pages) -> Callable[[Request], Any]:
    async def show(request: Request) -> Response:
        asked = {**request.query_params, **{k: str(v) for k, v in request.path_params.items()}}
        try:
            html = await run_in_threadpool(view, asked)
        except (ReaderError, ValueError) as error:
            html = await run_in_threadpool(pages.sorry, str(error))
            return Response(html, 404, media_type="text/html")
        return Response(html, media_type="text/html")

    return show


def _done(action: Action) -> Callable[[Request], Any]:
    async def do(request: Request) -> Response:
        body = await request.body()
        if len(body) > LARGEST_BODY or request.headers.get("content-type") != "application/json":
            raise HTTPException(415)
        data = {**await request.json(), **request.path_params}
        try:
            return JSONResponse(await run_in_threadpool(action, data))
        except ReaderError as error:
            return JSONResponse({"said": str(error), "trouble": True}, 422)
        except (KeyError, TypeError, ValueError) as error:
            return JSONResponse({"said": f"{type(error).__name__}: {error}", "trouble": True}, 400)

    return do


def _picture(picture: Callable[[int], bytes | None]) -> Callable[[Request], Any]:
    async def show(request: Request) -> Response:
        try:
            data = await run_in_threadpool(picture, request.path_params["id"])
        except ReaderError:
            data = None
        if data is None:
            raise HTTPException(404)
        kind = "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"
        return Response(data, media_type=kind, headers={"cache-control": "private, max-age=3600"})

    return show


# ---------------------------------------------------------------- serving


def open_socket(port: int) -> socket.socket:
    """Listen on this machine only.

    Parameters
    ----------
    port : int
        0 takes any free one.

    Raises
    ------
    InputError
        When the port is taken.
    """
    # the protocol is named because asyncio sends small answers at once only where it sees TCP: else each waits 40 ms
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((LOOPBACK, port))
    except OSError as error:
        listener.close()
        raise InputError(f"Port {port} cannot be used ({error.strerror}): choose another with --port.") from None
    listener.listen(128)
    return listener


def new_token() -> str:
    """A secret for one run."""
    return secrets.token_urlsafe(24)


def address(port: int, token: str) -> str:
    """What to open in the browser."""
    return f"http://{LOOPBACK}:{port}/?token={token}"


def serve(desk: Desk, listener: socket.socket, token: str) -> None:
    """Serve until interrupted."""
    import uvicorn

    port = int(listener.getsockname()[1])
    config = uvicorn.Config(
        create_app(desk, port, token), log_level="warning", access_log=False, server_header=False, lifespan="off"
    )
    uvicorn.Server(config).run(sockets=[listener])

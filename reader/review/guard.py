"""Who may ask at all: this machine's browser, with this run's token, from this page.

A page elsewhere on the web can make a browser send requests to this machine. So the host must be this one by number
or as localhost (no name can be rebound to it), a request that changes anything must come from this page's own origin,
and every request must carry the token that only the printed address holds.
"""

from __future__ import annotations

import hmac
from collections.abc import Mapping
from urllib.parse import parse_qsl, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from reader.review.texts import Texts

HOSTS = ("127.0.0.1", "localhost", "[::1]")
TOKEN_NAME = "token"
READ_ONLY = frozenset({"GET", "HEAD"})
LARGEST_BODY = 1_000_000
"""Bytes of a request; the largest real one is a list of some thousand numbers."""

KEPT = "private, max-age=31536000, immutable"
"""For files whose address changes when they do."""
HEADERS: Mapping[str, str] = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class Guard:
    """Wraps the desk; refuses whatever does not come from its own page.

    Parameters
    ----------
    app : ASGI application
    port : int
        The one it listens on.
    token : str
        Of this run.
    texts : Texts
    """

    def __init__(self, app: ASGIApp, port: int, token: str, texts: Texts) -> None:
        self._app = app
        self._hosts = frozenset(f"{host}:{port}" for host in HOSTS)
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        self._token = token
        # cookies are shared by all ports of a host: two desks must not take each other's
        self._cookie = f"desk-{port}"
        self._texts = texts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(HEADERS)
                headers.setdefault("cache-control", KEPT if scope["path"].startswith("/static/") else "no-store")
            await send(message)

        answer = self._refusal(scope) or self._way_in(scope) or self._app
        await answer(scope, receive, send_with_headers)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if headers.get("host") not in self._hosts:
            return self._say("guard.host")
        origin = headers.get("origin")
        if origin is not None and origin not in self._origins:
            return self._say("guard.origin")
        if scope["method"] not in READ_ONLY and origin is None:
            return self._say("guard.origin")
        if not headers.get("content-length", "0").isdigit() or int(headers.get("content-length", "0")) > LARGEST_BODY:
            return self._say("guard.size", 413)
        return None

    def _way_in(self, scope: Scope) -> Response | None:
        """The printed address leaves its token in a cookie and disappears from the address line."""
        asked = dict(parse_qsl(scope["query_string"].decode("latin-1")))
        given = asked.pop(TOKEN_NAME, None)
        if given is not None and scope["method"] in READ_ONLY and self._right(given):
            rest = f"?{urlencode(asked)}" if asked else ""
            response = RedirectResponse("/" + scope["path"].lstrip("/") + rest, 303)
            response.set_cookie(self._cookie, self._token, httponly=True, samesite="strict", path="/")
            return response
        cookies = cookie_parser(Headers(scope=scope).get("cookie", ""))
        return None if self._right(cookies.get(self._cookie, "")) else self._say("guard.token")

    def _right(self, token: str) -> bool:
        return hmac.compare_digest(token.encode(), self._token.encode())

    def _say(self, name: str, status: int = 403) -> Response:
        return PlainTextResponse(self._texts(name), status)

"""The desk from outside: who is let in, what every address answers, and that no text is missing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
from library_samples import make_page, make_reading

import reader.review
from reader.errors import InputError
from reader.review.guard import HEADERS, KEPT
from reader.review.pages import STEPS_SHOWN, static_address
from reader.review.server import LOOPBACK, open_socket
from reader.review.texts import english

HOME = Path(reader.review.__file__).parent
TOKEN = "a-token-of-this-run"
JSON = {"content-type": "application/json"}
FOREIGN = ["https://evil.example", "null", "http://127.0.0.1:1", "http://localhost.evil.example", None]


@pytest.fixture
def client(open_desk: Any) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=open_desk.base) as opened:
        yield opened


def ask(client: httpx.Client, path: str, data: dict[str, Any]) -> dict[str, Any]:
    """An action as the page itself asks for it."""
    answer: dict[str, Any] = client.post(path, json=data, headers={"origin": str(client.base_url)}).json()
    return answer


@pytest.fixture
def inside(client: httpx.Client) -> httpx.Client:
    client.get(f"/?token={TOKEN}")
    return client


# ---------------------------------------------------------------- who is let in


def test_it_listens_on_this_machine_only() -> None:
    with open_socket(0) as listener:
        host, port = listener.getsockname()
        assert host == LOOPBACK == "127.0.0.1"
        with pytest.raises(InputError, match=f"Port {port} cannot be used"):
            open_socket(port)


def test_the_token_becomes_a_cookie_and_leaves_the_address(client: httpx.Client) -> None:
    answer = client.get(f"/?flag=two-marks&token={TOKEN}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/?flag=two-marks")
    cookie = answer.headers["set-cookie"].lower()
    assert all(part in cookie for part in (f"desk-{client.base_url.port}=", "httponly", "samesite=strict"))
    assert client.get("/").status_code == 200


@pytest.mark.parametrize("address", ["/", "/?token=wrong", "/crop/1", f"{static_address()}/desk.js", "/page/1.jpg"])
def test_nothing_is_shown_without_the_token(client: httpx.Client, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 403
    assert "Open the address that the command printed" in answer.text


@pytest.mark.parametrize("host", ["evil.example:{}", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:{}"])
def test_other_hosts_are_refused(inside: httpx.Client, host: str) -> None:
    """A name on the web that points at this machine must not open the desk."""
    assert inside.get("/", headers={"host": host.format(inside.base_url.port)}).status_code == 403


@pytest.mark.parametrize("origin", FOREIGN)
def test_other_origins_change_nothing(inside: httpx.Client, open_desk: Any, origin: str | None) -> None:
    before = open_desk.states()
    answer = inside.post("/undo", json={}, headers={} if origin is None else {"origin": origin})
    assert answer.status_code == 403
    assert open_desk.states() == before


def test_forms_of_other_kinds_are_refused(inside: httpx.Client) -> None:
    own = {"origin": str(inside.base_url)}
    assert inside.post("/undo", data={"a": "b"}, headers=own).status_code == 415
    assert inside.post("/undo", content=b"x" * 1_000_001, headers={**own, **JSON}).status_code == 413
    pieces = (b"x" * 100_000 for _ in range(11))
    assert inside.post("/undo", content=pieces, headers={**own, **JSON}).status_code == 415


def test_every_answer_carries_the_policy(inside: httpx.Client) -> None:
    for address in ("/", f"{static_address()}/desk.css", "/nowhere", "/crop/1"):
        answer = inside.get(address)
        assert {k: answer.headers.get(k) for k in HEADERS} == dict(HEADERS)
    assert "default-src 'none'" in HEADERS["content-security-policy"]
    assert "unsafe" not in HEADERS["content-security-policy"]


def test_scripts_and_styles_are_kept_and_nothing_else(inside: httpx.Client) -> None:
    assert inside.get(f"{static_address()}/desk.css").headers["cache-control"] == KEPT
    assert inside.get("/").headers["cache-control"] == "no-store"
    assert inside.get("/static/desk.css").status_code == 404


def test_nothing_points_outside() -> None:
    """No address of another machine in what is sent, but for the name of SVG's own vocabulary."""
    for path in (*HOME.glob("static/*"), *HOME.glob("templates/*")):
        found = set(re.findall(r"(?:https?:)?//[\w.-]+\.\w+", path.read_text(encoding="utf-8")))
        assert found <= {"http://www.w3.org"}, path.name


# ---------------------------------------------------------------- what it answers

VIEWS = ["/", "/?id=3", "/many", "/many?shape=1&state=accepted", "/many/cards?offset=0", "/pages", "/pages/1", "/tabs"]
VIEWS += ["/check", "/learn", "/history", "/keys"]
MISSING = ["/?id=999", "/?id=x", "/pages/77", "/many?state=odd", "/many?shape=555", "/tabs?id=9"]


@pytest.mark.parametrize("address", VIEWS)
def test_every_view_is_shown(inside: httpx.Client, address: str) -> None:
    answer = inside.get(address)
    assert answer.status_code == 200
    assert " style=" not in answer.text  # the policy forbids it


@pytest.mark.parametrize(
    "address", ["/?id=999", "/?id=x", "/pages/77", "/many?state=odd", "/many?shape=555", "/tabs?id=9"]
)
def test_what_is_not_there_is_said(inside: httpx.Client, address: str) -> None:
    answer = inside.get(address)
    assert answer.status_code == 404
    assert "Back to the desk" in answer.text


def test_pictures(inside: httpx.Client, open_desk: Any) -> None:
    assert inside.get("/crop/1").content.startswith(b"\xff\xd8")
    assert inside.get("/page/1.jpg").content.startswith(b"\xff\xd8")
    assert inside.get("/crop/999").status_code == 404
    gone = open_desk.library.add_page(make_page(make_reading("0003", "C")), "f" * 64)
    assert inside.get(f"/page/{gone.page_id}.jpg").status_code == 404
    assert inside.get(f"/crop/{gone.sighting_ids[0]}").status_code == 404
    assert "is not where it was read" in inside.get(f"/pages/{gone.page_id}").text


@pytest.mark.parametrize(
    ("path", "data", "message"),
    [
        ("/desk/edit", {"id": 1}, "KeyError"),
        ("/desk/edit", {"id": 1, "draft": {}, "edit": "fret"}, "not complete"),
        ("/desk/accept", {"id": 999, "step": 1, "draft": {}}, "not complete"),
        ("/many/accept", {"ids": [], "step": 1}, "Nothing is chosen"),
        ("/pages/1/merge", {"ids": [1], "step": 99}, "choose two or more"),
        ("/pages/1/read", {"corners": [[0, 0]]}, "four corners"),
        ("/check/answer", {"id": 1, "frets": "0003"}, "no draw under way"),
        ("/learn/apply", {}, "are needed"),
        ("/history/restore", {"step": 12345}, "no step 12345"),
        ("/tabs/edit", {"id": 1, "draft": {}, "edit": "number"}, "not complete"),
        ("/tabs/accept", {"id": 9, "step": 99, "draft": {}}, "no tab 9"),
    ],
)
def test_an_action_that_cannot_be_done_says_so(
    inside: httpx.Client, path: str, data: dict[str, Any], message: str
) -> None:
    assert message in ask(inside, path, data)["said"]


def test_recalibration_is_shown_put_in_force_and_taken_back(
    inside: httpx.Client, open_desk: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = open_desk.library
    monkeypatch.setattr("reader.review.desk.judge", lambda: SimpleNamespace(least=lambda _: 0.99))
    accepted = [s for s in library.sightings() if s.state == "accepted"]
    for sighting in accepted[:20]:
        library.confirm([sighting.id], "mara")
    for sighting in [s for s in library.queue() if {f.code for f in s.reading.flags} <= {"faint-mark", "two-marks"}]:
        library.reject([sighting.id], "mara")
    assert "It would ask for 5 readings more and 0 fewer: 10 left instead of 5." in inside.get("/learn").text
    before = open_desk.states()
    answer = ask(inside, "/learn/apply", {})
    assert answer["said"] == "In force: 5 readings more to look at, 0 fewer."
    assert open_desk.states()["unchecked"] == before["unchecked"] + 5
    assert "is in force" in inside.get("/learn").text
    ask(inside, "/undo", {})
    assert open_desk.states() == before
    assert "No recalibration is in force." in inside.get("/learn").text


def test_many_at_once_notices_other_windows(inside: httpx.Client, open_desk: Any) -> None:
    library, step = open_desk.library, open_desk.desk.last_step()
    ids = [s.id for s in library.queue()[:3]]
    library.reject([ids[1]], "somebody else")
    answer = ask(inside, "/many/accept", {"ids": ids, "step": step})
    assert "in another window" in answer["said"]
    assert [library.sighting(i).state for i in ids] == ["unchecked", "rejected", "unchecked"]
    assert ask(inside, "/many/accept", {"ids": ids, "step": answer["step"]})["said"] == "3 kept."


def test_a_shape_without_a_page_is_drawn_alone(inside: httpx.Client, open_desk: Any) -> None:
    page = make_page(
        replace(make_reading("0003", "C"), corners=()), replace(make_reading("2010", "F"), corners=((0, 0),) * 4)
    )
    for number in open_desk.library.add_page(page, "e" * 64).sighting_ids:
        shown = inside.get(f"/?id={number}")
        assert shown.status_code == 200
        assert 'class="drawn"' in shown.text


def test_history_goes_further_back_page_by_page(inside: httpx.Client, open_desk: Any) -> None:
    first = open_desk.library.queue()[0].id
    for _ in range(STEPS_SHOWN):
        open_desk.library.confirm([first], "mara")
    newest = inside.get("/history").text
    assert newest.count("<time") == STEPS_SHOWN
    (address,) = re.findall(r"/history\?before=\d+", newest)
    older = inside.get(address).text
    assert older.count("page read") == 3
    assert "before=" not in older


def test_history_leads_back(inside: httpx.Client, open_desk: Any) -> None:
    library = open_desk.library
    moment, before = open_desk.desk.last_step(), open_desk.states()
    for sighting in library.queue()[:3]:
        library.confirm([sighting.id], "mara")
    ask(inside, "/history/restore", {"step": moment})
    assert open_desk.states() == before


# ---------------------------------------------------------------- texts


def test_every_text_is_used_and_none_is_missing() -> None:
    texts = english().table
    code = "\n".join(p.read_text(encoding="utf-8") for p in (*HOME.glob("*.py"), *HOME.glob("templates/*")))
    asked = set(re.findall(r"""(?:\bt|texts|_t)\(\s*f?["']([a-z-]+\.[a-z0-9-]+)["']""", code))
    assert asked <= texts.keys()
    built = ("nav.", "state.", "action.", "said.", "flag.", "edit.", "suggest.", "guard.", "check.")
    assert {name for name in texts.keys() - asked if not name.startswith(built)} == set()


def test_scripts_hold_no_words() -> None:
    """Sentences for people stand in the file of texts, not in the script."""
    for path in HOME.glob("static/*.js"):
        code = re.sub(r"//.*|/\*.*?\*/", "", path.read_text(encoding="utf-8"))
        assert re.findall(r"[\"'`][A-Z][a-z]+ [a-z]+ [^\"'`]*[\"'`]", code) == [], path.name

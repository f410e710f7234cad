"""Firefox by its own remote protocol, WebDriver BiDi (W3C), over a WebSocket: what the tests of the pages need of it.

What no command of the protocol sets (the scheme, the medium, whether scripts run) is set from the browser's own window.
"""

from __future__ import annotations

import base64
import json
import re
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection

COMMAND = Path("/usr/bin/firefox-esr")
PREFERENCES = {
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "focusmanager.testmode": True,  # keys arrive though no window is in front
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,  # the port of RFC 863, where nobody answers
    "network.proxy.share_proxy_settings": True,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "toolkit.telemetry.enabled": False,
}
SCHEME = "layout.css.prefers-color-scheme.content-override"
TOLD = "addEventListener('securitypolicyviolation', event => console.error(`forbidden: ${event.blockedURI}`))"
TAB = "gBrowser.selectedBrowser.browsingContext"
READY = "Boolean(!document.querySelector(`script[src='parts/charts.js']`) || document.documentElement.dataset.ready)"
ANSWERS_WITHIN_S = 600.0  # on a machine that has much else to do


class CommandError(Exception):
    """What the browser answers to a command that it cannot follow."""


def start(profile: Path) -> tuple[subprocess.Popen[str], str]:
    """The browser, in an empty folder of its own, and the address where it listens."""
    lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});\n" for name, value in PREFERENCES.items()]
    (profile / "user.js").write_text("".join(lines), encoding="utf-8")
    arguments = ["--headless", "--no-remote", "--profile", str(profile)]
    arguments += ["--remote-debugging-port", "0", "--remote-allow-system-access"]
    started = subprocess.Popen([COMMAND, *arguments], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    said = []
    assert started.stderr is not None
    for line in started.stderr:
        said.append(line)
        if found := re.search(r"BiDi listening on (ws://\S+)", line):
            return started, f"{found[1]}/session"
    raise CommandError(f"it stopped before it listened: {''.join(said)}")


class Firefox:
    """One tab; `heard` is what the console, a forbidden load or a request outside of the page's folder has said.

    No command waits for anything within the page, whose timers may stand still: `until` asks again and again.
    """

    def __init__(self, line: ClientConnection) -> None:
        self.line = line
        self.heard: list[str] = []
        self.folder = ""
        self._asked = 0
        self._scripted = True
        self.ask("session.new", capabilities={})
        self.window = self.ask("browsingContext.getTree", **{"moz:scope": "chrome"})["contexts"][0]["context"]
        self.tab = self.ask("browsingContext.getTree")["contexts"][0]["context"]
        self.ask("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"], contexts=[self.tab])
        self.ask("script.addPreloadScript", functionDeclaration=f"() => {{ {TOLD} }}", contexts=[self.tab])
        self.ask("emulation.setNetworkConditions", networkConditions={"type": "offline"}, contexts=[self.tab])

    def ask(self, method: str, **params: Any) -> Any:
        """The result of a command; raises CommandError."""
        self._asked += 1
        self.line.send(json.dumps({"id": self._asked, "method": method, "params": params}))
        while True:
            try:
                told = json.loads(self.line.recv(timeout=ANSWERS_WITHIN_S))
            except TimeoutError:
                raise CommandError(f"no answer to {method} {json.dumps(params)[:200]}") from None
            if told["type"] == "event":
                self._hear(told["method"], told["params"])
            elif told.get("id") == self._asked:
                if told["type"] == "error":
                    raise CommandError(f"{method}: {told['message']}")
                return told["result"]

    def _hear(self, method: str, told: dict[str, Any]) -> None:
        if method == "log.entryAdded":
            self.heard.append(f"{told['level']}: {told['text']}")
        elif not told["request"]["url"].startswith((self.folder, "data:")):
            self.heard.append(f"request: {told['request']['url']}")

    def evaluate(self, script: str, window: bool = False) -> Any:
        """The value of an expression, or of what it promises; window: in the browser's own."""
        # Where scripts are off no promise is ever kept.
        text = (
            f"(async () => JSON.stringify(await ({script}) ?? null))()"
            if self._scripted or window
            else f"JSON.stringify({script})"
        )
        place = {"context": self.window if window else self.tab}
        said = self.ask("script.evaluate", expression=text, target=place, awaitPromise=True)
        if said["type"] == "exception":
            raise CommandError(said["exceptionDetails"]["text"])
        return json.loads(said["result"]["value"])

    def open(self, page: Path, hash_: str = "", ready: bool = True) -> None:
        """Open a page and wait until it is ready; ready: False where no script runs."""
        self.folder = page.parent.as_uri() + "/"
        self._go("about:blank")
        self._go(page.as_uri(), hash_)
        if ready:
            self.until(READY, seconds=ANSWERS_WITHIN_S)

    def _go(self, url: str, hash_: str = "") -> None:
        """Navigate, and look whether the page is there: on a busy machine the browser may forget to say that it is."""
        self.ask("browsingContext.navigate", context=self.tab, url=url + hash_, wait="none")
        there = f"location.href.split('#')[0] === {json.dumps(url)} && document.readyState === 'complete'"
        end = time.monotonic() + ANSWERS_WITHIN_S
        while not self._is(there):
            if time.monotonic() > end:
                raise CommandError(f"never there: {url}")
            time.sleep(0.05)

    def _is(self, script: str) -> bool:
        """Whether it is true; not while one page gives way to the next, when no script can run."""
        try:
            return bool(self.evaluate(script))
        except CommandError:
            return False

    def resize(self, width: int, height: int = 900, dots: float = 1.0) -> None:
        """The size of the tab in CSS pixels; dots: of the screen for each, which is what a reader's zoom changes."""
        size = {"width": width, "height": height}
        self.ask("browsingContext.setViewport", context=self.tab, viewport=size, devicePixelRatio=dots)

    def colours(self, dark: bool) -> None:
        """The scheme that the reader's device asks for, until it is set again."""
        self.evaluate(f"Services.prefs.setIntPref({json.dumps(SCHEME)}, {0 if dark else 1})", window=True)

    def paper(self, on: bool) -> None:
        """Lay the open page out as it is printed, or not."""
        self.evaluate(f"{TAB}.mediumOverride = {json.dumps('print' if on else '')}", window=True)

    def scripts(self, on: bool) -> None:
        """Whether scripts run in the pages that are opened from now on."""
        self.evaluate(f"{TAB}.allowJavascript = {json.dumps(on)}", window=True)
        self._scripted = on

    def printed(self) -> bytes:
        """The open page as PDF."""
        return base64.b64decode(self.ask("browsingContext.print", context=self.tab)["data"])

    def press(self, *keys: str) -> None:
        """Press keys one after the other; those without a sign by their code point of WebDriver, such as U+E00C for Escape."""
        self.evaluate("void gBrowser.selectedBrowser.focus()", window=True)  # not the line of the address
        actions = [{"type": kind, "value": key} for key in keys for kind in ("keyDown", "keyUp")]
        self._act({"type": "key", "id": "keys", "actions": actions})

    def drag(self, *places: tuple[float, float]) -> None:
        """Press at the first place of the window, move over the others, let go; one place alone is a click."""
        moves = [{"type": "pointerMove", "x": round(x), "y": round(y), "duration": 20} for x, y in places]
        actions = [moves[0], {"type": "pointerDown", "button": 0}, *moves[1:], {"type": "pointerUp", "button": 0}]
        self._point(actions)

    def hover(self, x: float, y: float) -> None:
        """Move the mouse there."""
        self._point([{"type": "pointerMove", "x": round(x) + off, "y": round(y)} for off in (2, 1, 0)])

    def _point(self, actions: list[dict[str, Any]]) -> None:
        self._act({"type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"}, "actions": actions})

    def _act(self, device: dict[str, Any]) -> None:
        self.ask("input.performActions", context=self.tab, actions=[device])

    def place(self, element: str) -> tuple[float, float]:
        """The middle of the first element of this selector, in the window, after it was scrolled there."""
        found = self.evaluate(
            f"""(() => {{
              const at = document.querySelector({json.dumps(element)});
              at.scrollIntoView({{ block: "center" }});
              const box = at.getBoundingClientRect();
              return [box.x + box.width / 2, box.y + box.height / 2];
            }})()"""
        )
        return found[0], found[1]

    def until(self, script: str, wanted: Callable[[Any], bool] = bool, seconds: float = 60.0) -> Any:
        """The value of an expression as soon as it is wanted."""
        end = time.monotonic() + seconds
        while not wanted(value := self.evaluate(script)):
            if time.monotonic() > end:
                raise AssertionError(f"after {seconds:g} s it is still {value!r}: {script}")
            time.sleep(0.05)
        return value

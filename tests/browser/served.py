"""A folder as a site on this machine's own network, and when a page of it is readable and drawn over a poor line."""

from __future__ import annotations

import gzip
import mimetypes
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser

BYTES_A_SECOND = 1.6e6 / 8  # of the line that pages are made for
ANSWERS_AFTER_MS = 150  # of that line: judgement
WATCH = """
  const seen = window.seen = {}, told = () => { seen.text = performance.now(); };
  document.addEventListener("readystatechange", () => {
    if (document.readyState === "interactive") requestAnimationFrame(() => setTimeout(told));
  });
  (function look() {
    if (!seen.chart && document.querySelector(".plot [class*='mark-'] path, .plot canvas")) seen.chart = performance.now();
    if (document.documentElement?.dataset.ready) seen.ready = performance.now(); else requestAnimationFrame(look);
  })();
"""


@contextmanager
def served(folder: Path, packed: bool = False) -> Iterator[str]:
    """The address of a folder, each file of it as it is or as gzip."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            path = folder / self.path.lstrip("/")
            if not path.is_file():
                self.send_error(404)
                return
            held = path.read_bytes()
            self.send_response(200)
            if packed:
                held = gzip.compress(held, 6)
                self.send_header("Content-Encoding", "gzip")
            self.send_header("Content-Type", mimetypes.guess_type(path.name)[0] or "application/octet-stream")
            self.send_header("Content-Length", str(len(held)))
            self.end_headers()
            self.wfile.write(held)

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()


def seen(browser: Browser, address: str, width: int = 1280) -> dict[str, float]:
    """Seconds until a page's text is read in and laid out, its first chart drawn, all of it ready; and the bytes that came."""
    context = browser.new_context(viewport={"width": width, "height": 900})
    page = context.new_page()
    page.add_init_script(WATCH)
    line = context.new_cdp_session(page)
    line.send("Network.enable")
    limits = {"downloadThroughput": BYTES_A_SECOND, "uploadThroughput": BYTES_A_SECOND, "latency": ANSWERS_AFTER_MS}
    line.send("Network.emulateNetworkConditions", {"offline": False, **limits})
    came = []
    line.on("Network.loadingFinished", lambda told: came.append(told["encodedDataLength"]))
    page.goto(address, wait_until="commit")
    page.locator("html[data-ready=yes]").wait_for(state="attached", timeout=120_000)
    page.wait_for_timeout(200)
    found: dict[str, float] = page.evaluate("window.seen")
    context.close()
    return {what: moment / 1000 for what, moment in found.items()} | {"bytes": sum(came)}

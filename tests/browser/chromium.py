"""Drives Debian's Chromium over the DevTools protocol: one headless browser, one page at a time, no network."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import time
import urllib.request
from pathlib import Path
from typing import Any

import websocket

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--force-color-profile=srgb",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    "--remote-debugging-port=0",
    "--remote-allow-origins=*",
)
PATIENCE_S = 60


def chromium_path() -> str:
    """Where Chromium is; without one the browser tests fail, since nothing else shows that the page works."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        raise AssertionError("Chromium is not installed: install it (Debian: apt-get install chromium) and run again.")
    return found


class Browser:
    """A headless Chromium that belongs to this test run."""

    def __init__(self, profile: Path) -> None:
        self.process = subprocess.Popen(
            [chromium_path(), *FLAGS, f"--user-data-dir={profile}", "about:blank"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        port_file = profile / "DevToolsActivePort"
        end = time.monotonic() + PATIENCE_S
        while not (port_file.exists() and port_file.read_text().count("\n")):
            if time.monotonic() > end or self.process.poll() is not None:
                self.close()
                raise AssertionError("Chromium did not start; try `chromium --headless --no-sandbox about:blank`.")
            time.sleep(0.05)
        self.port = port_file.read_text().splitlines()[0]

    def open(self, page: Path, **look: Any) -> Tab:
        """A new tab that shows this file."""
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}/json/new?about:blank", method="PUT")
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            target = json.load(answer)
        return Tab(target["webSocketDebuggerUrl"], page, **look)

    def close(self) -> None:
        """End the browser that this object started."""
        self.process.terminate()
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(timeout=10)


class Tab:
    """One page: what it asked for, what it complained about, and what it shows."""

    def __init__(
        self,
        address: str,
        page: Path,
        *,
        width: int = 1280,
        height: int = 900,
        dark: bool = False,
        scripts: bool = True,
    ) -> None:
        self.socket = websocket.create_connection(address, timeout=PATIENCE_S)
        self.sent = 0
        self.requests: list[str] = []
        self.complaints: list[str] = []
        for domain in ("Page", "Runtime", "Network", "Log", "Audits"):
            self.call(f"{domain}.enable")
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self.call("Emulation.setScriptExecutionDisabled", value=not scripts)
        self.call("Page.navigate", url=page.resolve().as_uri())
        if scripts:
            self.wait_for("document.documentElement?.dataset.drawn !== undefined")
        else:
            time.sleep(0.5)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Send one command and return its result; events that arrive meanwhile are kept."""
        self.sent += 1
        number = self.sent
        self.socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            message = json.loads(self.socket.recv())
            if message.get("id") == number:
                if "error" in message:
                    raise AssertionError(f"{method}: {message['error']}")
                return dict(message["result"])
            self._note(message)

    def _note(self, message: dict[str, Any]) -> None:
        method, params = message.get("method"), message.get("params", {})
        if method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])
        elif method == "Runtime.exceptionThrown":
            self.complaints.append(json.dumps(params["exceptionDetails"])[:2000])
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert"):
            self.complaints.append(json.dumps(params["args"])[:2000])
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.complaints.append(json.dumps(params["entry"])[:2000])
        elif method == "Audits.issueAdded":
            self.complaints.append(json.dumps(params["issue"])[:2000])
        elif method == "Page.javascriptDialogOpening":
            self.complaints.append(f"dialog: {params['message']}")
            self.socket.send(
                json.dumps({"id": 0, "method": "Page.handleJavaScriptDialog", "params": {"accept": False}})
            )

    def run(self, expression: str) -> Any:
        """The value of a JavaScript expression in the page; a promise is awaited."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise AssertionError(f"{expression}: {answer['exceptionDetails']}")
        return answer["result"].get("value")

    def wait_for(self, expression: str) -> None:
        """Wait until the expression is true."""
        end = time.monotonic() + PATIENCE_S
        while not self.run(f"Boolean({expression})"):
            if time.monotonic() > end:
                raise AssertionError(f"waited in vain for {expression}; complaints: {self.complaints}")
            time.sleep(0.05)

    def settle(self) -> None:
        """Let the page finish what a click or a drag began."""
        self.run("new Promise(done => requestAnimationFrame(() => setTimeout(done, 150)))")

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Press, move and let go of the mouse."""
        steps = [(start[0] + (end[0] - start[0]) * k / 8, start[1] + (end[1] - start[1]) * k / 8) for k in range(9)]
        self.mouse("mouseMoved", *start)
        self.mouse("mousePressed", *start, button="left", clickCount=1, buttons=1)
        for x, y in steps:
            self.mouse("mouseMoved", x, y, button="left", buttons=1)
        self.mouse("mouseReleased", *end, button="left", clickCount=1)
        self.settle()

    def mouse(self, kind: str, x: float, y: float, **more: Any) -> None:
        """One mouse event."""
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)

    def picture(self, path: Path, *, whole: bool = True) -> None:
        """Save what is shown as PNG."""
        clip = self.call("Page.getLayoutMetrics")["cssContentSize"] | {"scale": 1} if whole else None
        more = {"clip": clip, "captureBeyondViewport": True} if clip else {}
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot", format="png", **more)["data"]))

    def pdf(self) -> bytes:
        """The page as it prints on A4."""
        answer = self.call("Page.printToPDF", paperWidth=8.27, paperHeight=11.69, printBackground=False)
        return base64.b64decode(answer["data"])

    def close(self) -> None:
        """Close the tab."""
        self.call("Page.close")
        self.socket.close()

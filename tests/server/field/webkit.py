"""WebKitGTK as a phone, through its WebDriver: the engine of the other half of all phones.

It is not iOS. A press comes as a mouse's, not as a finger's; a position is never answered; and
there is no way to take the network from the browser alone, so the line to the server is cut.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx

from tests.server.field.walker import Walker

DRIVER = shutil.which("WebKitWebDriver")
XVFB = shutil.which("Xvfb")
BROWSER = Path(__file__).with_name("webkit_browser.py")
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The name of an element in answers (W3C WebDriver, 12.2)."""
MARK = "BOXROUND_PHONE"


def missing() -> str:
    """What this machine lacks for this engine; empty: nothing."""
    if DRIVER is None or XVFB is None:
        return "no WebKitWebDriver or no Xvfb (Debian: webkit2gtk-driver, xvfb)"
    asked = "import gi; gi.require_version('WebKit2', '4.1')"
    known = subprocess.run(["/usr/bin/python3", "-c", asked], capture_output=True, check=False)
    return "" if known.returncode == 0 else "no gir1.2-webkit2-4.1 for Debian's python3"


class WebKit(Walker):
    """WebKitGTK on a folder of its own, under a display that nobody sees."""

    def __init__(self, folder: Path, address: str) -> None:
        self._folder = folder
        self.address = address
        read, write = os.pipe()
        self._display = subprocess.Popen(
            [
                str(XVFB),
                "-displayfd",
                str(write),
                "-screen",
                "0",
                "800x1000x24",
                "-nolisten",
                "tcp",
            ],
            pass_fds=(write,),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(write)
        with os.fdopen(read) as pipe:
            self._screen = f":{pipe.readline().strip()}"
        self.open()

    def open(self) -> None:
        with socket.socket() as tried:
            tried.bind(("127.0.0.1", 0))
            port = tried.getsockname()[1]
        environment = os.environ | {MARK: str(self._folder), "DISPLAY": self._screen}
        self._driver = subprocess.Popen(
            [str(DRIVER), f"--port={port}"],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self._client = httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120)
        options = {"binary": str(BROWSER), "args": [str(self._folder)]}
        asked = {
            "browserName": "boxround-phone",
            "acceptInsecureCerts": True,
            "webkitgtk:browserOptions": options,
        }
        body = {"capabilities": {"alwaysMatch": asked}}
        until = time.monotonic() + 60
        while True:
            try:
                answer = self._client.post("/session", json=body)
                break
            except httpx.ConnectError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.05)
        self._session = f"/session/{self._value(answer)['sessionId']}"
        self.go(self.address)
        self.wait("document.querySelector('.count')")

    @staticmethod
    def _value(answer: httpx.Response) -> Any:
        value = answer.json()["value"]
        if answer.status_code != 200:
            raise RuntimeError(f"WebKitWebDriver: {value}")
        return value

    def _post(self, what: str, **body: Any) -> Any:
        return self._value(self._client.post(f"{self._session}/{what}", json=body))

    def go(self, address: str) -> None:
        self._post("url", url=address)

    def see(self, expression: str) -> Any:
        return self._post("execute/sync", script=f"return ({expression})", args=[])

    def press(self, xpath: str) -> None:
        """Press as one who first scrolls it to the middle: the driver presses what is covered."""
        found = self._post("element", using="xpath", value=xpath)
        script = "arguments[0].scrollIntoView({ block: 'center' })"
        self._post("execute/sync", script=script, args=[found])
        self._post(f"element/{found[ELEMENT]}/click")

    def close_tab(self) -> None:
        opened = self._post("window/new", type="tab")["handle"]
        self._value(self._client.delete(f"{self._session}/window"))
        self._post("window", handle=opened)
        self.go(self.address)
        self.wait("document.querySelector('.count')")

    def kill(self) -> None:
        mark = f"{MARK}={self._folder}".encode()
        for entry in Path("/proc").iterdir():
            with suppress(OSError, ValueError):
                if mark in (entry / "environ").read_bytes().split(b"\0"):
                    os.kill(int(entry.name), signal.SIGKILL)
        self._driver.wait()
        self._client.close()

    def end(self) -> None:
        self.kill()
        self._display.kill()
        self._display.wait()

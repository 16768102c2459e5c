"""The first start on a machine: it says what it is doing, and pages wait by themselves."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient

from server.command import main
from server.serving.getting_ready import AGAIN_S, GettingReady


def test_a_page_says_how_far_it_is_and_comes_again_by_itself() -> None:
    app = GettingReady()
    app.lines.append("reading visits: 3.0 s")
    client = TestClient(app)
    page = client.get("/boxes/M05", headers={"Accept": "text/html"})
    assert page.status_code == 503
    assert f'http-equiv="refresh" content="{AGAIN_S}"' in page.text
    assert "reading visits: 3.0 s" in page.text
    answer = client.post("/api/visits", json={})
    assert answer.status_code == 503
    assert answer.json()["detail"].startswith("The server is getting ready")
    assert answer.headers["retry-after"] == str(AGAIN_S)


MEANWHILE = """
from server.serving.command import _HOW, _listening
from server.serving.getting_ready import prepare_meanwhile_answering
listening = _listening("127.0.0.1", 0)
print(listening.getsockname()[1], flush=True)
prepare_meanwhile_answering(listening, _HOW)
print("prepared", flush=True)
listening.setblocking(True)
with listening, listening.accept()[0]:
    print("still listening", flush=True)
"""


def test_while_a_process_prepares_pages_are_answered_and_the_socket_outlives_it() -> None:
    process = subprocess.Popen([sys.executable, "-c", MEANWHILE], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    address = f"http://127.0.0.1:{process.stdout.readline().strip()}/"
    meanwhile = httpx.get(address, headers={"Accept": "text/html"}, timeout=60)
    assert (meanwhile.status_code, "Getting ready" in meanwhile.text) == (503, True)
    assert "frame-ancestors" in meanwhile.headers["content-security-policy"]
    while "prepared" not in (line := process.stdout.readline()):
        assert line
    with pytest.raises(httpx.HTTPError):
        httpx.get(address, timeout=5)
    assert process.communicate(timeout=60)[0] == "still listening\n"


@pytest.mark.long
def test_the_first_box_card_comes_within_two_seconds_of_serving(tmp_path: Path) -> None:
    """With nothing compiled before: a minute or two of compiling, then at once."""
    surroundings = {**os.environ, "XDG_CACHE_HOME": str(tmp_path)}
    words = [sys.executable, "-m", "server.command", "demo", str(tmp_path / "demo.gpkg")]
    process = subprocess.Popen(
        [*words, "--port", "0"], stdout=subprocess.PIPE, text=True, env=surroundings
    )
    assert process.stdout is not None
    try:
        assert "Building the invented Alderbeck Reserve" in process.stdout.readline()
        assert "Getting ready; http://" in process.stdout.readline()
        while "Serving" not in (line := process.stdout.readline()):
            assert line
        assert "as known on 2026-06-03" in line
        begun = time.monotonic()
        found = re.search(r"http://[\d.:]+", line)
        assert found is not None
        assert httpx.get(f"{found[0]}/boxes/M05/card", timeout=60).status_code == 200
        assert time.monotonic() - begun < 2.0
    finally:
        process.terminate()
        process.communicate(timeout=60)


def test_what_is_prepared_is_reported(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["prepare"]) == 0
    assert capsys.readouterr().out == "Prepared.\n"


def test_without_a_command_and_a_terminal_the_help_comes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main([])
    assert "boxround [-h]" in capsys.readouterr().out

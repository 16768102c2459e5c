"""A server of one's own: files that systemd and Caddy take, and https as phones meet it."""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from layers.errors import BadValue
from server.command import main
from server.setup.files import PLACES, Server
from tests.conftest import CHROMIUM
from tests.server.conftest import Process

NAME = "boxround.test"


def needed(program: str) -> str:
    """A program of the system; a machine of ours must have it, another may do without."""
    found = shutil.which(program)
    if found is None and os.environ.get("CI"):
        raise FileNotFoundError(f"Expected {program}")
    return found or pytest.skip(f"no {program} on this machine")


@pytest.fixture
def server(tmp_path: Path) -> Server:
    return Server(
        trail=tmp_path / "mill trail.gpkg",
        domain=NAME,
        local=True,
        port=8000,
        program=Path(shutil.which("true") or "/bin/true"),
        user="root",
        backups=tmp_path / "backups",
    )


def test_systemd_takes_the_units(server: Server, tmp_path: Path) -> None:
    folder = tmp_path / "units"
    folder.mkdir()
    for name, text in server.files().items():
        (folder / name).write_text(text, encoding="utf-8")
    units = [str(folder / name) for name in PLACES if name != "Caddyfile"]
    done = subprocess.run(
        [needed("systemd-analyze"), "verify", "--man=no", *units],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert [line for line in done.stderr.splitlines() if "boxround" in line] == []
    assert f'serve "{server.trail}" --port 8000 --public-url https://{NAME}' in (
        folder / "boxround.service"
    ).read_text(encoding="utf-8")


@pytest.mark.parametrize("local", [True, False])
def test_caddy_takes_its_file(server: Server, tmp_path: Path, local: bool) -> None:
    path = tmp_path / "Caddyfile"
    path.write_text(replace(server, local=local).files()["Caddyfile"], encoding="utf-8")
    caddy = needed("caddy")
    words = [caddy, "adapt", "--config", str(path), "--adapter", "caddyfile"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert ("internal" in done.stdout) == local
    assert "encode" not in done.stdout
    formatted = subprocess.run(
        [caddy, "fmt", str(path)], capture_output=True, text=True, check=False
    )
    assert formatted.stdout == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("domain", ["Trail", "trail", "a b.org", "x.org {", "https://x.org"])
def test_a_domain_that_is_none_is_refused(server: Server, domain: str) -> None:
    with pytest.raises(BadValue, match="a host name in lower case"):
        replace(server, domain=domain)


def test_the_command_writes_files_explains_them_and_checks(
    trail_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = ["setup", "server", str(trail_path), "--domain", "boxround.invalid", "-o", str(out)]
    assert main(words) == 0
    message = capsys.readouterr().out
    assert sorted(path.name for path in out.iterdir()) == sorted(PLACES)
    for step in ("apt-get install caddy", "systemctl enable --now", "boxround invite", "--check"):
        assert step in message
    assert main(words) == 0
    (out / "Caddyfile").write_text("mine", encoding="utf-8")
    assert main(words) == 2
    assert (out / "Caddyfile").read_text(encoding="utf-8") == "mine"
    capsys.readouterr()
    assert main([*words, "--check"]) == 1
    checked = capsys.readouterr().out
    assert re.search(r"missing +keeper +boxround invite", checked)
    assert re.search(r"missing +https +https://boxround.invalid does not answer", checked)


def free_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])


@pytest.fixture
def behind_caddy(
    server: Server, trail_path: Path, tmp_path: Path, start: Callable[..., Process]
) -> Iterator[tuple[int, Path]]:
    """The demo behind Caddy with the file that setup writes: its port, and the root to trust."""
    caddy = needed("caddy")
    assert main(["invite", str(trail_path), "--name", "Wren", "--role", "keeper"]) == 0
    served = start(trail_path, "--on", "2026-06-03", "--public-url", f"https://{NAME}")
    port = int(served.address.rpartition(":")[2])
    https = free_port()
    # Ports of its own and no changes to this machine's trust; the rest is as setup writes it.
    options = (
        f"{{\n\thttps_port {https}\n\thttp_port {free_port()}\n\tadmin off\n"
        f"\tskip_install_trust\n\tstorage file_system {tmp_path / 'caddy'}\n}}\n"
    )
    path = tmp_path / "Caddyfile"
    path.write_text(options + replace(server, port=port).files()["Caddyfile"], encoding="utf-8")
    process = subprocess.Popen(
        [caddy, "run", "--config", str(path), "--adapter", "caddyfile"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    root = tmp_path / "caddy" / "pki" / "authorities" / "local" / "root.crt"
    try:
        until = time.monotonic() + 60
        while not root.exists() and time.monotonic() < until:
            time.sleep(0.1)
        yield https, root
    finally:
        process.terminate()
        process.wait(timeout=30)


@pytest.mark.slow
def test_a_phone_that_trusts_the_root_signs_in_keeps_its_page_and_is_shut_out_when_revoked(
    behind_caddy: tuple[int, Path],
    trail_path: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    browser: Browser,
) -> None:
    port, root = behind_caddy
    certutil = needed("certutil")
    store = tmp_path / "home" / ".pki" / "nssdb"
    store.mkdir(parents=True)
    for words in (["-N", "--empty-password"], ["-A", "-t", "C,,", "-n", "Caddy", "-i", str(root)]):
        subprocess.run([certutil, "-d", f"sql:{store}", *words], check=True)
    words = ["invite", str(trail_path), "--name", "Robin", "--role", "walker"]
    assert main([*words, "--public-url", f"https://{NAME}"]) == 0
    link = re.search(rf"https://{NAME}/sign-in#\S+", capsys.readouterr().out)
    assert link is not None
    context = browser.browser_type.launch_persistent_context(
        str(tmp_path / "profile"),
        executable_path=CHROMIUM,
        args=[
            "--no-sandbox",
            "--disable-background-networking",
            f"--host-resolver-rules=MAP {NAME}:443 127.0.0.1:{port}",
        ],
        env={**os.environ, "HOME": str(tmp_path / "home")},
        geolocation={"latitude": 42.6, "longitude": -77.9},
        permissions=["geolocation"],
    )
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.goto(link[0])
    page.wait_for_selector("[data-code][hidden]", state="attached")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_selector(".leaflet-container")
    (cookie,) = context.cookies()
    assert cookie["secure"]
    assert cookie["name"].startswith("__Host-")
    assert page.evaluate("performance.getEntriesByType('navigation')[0].nextHopProtocol") in (
        "h2",
        "h3",
    )
    place = page.evaluate(
        "new Promise((yes, no) => navigator.geolocation.getCurrentPosition("
        "(found) => yes(found.coords.latitude), (error) => no(error.message)))"
    )
    assert place == pytest.approx(42.6)
    page.goto(f"https://{NAME}/field")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    heading = page.locator("h1").first.inner_text()
    context.set_offline(True)
    page.reload()
    assert page.locator("h1").first.inner_text() == heading
    context.set_offline(False)
    assert main(["revoke", str(trail_path), "--name", "Robin"]) == 0
    seen = page.goto(f"https://{NAME}/list")
    assert seen is not None
    assert seen.status == 401
    context.close()


@pytest.fixture
def region(server: Server, few_boxes: Path, tmp_path: Path) -> Server:
    """Three trails shared among two processes, and one more on another machine."""
    folder = tmp_path / "region"
    folder.mkdir()
    for name in ("alder", "birch", "cedar", "dogwood"):
        shutil.copy(few_boxes, folder / f"{name}.gpkg")
    return replace(server, trail=folder, processes=2, elsewhere=("birch=10.0.0.7:8000",))


def test_each_trail_of_a_folder_is_led_to_one_process_of_one_machine(
    region: Server, tmp_path: Path
) -> None:
    path = tmp_path / "Caddyfile"
    path.write_text(region.files()["Caddyfile"], encoding="utf-8")
    caddy = needed("caddy")
    words = [caddy, "adapt", "--config", str(path), "--adapter", "caddyfile"]
    adapted = json.loads(subprocess.run(words, capture_output=True, text=True, check=True).stdout)
    (server,) = adapted["apps"]["http"]["servers"].values()
    routes = server["routes"][0]["handle"][0]["routes"]
    led = [
        (
            route.get("match", [{}])[0].get("path"),
            route["handle"][0]["routes"][0]["handle"][0]["upstreams"][0]["dial"],
        )
        for route in routes
    ]
    # Alder and dogwood stay with the first process, which also has the first page and scripts.
    assert led == [
        (["/t/cedar/*"], "127.0.0.1:8001"),
        (["/t/birch/*"], "10.0.0.7:8000"),
        (None, "127.0.0.1:8000"),
    ]
    formatted = subprocess.run(
        [caddy, "fmt", str(path)], capture_output=True, text=True, check=False
    )
    assert formatted.stdout == path.read_text(encoding="utf-8")
    second = region.files()["boxround-2.service"]
    assert f"serve {region.trail} --port 8001 --public-url {region.origin}" in second
    steps = "\n".join(region.steps(tmp_path))
    assert "enable --now boxround.service boxround-backup.timer boxround-2.service" in steps
    assert f"--public-url {region.origin}/t/alder" in steps


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"elsewhere": ("birch",)}, "NAME=HOST:PORT"),
        ({"processes": 0}, "1 to 64"),
        ({"processes": 2, "trail": Path("one.gpkg")}, "a folder of trails"),
    ],
)
def test_a_way_to_share_that_is_none_is_refused(
    region: Server, wrong: dict[str, Any], message: str
) -> None:
    with pytest.raises(BadValue, match=message):
        replace(region, **wrong)


def test_a_folder_without_trails_is_refused(region: Server, tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    with pytest.raises(BadValue, match="a folder with trail files"):
        replace(region, trail=empty)


def test_a_folder_is_backed_up_whole_but_for_what_is_broken(
    region: Server, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (region.trail / "cedar.gpkg").write_bytes(b"SQLite format 3\0 cut off")
    words = ["backup", str(region.trail), str(tmp_path / "backups"), "--keep", "30"]
    assert main(words) == 1
    made = sorted(path.name.partition(".")[0] for path in (tmp_path / "backups").glob("*.gpkg"))
    assert made == ["alder", "birch", "dogwood"]
    assert "cedar.gpkg has no new backup: " in capsys.readouterr().err

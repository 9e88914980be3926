"""A real JupyterLab and a real Chromium for the workbench."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
TOKEN = "workbench-test"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    missing = not Path(CHROMIUM).exists()
    for item in items:
        if "tests/browser" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)
            # in CI a missing browser is a failure, never a skip
            if missing and not os.environ.get("CI"):
                item.add_marker(pytest.mark.skip(reason="no Chromium on this machine"))


@dataclass
class Lab:
    """A running JupyterLab on a folder of its own."""

    url: str
    folder: Path


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    with running_lab(tmp_path_factory.mktemp("lab")) as running:
        yield running


@contextmanager
def running_lab(place: Path) -> Iterator[Lab]:
    """JupyterLab on copies of the notebooks, until the block ends."""
    folder = place / "work"
    folder.mkdir()
    for notebook in NOTEBOOKS.glob("*.ipynb"):
        shutil.copy(notebook, folder)
    settings = folder.parent / "jupyter-config" / "labconfig"
    settings.mkdir(parents=True)
    quiet = {"@jupyterlab/apputils-extension:notification": {"fetchNews": "false"}}
    (settings / "default_setting_overrides.json").write_text(json.dumps(quiet))
    port = _free_port()
    log = (folder.parent / "lab.log").open("wb")
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}",
        "--allow-root", f"--IdentityProvider.token={TOKEN}", f"--ServerApp.root_dir={folder}",
        "--LabApp.expose_app_in_browser=True",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    ]  # fmt: skip
    environment = {**os.environ, "JUPYTER_CONFIG_DIR": str(folder.parent / "jupyter-config")}
    server = subprocess.Popen(command, stdout=log, stderr=subprocess.STDOUT, env=environment, start_new_session=True)
    url = f"http://127.0.0.1:{port}"
    try:
        end = time.monotonic() + 90
        while True:
            try:
                with urllib.request.urlopen(f"{url}/api/status?token={TOKEN}", timeout=5):
                    break
            except OSError:
                if server.poll() is not None or time.monotonic() > end:
                    text = (folder.parent / "lab.log").read_text(errors="replace")
                    pytest.fail(f"JupyterLab did not start:\n{text[-3000:]}")
                time.sleep(0.2)
        yield Lab(url, folder)
    finally:
        server.terminate()
        try:
            server.wait(timeout=20)
        except subprocess.TimeoutExpired:
            server.kill()
        log.close()


@pytest.fixture(scope="session")
def browser():  # type: ignore[no-untyped-def]
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield chromium
        chromium.close()


@dataclass
class Bench:
    """A notebook open in the browser, with what its console said."""

    page: object
    complaints: list[str] = field(default_factory=list)


def open_notebook(  # type: ignore[no-untyped-def]
    browser, lab: Lab, name: str, *, theme: str = "light", ready: str = ".lw[data-seq]"
):
    """Open a notebook in JupyterLab at 1366 x 768, run all cells, wait until it is *ready*."""
    context = browser.new_context(viewport={"width": 1366, "height": 768}, color_scheme=theme)
    page = context.new_page()
    bench = Bench(page)
    page.on("pageerror", lambda error: bench.complaints.append(str(error)))
    page.on("console", lambda message: bench.complaints.append(message.text) if message.type == "error" else None)
    page.goto(f"{lab.url}/lab/tree/{name}.ipynb?reset&token={TOKEN}")
    page.wait_for_function("window.jupyterapp !== undefined", timeout=90_000)
    page.locator(".jp-Notebook").wait_for(timeout=90_000)
    page.wait_for_function(
        """() => {
            const widget = window.jupyterapp.shell.currentWidget;
            const session = widget && widget.sessionContext;
            return session && session.isReady && session.session
                && session.session.kernel && session.session.kernel.status === "idle";
        }""",
        timeout=90_000,
    )
    if theme == "dark":
        page.evaluate("window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'})")
    page.evaluate("window.jupyterapp.commands.execute('runmenu:run-all')")
    try:
        page.locator(ready).first.wait_for(timeout=120_000)
    except Exception:
        said = page.locator(".jp-OutputArea-output").all_inner_texts()
        pytest.fail("the workbench did not appear; outputs: " + " | ".join(said)[-3000:])
    return bench


@pytest.fixture(scope="module")
def workbench(browser, lab):  # type: ignore[no-untyped-def]
    bench = open_notebook(browser, lab, "workbench")
    yield bench
    bench.page.context.close()

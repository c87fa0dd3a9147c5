"""A real headless Chromium for the tests of pages, without a network; skipped, with the reason, where there is none."""

import base64
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

AXE = "axe-core@4.14.1"
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def chromium() -> Iterator["object"]:
    """A selenium driver; skips the test where Chromium or its driver is not installed."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    driver = shutil.which("chromedriver")
    if not browser or not driver:
        pytest.skip("chromium and chromedriver are not installed")
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        options = Options()
        options.binary_location = browser
        for flag in (*FLAGS, f"--user-data-dir={profile}", "--window-size=1440,900"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        opened = webdriver.Chrome(options=options, service=Service(driver))
        try:
            opened.execute_cdp_cmd("Network.enable", {})
            nothing = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
            opened.execute_cdp_cmd("Network.emulateNetworkConditions", nothing)
            yield opened
        finally:
            opened.quit()


def sized(driver, width: int, height: int = 900) -> None:
    values = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", values)


def picture(driver, height: int | None = None) -> bytes:
    """The page as PNG, all of it or the top."""
    values: dict = {"format": "png", "captureBeyondViewport": True}
    if height is not None:
        width = driver.execute_script("return innerWidth")
        values["clip"] = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
    return base64.b64decode(driver.execute_cdp_cmd("Page.captureScreenshot", values)["data"])


def axe() -> str:
    """axe-core's script, from the npm registry, kept in the temporary folder; skips where it cannot be had."""
    kept = Path(tempfile.gettempdir()) / f"harp-survey-{AXE}.js"
    if kept.exists():
        return kept.read_text("utf-8")
    if not (npm := shutil.which("npm")):
        pytest.skip("npm is not installed, so axe-core cannot be had")
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run([npm, "pack", "--silent", AXE], cwd=folder, capture_output=True, text=True, timeout=60)
        if done.returncode:
            pytest.skip(f"axe-core cannot be had from the npm registry: {done.stderr.strip()[-200:]}")
        with tarfile.open(next(Path(folder).glob("*.tgz"))) as packed:
            script = packed.extractfile("package/axe.min.js").read().decode("utf-8")
    kept.write_text(script, "utf-8")
    return script


def violations(driver) -> list[str]:
    """What axe-core finds against WCAG 2.0 to 2.2, A and AA, and its best practices, one line a rule."""
    driver.execute_script(axe())
    found = driver.execute_async_script("axe.run().then((r) => arguments[0](r.violations))")
    return [f"{one['id']}: {one['help']}: {one['nodes'][0]['html'][:200]}" for one in found]

"""Headless Chromium for tests that walk a task as a person does."""

from __future__ import annotations

import os
import shutil

import pytest

# Playwright's own loop runs in this thread; the tests' queries beside it are still one at a time.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
WIDTHS = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1280, "height": 900}}


@pytest.fixture(scope="session")
def chromium():
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("Chromium is missing; browser tests must run here. Install Debian's chromium.")
        pytest.skip("Chromium is missing, so nothing was tried in a browser")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium, live_server):
    """Open pages of the site: ``open_page(path, size="phone", javascript=True)``, in light unless said otherwise."""
    contexts = []

    def open_at(path: str = "/", *, size: str = "desk", javascript: bool = True, context=None, **seen: str):
        if context is None:
            context = chromium.new_context(
                viewport=WIDTHS[size], java_script_enabled=javascript, base_url=live_server.url, **seen
            )
            contexts.append(context)
        page = context.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda line: faults.append(line.text) if _is_fault(line) else None)
        page.faults = faults
        page.goto(path)
        return page

    yield open_at
    for context in contexts:
        context.close()


def _is_fault(line) -> bool:
    """Errors in the console, but not the browser's word on a form that was rightly sent back."""
    return line.type == "error" and "status of 422" not in line.text


def log_in(page, username: str = "maker", password: str = "sawdust-demo") -> None:
    """Log in on the login page, as a person would."""
    page.goto("/login/")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Log in").click()


def turn_to_chart(page) -> str:
    """Ask for the first chart's single marks, as a reader would, and read what is drawn then."""
    page.get_by_role("button", name="Read off single marks").first.click()
    drawn = page.locator(".js-plotly-plot").first
    drawn.locator("svg").first.wait_for()
    return drawn.inner_text()


def show_pictures(page) -> None:
    """Wait until every picture of the page is there, those further down as well.

    Raises
    ------
    playwright.sync_api.Error
        If one can't be shown.
    """
    # wait_for_function would poll by eval, which the site's policy for scripts forbids.
    page.evaluate("""() => Promise.all([...document.images].map(image => {
      image.loading = "eager";
      return image.decode();
    }))""")

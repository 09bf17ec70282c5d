"""A Chromium to walk the page with; where there is none, tests skip and say so, save where CI=true."""

import contextlib
import os
import shutil

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")


@contextlib.contextmanager
def chromium():
    """A browser with a fresh profile, for as long as the block lasts."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        reason = "no chromium on this machine: apt-get install chromium"
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(reason)
    from playwright.sync_api import sync_playwright

    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, headless=True, args=arguments)
        try:
            yield browser
        finally:
            browser.close()


@contextlib.contextmanager
def opened(browser, page, route="plan", width=1440, height=900, **how):
    """A tab on a view of the page; whatever goes wrong in its scripts fails the test."""
    context = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True, **how)
    context.set_default_timeout(30_000)
    tab = context.new_page()
    wrong = []
    tab.on("pageerror", lambda fault: wrong.append(str(fault)))
    # an answer that is not as it should be is told by the page itself
    told = "Failed to load resource"
    tab.on("console", lambda line: wrong.append(line.text) if line.type == "error" and told not in line.text else None)
    tab.goto(f"{page.address}/#/{route}")
    tab.wait_for_selector("html[data-ready]")
    try:
        yield tab
        assert not wrong, wrong
    finally:
        context.close()

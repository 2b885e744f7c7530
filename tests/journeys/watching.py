"""Somebody at a browser, and a pair of eyes on every page that they open.

A journey fails on any error or warning of the console, any request that fails, any page wider than the screen, and any
serious or critical finding of axe-core: in the size of the one who sits there, and once for each kind of page in the
other size. A page that was opened and not looked at fails it, too, so that no journey can forget to look.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import ClassVar

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, ConsoleMessage, Locator, Page, Request, Response, expect

SIZES = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1440, "height": 900}}
GRAVE = {"serious", "critical"}
#: What a browser writes to the console about an answer that a step has announced.
ECHO = "Failed to load resource"


class Complaints(AssertionError):
    """What there is to complain about a page."""


def axe_findings(page: Page) -> list[str]:
    """Serious and critical findings of axe-core, each with the first place where it is."""
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [f"{rule['id']}: {rule['nodes'][0]['html'][:160]}" for rule in found if rule["impact"] in GRAVE]


def left_behind(request: Request) -> bool:
    """Tell whether the browser itself broke off what a page had asked for, because the page was left.

    A server that fails, refuses or cannot be reached ends a request with an answer or with another word.
    """
    return request.failure == "net::ERR_ABORTED" and not request.is_navigation_request()


class Person:
    """One browser with one page, and what there is to complain about it."""

    #: Kinds of pages that were looked at in the other size, too, in this run of the tests.
    _turned: ClassVar[set[tuple[str, str]]] = set()

    def __init__(self, context: BrowserContext, size: str, *, script: bool = True) -> None:
        self.size, self.script = size, script
        self.faults: list[str] = []
        self._opened: list[str] = []
        self._looked = 0
        self._announced: set[int] = set()
        self._excused: set[str] = set()
        self.page = context.new_page()
        self._listen(self.page)

    def _listen(self, page: Page) -> None:
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self._complain(f"script: {error}"))
        page.on("requestfailed", self._failed)
        page.on("response", self._answered)
        page.on("domcontentloaded", lambda page: self._opened.append(page.url))

    def _complain(self, words: str) -> None:
        self.faults.append(f"{self.page.url}: {words}")

    def _heard(self, said: ConsoleMessage) -> None:
        if self._announced and said.text.startswith(ECHO):
            return
        if said.type in {"error", "warning"}:
            self._complain(f"console {said.type}: {said.text}")

    def _failed(self, request: Request) -> None:
        if request.failure == "csp" and not self.script:
            return  # the browser's word for a script that it does not fetch because scripts are off
        if request.url not in self._excused and not left_behind(request):
            self._complain(f"request failed: {request.method} {request.url} {request.failure}")

    def _answered(self, response: Response) -> None:
        if response.status in self._announced:
            self._excused.add(response.url)
        elif response.status >= 400:
            self._complain(f"answer {response.status}: {response.request.method} {response.url}")

    @contextmanager
    def expecting(self, *statuses: int) -> Iterator[None]:
        """Announce answers that the steps inside are meant to get."""
        self._announced = set(statuses)
        yield
        self._announced = set()

    def go(self, address: str) -> Page:
        """Type an address."""
        self.page.goto(address)
        return self.look()

    def follow(self, target: Locator, key: str = "") -> Page:
        """Click, or press a key on, what leads to another page; look at it when it is there."""
        with self.page.expect_event("domcontentloaded"):
            if key:
                target.press(key)
            else:
                target.click()
        return self.look()

    def look(self) -> Page:
        """Look at the page that is open now, as large as it is and in the other size."""
        self.page.wait_for_load_state("load")
        self._missed(self._opened[self._looked : -1])
        self._looked = len(self._opened)
        kind = (re.sub(r"\d+", "#", self.page.url.partition("?")[0]), self.size, self.script)
        if kind not in self._turned:  # once for each: what differs with the size is the frame
            self._turned.add(kind)
            self._look_at(next(size for size in SIZES if size != self.size))
        self._look_at(self.size)
        if self.faults:
            raise Complaints("\n".join(self.faults))
        return self.page

    def _look_at(self, size: str) -> None:
        self.page.set_viewport_size(SIZES[size])
        # Asked until it fits: a picture needs a moment to follow the window.
        fits = f"{self.page.url} is wider than a {size}"
        expect(self.page.locator("html"), fits).to_have_js_property("scrollWidth", SIZES[size]["width"])
        if self.script:  # without it axe-core cannot run either; the same pages are looked at with script
            self.faults += [f"{self.page.url} on a {size}: {words}" for words in axe_findings(self.page)]

    def _missed(self, addresses: list[str]) -> None:
        self.faults += [f"{address}: opened, and nobody looked" for address in addresses]

    def leave(self) -> list[str]:
        """Close the browser. Returns: everything there is to complain about."""
        self._missed(self._opened[self._looked :])
        self._looked = len(self._opened)
        self.page.context.close()
        return self.faults

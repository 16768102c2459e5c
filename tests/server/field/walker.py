"""What a walker does on the field page, in whichever browser; each engine says how it presses."""

from __future__ import annotations

import json
import time
from abc import ABC, abstractmethod
from typing import Any


class Walker(ABC):
    """A browser with a storage of its own, open at the field page; `taps` counts the presses."""

    address: str
    taps: int = 0

    @abstractmethod
    def see(self, expression: str) -> Any:
        """The value of a JavaScript expression in the page."""

    @abstractmethod
    def press(self, xpath: str) -> None:
        """Press the first element that is found, as a finger does."""

    @abstractmethod
    def open(self) -> None:
        """Start the browser, and the page in it."""

    @abstractmethod
    def kill(self) -> None:
        """Every process of this browser ends at once, as when the battery dies."""

    @abstractmethod
    def close_tab(self) -> None:
        """The tab is closed without asking the page, and opened again."""

    @abstractmethod
    def go(self, address: str) -> None:
        """Load an address."""

    def wait(self, expression: str, *, seconds: float = 60) -> Any:
        """The first value of an expression that is true."""
        until = time.monotonic() + seconds
        while not (value := self.see(expression)):
            assert time.monotonic() < until, expression
            time.sleep(0.05)
        return value

    def tap(self, name: str) -> None:
        self.taps += 1
        self.press(f"//button[normalize-space(.)='{name}']")

    def number(self, column: str, count: int) -> None:
        """Choose a count from the numbers: two taps."""
        self.taps += 2
        self.press(f"//*[@data-of='{column}']//button[contains(@class,'number')]")
        self.press(f"//*[@class='pad']//button[normalize-space(.)='{count}']")

    def age(self, which: int) -> None:
        """Choose the age of the young by its picture in words."""
        self.taps += 1
        self.press(f"//*[@class='ages']/button[{which}]")

    def offers(self, text: str) -> bool:
        """Whether a button or a heading of that text is shown."""
        words = json.dumps(text)
        return bool(
            self.see(
                "[...document.querySelectorAll('#view button, #view h2')]"
                f".some((one) => one.textContent.trim() === {words})"
            )
        )

    def entered(self) -> str:
        """The counts that are shown, and the buttons that are pressed."""
        what = ".count-first .number, .count-first [aria-pressed=true]"
        return str(
            self.see(
                f"[...document.querySelectorAll('{what}')].map((one) => one.innerText).join(' ')"
            )
        )

    def done(self) -> str:
        """The line above the list: how many boxes are done."""
        self.see("void (location.hash = '#round')")
        return str(self.wait("document.querySelector('.count')?.textContent"))

    def waiting(self) -> int:
        """How many visits are not sent yet, by the number at the top."""
        shown = str(self.see("document.querySelector('#count').textContent"))
        return 0 if shown == "✓" else int(shown.removeprefix("! "))

    def title(self) -> str:
        """The id of the box that is shown; empty in the list."""
        shown = "decodeURIComponent(location.hash.slice(5))"
        found = str(self.see(f"location.hash.startsWith('#box=') ? {shown} : ''"))
        self.wait(f"document.querySelector('{'.foot' if found else '.count'}')")
        return found

    def open_box(self, box: str) -> None:
        self.see(f"void (location.hash = '#box=' + encodeURIComponent({json.dumps(box)}))")
        self.wait(
            "document.querySelector('.foot') && document.querySelector('#title')"
            f".textContent.split(' ')[0] === {json.dumps(box)}"
        )

    def wait_until_kept(self) -> None:
        """Until the page reports that the draft is on the disk."""
        self.wait("document.querySelector('.kept')?.textContent")

    def save(self) -> None:
        """Save, confirm what the page asks about, and wait until it is reported saved."""
        box = self.title()
        self.taps += 1
        self.press("//button[contains(@class,'save')]")
        saved = f"document.querySelector('#toast').textContent.startsWith('Saved {box}:')"
        while (
            self.wait(f"{saved} ? 'saved' : document.querySelector('.odd') ? 'odd' : ''") == "odd"
        ):
            self.taps += 1
            self.press("//*[@class='odd']/button[.='It is right' or .='It was visited twice']")

    def all_sent(self) -> None:
        """Wait until everything on this phone is saved in the trail."""
        self.go(self.address.split("?", maxsplit=1)[0] + "#sent")
        text = "document.querySelector('#view').innerText"
        done = f"{text}.includes('Saved in the trail:') && !{text}.includes('Waiting:')"
        until = time.monotonic() + 120
        while not self.see(done):
            assert time.monotonic() < until, self.see(text)
            if self.offers("Send now"):
                self.see(
                    "[...document.querySelectorAll('#view button')]"
                    ".find((one) => one.textContent === 'Send now')?.click()"
                )
            time.sleep(0.5)
        assert "Needs an answer" not in self.see(text)

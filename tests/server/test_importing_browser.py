"""From a dropped file to visits on the map, by mouse and by keyboard, with interruptions."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from layers.trail.store import Trail
from tests.server.conftest import Process
from tests.server.small_trail import at, make_trail
from tests.trail.importing.corpus import visits as layouts
from tests.trail.importing.corpus.keepers import LANGUAGES
from tests.trail.importing.corpus.stories import BOXES

ENGLISH = LANGUAGES[0]
FILES = [
    layouts.plain(ENGLISH, 100),
    layouts.sheet_a_box(ENGLISH, 102),
    layouts.days_across(ENGLISH, 103),
    layouts.stacked(ENGLISH, 106),
    layouts.approximate(ENGLISH, 116),
]
DROP = """([name, data]) => {
  const bytes = Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0));
  const transfer = new DataTransfer();
  transfer.items.add(new File([bytes], name));
  document.querySelector(".drop").dispatchEvent(
    new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: transfer }));
}"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    places = {box: at(number % 6, number // 6) for number, box in enumerate(BOXES)}
    return make_trail(tmp_path / "small.gpkg", boxes=places)


MOUSE, KEYBOARD = (1280, 800, True), (390, 844, False)
WAYS = [
    pytest.param(*MOUSE, (1, 2), id="mouse"),
    pytest.param(*KEYBOARD, (3, 4), id="keyboard"),
    *(
        pytest.param(*way, (number,), id=f"{name}, {made.layout}", marks=pytest.mark.long)
        for name, way in (("mouse", MOUSE), ("keyboard", KEYBOARD))
        for number, made in enumerate(FILES)
    ),
]


@dataclass
class Walk:
    """A person's way through some of `FILES`."""

    page: Page
    by_mouse: bool
    numbers: Sequence[int]


@pytest.fixture
def walk(
    width: int, height: int, by_mouse: bool, numbers: Sequence[int], browser: Browser
) -> Iterator[Walk]:
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    yield Walk(page, by_mouse, numbers)
    context.close()


def count(path: Path) -> int:
    with Trail.open(path) as trail:
        return len(trail.visit_rows())


def hand_in(page: Page, file: Path, *, by_mouse: bool) -> None:
    if by_mouse:
        data = base64.b64encode(file.read_bytes()).decode()
        with page.expect_navigation():
            page.evaluate(DROP, [file.name, data])
    else:
        page.locator("#file").set_input_files(file)
        page.locator("#file").focus()
        page.keyboard.press("Tab")
        with page.expect_navigation():
            page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text(file.name)


def answer(page: Page, *, by_mouse: bool) -> None:
    """Answer every question with what is called likely, or else the first answer."""
    while page.locator(".question").count():
        for question in page.locator(".question").all():
            likely = question.locator(".choice:has(i)")
            choice = likely.first if likely.count() else question.locator(".choice").first
            if by_mouse:
                choice.click()
            else:
                choice.locator("input").focus()
                page.keyboard.press("Space")
                assert choice.locator("input").is_checked()
        button = page.get_by_role("button", name="Save the answers")
        with page.expect_navigation():
            press(page, button, by_mouse=by_mouse)


def press(page: Page, button: Locator, *, by_mouse: bool) -> None:
    if by_mouse:
        button.click()
    else:
        button.focus()
        page.keyboard.press("Enter")


@pytest.mark.parametrize(("width", "height", "by_mouse", "numbers"), WAYS)
def test_files_of_five_layouts_go_from_the_page_to_the_map(
    path: Path, walk: Walk, start: Callable[..., Process], tmp_path: Path
) -> None:
    page, by_mouse = walk.page, walk.by_mouse
    server = start(path, "--on", "2026-08-20")
    port = server.address.rpartition(":")[2]
    there = 0
    for number in walk.numbers:
        made = FILES[number]
        file = made.write(tmp_path)
        page.goto(f"{server.address}/import")
        hand_in(page, file, by_mouse=by_mouse)
        draft = page.url
        assert not page.evaluate("document.documentElement.scrollWidth > window.innerWidth")
        page.reload()
        if number in (2, 3) or len(walk.numbers) == 1:
            # The power goes, before and after the answers.
            if number % 2:
                answer(page, by_mouse=by_mouse)
            server.kill()
            assert count(path) == there
            server = start(path, "--on", "2026-08-20", "--port", port)
            page.goto(draft)
        answer(page, by_mouse=by_mouse)
        assert count(path) == there, "nothing is added before the button"
        with page.expect_navigation():
            press(page, page.locator("form[action$='/add'] button"), by_mouse=by_mouse)
        expect(page.get_by_role("status")).to_contain_text("The visits are in the trail")
        there += len(made.truth)
        assert count(path) == there
        page.goto(draft)
        expect(page.locator("body")).to_contain_text("No file waits")
        box, day = made.truth[-1]["box"], made.truth[-1]["date"]
        page.goto(f"{server.address}/boxes/{box}")
        expect(page.locator("main")).to_contain_text(f"{day.day} {day:%B}")
        page.goto(f"{server.address}/#box={box}")
        expect(page.locator("#shown-day")).to_contain_text("As of")
        with_visits = {one["box"] for one in made.truth}
        unseen = page.locator("#legend .legend-entry", has_text="not checked").locator(".count")
        expect(unseen).to_have_text(str(len(BOXES) - len(with_visits)))
        # The next layout holds the same visits: the trail is to be as it was.
        page.goto(f"{server.address}/import")
        press(page, page.get_by_role("button", name="Take back").first, by_mouse=by_mouse)
        expect(page.get_by_role("status")).to_contain_text("withdrawn")
        there = count(path)
        assert there == 0
        file.unlink()

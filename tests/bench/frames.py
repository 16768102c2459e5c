"""How smoothly the map pans and zooms: frames a second, and memory, by the number of boxes.

Beside 500 boxes, and a Folium map with one marker a box, in the same run.
"""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Browser, Error, sync_playwright

from tests.bench.clock import heading
from tests.bench.first_card import PATIENCE_S, our_answers, plain_answers, served
from tests.conftest import CHROMIUM

# As a finger does it: moved in every frame, settled only at the end.
PAN = """async frames => {
  const map = MAP, began = performance.now();
  for (let n = 0; n < frames; n++) {
    await new Promise(requestAnimationFrame);
    map._rawPanBy(L.point(n % 40 < 20 ? 6 : -6, n % 20 < 10 ? 4 : -4));
    map.fire("move");
  }
  const took = performance.now() - began;
  map.fire("moveend");
  return frames / (took / 1000);
}"""
ZOOM = """async frames => {
  const map = MAP, middle = map.getCenter(), at = map.getZoom();
  const began = performance.now();
  for (let n = 0; n < frames; n++) {
    await new Promise(requestAnimationFrame);
    map._move(middle, at + (n % 60) / 10);
  }
  const took = performance.now() - began;
  map.setView(middle, at, { animate: false });
  return frames / (took / 1000);
}"""
OURS, LOOPS = "window.boxround.map", "Object.values(window).find((one) => one instanceof L.Map)"
FRAMES = 120


def frames_and_memory(
    browser: Browser, answers: Any, *, map_is: str = OURS
) -> tuple[float, float, float]:
    """Frames a second while it is panned and zoomed, and MB of script, its arrays and the page.

    Without long texts, of which the map has one, its boxes' ids: 8 bytes a box.
    """
    ready = "#legend li" if map_is == OURS else "path.leaflet-interactive"
    with served(answers) as address:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.set_default_timeout(PATIENCE_S * 1000)
        page.goto(f"{address}/map")
        page.wait_for_selector(ready, state="attached")
        panned, zoomed = (
            float(page.evaluate(script.replace("MAP", map_is), FRAMES)) for script in (PAN, ZOOM)
        )
        heap = page.context.new_cdp_session(page)
        heap.send("HeapProfiler.collectGarbage")
        used = heap.send("Runtime.getHeapUsage")
        page.close()
    kinds = ("usedSize", "backingStorageSize", "embedderHeapUsedSize")
    return panned, zoomed, sum(used[kind] for kind in kinds) / 1e6


def main() -> None:
    heading("Frames a second of the map in Chromium (software drawing), 1280 by 800")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-background-networking"],
        )
        base = 0.0
        for n_boxes in (500, 5_000, 100_000):
            panned, zoomed, memory = frames_and_memory(browser, our_answers(n_boxes))
            base = base or memory
            print(
                f"  {n_boxes:>7,} boxes: {panned:4.0f} panned, {zoomed:4.0f} zoomed, "
                f"{memory:5.0f} MB, {memory / base:.1f} times that of 500",
                flush=True,
            )
        for n_boxes in (500, 5_000, 100_000):
            said = f"  one Folium marker a box, {n_boxes:,}:"
            try:
                found = frames_and_memory(browser, plain_answers(n_boxes), map_is=LOOPS)
            except Error:
                print(f"{said} not shown within {PATIENCE_S} s", flush=True)
                continue
            panned, zoomed, memory = found
            print(f"{said} {panned:.0f} panned, {zoomed:.0f} zoomed, {memory:.0f} MB", flush=True)
        browser.close()


if __name__ == "__main__":
    main()

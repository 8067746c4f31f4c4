"""python -m tests.drawings.gallery: keep the pictures of drawings that have none yet, or of all."""

from __future__ import annotations

import argparse
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import ARGUMENTS, chromium_path
from tests.drawings.gallery import KEPT, all_pictures, grey, kept_file
from tests.drawings.gallery.paint import page_of, painted


def main() -> None:
    told = argparse.ArgumentParser(prog="python -m tests.drawings.gallery", description=__doc__)
    told.add_argument("names", nargs="*", help="only drawings whose names begin like this")
    told.add_argument("--all", action="store_true", help="keep all anew, and forget what is drawn no more")
    told.add_argument("--to", type=Path, help="instead, paint pages with words into this folder")
    told.add_argument("--dark", action="store_true")
    told.add_argument("--width", type=int, default=390)
    asked = told.parse_args()
    drawings = {
        name: drawing
        for name, drawing in all_pictures().items()
        if not asked.names or name.startswith(tuple(asked.names))
    }
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=ARGUMENTS)
        page = browser.new_page(
            viewport={"width": asked.width, "height": 800},
            device_scale_factor=2,
            color_scheme="dark" if asked.dark else "light",
        )
        if asked.to:
            asked.to.mkdir(parents=True, exist_ok=True)
            page.set_content(page_of(drawings))
            for name in drawings:
                file = asked.to / f"{name.replace('/', '.')}.png"
                page.locator(f'section[data-name="{name}"]').screenshot(path=file)
        else:
            keep(page, drawings, asked.all and not asked.names)
        browser.close()


def keep(page: Page, drawings: dict, every: bool) -> None:  # type: ignore[type-arg]
    KEPT.mkdir(exist_ok=True)
    if every:
        for file in KEPT.glob("*.png"):
            file.unlink()
    new = {name: drawing for name, drawing in drawings.items() if not kept_file(name).exists()}
    for name, picture in painted(page, new).items():
        grey.write(kept_file(name), picture)
    whole = sum(file.stat().st_size for file in KEPT.glob("*.png"))
    print(f"{len(new)} kept; {len(list(KEPT.glob('*.png')))} pictures, {whole / 1e6:.2f} MB in all")


if __name__ == "__main__":
    main()

"""Every drawing in every state worth seeing.

Each module here holds one topic and offers `pictures()`: names and drawings. tests/browser/test_gallery.py
paints them all and compares with tests/drawings/kept; `python -m tests.drawings.gallery` keeps those that are
new (`--all`: all anew; `--to FOLDER`: as they look on a page, words and all, to be looked at).
"""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

from webapp.drawings.shapes import Drawing

KEPT = Path(__file__).resolve().parents[1] / "kept"


def all_pictures() -> dict[str, Drawing]:
    """Every topic's drawings, named "topic/name"."""
    found: dict[str, Drawing] = {}
    for module in pkgutil.iter_modules(__path__):
        if module.name == "__main__":
            continue
        pictures = getattr(importlib.import_module(f"{__name__}.{module.name}"), "pictures", None)
        for name, drawing in pictures() if pictures else ():
            key = f"{module.name}/{name}"
            assert key not in found, f"two drawings are called {key}"
            found[key] = drawing
    return found


def kept_file(name: str) -> Path:
    """Where a drawing's kept picture is."""
    return KEPT / f"{name.replace('/', '.')}.png"

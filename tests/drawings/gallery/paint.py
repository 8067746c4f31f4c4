"""Drawings as a browser paints them."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from functools import cache
from math import ceil
from pathlib import Path

import numpy as np
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from playwright.sync_api import Page

from tests.drawings.gallery.grey import Grey
from webapp.drawings.shapes import Drawing

TOP = Path(__file__).resolve().parents[3]
STYLES = ("benchside.css", "drawing.css")

# Each drawing alone as an image with the style sheets in it, its words hidden, so that fonts do not matter.
_PAINT = """async ([drawings, before]) => {
  const painted = [];
  for (const [svg, width, height] of drawings) {
    const open = svg.indexOf(">") + 1;
    const whole = svg.slice(0, open).replace("<svg", `<svg width="${width}" height="${height}"`) + before
      + svg.slice(open);
    const image = new Image();
    image.src = URL.createObjectURL(new Blob([whole], {type: "image/svg+xml"}));
    await image.decode();
    const canvas = new OffscreenCanvas(width, height);
    const pen = canvas.getContext("2d", {willReadFrequently: true});
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, width, height);
    pen.drawImage(image, 0, 0);
    URL.revokeObjectURL(image.src);
    const points = pen.getImageData(0, 0, width, height).data;
    let greys = "";
    for (let i = 0; i < points.length; i += 4) {
      const light = 0.3 * points[i] + 0.59 * points[i + 1] + 0.11 * points[i + 2];
      greys += String.fromCharCode(Math.round(light / 17));
    }
    painted.push(btoa(greys));
  }
  return painted;
}"""


@cache
def _templates() -> Environment:
    return Environment(loader=FileSystemLoader(TOP / "templates"), autoescape=True, undefined=StrictUndefined)


def figure(drawing: Drawing) -> str:
    """The figure as it stands on a page."""
    module = _templates().get_template("parts/visit/drawing.html").make_module()
    return str(module.drawing(drawing))  # type: ignore[attr-defined]


def hatches() -> str:
    """What stands once on every page."""
    return _templates().get_template("parts/visit/hatches.html").render()


def styles() -> str:
    return "\n".join((TOP / "static" / name).read_text(encoding="utf-8") for name in STYLES)


def painted(page: Page, drawings: Mapping[str, Drawing]) -> dict[str, Grey]:
    """Every drawing at its own size, without its words."""
    before = f"<style><![CDATA[{styles()}\ntext {{ display: none }}]]></style>"
    before += hatches().strip()
    sizes = {name: (ceil(d.width), ceil(d.height)) for name, d in drawings.items()}
    told = [[_svg(d), *sizes[name]] for name, d in drawings.items()]
    answers = page.evaluate(_PAINT, json.loads(json.dumps([told, before])))
    return {
        name: np.frombuffer(base64.b64decode(answer), dtype=np.uint8).reshape(sizes[name][::-1])
        for name, answer in zip(drawings, answers, strict=True)
    }


def _svg(drawing: Drawing) -> str:
    whole = figure(drawing)
    return whole[whole.index("<svg") : whole.index("</svg>") + 6]


def page_of(drawings: Mapping[str, Drawing]) -> str:
    """A page with all of them, as the house's pages show them."""
    figures = "\n".join(
        f'<section data-name="{name}">{figure(drawing)}</section>' for name, drawing in drawings.items()
    )
    return (
        '<!doctype html><meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<style>{styles()}</style><body>{hatches()}<main><div class="body">{figures}</div></main>'
    )

"""Labels as the printer makes them: the PDF turned into dots, and what stands in it as text."""

from __future__ import annotations

from collections.abc import Callable

import pypdfium2 as pdfium
import pytest
from PIL import Image

Raster = Callable[..., list[Image.Image]]
Text = Callable[[bytes], str]


@pytest.fixture
def raster() -> Raster:
    """`raster(pdf, dpi)`: every page in gray at the printer's own dots per inch."""

    def rasterize(pdf: bytes, dpi: int = 203) -> list[Image.Image]:
        with pdfium.PdfDocument(pdf) as document:
            return [page.render(scale=dpi / 72).to_pil().convert("L").copy() for page in document]

    return rasterize


@pytest.fixture
def text_of() -> Text:
    """`text_of(pdf)`: the text of all pages, lines joined by single spaces."""

    def extract(pdf: bytes) -> str:
        with pdfium.PdfDocument(pdf) as document:
            pages = [page.get_textpage().get_text_range() for page in document]
        return " ".join(" ".join(pages).split())

    return extract

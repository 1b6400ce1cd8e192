"""The page of labels, in the millimetres that are asked for."""

from __future__ import annotations

import re

from helpers.floors import came_in
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench


def test_labels_are_laid_out_in_the_millimetres_that_are_asked_for(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)

    page = visitor.go("/labels?lot=P7&tag=X-1%0AX-2&width=60&height=30.5")

    assert "3 labels" in page.text
    style = re.search(r'href="(/labels\.css[^"]+)"', page.html)
    assert style
    sheet = visitor.client.get(style[1].replace("&amp;", "&"), base_url=HOME)
    assert "grid-auto-rows: 30.5mm" in sheet.text
    assert sheet.mimetype == "text/css"
    assert visitor.go("/labels?lot=P7&width=fish").status == 400
    assert visitor.go("/labels?lot=P7&width=900").status == 400

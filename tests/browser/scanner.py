"""A scanner of codes, which types what it read into whatever is there."""

from __future__ import annotations

from playwright.sync_api import Page

#: Milliseconds between two keys of a scanner, as the page sees them.
APART = 10
#: A key event for each sign, which stands in a field if one has the focus, and Enter at the end.
KEYS = """([read, apart]) => {
  let at = new Event("now").timeStamp;
  for (const key of [...read, "Enter"]) {
    const target = document.activeElement || document.body;
    const told = new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true });
    Object.defineProperty(told, "timeStamp", { value: (at += apart) });
    if (target.dispatchEvent(told) && key.length === 1 && target.matches("input")) {
      document.execCommand("insertText", false, key);
    }
  }
}"""


def scan(page: Page, code: str) -> None:
    """Keys as a scanner types them, each with its time: a busy machine would make a slow typist of it."""
    # a heading stands there before the scripts that hear a scanner have come
    page.wait_for_load_state()
    page.evaluate(KEYS, [code, APART])

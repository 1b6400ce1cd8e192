/* Single keys for hands that lie on the keyboard, and a scanner that types into whatever is there. */
"use strict";

(function singleKeys() {
  const together = 120; /* keys closer than this, in milliseconds, come from a scanner */
  const answers = ".step .outcomes > .outcome, .step .outcomes > .button"; /* numbered by the page's style */
  let typed = "";
  let last = 0;
  let timer = 0;

  function inField(target) {
    return target instanceof Element && target.closest("input, textarea, select");
  }

  function go(id) {
    const field = document.getElementById(id);
    if (!field) return false;
    const folded = field.closest("details");
    if (folded) folded.open = true;
    field.focus();
    if (field.select) field.select();
    return true;
  }

  /* A button is pressed; a fold is opened, and its first field or button has the focus. */
  function press(meant) {
    meant.click();
    const inside = meant.parentElement.matches("details[open]") && meant.parentElement.querySelector("button:enabled, input[type=text]");
    if (inside) inside.focus();
  }

  /* The answer with that number, as the page's style numbers them. */
  function numbered(number) {
    const shown = [...document.querySelectorAll(answers)].filter((one) => one.checkVisibility() && !one.closest("[inert]"));
    return shown[number - 1];
  }

  function alone(key) {
    if (key === "t") go("unit");
    const meant = /^[1-9]$/.test(key) ? numbered(key) : document.querySelector(`[data-key~="${CSS.escape(key)}"]`);
    if (meant) press(meant);
  }

  /* A code of the printed sheet presses what carries it, LINE3 the answer with the number 3. Read twice in a row it is
     no answer to the next line: a page that has just come takes none. */
  const settled = 700; /* milliseconds after which a page takes a code */
  const came = performance.now();
  function coded(read) {
    const code = read.toUpperCase();
    if (!/^LINE([2-6]|GOOD|BAD|NEXT|NONE)$/.test(code)) return false;
    const number = Number(code.slice(-1));
    let meant = number ? numbered(number) : document.querySelector(`[data-code="${code}"]`);
    const open = meant && meant.matches("summary") && meant.closest("details[open]");
    if (open) meant = open.querySelector("button.outcome");
    if (!meant) location.assign("/checkout/codes");
    else if (performance.now() - came > settled) press(meant);
    return true;
  }

  /* A scan leads to the machine; on a form that waits for a tag, it fills that in and saves nothing. */
  function scanned(tag) {
    if (coded(tag)) return;
    const waiting = [...document.querySelectorAll("[data-scan]")];
    const empty = waiting.filter((one) => !one.value);
    const field = empty.find((one) => one.id === "unit") || empty[0] || waiting[0];
    if (!field) {
      location.assign("/scan?tag=" + encodeURIComponent(tag));
      return;
    }
    field.value = tag;
    const folded = field.closest("details");
    if (folded) folded.open = true;
    field.focus();
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  /* A scanner may type into any field of one line: what stood there before comes back. */
  const scanning = 50; /* milliseconds between the keys of a scanner at most; fingers are slower */
  let burst = { field: null, before: "", keys: 0, last: 0 };

  function intoField(event) {
    const field = event.target;
    if (!(field instanceof HTMLInputElement) || field.hasAttribute("data-scan") || field.id === "find-tag") return;
    const quick = field === burst.field && event.timeStamp - burst.last < scanning;
    if (event.key === "Enter") {
      const read = quick && burst.keys > 3 ? field.value.slice(burst.at, burst.at + burst.keys) : "";
      if (read) {
        event.preventDefault();
        event.stopImmediatePropagation();
        field.value = burst.before;
        field.dispatchEvent(new Event("input", { bubbles: true }));
        scanned(read);
      }
      burst.keys = 0;
      return;
    }
    if (event.key.length !== 1) return;
    if (!quick) burst = { field, before: field.value, keys: 0, at: field.selectionStart || 0 };
    burst.keys += 1;
    burst.last = event.timeStamp;
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (inField(event.target)) {
      intoField(event);
      return;
    }
    const quick = event.timeStamp - last < together;
    last = event.timeStamp;
    clearTimeout(timer);
    if (event.key === "Enter") {
      if (quick && typed.length > 2) {
        event.preventDefault();
        scanned(typed);
      }
      typed = "";
      return;
    }
    if (event.key.length !== 1) return;
    if (event.key === "/" && !(quick && typed)) {
      event.preventDefault();
      if (!go("q")) location.assign("/");
      return;
    }
    typed = quick ? typed + event.key : event.key;
    const key = typed;
    timer = setTimeout(() => {
      typed = "";
      if (key.length === 1) alone(key);
    }, together);
  }, true);
})();

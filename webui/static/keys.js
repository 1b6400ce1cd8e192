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

  function alone(key) {
    if (key === "t") go("unit");
    const shown = [...document.querySelectorAll(answers)].filter((one) => one.checkVisibility());
    const meant = document.querySelector(`[data-key="${CSS.escape(key)}"]`);
    if (meant) press(meant);
    if (/^[1-9]$/.test(key) && shown[key - 1]) shown[key - 1].click();
  }

  function scanned(tag) {
    const field = document.getElementById("unit");
    if (!field) return;
    field.value = tag;
    go("unit");
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || inField(event.target)) return;
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
  });
})();

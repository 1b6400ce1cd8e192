/* Search while typing, and quick minutes. Without it, the forms work as forms. */
"use strict";

(function searchWhileTyping() {
  const form = document.getElementById("ask");
  const answer = document.getElementById("answer");
  const status = document.getElementById("status");
  if (!form || !answer || !status) return;
  let timer = 0;
  let asking = new AbortController();
  let shown = fields();

  function fields() {
    return new URLSearchParams(new FormData(form)).toString();
  }

  async function look() {
    const wanted = fields();
    if (wanted === shown) return;
    asking.abort();
    asking = new AbortController();
    try {
      const reply = await fetch("/answer?" + wanted, { signal: asking.signal, credentials: "same-origin" });
      if (!reply.ok) throw new Error(String(reply.status));
      const text = await reply.text();
      if (wanted !== fields()) return;
      answer.innerHTML = text;
      shown = wanted;
      const told = answer.querySelector("[data-status]");
      status.textContent = told ? told.dataset.status : "";
      history.replaceState(null, "", "/?" + wanted);
    } catch (trouble) {
      if (trouble.name !== "AbortError") status.textContent = form.dataset.failed;
    }
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(look, 120);
  });
})();

(function quickMinutes() {
  for (const row of document.querySelectorAll(".chips")) row.hidden = false;
  document.addEventListener("click", (event) => {
    const field = event.target.dataset && document.getElementById(event.target.dataset.fills);
    if (field) field.value = event.target.value;
  });
})();

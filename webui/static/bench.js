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
  let tallest = 0; /* of the safety notes, so that what stands below them stays in its place while typing */

  function fields() {
    return new URLSearchParams(new FormData(form)).toString();
  }

  function hold(done) {
    const notes = answer.querySelector(".safety");
    if (done || !notes) return;
    tallest = Math.max(tallest, notes.offsetHeight);
    notes.style.minHeight = tallest + "px";
  }

  async function look(done) {
    const wanted = fields();
    if (wanted === shown && !done) return true;
    asking.abort();
    asking = new AbortController();
    try {
      const reply = await fetch("/answer?" + wanted + (done ? "&done=1" : ""), { signal: asking.signal, credentials: "same-origin" });
      if (!reply.ok) throw new Error(String(reply.status));
      const text = await reply.text();
      if (wanted !== fields()) return true;
      answer.innerHTML = text;
      hold(done);
      shown = wanted;
      const told = answer.querySelector("[data-status]");
      const said = told ? told.dataset.status : "";
      if (status.textContent !== said) status.textContent = said;
      history.replaceState(null, "", "/?" + wanted);
    } catch (trouble) {
      if (trouble.name === "AbortError") return true;
      status.textContent = form.dataset.failed;
      return false;
    }
    return true;
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(() => look(false), 120);
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    clearTimeout(timer);
    if (matchMedia("(pointer: coarse)").matches) document.activeElement.blur();
    if (!(await look(true))) form.submit();
  });
})();

(function quickMinutes() {
  for (const row of document.querySelectorAll(".chips")) row.hidden = false;
  document.addEventListener("click", (event) => {
    const field = event.target.dataset && document.getElementById(event.target.dataset.fills);
    if (field) field.value = event.target.value;
  });
})();

/* Search while typing, and quick minutes. Without it, the forms work as forms. */
"use strict";

(function searchWhileTyping() {
  const form = document.getElementById("ask");
  const answer = document.getElementById("answer");
  const status = document.getElementById("status");
  if (!form || !answer || !status) return;
  const patience = 700; /* milliseconds without a key before a step goes because half-typed words fit nothing */
  let timer = 0;
  let asking = new AbortController();
  let shown = fields();
  let tallest = {}; /* height of the safety notes and of the step, so that what stands below stays in its place while typing */
  let lowest = 0; /* where the step began when most stood above it: it does not jump up again while typing */

  function fields() {
    return new URLSearchParams(new FormData(form)).toString();
  }

  function hold(done) {
    const board = answer.querySelector(".board");
    if (done || !board) {
      tallest = {};
      lowest = 0;
      return;
    }
    for (const part of answer.querySelectorAll(".safety, .do")) {
      tallest[part.className] = Math.max(tallest[part.className] || 0, part.offsetHeight);
      part.style.minHeight = tallest[part.className] + "px";
    }
    const step = board.querySelector(".do");
    if (!step) return;
    lowest = Math.max(lowest, step.offsetTop);
    board.style.paddingTop = lowest - step.offsetTop + "px";
  }

  async function look(done) {
    const wanted = fields();
    if (wanted === shown && !done) return true;
    asking.abort();
    const mine = asking = new AbortController();
    try {
      const reply = await fetch("/answer?" + wanted + (done ? "&done=1" : ""), { signal: mine.signal, credentials: "same-origin" });
      if (!reply.ok) throw new Error(String(reply.status));
      const text = await reply.text();
      const loses = answer.querySelector(".step") && text.includes('class="board"') && !text.includes('class="step"');
      if (loses && !done) await new Promise((go) => setTimeout(go, patience));
      if (wanted !== fields() || mine !== asking) return true;
      answer.innerHTML = text;
      const machine = answer.querySelector("[data-leads]");
      if (done && machine) {
        location.assign(machine.href);
        return true;
      }
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

/* Checking an entry while it is written, and printing. Without it, the buttons do the same. */
"use strict";

(function checkWhileTyping() {
  const text = document.getElementById("text");
  const checked = document.getElementById("checked");
  if (!text || !checked || !text.dataset.checks) return;
  let timer = 0;
  let asking = new AbortController();
  let saved = text.value;

  async function check() {
    asking.abort();
    asking = new AbortController();
    const wanted = text.value;
    try {
      const reply = await fetch(text.dataset.checks, {
        method: "POST", body: new URLSearchParams(new FormData(text.form)), signal: asking.signal, credentials: "same-origin",
      });
      if (!reply.ok || wanted !== text.value) return;
      const open = [...checked.querySelectorAll("details[open][data-keeps]")].map((one) => one.dataset.keeps);
      checked.innerHTML = await reply.text();
      for (const one of checked.querySelectorAll("details[data-keeps]")) one.open = open.includes(one.dataset.keeps);
    } catch (trouble) {
      if (trouble.name !== "AbortError") console.info("the check did not answer");
    }
  }

  text.form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(check, 400);
  });
  text.form.addEventListener("submit", () => { saved = text.value; });
  addEventListener("beforeunload", (event) => { if (text.value !== saved) event.preventDefault(); });

  checked.addEventListener("click", (event) => {
    const link = event.target.closest("[data-line]");
    if (!link) return;
    event.preventDefault();
    const lines = text.value.split("\n");
    const before = lines.slice(0, Number(link.dataset.line) - 1).join("\n");
    const from = before.length + (before ? 1 : 0);
    text.focus();
    text.setSelectionRange(from, from + (lines[Number(link.dataset.line) - 1] || "").length);
    text.scrollTop = text.scrollHeight * (before.length / Math.max(text.value.length, 1)) - text.clientHeight / 3;
  });
})();

(function guardFields() {
  const form = document.querySelector("form.fields");
  if (!form) return;
  let changed = "typed" in form.dataset;

  /* A cause has its name in every list of causes as soon as it is typed. */
  function named(field) {
    const cause = /^c(\d+)-text$/.exec(field.name);
    if (!cause) return;
    for (const one of form.querySelectorAll(`option[data-unnamed][value="${cause[1]}"]`)) {
      one.textContent = field.value.slice(0, 60) || one.dataset.unnamed;
    }
  }

  form.addEventListener("input", (event) => {
    changed = true;
    named(event.target);
  });
  /* What was typed before this ran, or put back by the browser. */
  addEventListener("pageshow", () => {
    for (const field of form.elements) {
      if (field.defaultValue !== undefined && field.value !== field.defaultValue) changed = true;
      named(field);
    }
  });
  form.addEventListener("submit", () => { changed = false; });
  addEventListener("beforeunload", (event) => { if (changed) event.preventDefault(); });
})();

(function print() {
  for (const button of document.querySelectorAll("[data-prints]")) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      const images = [...document.images];
      for (const image of images) image.loading = "eager";
      await Promise.allSettled(images.map((image) => image.decode()));
      window.print();
    });
  }
})();

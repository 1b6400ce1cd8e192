/* Forms that are sent without leaving the page first, so that a line that is down costs nothing that was tapped. */
"use strict";

(function postsThatKeep() {
  const patience = 15000; /* milliseconds until a form counts as not sent; sent again, it is saved once */

  /* Whether the form is sent by script: a plain one of these pages, whose answer leads on to another. */
  function plain(form) {
    return form.method === "post" && form.enctype === "application/x-www-form-urlencoded";
  }

  function keep(form, tapped) {
    tapped.classList.replace("sending", "tapped");
    const told = document.createElement("p");
    told.className = "poor unsent";
    told.setAttribute("role", "alert");
    told.textContent = document.body.dataset.unsent;
    form.prepend(told);
  }

  /* The browser sends the form itself and shows the page that answers it. */
  function hand(form, tapped) {
    form.dataset.handed = "yes";
    form.requestSubmit(tapped);
  }

  /* An address of the same page with another place in it would only scroll there. */
  function follow(address) {
    const next = new URL(address, location.href);
    const same = next.pathname === location.pathname && next.search === location.search;
    location.assign(next);
    if (same && next.hash) location.reload();
  }

  async function send(form, tapped) {
    const fields = new URLSearchParams(new FormData(form, tapped));
    tapped.classList.add("sending"); /* until the next page is here: over radio that takes a while */
    const sent = { method: "POST", body: fields, credentials: "same-origin", headers: { Prefer: "return=minimal" } };
    try {
      const reply = await fetch(form.action, { ...sent, signal: AbortSignal.timeout(patience) });
      const next = reply.headers.get("Content-Location");
      if (reply.status === 204 && next) follow(next);
      else hand(form, tapped);
    } catch {
      keep(form, tapped);
    }
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const tapped = event.submitter;
    if (event.defaultPrevented || form.dataset.handed || !tapped || !plain(form)) return;
    event.preventDefault();
    if (form.dataset.sending) return;
    form.dataset.sending = "yes";
    for (const old of form.querySelectorAll(".unsent")) old.remove();
    for (const old of form.querySelectorAll(".tapped")) old.classList.remove("tapped");
    await send(form, tapped);
    delete form.dataset.sending;
  });
  /* A page that the browser kept and shows again sends nothing. */
  addEventListener("pageshow", () => {
    for (const one of document.querySelectorAll(".sending")) one.classList.remove("sending");
  });
})();

/* A choice made by pointer is shown at once; by keyboard each arrow is a choice, and the button shows it. */
(function choicesThatShow() {
  let pointed = false;
  document.addEventListener("pointerdown", (event) => { pointed = Boolean(event.target.closest("select[data-sends]")); });
  document.addEventListener("keydown", () => { pointed = false; });
  document.addEventListener("change", (event) => { if (pointed && event.target.matches("select[data-sends]")) event.target.form.requestSubmit(); });
})();

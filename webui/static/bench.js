/* Search while typing, and quick minutes. Without it, the forms work as forms. */
"use strict";

(function searchWhileTyping() {
  const form = document.getElementById("ask");
  const answer = document.getElementById("answer");
  const status = document.getElementById("status");
  const unanswered = document.getElementById("unanswered");
  if (!form || !answer || !status || !unanswered) return;
  const soon = 120; /* milliseconds after a key until the page asks */
  const late = 170; /* milliseconds after a key until an answer to other words is marked as that */
  const settled = 900; /* milliseconds without a key before an answer that was told to be the same is asked for in full */
  const patience = 700; /* milliseconds without a key before a step goes because half-typed words fit nothing */
  let timer = 0;
  let marking = 0;
  let settling = 0;
  let asking = new AbortController();
  let shown = served();
  const most = 12; /* answers that are kept while typing */
  let stands = ""; /* the tag by which the server knows the answer that stands here, but for its words */
  const kept = new Map(); /* the last answers by such tags: what came, and the words that it came for */
  let tallest = {}; /* height of the safety notes and of the step, so that what stands below stays in its place while typing */
  let lowest = 0; /* where the step began when most stood above it: it does not jump up again while typing */

  function fields() {
    return new URLSearchParams(new FormData(form)).toString();
  }

  /* The fields as they came from the server, whose answer stands below them. */
  function served() {
    const came = new URLSearchParams();
    for (const field of form.elements) if (field.name) came.append(field.name, field.defaultValue);
    return came.toString();
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

  /* An answer to other words than the field holds cannot be pressed, and soon it is seen to be old. */
  function judge() {
    clearTimeout(marking);
    answer.inert = fields() !== shown;
    if (answer.inert) marking = setTimeout(() => answer.classList.add("late"), late);
    else answer.classList.remove("late");
    if (!answer.inert) unanswered.hidden = true;
  }

  /* Gives "asked", "refused" by the server, or "unheard" if nothing came back. */
  async function look(done, whole) {
    const wanted = fields();
    if (wanted === shown && !done && !whole) return "asked";
    asking.abort();
    const mine = asking = new AbortController();
    try {
      const had = done || whole ? "" : offered(wanted).join(", ");
      const headers = had ? { Prefer: "return=minimal", "If-None-Match": had } : { Prefer: "return=minimal" };
      const reply = await fetch("/answer?" + wanted + (done ? "&done=1" : ""), { signal: mine.signal, credentials: "same-origin", headers });
      if (!reply.ok && reply.status !== 304) return failed("refused");
      const tag = reply.headers.get("ETag") || "";
      const same = reply.status === 304 ? kept.get(tag) : null;
      const text = same ? same.text : await reply.text();
      const loses = answer.querySelector(".step") && text.includes('class="board"') && !text.includes('class="step"');
      if (loses && !done) await new Promise((go) => setTimeout(go, patience));
      if (wanted !== fields() || mine !== asking) return "asked";
      if (same) {
        put(tag, same, wanted);
        settling = setTimeout(() => look(false, true), settled);
      } else answer.innerHTML = text;
      if (tag) keep(tag, same || { text, to: words(wanted) });
      stands = tag;
      const machine = answer.querySelector("[data-leads]");
      if (done && machine) {
        location.assign(machine.href);
        return "asked";
      }
      hold(done);
      shown = wanted;
      judge();
      const told = answer.querySelector("[data-status]");
      const said = told ? told.dataset.status : "";
      if (status.textContent !== said) status.textContent = said;
      history.replaceState(null, "", "/?" + wanted);
    } catch (trouble) {
      return trouble.name === "AbortError" ? "asked" : failed("unheard");
    }
    return "asked";
  }

  function words(asked) {
    return new URLSearchParams(asked).get("q").trim();
  }

  /* The tags of the answers that the server need not send again. */
  function offered(wanted) {
    return [...kept].filter(([, one]) => carries(one, one.to, wanted)).map(([tag]) => tag);
  }

  /* Whether an answer can be worded anew: a link with a word in quotes only where more was added. */
  function carries(one, before, wanted) {
    return !one.text.includes('class="readas"') || words(wanted).startsWith(before);
  }

  /* The last ones are kept, the one that was longest of no use goes. */
  function keep(tag, one) {
    kept.delete(tag);
    kept.set(tag, one);
    if (kept.size > most) kept.delete(kept.keys().next().value);
  }

  /* An answer that came before, in the words of now; the one that stands here stays as it is. */
  function put(tag, one, wanted) {
    if (tag === stands && carries(one, words(shown), wanted)) return reword(words(shown), words(wanted));
    answer.innerHTML = one.text;
    reword(one.to, words(wanted));
  }

  /* The same answer to other words: its forms and links carry those on. */
  function reword(before, after) {
    for (const field of answer.querySelectorAll('input[name="q"]')) if (field.value === before) field.value = after;
    for (const link of answer.querySelectorAll('a[href*="q="]')) {
      const to = new URL(link.href);
      const said = to.searchParams.get("q");
      if (said === before) to.searchParams.set("q", after);
      else if (link.closest(".readas")) to.searchParams.set("q", said + after.slice(before.length));
      link.href = to.pathname + to.search + to.hash;
    }
  }

  function failed(how) {
    unanswered.hidden = false;
    return how;
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    clearTimeout(settling);
    judge();
    timer = setTimeout(() => look(false), soon);
  });
  addEventListener("online", () => look(false));
  /* What was typed before this ran, or put back by the browser, is asked for now. */
  addEventListener("pageshow", () => { judge(); look(false); });
  /* Escape would empty the field of a search. */
  form.addEventListener("keydown", (event) => { if (event.key === "Escape") event.preventDefault(); });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    clearTimeout(timer);
    clearTimeout(settling);
    const typing = document.activeElement;
    if (matchMedia("(pointer: coarse)").matches) typing.blur();
    const outcome = await look(true);
    if (outcome === "refused") form.submit(); /* the page that comes says why */
    /* With the hands on the keyboard, the next digit answers the step. */
    if (outcome === "asked" && document.body.classList.contains("keyed") && answer.querySelector(".step .outcomes")) typing.blur();
  });
})();

(function quickMinutes() {
  for (const row of document.querySelectorAll(".chips")) row.hidden = false;
  document.addEventListener("click", (event) => {
    const field = event.target.dataset && document.getElementById(event.target.dataset.fills);
    if (field) field.value = event.target.value;
  });
})();

// @ts-check
// Listens to the desk: a new edition of the files, the review and how far it is, and whether the desk is
// still there at all.

import { follow } from "./swap.js";

/** The edition that this page shows. */
function shown() {
  return Number(document.querySelector('meta[name="lastvolt-edition"]')?.getAttribute("content"));
}

/**
 * Says how the page and the desk stand to each other.
 * @param {"live" | "lost" | "behind"} state
 */
function pulse(state) {
  const words = { live: "follows the files", lost: "the desk does not answer", behind: "the files cannot be read" };
  const place = document.getElementById("pulse");
  if (!place) return;
  const main = document.getElementById("main");
  const told = state === "live" && main?.hasAttribute("data-stale") ? "behind" : state;
  main?.toggleAttribute("data-unanswered", told === "lost");
  place.dataset.state = told;
  const word = place.querySelector(".word");
  if (word && word.textContent !== words[told]) word.textContent = words[told];
}

/** Brings the page up to date; what comes in meanwhile begins anew. */
async function refresh() {
  try {
    await follow();
    pulse("live");
  } catch (error) {
    if (!(error instanceof DOMException && error.name === "AbortError")) pulse("lost");
  }
}

/**
 * Whether the page still waits for a review.
 * @param {number | undefined} number the edition that was reviewed
 */
function isWaiting(number) {
  return number !== shown() || document.getElementById("review-progress") !== null;
}

/**
 * @param {number} done share of the work
 */
function progress(done) {
  const bar = document.getElementById("review-progress");
  if (bar instanceof HTMLProgressElement) bar.value = done;
}

/**
 * @param {{news: string, number?: number, done?: number}} told
 */
function hear(told) {
  document.dispatchEvent(new CustomEvent("lastvolt:news", { detail: told }));
  if (told.news === "edition") {
    if (told.number === shown()) pulse("live");
    else refresh();
  } else if (told.news === "reviewing" && told.number === shown()) {
    progress(told.done ?? 0);
  } else if (told.news === "reviewed" && isWaiting(told.number)) {
    refresh();
  }
}

/** How long a page that nobody sees keeps its line to the desk: browsers allow few of them. */
const UNSEEN_MS = 30_000;

/** The line to the desk. */
let line = /** @type {EventSource | null} */ (null);
let lost = false;
let unseen = 0;

/** Opens the line; the browser itself comes back after an interruption. */
function open() {
  line ??= new EventSource("/news");
  line.onopen = () => {
    // A desk that was started anew counts its editions anew.
    if (lost) refresh();
    lost = false;
    pulse("live");
  };
  line.onerror = () => {
    lost = true;
    pulse("lost");
    // Some answers end a line for good; then it is opened again from here.
    if (line?.readyState === EventSource.CLOSED) {
      close();
      setTimeout(open, 1000);
    }
  };
  line.onmessage = (message) => hear(JSON.parse(message.data));
}

function close() {
  line?.close();
  line = null;
  // Until the next line is open anything may happen, a new desk too.
  lost = true;
}

/** Begins to listen. */
export function news() {
  open();
  document.addEventListener("lastvolt:swapped", () => pulse("live"));
  document.addEventListener("lastvolt:unanswered", () => pulse("lost"));
  document.addEventListener("lastvolt:answer", () => pulse("live"));
  // A step in the history, or everything set at once: the page itself says it best.
  document.addEventListener("lastvolt:restate", refresh);
  document.addEventListener("visibilitychange", () => {
    clearTimeout(unseen);
    if (document.hidden) unseen = setTimeout(close, UNSEEN_MS);
    else open();
  });
  addEventListener("pagehide", close);
  addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });
}

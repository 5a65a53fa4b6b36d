// @ts-check
// Brings a page up to date with a newer one of the same address, region by region: what is the same
// stays, what is being edited stays, and the focus goes back to where it was.

/**
 * What the focus was on, so that it can be found again.
 * @returns {string | null}
 */
function focused() {
  const at = document.activeElement;
  return at && at !== document.body && at.id ? at.id : null;
}

/**
 * Whether a region holds something that a reader has begun and not yet saved.
 * @param {Element} region
 */
function isKept(region) {
  return region.matches("[data-keep]") || region.querySelector("[data-keep]") !== null;
}

/** What the desk last said of each region: the page itself changes figures and sizes in them. */
const said = /** @type {WeakMap<Element, string>} */ (new WeakMap());

/**
 * Whether a hand is at work in a region: a slider that is dragged must not be taken away.
 * @param {Element} region
 */
function isPressed(region) {
  return region.querySelector(":active") !== null;
}

/**
 * Puts one region of the newer page in the place of the older one.
 * @param {Element} older
 * @param {Element} newer
 */
function region(older, newer) {
  if (newer.hasAttribute("data-pending")) {
    // What was there stays, greyed, until the new is worked out.
    older.toggleAttribute("data-stale", older.childElementCount > 0);
    return;
  }
  if (isKept(older)) {
    older.dispatchEvent(new CustomEvent("lastvolt:held", { bubbles: true }));
    return;
  }
  if (isPressed(older)) {
    addEventListener("pointerup", () => document.dispatchEvent(new CustomEvent("lastvolt:restate")), { once: true });
    return;
  }
  // What stands in a control is no part of the text: a region of controls is always put anew.
  const text = newer.outerHTML;
  const same = (said.get(older) ?? older.outerHTML) === text;
  if (same && !older.hasAttribute("data-stale") && !older.querySelector("input, select, [data-reading]")) return;
  said.set(newer, text);
  older.replaceWith(newer);
}

/**
 * Brings the page up to date.
 * @param {Document} page
 */
export function swap(page) {
  const focus = focused();
  const main = document.getElementById("main");
  const next = page.getElementById("main");
  if (!main || !next) return;
  main.toggleAttribute("data-stale", next.hasAttribute("data-stale"));
  main.classList.toggle("stale", next.classList.contains("stale"));
  document.title = page.title;
  const same = [...page.querySelectorAll("[data-swap]")].map((r) => r.id).join();
  const known = [...document.querySelectorAll("[data-swap]")].map((r) => r.id).join();
  if (same !== known && !document.querySelector("[data-keep]")) {
    // Regions have come or gone: boards, a first review.
    for (const older of document.querySelectorAll("body > [data-swap]")) {
      const newer = page.getElementById(older.id);
      if (newer) region(older, newer);
    }
    main.replaceWith(next);
  } else {
    for (const newer of page.querySelectorAll("[data-swap]")) {
      const older = document.getElementById(newer.id);
      if (older) region(older, newer);
    }
  }
  // A desk that was started anew has another token as well as editions of its own.
  for (const meta of ['meta[name="lastvolt-edition"]', 'meta[name="lastvolt-token"]']) {
    document.querySelector(meta)?.replaceWith(page.querySelector(meta) ?? "");
  }
  if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
  document.dispatchEvent(new CustomEvent("lastvolt:swapped"));
}

/** The page that is asked for. */
let asking = new AbortController();

/**
 * Asks for the page of the present address and brings this one up to date with it. Whoever asks last is
 * answered; an address that has moved meanwhile is asked for anew.
 */
export async function follow() {
  document.dispatchEvent(new CustomEvent("lastvolt:write"));
  asking.abort();
  asking = new AbortController();
  const { signal } = asking;
  const here = () => location.pathname + location.search;
  for (;;) {
    const address = here();
    const answer = await fetch(address, { signal, headers: { accept: "text/html" } });
    const text = await answer.text();
    if (signal.aborted) return;
    const isPage = answer.headers.get("content-type")?.startsWith("text/html");
    if (!isPage) throw new Error(`the desk answers ${answer.status}`);
    document.dispatchEvent(new CustomEvent("lastvolt:write"));
    if (here() !== address) continue;
    return swap(new DOMParser().parseFromString(text, "text/html"));
  }
}

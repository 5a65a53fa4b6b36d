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
  if (older.outerHTML !== newer.outerHTML) {
    older.replaceWith(newer);
  }
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

/**
 * Asks for a page and brings this one up to date with it.
 * @param {string} address
 * @param {AbortSignal} [signal]
 */
export async function follow(address, signal) {
  const answer = await fetch(address, { signal, headers: { accept: "text/html" } });
  const text = await answer.text();
  swap(new DOMParser().parseFromString(text, "text/html"));
}

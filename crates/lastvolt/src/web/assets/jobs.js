// @ts-check
// Long work: begins it, stops it, and shows how far it is as the desk tells.

/** @typedef {{news: string, id?: number, done?: number}} News */

let asking = false;
let again = false;

/**
 * Tells the desk to begin or to stop.
 * @param {"start" | "stop"} what
 * @param {object} body
 */
async function tell(what, body) {
  const token = document.querySelector('meta[name="lastvolt-token"]')?.getAttribute("content") ?? "";
  const answer = await fetch(`/jobs/${what}`, {
    method: "POST",
    headers: { "content-type": "application/json", "x-lastvolt-token": token },
    body: JSON.stringify(body),
  });
  if (!answer.ok) say(await answer.text());
  refresh();
}

/** @param {string} words */
function say(words) {
  const place = document.getElementById("spoken");
  if (place) place.textContent = words;
}

/** Brings the section up to date; what comes in meanwhile asks once more. */
async function refresh() {
  again = true;
  if (asking || !document.getElementById("jobs")) return;
  asking = true;
  try {
    while (again) {
      again = false;
      document.dispatchEvent(new CustomEvent("lastvolt:write"));
      const path = location.pathname === "/" ? "" : location.pathname;
      const answer = await fetch(`/jobs${path}${location.search}`);
      if (!answer.ok) break;
      renew(await answer.text());
    }
  } catch {
    // The line to the desk says that it is gone.
  } finally {
    asking = false;
  }
}

/** @param {string} html */
function renew(html) {
  const place = document.getElementById("jobs");
  if (!place) return;
  const at = document.activeElement;
  const had = at instanceof HTMLElement && place.contains(at);
  const open = [...place.querySelectorAll("details[open] > summary")].map((s) => s.textContent);
  place.innerHTML = html;
  for (const summary of place.querySelectorAll("details > summary")) {
    if (open.includes(summary.textContent)) summary.parentElement?.setAttribute("open", "");
  }
  if (had) focusOn(place, at.id);
}

/**
 * The focus goes to what stands in the place of what had it: the same button, else the first one.
 * @param {HTMLElement} place
 * @param {string} id
 */
function focusOn(place, id) {
  const same = id ? document.getElementById(id) : null;
  const next = same ?? place.querySelector("[data-job-stop]") ?? place.querySelector("summary, [data-job-start]");
  if (next instanceof HTMLElement) next.focus({ preventScroll: true });
}

/** @param {MouseEvent} event */
function clicked(event) {
  const button = /** @type {Element} */ (event.target).closest?.("[data-job-start], [data-job-stop]");
  if (!(button instanceof HTMLButtonElement)) return;
  const { jobStart, jobStop } = button.dataset;
  document.dispatchEvent(new CustomEvent("lastvolt:write"));
  if (jobStart !== undefined) tell("start", { work: jobStart, page: location.pathname + location.search });
  else tell("stop", { id: Number(jobStop) });
}

/**
 * How far work is, without asking the desk.
 * @param {number} id
 * @param {number} done
 */
function progress(id, done) {
  const place = document.querySelector(`[data-job="${id}"]`);
  const bar = place?.querySelector("progress");
  if (bar) bar.value = done;
  const share = place?.querySelector("[data-job-share]");
  if (share) share.textContent = `${Math.floor(done * 100)}\u00a0%`;
}

/** @param {Event} event */
function heard(event) {
  /** @type {News} */
  const told = /** @type {CustomEvent} */ (event).detail;
  if (told.news === "work") progress(told.id ?? 0, told.done ?? 0);
  else if (told.news === "worked") finished(told.id ?? 0);
}

/**
 * Work stands otherwise: says so once its place has changed.
 * @param {number} id
 */
async function finished(id) {
  await refresh();
  const place = document.querySelector(`[data-job="${id}"]`);
  if (!place) return;
  const mark = place.querySelector(".mark")?.textContent;
  const word = mark ?? (place.querySelector("progress") ? "has begun" : "is done");
  say(`${place.querySelector("h3")?.textContent}: ${word}`);
}

/** The setting has changed: what is offered belongs to it. */
function answered() {
  const place = document.getElementById("jobs");
  if (place?.querySelector("[data-job-start], [data-job]")) refresh();
}

/** Begins to listen. */
export function jobs() {
  document.addEventListener("click", clicked);
  document.addEventListener("lastvolt:news", heard);
  document.addEventListener("lastvolt:answer", debounced(answered, 400));
}

/**
 * Calls it once it has not been asked for a while.
 * @param {() => void} call
 * @param {number} rests milliseconds
 */
function debounced(call, rests) {
  let timer = 0;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(call, rests);
  };
}

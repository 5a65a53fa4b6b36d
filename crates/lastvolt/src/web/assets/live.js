// @ts-check
// Controls and slider: what is set goes into the address, the desk answers with figures, and these are
// put where they belong. Only one question is under way at a time; of those that wait the newest counts.

/** @typedef {{edition: number, query: string, readings: Record<string, string>,
 *   attributes: Record<string, Record<string, string | null>>, fragments: Record<string, string>,
 *   drawn: string, curve: string, waved: string, spoken: string}} Answer */

/** Keys that are about one thing each and may come several times. */
const NAMED = ["set", "state"];
const LISTED = ["reverse", "absent"];

let waiting = /** @type {URLSearchParams | null} */ (null);
let asking = false;
let speak = 0;

/** The query that the address is about to state. */
let ahead = /** @type {string | null} */ (null);
let writing = 0;

/** How often the address is written at most: browsers pass over more than some twenty changes a second. */
const WRITES_MS = 100;

/** What is set now. */
export function now() {
  return new URLSearchParams(ahead ?? location.search);
}

/** Writes into the address what is set. */
export function write() {
  clearTimeout(writing);
  writing = 0;
  if (ahead !== null) history.replaceState(history.state, "", location.pathname + (ahead ? `?${ahead}` : ""));
  ahead = null;
}

/**
 * Lets the address state a query, soon.
 * @param {string} query
 */
function state(query) {
  ahead = query;
  writing ||= setTimeout(write, WRITES_MS);
}

/** Whether this page has a setting at all. */
function isBench() {
  return /^\/(board|stack)\//.test(location.pathname);
}

/**
 * The setting with one key set, or taken away where the value is none.
 * @param {URLSearchParams} setting
 * @param {string} key
 * @param {string | null} value
 */
function put(setting, key, value) {
  if (value === null) setting.delete(key);
  else setting.set(key, value);
}

/**
 * The setting with one entry of many set: `set=S1=on`.
 * @param {URLSearchParams} setting
 * @param {string} key
 * @param {string} name
 * @param {string | null} value
 */
function putNamed(setting, key, name, value) {
  const kept = setting.getAll(key).filter((entry) => !entry.startsWith(`${name}=`));
  setting.delete(key);
  for (const entry of kept) setting.append(key, entry);
  if (value !== null) setting.append(key, `${name}=${value}`);
}

/**
 * The setting with one name of a list in it or not.
 * @param {URLSearchParams} setting
 * @param {string} key
 * @param {string} name
 * @param {boolean} on
 */
function putListed(setting, key, name, on) {
  const kept = setting.getAll(key).filter((entry) => entry !== name);
  setting.delete(key);
  for (const entry of kept) setting.append(key, entry);
  if (on) setting.append(key, name);
}

/**
 * Takes what a control says into the setting.
 * @param {HTMLInputElement | HTMLSelectElement} control
 * @param {URLSearchParams} setting
 */
function take(control, setting) {
  const { key, name } = control.dataset;
  if (!key) return;
  if (name !== undefined && NAMED.includes(key)) putNamed(setting, key, name, control.value);
  else if (name !== undefined && LISTED.includes(key)) {
    putListed(setting, key, name, control instanceof HTMLInputElement && control.checked);
  } else put(setting, key, control.value);
}

/**
 * Puts the answer where it belongs.
 * @param {Answer} answer
 */
function apply(answer) {
  for (const place of document.querySelectorAll("[data-reading]")) {
    const text = answer.readings[place.getAttribute("data-reading") ?? ""] ?? "";
    if (place.textContent !== text) place.textContent = text;
  }
  for (const row of document.querySelectorAll('[data-live^="row:"][aria-current]')) {
    row.removeAttribute("aria-current");
  }
  for (const [key, attributes] of Object.entries(answer.attributes)) {
    for (const place of document.querySelectorAll(`[data-live="${CSS.escape(key)}"]`)) {
      for (const [name, value] of Object.entries(attributes)) {
        if (value === null) place.removeAttribute(name);
        else place.setAttribute(name, value);
      }
    }
  }
  for (const [key, html] of Object.entries(answer.fragments)) {
    const place = document.querySelector(`[data-fragment="${CSS.escape(key)}"]`);
    if (place && place.innerHTML !== html) place.innerHTML = html;
  }
  say(answer.spoken);
  document.dispatchEvent(new CustomEvent("lastvolt:answer", { detail: answer }));
}

/**
 * Says it once the hand rests: a voice that is interrupted at every step says nothing.
 * @param {string} words
 */
function say(words) {
  clearTimeout(speak);
  const slider = document.getElementById("depth");
  slider?.setAttribute("aria-valuetext", words);
  speak = setTimeout(() => {
    const place = document.getElementById("spoken");
    if (place && document.activeElement !== slider) place.textContent = words;
  }, 700);
}

/**
 * Replaces the inside of a region by what the desk has for it, if it still is what is wanted.
 * @param {string} id
 * @param {string} kind
 * @param {string} query
 * @param {() => boolean} isWanted
 * @returns {Promise<boolean>} whether it was replaced
 */
async function renew(id, kind, query, isWanted) {
  const answer = await fetch(`/${kind}${location.pathname}?${query}`);
  if (!answer.ok) return false;
  const html = await answer.text();
  const place = document.getElementById(id);
  if (!place || !isWanted()) return false;
  const at = document.activeElement;
  const pick = at?.getAttribute("data-pick");
  const again = at?.id ? `#${CSS.escape(at.id)}` : pick ? `[data-pick="${CSS.escape(pick)}"]` : null;
  const inside = at !== null && place.contains(at);
  place.innerHTML = html;
  if (inside && again) {
    const back = place.querySelector(again);
    if (back instanceof HTMLElement || back instanceof SVGElement) back.focus({ preventScroll: true });
  }
  document.dispatchEvent(new CustomEvent("lastvolt:renewed", { detail: id }));
  return true;
}

/** What the last answer says that drawing and curve must have been made from. */
const due = { drawing: "", curve: "" };

/**
 * Draws one region anew where it was made from something else; what was drawn is noted once it stands.
 * @param {"drawing" | "curve"} id
 * @param {"drawn" | "curve"} key
 * @param {string} made
 * @param {string} query
 */
async function redraw(id, key, made, query) {
  due[id] = made;
  const place = document.getElementById(id);
  if (!place || place.dataset[key] === made) return;
  if (await renew(id, id, query, () => due[id] === made)) place.dataset[key] = made;
}

/** Asks for the newest setting that waits, until none does. */
async function ask() {
  if (asking) return;
  asking = true;
  try {
    while (waiting) {
      let query = waiting.toString();
      waiting = null;
      const answer = await fetch(`/live${location.pathname}?${query}`);
      if (!answer.ok) throw new Error(`the desk answers ${answer.status}`);
      /** @type {Answer} */
      const told = await answer.json();
      apply(told);
      // A newer question waits already: what takes longer than figures is left to it.
      if (waiting) continue;
      if (now().toString() === query) {
        // The desk knows the shortest link to the same.
        if (query !== told.query) state(told.query);
        query = told.query;
      }
      const drawn = [redraw("drawing", "drawn", told.drawn, query), redraw("curve", "curve", told.curve, query)];
      Promise.all(drawn).catch(unanswered);
    }
  } catch {
    unanswered();
  } finally {
    asking = false;
  }
}

/** What is shown is not what is set: the page says so. */
function unanswered() {
  document.dispatchEvent(new CustomEvent("lastvolt:unanswered"));
}

/**
 * Makes a setting the one of the page.
 * @param {URLSearchParams} setting
 * @param {"push" | "replace"} how
 */
function set(setting, how) {
  const query = setting.toString();
  if (how === "push") {
    moving = false;
    write();
    history.pushState(null, "", location.pathname + (query ? `?${query}` : ""));
  } else {
    state(query);
  }
  waiting = setting;
  ask();
}

/**
 * Shows in the controls what the address states.
 * @param {URLSearchParams} setting
 */
function show(setting) {
  for (const control of document.querySelectorAll("#strip [data-key]")) {
    const { key = "", name = "" } = /** @type {HTMLElement} */ (control).dataset;
    if (control instanceof HTMLInputElement && control.type === "checkbox") {
      control.checked = setting.getAll(key).includes(name);
    } else if (control instanceof HTMLInputElement) {
      const stated = NAMED.includes(key)
        ? setting.getAll(key).find((entry) => entry.startsWith(`${name}=`))?.slice(name.length + 1)
        : setting.get(key);
      control.checked = stated === undefined || stated === null ? control.dataset.usual !== undefined : stated === control.value;
    }
  }
  slide(Number(setting.get("depth") ?? 0));
}

/** Puts the slider where the address says, after the curve was drawn anew. */
function stand() {
  slide(Number(now().get("depth") ?? 0));
}

/**
 * Puts slider and thumb to a depth.
 * @param {number} depth
 */
function slide(depth) {
  const slider = document.getElementById("depth");
  if (slider instanceof HTMLInputElement && document.activeElement !== slider) {
    slider.value = String(depth * Number(slider.max));
  }
  for (const thumb of document.querySelectorAll('#curve [data-live="curve:thumb"]')) {
    const svg = thumb.closest("svg");
    const left = Number(svg?.dataset.depthLeft);
    const right = Number(svg?.dataset.depthRight);
    if (Number.isFinite(left + right)) {
      thumb.setAttribute("transform", `translate(${(left + depth * (right - left)).toFixed(1)} 0)`);
    }
  }
}

/**
 * @param {Event} event
 */
function changed(event) {
  const control = event.target;
  if (!(control instanceof HTMLInputElement || control instanceof HTMLSelectElement)) return;
  if (!control.dataset.key) return;
  const setting = now();
  take(control, setting);
  set(setting, "push");
  // Another profile brings other base states and tasks: controls and tables are about them too.
  if (control.dataset.key === "profile") document.dispatchEvent(new CustomEvent("lastvolt:restate"));
}

/** How long the hand may rest in one move along the curve: one step back leads before the move. */
const REST_MS = 1500;
/** Half the width of the slider's own thumb, as the style sheet has it. */
const HALF_THUMB = 8;

let resting = 0;
let moving = false;

/**
 * @param {Event} event
 */
function slid(event) {
  const slider = event.target;
  if (!(slider instanceof HTMLInputElement) || slider.id !== "depth") return;
  const depth = Number(slider.value) / Number(slider.max);
  const setting = now();
  put(setting, "depth", depth > 0 ? depth.toFixed(4).replace(/\.?0+$/, "") : null);
  slide(depth);
  set(setting, moving ? "replace" : "push");
  // After the push, which ends what moved before.
  moving = true;
  clearTimeout(resting);
  resting = setTimeout(() => {
    moving = false;
  }, REST_MS);
}

/**
 * Links that change the setting without leaving the page.
 * @param {MouseEvent} event
 */
function clicked(event) {
  if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
  const link = /** @type {Element} */ (event.target).closest?.("a");
  if (!link || !isBench()) return;
  const href = link.getAttribute("href");
  if (!href) return;
  const to = new URL(href, location.href);
  if (to.pathname !== location.pathname || to.hash) return;
  const setting = now();
  if (link.matches("[data-set]")) {
    event.preventDefault();
    for (const key of ["set", "reverse"]) {
      setting.delete(key);
      for (const value of to.searchParams.getAll(key)) setting.append(key, value);
    }
    set(setting, "push");
    show(setting);
  } else if (link.matches("[data-stretch], [data-follow]")) {
    return;
  } else if (link.matches("[data-choose], .pick") || to.searchParams.has("select")) {
    event.preventDefault();
    put(setting, "select", to.searchParams.get("select"));
    set(setting, "push");
    choose(setting);
    document.getElementById("panel")?.scrollIntoView({ block: "nearest" });
  } else if (link.matches("[data-usual]")) {
    event.preventDefault();
    const usual = new URLSearchParams();
    put(usual, "select", setting.get("select"));
    set(usual, "push");
    document.dispatchEvent(new CustomEvent("lastvolt:restate"));
  }
}

/**
 * Shows what is selected, and marks it in the drawing.
 * @param {URLSearchParams} setting
 */
async function choose(setting) {
  const panel = document.getElementById("panel");
  if (panel?.querySelector("[data-keep]") && !confirm("Leave the value that is not saved?")) {
    history.back();
    return;
  }
  const chosen = setting.get("select");
  for (const pick of document.querySelectorAll("#drawing a.pick")) {
    const own = new URL(pick.getAttribute("href") ?? "", location.href).searchParams.get("select");
    const is = own === chosen && chosen !== null;
    pick.classList.toggle("chosen", is);
    if (is) pick.setAttribute("aria-current", "true");
    else pick.removeAttribute("aria-current");
  }
  await renew("panel", "panel", setting.toString(), () => now().get("select") === chosen);
  const place = document.getElementById("spoken");
  const head = document.querySelector("#panel h2");
  if (place && head) place.textContent = `selected: ${head.textContent}`;
}

/** Lays the slider over the plot of the curve, as wide as the plot is. */
function fit() {
  const slider = document.getElementById("depth");
  const box = slider?.parentElement;
  if (!(slider instanceof HTMLInputElement) || !box) return;
  const svgs = [...box.querySelectorAll("svg")];
  const svg = svgs.find((s) => s.getBoundingClientRect().width > 0);
  if (!svg) return;
  const whole = svg.viewBox.baseVal.width;
  const frame = svg.getBoundingClientRect();
  const around = box.getBoundingClientRect();
  const scale = frame.width / whole;
  const left = frame.left - around.left + Number(svg.dataset.depthLeft) * scale;
  const right = frame.left - around.left + Number(svg.dataset.depthRight) * scale;
  if (!Number.isFinite(left + right)) return;
  slider.style.left = `${left - HALF_THUMB}px`;
  slider.style.width = `${right - left + 2 * HALF_THUMB}px`;
  slider.style.height = `${frame.height}px`;
}

/** Asks for the curve once more where its life was not there in time. */
function complete() {
  const place = document.getElementById("curve");
  if (!place?.querySelector("[data-awaits]")) return;
  const made = place.dataset.curve;
  renew("curve", "curve", now().toString(), () => place.dataset.curve === made).catch(unanswered);
}

/** Begins to follow controls, slider, links and history. */
export function live() {
  document.addEventListener("change", changed);
  document.addEventListener("input", slid);
  document.addEventListener("click", clicked);
  document.addEventListener("submit", (event) => {
    if (/** @type {Element} */ (event.target).id === "strip") event.preventDefault();
  });
  document.addEventListener("lastvolt:write", write);
  addEventListener("popstate", () => {
    moving = false;
    clearTimeout(writing);
    writing = 0;
    ahead = null;
    document.dispatchEvent(new CustomEvent("lastvolt:restate"));
  });
  addEventListener("resize", fit);
  for (const name of ["lastvolt:swapped", "lastvolt:renewed"]) document.addEventListener(name, fit);
  document.addEventListener("lastvolt:swapped", complete);
  document.addEventListener("lastvolt:renewed", stand);
  fit();
  complete();
}

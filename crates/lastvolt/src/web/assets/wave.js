// @ts-check
// Waveforms: what is followed, the stretch that is shown, and the cursor. What is chosen goes into the
// address; the desk answers with the section or with the values at an instant. Only one question of each
// kind is under way at a time; of those that wait the newest counts.

import { now, write } from "./live.js";

/** @typedef {{readings: Record<string, string>, spoken: string}} Values */

/** How long a setting must rest before its waveform is asked for, in milliseconds. */
const RESTS = 260;
/** A drag of fewer pixels is a click. */
const LEAST_DRAG = 6;
/** Width of the thumb of a slider, in pixels. */
const THUMB = 16;
/** Keys on the cursor that lead to another stretch. */
const WAYS = /** @type {Record<string, string>} */ ({ "+": "closer", "=": "closer", "-": "wider", 0: "usual", ",": "earlier", ".": "later" });
/** Large keys, and by how many steps they move the cursor. */
const PAGES = /** @type {Record<string, number>} */ ({ PageUp: 50, PageDown: -50 });

let rests = 0;
let speak = 0;
let asking = false;
let again = false;
let reading = false;
let waiting = /** @type {number | null} */ (null);
/** Where a reader has put the cursor, and in which stretch: a newer picture of it keeps the place. */
let kept = /** @type {{share: number, from?: string, to?: string} | null} */ (null);
let drag = /** @type {{svg: SVGSVGElement, from: number, x: number} | null} */ (null);

function section() {
  return document.getElementById("bursts");
}

/** What the waveform is made from: the address without what is selected. */
function query() {
  const setting = now();
  setting.delete("select");
  return setting.toString();
}

/**
 * Shows that the picture is older than the setting.
 * @param {boolean} is
 */
function stale(is) {
  const wave = section()?.querySelector(".wave");
  wave?.classList.toggle("waits", is);
  wave?.setAttribute("aria-busy", String(is));
}

/** Asks for the section until it fits the address. */
async function ask() {
  again = true;
  if (asking) return;
  asking = true;
  stale(true);
  try {
    while (again) {
      again = false;
      const asked = query();
      const answer = await fetch(`/burst${location.pathname}?${asked}`);
      const html = await answer.text();
      const region = section();
      if (!region || !answer.ok) break;
      if (asked !== query()) again = true;
      else renew(region, html);
    }
  } catch {
    // The line to the desk says that it is gone.
  } finally {
    asking = false;
    stale(false);
  }
}

/**
 * @param {HTMLElement} region
 * @param {string} html
 */
function renew(region, html) {
  const focus = document.activeElement?.id;
  const had = region.contains(document.activeElement);
  region.innerHTML = html;
  if (focus && had) (document.getElementById(focus) ?? document.getElementById("burst-at"))?.focus({ preventScroll: true });
  place();
  say("waveform drawn");
}

/**
 * Says it once the hand rests.
 * @param {string} words
 */
function say(words) {
  clearTimeout(speak);
  speak = setTimeout(() => {
    const place = document.getElementById("spoken");
    // A slider that has the focus says its own value.
    if (place && document.activeElement?.id !== "burst-at") place.textContent = words;
  }, 700);
}

/**
 * Puts keys of the waveform into the address and asks for it.
 * @param {(setting: URLSearchParams) => void} change
 */
function go(change) {
  write();
  const setting = now();
  change(setting);
  const text = setting.toString();
  const address = location.pathname + (text ? `?${text}` : "");
  if (address === location.pathname + location.search) return;
  history.pushState(null, "", address);
  ask();
}

/**
 * Another stretch of time; none for the usual one.
 * @param {string | null} from
 * @param {string | null} to
 */
function stretch(from, to) {
  go((setting) => {
    setting.delete("from");
    setting.delete("to");
    if (from !== null) setting.append("from", from);
    if (to !== null) setting.append("to", to);
  });
}

/**
 * What is followed, as the choices say it after a change of one of them.
 * @param {HTMLInputElement} changed
 * @param {HTMLFormElement} form
 */
function choose(changed, form) {
  const tasks = [...form.querySelectorAll('input[type="checkbox"][data-burst]')];
  const off = form.querySelector("[data-burst-off]");
  const time = off instanceof HTMLInputElement ? `off:${off.value.trim()}` : "";
  const words =
    changed.type === "checkbox"
      ? tasks.filter((t) => /** @type {HTMLInputElement} */ (t).checked).map((t) => /** @type {HTMLInputElement} */ (t).value)
      : changed.value === "start"
        ? ["start"]
        : [time];
  go((setting) => {
    for (const key of ["burst", "from", "to"]) setting.delete(key);
    for (const word of words) setting.append("burst", word);
  });
}

/** @param {Event} event */
function changed(event) {
  const control = event.target;
  if (!(control instanceof HTMLInputElement) || !control.form) return;
  if (control.matches("[data-burst], [data-burst-off]")) choose(control, control.form);
}

/** @param {Event} event */
function submitted(event) {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  if (form.id === "burst-choice") event.preventDefault();
  if (form.id !== "burst-ends") return;
  event.preventDefault();
  const per = Number(form.dataset.per);
  const ends = ["burst-from", "burst-to"].map((id) => {
    const field = document.getElementById(id);
    return field instanceof HTMLInputElement ? field.valueAsNumber * per : NaN;
  });
  if (ends.every(Number.isFinite)) stretch(figure(ends[0], ends[1] - ends[0]), figure(ends[1], ends[1] - ends[0]));
}

/** @param {MouseEvent} event */
function clicked(event) {
  if (event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
  const way = /** @type {Element} */ (event.target).closest?.("a[data-stretch], a[data-follow]");
  if (!way) return;
  event.preventDefault();
  if (way.hasAttribute("data-follow")) choice(way);
  else follow(way);
}

/**
 * Follows what a link elsewhere on the page names, and shows it.
 * @param {Element} way
 */
function choice(way) {
  const to = new URL(way.getAttribute("href") ?? "", location.href).searchParams;
  go((setting) => {
    for (const key of ["burst", "from", "to"]) setting.delete(key);
    for (const word of to.getAll("burst")) setting.append("burst", word);
  });
  section()?.scrollIntoView();
  document.getElementById("burst-at")?.focus({ preventScroll: true });
}

/** @param {Element} way */
function follow(way) {
  const to = new URL(way.getAttribute("href") ?? "", location.href).searchParams;
  stretch(to.get("from"), to.get("to"));
}

/**
 * An instant as a link has it: to a thousandth of the stretch.
 * @param {number} secs
 * @param {number} span
 */
function figure(secs, span) {
  const digits = Math.min(12, Math.max(0, 3 - Math.floor(Math.log10(Math.abs(span) || 1))));
  return String(Number(secs.toFixed(digits)));
}

/**
 * The share of a picture's stretch of time that lies under the pointer; none beside it.
 * @param {SVGSVGElement} svg
 * @param {number} x
 * @param {boolean} beyond whether places beside it count as its ends
 */
function shareAt(svg, x, beyond) {
  const frame = svg.getBoundingClientRect();
  const left = Number(svg.dataset.timeLeft);
  const right = Number(svg.dataset.timeRight);
  const at = ((x - frame.left) / frame.width) * svg.viewBox.baseVal.width;
  const share = (at - left) / (right - left);
  if (!Number.isFinite(share) || (!beyond && (share < 0 || share > 1))) return null;
  return Math.min(1, Math.max(0, share));
}

/**
 * The instant at a share of a picture.
 * @param {SVGSVGElement} svg
 * @param {number} share
 */
function instant(svg, share) {
  const from = Number(svg.dataset.timeFromS);
  const to = Number(svg.dataset.timeToS);
  if (svg.dataset.timeDecades === undefined) return from + share * (to - from);
  return from * (to / from) ** share;
}

/** Pictures of the waveform, one of which is shown. */
function pictures() {
  return /** @type {SVGSVGElement[]} */ ([...document.querySelectorAll("#wave-picture svg[data-time-left]")]);
}

/**
 * Puts the line of the cursor to a share of the picture.
 * @param {number} share
 */
function line(share) {
  for (const svg of pictures()) {
    const cursor = svg.querySelector(".cursor");
    const left = Number(svg.dataset.timeLeft);
    const right = Number(svg.dataset.timeRight);
    cursor?.removeAttribute("display");
    cursor?.setAttribute("transform", `translate(${(left + share * (right - left)).toFixed(1)} 0)`);
  }
}

/** @returns {HTMLInputElement | null} */
function cursor() {
  const slider = document.getElementById("burst-at");
  return slider instanceof HTMLInputElement ? slider : null;
}

/**
 * Reads at a share of the picture.
 * @param {number} share
 */
function read(share) {
  const { timeFromS: from, timeToS: to } = pictures()[0]?.dataset ?? {};
  kept = { share, from, to };
  line(share);
  waiting = share;
  if (!reading) values();
}

/** Asks for the values at the newest instant that waits, until none does. */
async function values() {
  reading = true;
  try {
    while (waiting !== null) {
      const share = waiting;
      waiting = null;
      const answer = await fetch(`/burst/at${location.pathname}?${query()}&at=${share.toFixed(4)}`);
      if (!answer.ok) break;
      /** @type {Values} */
      const told = await answer.json();
      for (const [key, text] of Object.entries(told.readings)) {
        const place = document.querySelector(`#burst-values [data-at="${CSS.escape(key)}"]`);
        if (place) place.textContent = text;
      }
      cursor()?.setAttribute("aria-valuetext", told.spoken);
      say(told.spoken);
    }
  } catch {
    // The line to the desk says that it is gone.
  } finally {
    reading = false;
  }
}

/** @param {Event} event */
function slid(event) {
  const slider = event.target;
  if (slider instanceof HTMLInputElement && slider.id === "burst-at") read(Number(slider.value) / Number(slider.max));
}

/**
 * Keys on the cursor: + and − for the scale, comma and full stop to both sides, 0 as at first.
 * @param {KeyboardEvent} event
 */
function pressed(event) {
  const slider = event.target;
  if (!(slider instanceof HTMLInputElement) || slider.id !== "burst-at" || event.ctrlKey || event.metaKey) return;
  const name = WAYS[event.key];
  if (name) {
    const way = document.getElementById(`burst-${name}`);
    if (way?.hasAttribute("data-stretch")) {
      event.preventDefault();
      follow(way);
    }
    return;
  }
  const by = PAGES[event.key];
  if (by === undefined) return;
  event.preventDefault();
  slider.value = String(Number(slider.value) + by);
  read(Number(slider.value) / Number(slider.max));
}

/**
 * The picture under the pointer.
 * @param {Event} event
 */
function pictureOf(event) {
  const svg = /** @type {Element} */ (event.target).closest?.("#wave-picture svg[data-time-left]");
  return svg instanceof SVGSVGElement ? svg : null;
}

/** @param {PointerEvent} event */
function down(event) {
  const svg = pictureOf(event);
  // A finger scrolls the page; it has the slider and the buttons.
  if (!svg || event.button !== 0 || event.pointerType === "touch") return;
  const from = shareAt(svg, event.clientX, false);
  if (from === null) return;
  event.preventDefault();
  svg.setPointerCapture(event.pointerId);
  drag = { svg, from, x: event.clientX };
}

/** @param {PointerEvent} event */
function moved(event) {
  const svg = drag?.svg ?? pictureOf(event);
  if (!svg) return;
  const share = shareAt(svg, event.clientX, drag !== null);
  if (share === null) return;
  const slider = cursor();
  if (slider) slider.value = String(share * Number(slider.max));
  read(share);
  if (drag) mark(drag, share);
}

/**
 * Marks the stretch that is being dragged.
 * @param {{svg: SVGSVGElement, from: number}} from
 * @param {number} share
 */
function mark({ svg, from }, share) {
  const left = Number(svg.dataset.timeLeft);
  const right = Number(svg.dataset.timeRight);
  const ends = [from, share].sort((a, b) => a - b).map((s) => left + s * (right - left));
  const known = svg.querySelector("rect.picked");
  const rect = known ?? svg.appendChild(document.createElementNS("http://www.w3.org/2000/svg", "rect"));
  rect.setAttribute("class", "picked");
  rect.setAttribute("x", ends[0].toFixed(1));
  rect.setAttribute("width", (ends[1] - ends[0]).toFixed(1));
  rect.setAttribute("y", svg.dataset.timeTop ?? "0");
  rect.setAttribute("height", String(Number(svg.dataset.timeBottom) - Number(svg.dataset.timeTop)));
}

/** @param {PointerEvent} event */
function up(event) {
  if (!drag) return;
  const { svg, from, x } = drag;
  drag = null;
  svg.querySelector("rect.picked")?.remove();
  const to = shareAt(svg, event.clientX, true);
  if (event.type !== "pointerup" || to === null || Math.abs(event.clientX - x) < LEAST_DRAG) return;
  const ends = [from, to].sort((a, b) => a - b).map((share) => instant(svg, share));
  stretch(figure(ends[0], ends[1] - ends[0]), figure(ends[1], ends[1] - ends[0]));
}

/**
 * A new answer to the setting: the waveform follows once the setting rests.
 * @param {Event} event
 */
function answered(event) {
  const wave = section()?.querySelector(".wave");
  if (!(wave instanceof HTMLElement)) return;
  const waved = /** @type {CustomEvent<{waved: string}>} */ (event).detail.waved;
  const fits = wave.dataset.waved === waved;
  clearTimeout(rests);
  if (!asking) stale(!fits);
  if (!fits) rests = setTimeout(ask, RESTS);
}

/** Shows the line of the cursor where its slider is, and lays the slider under the plot. */
function place() {
  const slider = cursor();
  if (!slider) return;
  const { timeFromS: from, timeToS: to } = pictures()[0]?.dataset ?? {};
  if (kept && kept.from === from && kept.to === to) {
    slider.value = String(kept.share * Number(slider.max));
    read(kept.share);
  }
  line(Number(slider.value) / Number(slider.max));
  const svg = pictures().find((picture) => picture.getBoundingClientRect().width > 0);
  const box = slider.parentElement;
  if (!svg || !box) return;
  const frame = svg.getBoundingClientRect();
  const scale = frame.width / svg.viewBox.baseVal.width;
  const left = frame.left - box.getBoundingClientRect().left + Number(svg.dataset.timeLeft) * scale;
  const wide = (Number(svg.dataset.timeRight) - Number(svg.dataset.timeLeft)) * scale;
  if (!Number.isFinite(left + wide)) return;
  // The middle of the thumb goes from end to end, not its edges.
  slider.style.marginLeft = `${left - THUMB / 2}px`;
  slider.style.width = `${wide + THUMB}px`;
}

/** Begins to follow what is chosen, the stretch, the cursor and the setting. */
export function wave() {
  document.addEventListener("change", changed);
  document.addEventListener("submit", submitted);
  document.addEventListener("click", clicked);
  document.addEventListener("input", slid);
  document.addEventListener("keydown", pressed);
  document.addEventListener("pointerdown", down);
  document.addEventListener("pointermove", moved);
  document.addEventListener("pointerup", up);
  document.addEventListener("pointercancel", up);
  document.addEventListener("lastvolt:answer", answered);
  document.addEventListener("lastvolt:swapped", place);
  addEventListener("resize", place);
  place();
}

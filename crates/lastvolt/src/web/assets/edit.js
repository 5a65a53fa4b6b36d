// @ts-check
// Values changed in place: what is typed is tried at once, what it would do is shown before it is saved,
// and what was saved can be undone. The form itself is made by the desk; this only carries words.

/** @typedef {HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement} Control */
/** @typedef {{id: string, path: unknown, to: string | null}} Change */
/** @typedef {{valid?: boolean, stale?: boolean, base?: string, fields?: Record<string, string>, invalid?: string[],
 *   elsewhere?: string, conflict?: string, says?: string, html?: string}} Told */

/** How long the hand rests before what was typed is tried. */
const REST_MS = 120;

let timer = 0;
let trying = new AbortController();
let previewing = new AbortController();
let saving = false;

/** The form of the page, where there is one. */
function form() {
  return /** @type {HTMLElement | null} */ (document.querySelector("section[data-edit]"));
}

/**
 * The fields of a form.
 * @param {Element} home
 */
function controls(home) {
  return /** @type {Control[]} */ ([...home.querySelectorAll("[data-path]")]);
}

/**
 * @param {string | undefined} id
 */
function control(id) {
  return /** @type {Control | null} */ (id ? document.getElementById(id) : null);
}

/**
 * Whether a field says something else than the file.
 * @param {Control} field
 */
function isChanged(field) {
  if (field.dataset.out !== undefined) return true;
  if (field.dataset.absent !== undefined) return field.value.trim() !== "";
  return field.value !== field.dataset.now;
}

/**
 * What is changed, as the desk takes it.
 * @param {Element} home
 * @returns {Change[]}
 */
function changes(home) {
  return controls(home).filter(isChanged).map((field) => ({
    id: field.id,
    path: JSON.parse(field.dataset.path ?? "[]"),
    to: field.dataset.out === undefined ? field.value : null,
  }));
}

/**
 * A question about a form.
 * @param {HTMLElement} home
 * @param {Change[]} changed
 */
function question(home, changed) {
  return {
    file: home.dataset.file,
    base: home.dataset.base,
    boards: JSON.parse(home.dataset.boards ?? "[]"),
    profile: home.dataset.profile ?? null,
    changes: changed,
  };
}

/**
 * @param {string} address
 * @param {object} body
 * @param {AbortSignal} [signal]
 */
function post(address, body, signal) {
  const token = document.querySelector('meta[name="lastvolt-token"]')?.getAttribute("content") ?? "";
  const headers = { "content-type": "application/json", "x-lastvolt-token": token };
  return fetch(address, { method: "POST", headers, body: JSON.stringify(body), signal });
}

/**
 * Whether a request was only called off.
 * @param {unknown} error
 */
function isAborted(error) {
  return error instanceof DOMException && error.name === "AbortError";
}

/**
 * @param {string} words
 */
function say(words) {
  const place = document.getElementById("spoken");
  if (place) place.textContent = words;
}

/**
 * Shows something that belongs to no field.
 * @param {string} html
 */
function elsewhere(html) {
  const place = document.getElementById("edit-elsewhere");
  if (place && place.innerHTML !== html) place.innerHTML = html;
}

/**
 * Words of our own as a problem.
 * @param {string} words
 */
function problem(words) {
  say(words);
  const place = document.getElementById("edit-elsewhere");
  if (!place) return;
  const line = document.createElement("p");
  line.className = "edit-problem";
  line.textContent = words;
  place.replaceChildren(line);
}

/**
 * Shows beside a field what is wrong with it.
 * @param {Control} field
 * @param {string} html
 * @param {boolean} isWrong an error and not only a slip
 */
function beside(field, html, isWrong) {
  const place = document.getElementById(`${field.id}-says`);
  if (place && place.innerHTML !== html) place.innerHTML = html;
  if (isWrong) field.setAttribute("aria-invalid", "true");
  else field.removeAttribute("aria-invalid");
}

/**
 * Lets the buttons say what can be done.
 * @param {HTMLElement} home
 * @param {boolean} canSave
 */
function buttons(home, canSave) {
  const unsaved = home.hasAttribute("data-keep");
  for (const button of home.querySelectorAll("button")) {
    if (button.hasAttribute("data-edit-save")) button.disabled = !canSave;
    if (button.hasAttribute("data-edit-drop")) button.disabled = !unsaved;
  }
  for (const button of document.querySelectorAll("button[data-edit-step]")) {
    /** @type {HTMLButtonElement} */ (button).disabled = unsaved;
  }
}

/** What was typed when it was last looked at, and in which form. */
let touchedLast = "";
let touchedHome = /** @type {HTMLElement | null} */ (null);

/**
 * A field was changed: what is unsaved is kept, and tried once the hand rests.
 * @param {HTMLElement} home
 */
function touched(home) {
  const typed = JSON.stringify(changes(home));
  // Leaving a field changes nothing: what may be saved stays so under the hand.
  if (typed === touchedLast && home === touchedHome) return;
  touchedLast = typed;
  touchedHome = home;
  const unsaved = changes(home).length > 0;
  home.toggleAttribute("data-keep", unsaved);
  for (const field of controls(home)) field.classList.toggle("changed", isChanged(field));
  buttons(home, false);
  clearTimeout(timer);
  timer = setTimeout(() => attempt(home), REST_MS);
}

/**
 * Tries what is typed; whether it can be saved.
 * @param {HTMLElement} home
 * @returns {Promise<boolean>}
 */
async function attempt(home) {
  clearTimeout(timer);
  trying.abort();
  previewing.abort();
  trying = new AbortController();
  const changed = changes(home);
  if (changed.length === 0) {
    settle(home, {});
    preview("");
    return false;
  }
  try {
    const answer = await post("/edit/try", question(home, changed), trying.signal);
    /** @type {Told} */
    const told = await answer.json();
    if (!home.isConnected) return false;
    settle(home, answer.ok ? told : { elsewhere: told.html });
    const sound = answer.ok && told.valid === true && !told.stale;
    buttons(home, sound);
    if (sound) foresee(home, changed);
    else preview("");
    return sound;
  } catch (error) {
    if (!isAborted(error)) problem("The desk does not answer. Nothing was saved.");
    return false;
  }
}

/**
 * Shows what came of trying.
 * @param {HTMLElement} home
 * @param {Told} told
 */
function settle(home, told) {
  for (const field of controls(home)) {
    beside(field, told.fields?.[field.id] ?? "", told.invalid?.includes(field.id) === true);
  }
  if (told.base) home.dataset.now = told.base;
  elsewhere((told.conflict ?? "") + (told.elsewhere ?? ""));
}

/**
 * Shows what a change would do.
 * @param {string} html
 */
function preview(html) {
  const place = document.getElementById("edit-preview");
  if (place && place.innerHTML !== html) place.innerHTML = html;
}

/**
 * Asks what a change would do: first the life, which is quick, then the findings.
 * @param {HTMLElement} home
 * @param {Change[]} changed
 */
async function foresee(home, changed) {
  previewing.abort();
  previewing = new AbortController();
  const { signal } = previewing;
  const place = document.getElementById("edit-preview");
  place?.setAttribute("aria-busy", "true");
  try {
    let shown = "";
    for (const what of ["life", "findings"]) {
      if (!shown) preview('<p class="quiet">Working out what this would do.</p>');
      else preview(`${shown}<p class="quiet">Looking at the findings.</p>`);
      const answer = await post("/edit/preview", { ...question(home, changed), what }, signal);
      if (!answer.ok) return preview(shown);
      shown += await answer.text();
      if (!home.isConnected) return;
      preview(shown);
    }
  } catch (error) {
    if (!isAborted(error)) preview("");
  } finally {
    if (!signal.aborted) place?.removeAttribute("aria-busy");
  }
}

/** Saves what the form says, once it has been tried. */
async function save() {
  const home = form();
  if (!home || saving || changes(home).length === 0) return;
  saving = true;
  try {
    if (!(await attempt(home))) return;
    previewing.abort();
    const sent = JSON.stringify(changes(home));
    const answer = await post("/edit/save", question(home, changes(home)));
    /** @type {Told} */
    const told = await answer.json();
    if (answer.ok && JSON.stringify(changes(home)) === sent) return leave(home, told.says ?? "saved");
    if (answer.ok) {
      // More was typed meanwhile: the form goes on from the file as it was saved.
      home.dataset.base = told.base ?? home.dataset.base;
      return attempt(home);
    }
    if (told.base) home.dataset.now = told.base;
    elsewhere(told.conflict ?? told.html ?? "");
    buttons(home, false);
  } catch (error) {
    if (!isAborted(error)) problem("The desk does not answer. Whether it was saved is in the file.");
  } finally {
    saving = false;
  }
}

/**
 * The form has nothing unsaved any more: the page shows what the files say.
 * @param {HTMLElement} home
 * @param {string} words
 */
function leave(home, words) {
  clearTimeout(timer);
  trying.abort();
  previewing.abort();
  home.removeAttribute("data-keep");
  // What is typed before the form of the new edition is there would rest on the old one.
  home.inert = true;
  say(words);
  document.dispatchEvent(new CustomEvent("lastvolt:restate"));
}

/**
 * Puts a field back to what the file says.
 * @param {Control} field
 */
function restore(field) {
  field.value = field.dataset.now ?? "";
  out(field, false);
}

/**
 * Marks a key to be left out, or not.
 * @param {Control} field
 * @param {boolean} isOut
 */
function out(field, isOut) {
  if (isOut) field.dataset.out = "";
  else delete field.dataset.out;
  field.disabled = isOut;
  const button = document.querySelector(`[data-edit-out="${CSS.escape(field.id)}"]`);
  button?.setAttribute("aria-pressed", String(isOut));
}

/**
 * Undoes or redoes what was saved.
 * @param {string} way
 */
async function step(way) {
  try {
    const answer = await post(`/edit/${way}`, {});
    /** @type {Told} */
    const told = await answer.json();
    if (!answer.ok) return refused(told.says ?? "That cannot be done.");
    say(told.says ?? way);
    document.dispatchEvent(new CustomEvent("lastvolt:restate"));
  } catch {
    refused("The desk does not answer.");
  }
}

/**
 * Says beside its button why a step was not made.
 * @param {string} words
 */
function refused(words) {
  const place = document.querySelector("#history [role=status]");
  if (place) place.textContent = words;
}

/**
 * Asks what each neighbour of a value does.
 * @param {HTMLElement} home
 * @param {Control} field
 */
async function compare(home, field) {
  const place = document.getElementById(`${field.id}-near`);
  if (!place) return;
  place.textContent = "Working out a life for each.";
  const change = { id: field.id, path: JSON.parse(field.dataset.path ?? "[]"), to: field.value };
  try {
    const answer = await post("/edit/nearby", question(home, [change]));
    const html = answer.ok ? await answer.text() : "";
    if (home.isConnected) place.innerHTML = html;
  } catch {
    place.textContent = "The desk does not answer.";
  }
}

/**
 * @param {HTMLElement} home
 * @param {HTMLElement} button
 */
function pressed(home, button) {
  const { fill, for: id, editOut, editNearby, editStep } = button.dataset;
  const field = control(id ?? editOut ?? editNearby);
  if (fill !== undefined && field) {
    out(field, false);
    field.value = fill;
    field.focus();
    touched(home);
  } else if (editOut && field) {
    out(field, field.dataset.out === undefined);
    touched(home);
  } else if (editNearby && field) {
    compare(home, field);
  } else if (editStep) {
    step(editStep);
  } else if (button.hasAttribute("data-edit-drop")) {
    for (const each of controls(home)) restore(each);
    leave(home, "given up; the file says what it said");
  } else if (button.hasAttribute("data-edit-theirs")) {
    leave(home, "the form shows the file as it is");
  } else if (button.hasAttribute("data-edit-mine")) {
    home.dataset.base = home.dataset.now ?? home.dataset.base;
    attempt(home);
  }
}

/**
 * @param {MouseEvent} event
 */
function clicked(event) {
  const button = /** @type {Element} */ (event.target).closest?.("button");
  if (!button) return;
  const home = /** @type {HTMLElement | null} */ (button.closest("section[data-edit]"));
  if (home) pressed(home, button);
  else if (button.dataset.editStep) step(button.dataset.editStep);
}

/**
 * @param {Event} event
 */
function typed(event) {
  const field = /** @type {Element} */ (event.target);
  const home = /** @type {HTMLElement | null} */ (field.closest?.("section[data-edit]"));
  if (home && field.matches("[data-path]")) touched(home);
}

/**
 * Ctrl+S saves, Enter in a line saves, Escape puts the field back.
 * @param {KeyboardEvent} event
 */
function keyed(event) {
  const field = /** @type {Element} */ (event.target);
  const home = form();
  if (!home) return;
  const inside = field instanceof HTMLElement && home.contains(field) && field.matches("[data-path]");
  if ((event.ctrlKey || event.metaKey) && !event.shiftKey && event.key.toLowerCase() === "s") {
    event.preventDefault();
    save();
  } else if (inside && event.key === "Enter" && field instanceof HTMLInputElement) {
    event.preventDefault();
    save();
  } else if (inside && event.key === "Escape" && isChanged(/** @type {Control} */ (field))) {
    event.preventDefault();
    restore(/** @type {Control} */ (field));
    touched(home);
  }
}

/** Begins to follow the form. */
export function edit() {
  document.addEventListener("input", typed);
  document.addEventListener("change", typed);
  document.addEventListener("click", clicked);
  document.addEventListener("keydown", keyed);
  document.addEventListener("submit", (event) => {
    if (!(/** @type {Element} */ (event.target).closest("section[data-edit]"))) return;
    event.preventDefault();
    save();
  });
  // The page was brought up to date around a form that is not saved: it may rest on an older file now.
  document.addEventListener("lastvolt:held", () => {
    const home = form();
    if (home) attempt(home);
  });
  addEventListener("beforeunload", (event) => {
    if (document.querySelector("section[data-edit][data-keep]")) event.preventDefault();
  });
}

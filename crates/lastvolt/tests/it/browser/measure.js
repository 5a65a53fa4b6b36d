// Put into a copy of a page by the test: measures the page once it is laid out and tells its frame.
// The page itself has no script.
const violations = [];
document.addEventListener("securitypolicyviolation", (e) => {
  violations.push(e.violatedDirective + " " + e.blockedURI);
});

function told(element) {
  const text = (element.textContent || "").trim().slice(0, 40);
  const class_ = element.getAttribute("class") || "";
  return `<${element.tagName.toLowerCase()} ${class_}> ${text}`;
}

// Whether somebody can scroll to what lies beyond the edge, or nobody is meant to see it.
function held(element) {
  for (let e = element; e && e !== document.body; e = e.parentElement) {
    const style = getComputedStyle(e);
    if (/auto|scroll/.test(style.overflowX) || style.clipPath !== "none") return true;
  }
  return false;
}

function beyond() {
  const out = [];
  for (const e of document.body.querySelectorAll("*")) {
    const box = e.getBoundingClientRect();
    if (box.width && (box.right > innerWidth + 0.5 || (box.left < -0.5 && box.right > 0)) && !held(e)) {
      out.push(`${told(e)} reaches ${box.left.toFixed()} to ${box.right.toFixed()}`);
    }
  }
  return out;
}

function clipped() {
  const out = [];
  for (const e of document.body.querySelectorAll("*")) {
    if (e instanceof SVGElement) continue;
    const style = getComputedStyle(e);
    if (style.clipPath !== "none" || style.display === "inline") continue;
    const x = /hidden|clip/.test(style.overflowX) && e.scrollWidth > e.clientWidth + 1;
    const y = /hidden|clip/.test(style.overflowY) && e.scrollHeight > e.clientHeight + 1;
    if (x || y) out.push(told(e));
  }
  return out;
}

// The box of a text from the top of its capitals to its descenders, against the corner of its picture.
function letters(text, corner) {
  const box = text.getBoundingClientRect();
  const size = box.height;
  return {
    left: box.left - corner.left,
    right: box.right - corner.left,
    top: box.top - corner.top + 0.2 * size,
    bottom: box.bottom - corner.top - 0.12 * size,
    says: text.textContent,
  };
}

function overlaps(a, b) {
  const near = 0.75;
  return a.left + near < b.right && b.left + near < a.right && a.top + near < b.bottom && b.top + near < a.bottom;
}

function pictures() {
  const out = { texts: 0, outside: [], over: [], wide: [], small: [], unnamed: [] };
  for (const svg of document.querySelectorAll("svg")) {
    if (svg.getAttribute("aria-hidden") === "true") continue;
    const label = svg.getAttribute("aria-label") || "";
    const child = (tag) => (svg.querySelector(":scope > " + tag)?.textContent || "").trim();
    const named = label.trim() || (child("title") && child("desc"));
    if (svg.getAttribute("role") !== "img" || !named) out.unnamed.push(told(svg));
    picture(svg, child("title"), out);
  }
  return out;
}

function picture(svg, title, out) {
  const corner = svg.getBoundingClientRect();
  if (!corner.width) return;
  const seen = [];
  for (const text of svg.querySelectorAll("text")) {
    const box = letters(text, corner);
    if (box.right <= box.left) continue;
    out.texts += 1;
    const inside = box.left >= -0.5 && box.top >= -0.5 && box.right <= corner.width + 0.5 && box.bottom <= corner.height + 0.5;
    if (!inside) out.outside.push(`${box.says} in ${title}`);
    for (const other of seen) {
      if (overlaps(box, other)) out.over.push(`${box.says} / ${other.says} in ${title}`);
    }
    seen.push(box);
    if (svg.classList.contains("schematic")) {
      widths(text, out);
      readable(text, corner.width / svg.viewBox.baseVal.width, out);
    }
  }
}

// Letters of a schematic are never shrunk with it: the smallest are drawn 9 pixels high.
function readable(text, scale, out) {
  const size = parseFloat(getComputedStyle(text).fontSize) * scale;
  if (size < 8.9) out.small.push(`${text.textContent}: ${size.toFixed(1)} px`);
}

// No text of a schematic is wider than the drawing takes it to be.
function widths(text, out) {
  const size = parseFloat(getComputedStyle(text).fontSize);
  let bound = 0;
  for (const c of text.textContent) {
    const code = c.codePointAt(0);
    bound += code >= 0x590 && code <= 0x1fff ? 1.0 : code <= 0x2e7f ? 0.605 : 1.4;
  }
  const width = text.getComputedTextLength();
  if (width > bound * size + 0.5) {
    out.wide.push(`${text.textContent}: ${width.toFixed(1)} of ${(bound * size).toFixed(1)}`);
  }
}

// Red, green, blue from 0 to 1 and the share that covers what is below.
function colour(text) {
  const parts = (text.match(/[\d.]+/g) || []).map(Number);
  return { rgb: parts.slice(0, 3).map((v) => v / 255), alpha: text === "none" ? 0 : (parts[3] ?? 1) };
}

function over(top, share, below) {
  return top.map((v, at) => v * share + below[at] * (1 - share));
}

// Contrast ratio as WCAG 2.2 defines it.
function contrast(a, b) {
  const luminance = (c) => {
    const [r, g, b] = c.map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const [x, y] = [luminance(a), luminance(b)];
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
}

// What an element of the page stands on: the plain backgrounds of what holds it.
function ground(element) {
  const colours = [];
  for (let e = element; e; e = e.parentElement) colours.unshift(colour(getComputedStyle(e).backgroundColor));
  return colours.reduce((below, c) => over(c.rgb, c.alpha, below), [1, 1, 1]);
}

// What a text of a picture stands on: its halo, or the shapes drawn before it that cover its middle.
function under(svg, text) {
  let below = ground(svg);
  const box = text.getBBox();
  const middle = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2);
  for (const shape of svg.querySelectorAll("rect,path,circle,polygon")) {
    if (!(shape.compareDocumentPosition(text) & Node.DOCUMENT_POSITION_FOLLOWING)) break;
    const style = getComputedStyle(shape);
    const fill = colour(style.fill);
    if (fill.alpha && shape.isPointInFill(middle)) {
      below = over(fill.rgb, fill.alpha * parseFloat(style.fillOpacity) * parseFloat(style.opacity), below);
    }
  }
  const style = getComputedStyle(text);
  const halo = colour(style.stroke);
  const haloed = style.paintOrder.startsWith("stroke") && halo.alpha;
  return haloed ? over(halo.rgb, halo.alpha * parseFloat(style.strokeOpacity), below) : below;
}

function faint() {
  const out = new Set();
  const hold = (what, top, below) => {
    const found = contrast(over(top.rgb, top.alpha, below), below);
    if (found < 4.5) out.add(`${what}: ${found.toFixed(2)}`);
  };
  for (const svg of document.querySelectorAll("svg")) {
    if (!svg.getBoundingClientRect().width) continue;
    for (const text of svg.querySelectorAll("text")) {
      hold(told(text), colour(getComputedStyle(text).fill), under(svg, text));
    }
  }
  for (const e of document.body.querySelectorAll("*")) {
    const words = Array.from(e.childNodes).some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim());
    if (words && !(e instanceof SVGElement) && e.getBoundingClientRect().width) {
      hold(told(e), colour(getComputedStyle(e).color), ground(e));
    }
  }
  return Array.from(out);
}

addEventListener("load", () => {
  const root = document.documentElement;
  const foreign = document.querySelectorAll("img,iframe,object,embed,link,form,base,script:not([nonce])");
  const answer = {
    name: document.body.dataset.proof,
    width: innerWidth,
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
    scroll: root.scrollWidth,
    elements: document.querySelectorAll("*").length,
    svgs: document.querySelectorAll("svg").length,
    requests: performance.getEntriesByType("resource").map((e) => e.name),
    foreign: Array.from(foreign, told),
    beyond: beyond(),
    clipped: clipped(),
    pictures: pictures(),
    faint: faint(),
  };
  // What is refused is told a moment after it was tried.
  setTimeout(() => {
    answer.violations = violations;
    parent.postMessage(answer, "*");
  }, 100);
});

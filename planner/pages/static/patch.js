// A fragment put over the old one, node by node. What is as it was stays where it is: the browser
// styles, lays out and paints only what was touched, and focus and scroll stay by themselves.

// What the page itself says of its elements, and no fragment knows.
const OWN = new Set(["hidden", "tabindex", "aria-selected", "aria-expanded", "aria-pressed", "style"]);
const SPACED = new Set(["SECTION", "DIV", "TABLE", "THEAD", "TBODY", "TR"]);

const FEW = 3;

const keyOf = (node) => node.id || node.dataset?.key || node.dataset?.same || "";

// Without the space between elements that is only there to read the templates by.
function children(node) {
  const all = [...node.childNodes];
  return SPACED.has(node.nodeName) ? all.filter((one) => one.nodeType !== Node.TEXT_NODE || one.data.trim()) : all;
}

function patchAttributes(old, made) {
  for (const { name } of [...old.attributes]) {
    if (!OWN.has(name) && !made.hasAttribute(name)) { old.removeAttribute(name); }
  }
  for (const { name, value } of made.attributes) {
    if (!OWN.has(name) && old.getAttribute(name) !== value) { old.setAttribute(name, value); }
  }
  // The content policy lets no style be written as an attribute.
  if (old.style.cssText !== made.style.cssText) { old.style.cssText = made.style.cssText; }
}

const classOf = (node) => node.getAttribute?.("class");

// Rows are told apart by their keys: one without is no other's.
const alike = (old, made) => old.nodeName === made.nodeName && !keyOf(old) && !keyOf(made) && classOf(old) === classOf(made) && old.nodeName !== "TR";

export function patch(old, made) {
  if (old.nodeType !== Node.ELEMENT_NODE) { if (old.data !== made.data) { old.data = made.data; } return; }
  patchAttributes(old, made);
  const now = children(old), wanted = children(made);
  const had = new Map(now.filter(keyOf).map((one) => [keyOf(one), one]));
  const stays = new Set(wanted.map(keyOf));
  const left = now.filter((one) => {
    const gone = keyOf(one) ? !stays.has(keyOf(one)) : one.nodeName === "TR";
    if (gone) { one.remove(); }
    return !gone;
  });
  for (const want of wanted) {
    const have = keyOf(want) ? had.get(keyOf(want)) : left.find((one) => alike(one, want));
    if (!have) { old.insertBefore(want, left[0] ?? null); continue; }
    const at = left.indexOf(have);
    // The few before it go out of the way; what comes from far is brought here.
    if (at >= 0 && at <= FEW) { for (const one of left.splice(0, at)) { one.remove(); } } else { old.insertBefore(have, left[0] ?? null); }
    if (at >= 0) { left.splice(left.indexOf(have), 1); }
    if (!want.dataset?.same && !have.isEqualNode(want)) { patch(have, want); }
  }
  for (const one of left) { one.remove(); }
}

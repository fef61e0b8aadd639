// The map: streets behind, the chosen truck solid, the second dashed, the others as rings.
/* global L */
const data = { trucks: {}, out: [], sites: [], orders: {}, truck: 0, beside: 0, key: "" };
let map = null, pick = () => {};

export function onPick(call) { pick = call; }

// What stays the same of an order all day, by the name of its item.
export const aboutOrder = (item) => data.orders[item.replace(/^order /, "")] ?? [];

function unpack(row, from) {
  let lat = row[from], lon = row[from + 1];
  const points = [[lat / 1e5, lon / 1e5]];
  for (let at = from + 2; at < row.length; at += 2) {
    lat += row[at]; lon += row[at + 1];
    points.push([lat / 1e5, lon / 1e5]);
  }
  return points;
}

// A map without tiles: streets are drawn on it.
export function plainMap(id, keyboard) {
  // Nothing here is animated: a layer for each sign would cost more than it brings.
  L.Browser.any3d = false;
  const made = L.map(id, { zoomSnap: 0.25, attributionControl: true, zoomAnimation: false, fadeAnimation: false, markerZoomAnimation: false, keyboard });
  made.attributionControl.setPrefix(false);
  made.createPane("streets").style.zIndex = 350;
  return made;
}

export function startMap() {
  map = plainMap("map", false);
  map.on("zoomend moveend", placeNames);
  new ResizeObserver(() => { resized = true; draw(); }).observe(map.getContainer());
}

export function drawStreets(map, streets) {
  const renderer = L.canvas({ padding: 0.3, pane: "streets" });
  const looks = { water: ["#a9c4d6", 5], minor: ["#d0cfc9", 1.3], major: ["#aeaca4", 3] };
  for (const [kind, [color, weight]] of Object.entries(looks)) {
    const lines = (streets.lines[kind] || []).map((row) => unpack(row, 1));
    L.polyline(lines, { renderer, pane: "streets", color, weight, interactive: false, smoothFactor: 1.5 }).addTo(map);
  }
  map.attributionControl.addAttribution(plain(streets.credit));
}

function plain(text) {
  const holder = document.createElement("span");
  holder.textContent = text;
  return holder.innerHTML;
}

// Takes over pieces of the map as the planner sends them.
export function drawn(pieces) {
  for (const [name, piece] of Object.entries(pieces)) {
    if (name.startsWith("truck ")) { data.trucks[Number(name.slice(6))] = piece; }
    else if (name === "streets") { drawStreets(map, piece); }
    else { data[name] = piece; }
  }
  if (!map._loaded) { fit(); }
  draw();
}

function allPoints(numbers) {
  const points = [...data.sites, ...data.out].map(([lat, lon]) => [lat, lon]);
  for (const number of numbers) { points.push(...(data.trucks[number]?.stops ?? []).map(([lat, lon]) => [lat, lon])); }
  return points;
}

function fit(numbers = Object.keys(data.trucks)) {
  const points = allPoints(numbers);
  if (points.length) { map.fitBounds(points, { padding: [26, 26], animate: false }); }
}

export function showTrucks(truck, beside, key) {
  const same = data.truck === truck && data.beside === beside && data.key === key;
  Object.assign(data, { truck, beside, key });
  if (!same && map?._loaded) { draw(); }
}

function mark(layer, lat, lon, kind, text, title, key) {
  const sign = document.createElement("span");
  sign.className = kind;
  sign.textContent = text;
  const icon = L.divIcon({ className: "pt", html: sign, iconSize: null });
  const marker = L.marker([lat, lon], { icon, keyboard: false, interactive: Boolean(key), zIndexOffset: kind.includes("chosen") ? 2000 : kind.includes("no") ? 500 : 0 });
  // Whose stop it is stands in the sheet, and is looked up where a pointer asks.
  if (key) { marker.on("click", () => pick(key)).on("mouseover", () => { marker.getElement().title = title(); }); }
  marker.addTo(layer);
}

// Who lives there stands in the sheet.
function titleOf(number, key) {
  const row = document.querySelector(`#sheet-${number} tr.row[data-key="${CSS.escape(key)}"] .who`);
  return row?.textContent ?? "";
}

function drawTruck(layer, number, { way: packed, stops }, first, second) {
  if ((first || second) && packed.length) {
    const way = unpack(packed, 0);
    L.polyline(way, { color: "#fff", weight: 6, interactive: false }).addTo(layer);
    L.polyline(way, { color: "#111", weight: 2.6, dashArray: first ? null : "7 6", interactive: false }).addTo(layer);
  }
  for (const [lat, lon, seq, kind, key] of stops) {
    const who = () => titleOf(number, key);
    if (!first && !second) { mark(layer, lat, lon, "ring", "", who, key); continue; }
    const look = `no${second ? " second" : ""}${kind === "refill" ? " water" : ""}${first && key === data.key ? " chosen" : ""}`;
    mark(layer, lat, lon, look, String(seq), () => `stop ${seq}: ${who()}`, kind === "visit" ? key : "");
  }
}

function drawPlaces(layer) {
  for (const [lat, lon, kind, name] of data.sites) { if (kind === "yard") { mark(layer, lat, lon, "yard", "yard", () => name, ""); } }
  for (const [lat, lon, customer, order] of data.out) { mark(layer, lat, lon, "x", "✕", () => customer, `order ${order}`); }
}

// Draws anew what looks other than before: made from other pieces, or told apart otherwise.
const shown = new Map();
function layerOf(name, made, look, drawOn) {
  const was = shown.get(name);
  if (was && was.look === look && was.made.every((one, at) => one === made[at])) { return; }
  was?.layer.remove();
  const layer = L.layerGroup().addTo(map);
  drawOn(layer);
  shown.set(name, { made, look, layer });
}

// Once, however often it is asked for, and when the frame of the sheets is painted: they are not to
// wait for the map.
let due = false, resized = false;
function draw() {
  if (!map?._loaded || due) { return; }
  due = true;
  requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(drawNow)));
}

function drawNow() {
  due = false;
  if (resized) { resized = false; map.invalidateSize({ animate: false }); }
  for (const [number, truck] of Object.entries(data.trucks)) {
    const first = Number(number) === data.truck, second = Number(number) === data.beside;
    layerOf(number, [truck], first ? `first ${data.key}` : second ? "second" : "", (layer) => drawTruck(layer, number, truck, first, second));
  }
  layerOf("places", [data.sites, data.out], "", drawPlaces);
  placeNames();
  const says = document.getElementById("map-says"), name = (number) => document.getElementById(`stall-${number}`)?.dataset.truck;
  const parts = [];
  if (data.truck) { parts.push(`${name(data.truck)} solid`); }
  if (data.beside) { parts.push(`${name(data.beside)} dashed`); }
  if (Object.keys(data.trucks).length > parts.length) { parts.push("other trucks’ stops: rings"); }
  if (data.out.length) { parts.push("✕ not in this day"); }
  says.textContent = parts.join(" · ");
}

// Names of what is out, where they hide neither a stop nor another name; else the sign alone. How
// large a sign is drawn is known: to ask the browser would have it lay out the whole page once more.
const HALF_PX = { ring: [6, 6], no: [12, 10], x: [9, 10], yard: [22, 11] };
let names = [];
function placeNames() {
  names.forEach((one) => one.remove());
  names = [];
  if (!data.out.length) { return; }
  const taken = [];
  const take = (lat, lon, [wide, high]) => {
    const { x, y } = map.latLngToContainerPoint([lat, lon]);
    taken.push([x - wide, y - high, x + wide, y + high]);
  };
  for (const [number, { stops }] of Object.entries(data.trucks)) {
    const half = [data.truck, data.beside].includes(Number(number)) ? HALF_PX.no : HALF_PX.ring;
    for (const [lat, lon] of stops) { take(lat, lon, half); }
  }
  for (const [lat, lon, kind] of data.sites) { if (kind === "yard") { take(lat, lon, HALF_PX.yard); } }
  for (const [lat, lon] of data.out) { take(lat, lon, HALF_PX.x); }
  const meet = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
  for (const [lat, lon, customer] of data.out) {
    const at = map.latLngToContainerPoint([lat, lon]), wide = customer.length * 7 + 8;
    const places = [[10, -8], [-10 - wide, -8], [-wide / 2, 9], [-wide / 2, -25], [12, 8], [12, -24], [-12 - wide, 8], [-12 - wide, -24]];
    const free = places.find(([x, y]) => {
      const box = [at.x + x, at.y + y, at.x + x + wide, at.y + y + 16];
      if (taken.some((other) => meet(box, other))) { return false; }
      taken.push(box);
      return true;
    });
    if (!free) { continue; }
    const text = document.createElement("span");
    text.className = "name";
    text.textContent = customer;
    text.style.left = `${free[0]}px`;
    text.style.top = `${free[1]}px`;
    const icon = L.divIcon({ className: "pt", html: text, iconSize: null });
    names.push(L.marker([lat, lon], { icon, keyboard: false, interactive: false }).addTo(map));
  }
}

// A map to say where a place is: by a click, or by keys with the cross in its middle.
/* global L */
import { drawStreets, plainMap } from "./ground.js";
import { get } from "./ask.js";

let map = null;

export async function openPlacing(at, taken) {
  map = plainMap("place-map", true);
  const told = await get("/tables/ground");
  const box = document.getElementById("place-map");
  if (!told || !box) { return; }
  const places = told.places;
  if (at) { map.setView(at, 16); } else if (places.length) { map.fitBounds(places, { animate: false }); } else { map.setView([40, -95], 4); }
  if (told.streets) { drawStreets(map, told.streets); }
  for (const place of places) { L.circleMarker(place, { radius: 3, color: "#666", weight: 1.5, interactive: false }).addTo(map); }
  const cross = document.createElement("span");
  cross.className = "cross";
  box.append(cross);
  map.on("click", ({ latlng }) => taken(latlng.lat, latlng.lng));
  const middle = () => taken(map.getCenter().lat, map.getCenter().lng);
  box.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); middle(); } });
  document.getElementById("place-take").addEventListener("click", middle);
  box.tabIndex = 0;
  box.focus();
  box.dataset.ready = "1";
}

export function closePlacing() { map?.remove(); map = null; }

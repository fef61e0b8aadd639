// Draws the packed background and the markers; called by the page with its own data.
function drawBackground(map, layer, packed) {
  map.createPane("streets").style.zIndex = 350;
  var drawer = L.canvas({ padding: 0.3, tolerance: 4, pane: "streets" });
  var styles = {
    water: { color: "#9db8c9", weight: 5, opacity: 0.9 },
    minor: { color: "#c9c9c9", weight: 1.6 },
    major: { color: "#9a9a9a", weight: 3.2 }
  };
  ["water", "minor", "major"].forEach(function (kind) {
    (packed.lines[kind] || []).forEach(function (row) {
      var lat = row[1], lon = row[2], points = [[lat / 1e5, lon / 1e5]];
      for (var at = 3; at < row.length; at += 2) {
        lat += row[at]; lon += row[at + 1];
        points.push([lat / 1e5, lon / 1e5]);
      }
      var name = packed.names[row[0]];
      var options = { renderer: drawer, pane: "streets", interactive: !!name, smoothFactor: 1.5 };
      for (var key in styles[kind]) { options[key] = styles[kind][key]; }
      var line = L.polyline(points, options);
      if (name) {
        // The name goes in as text, never as HTML.
        line.bindTooltip(function () {
          var box = document.createElement("span"); box.textContent = name; return box;
        }, { sticky: true, className: "street-name" });
      }
      layer.addLayer(line);
    });
  });
}

var mixMarkers = [];

function drawMarkers(layer, rows) {
  rows.forEach(function (row) {
    var icon = L.divIcon({ className: "holder " + (row.kind || ""), html: row.html, iconSize: null });
    var marker = L.marker([row.lat, row.lon], {
      icon: icon, alt: row.alt, title: row.alt, keyboard: !!row.popup, interactive: !!row.popup,
      zIndexOffset: row.lift || 0
    });
    if (row.popup) { marker.bindPopup(row.popup, { maxWidth: 300 }); }
    marker.addTo(layer);
    if (row.mixes) { mixMarkers.push({ marker: marker, mixes: row.mixes }); }
  });
}

function addBox(map, position, html, name) {
  var control = L.control({ position: position });
  control.onAdd = function () {
    var box = L.DomUtil.create("div", name);
    box.innerHTML = html;
    L.DomEvent.disableClickPropagation(box);
    L.DomEvent.disableScrollPropagation(box);
    return box;
  };
  control.addTo(map);
  return control;
}

function showMixes(box) {
  var on = {};
  box.querySelectorAll("[data-mix]").forEach(function (field) { on[field.dataset.mix] = field.checked; });
  mixMarkers.forEach(function (row) {
    row.shown = row.mixes.some(function (mix) { return on[mix]; });
    var icon = row.marker.getElement();
    if (icon) { icon.style.display = row.shown ? "" : "none"; }
  });
}

function fitDay(map, bounds) {
  // On a desk the key covers the right edge; on a phone it is folded.
  var wide = window.innerWidth >= 700;
  map.fitBounds(bounds, {
    paddingTopLeft: [30, wide ? 30 : 70],
    paddingBottomRight: wide ? [340, 30] : [30, 70]
  });
}

function finishMap(map, boxes) {
  L.control.scale({ metric: false, maxWidth: 140 }).addTo(map);
  fitDay(map, boxes.bounds);
  map.attributionControl.setPrefix("Leaflet");
  map.attributionControl.addAttribution(boxes.credit);
  if (boxes.warning) { addBox(map, "topleft", boxes.warning, "banner"); }
  var legend = addBox(map, "bottomright", boxes.legend, "legend").getContainer();
  if (window.innerWidth < 700) { legend.querySelector("details").open = false; }
  legend.addEventListener("change", function () { showMixes(legend); });
  map.on("overlayadd", function () { showMixes(legend); });
  function near() { map.getContainer().classList.toggle("far", map.getZoom() < 12); }
  map.on("zoomend", near);
  near();
}

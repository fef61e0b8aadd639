// Draws the packed background and the markers; called by the page with its own data.
function drawBackground(map, layer, packed) {
  map.createPane("streets").style.zIndex = 350;
  var drawer = L.canvas({ padding: 0.3, tolerance: 4, pane: "streets" });
  var styles = {
    water: { color: "#9db8c9", weight: 5, opacity: 0.9 },
    minor: { color: "#c9c9c9", weight: 1.6 },
    major: { color: "#9a9a9a", weight: 3.2 }
  };
  var named = [];
  ["water", "minor", "major"].forEach(function (kind) {
    var all = (packed.lines[kind] || []).map(function (row) {
      var lat = row[1], lon = row[2], points = [L.latLng(lat / 1e5, lon / 1e5)];
      var box = L.latLngBounds(points[0], points[0]);
      for (var at = 3; at < row.length; at += 2) {
        lat += row[at]; lon += row[at + 1];
        points.push(L.latLng(lat / 1e5, lon / 1e5));
        box.extend(points[points.length - 1]);
      }
      var name = packed.names[row[0]];
      if (name) { named.push({ name: name, points: points, box: box, water: kind === "water" }); }
      return points;
    });
    var options = { renderer: drawer, pane: "streets", interactive: false, smoothFactor: 1.5 };
    for (var key in styles[kind]) { options[key] = styles[kind][key]; }
    // One line of many pieces: tens of thousands of lines of their own would take seconds.
    layer.addLayer(L.polyline(all, options));
  });
  nameStreets(map, layer, named);
  tellStreet(map, layer, named);
}

// The name of the street under the mouse.
function tellStreet(map, layer, streets) {
  var tip = L.tooltip({ className: "street-name", offset: [12, 0] }), waiting = false;
  function nearest(at) {
    var point = map.latLngToLayerPoint(at), best = null, least = 7;
    var reach = L.latLngBounds(
      map.layerPointToLatLng(point.subtract([7, 7])), map.layerPointToLatLng(point.add([7, 7]))
    );
    streets.forEach(function (street) {
      if (!reach.intersects(street.box)) { return; }
      for (var row = 1; row < street.points.length; row++) {
        var a = map.latLngToLayerPoint(street.points[row - 1]);
        var b = map.latLngToLayerPoint(street.points[row]);
        var off = L.LineUtil.pointToSegmentDistance(point, a, b);
        if (off < least) { least = off; best = street.name; }
      }
    });
    return best;
  }
  map.on("mousemove", function (event) {
    if (waiting) { return; }
    waiting = true;
    requestAnimationFrame(function () {
      waiting = false;
      var name = map.hasLayer(layer) ? nearest(event.latlng) : null;
      if (!name) { tip.remove(); return; }
      // The name goes in as text, never as HTML.
      var box = document.createElement("span");
      box.textContent = name;
      tip.setContent(box).setLatLng(event.latlng).addTo(map);
    });
  });
  map.on("mouseout", function () { tip.remove(); });
}

// Letter and A4 lying on their long side, less the margins of page.css, at 96 pixels to the inch.
var PAPER_PX = [970, 700], onPaper = false;

var mixMarkers = [], signs = [], covered = [];

function drawMarkers(layer, rows) {
  rows.forEach(function (row) {
    var icon = L.divIcon({ className: "holder " + (row.kind || ""), html: row.html, iconSize: null });
    var marker = L.marker([row.lat, row.lon], {
      icon: icon, alt: row.alt, title: row.alt, keyboard: !!row.popup, interactive: !!row.popup,
      zIndexOffset: row.lift || 0
    });
    if (row.popup) {
      marker.bindPopup(row.popup, { maxWidth: 300 });
      marker.on("add", function () {
        marker.getElement().setAttribute("aria-label", row.alt);
        marker.getElement().removeAttribute("alt");
      });
    }
    marker.addTo(layer);
    if (row.mixes) { mixMarkers.push({ marker: marker, mixes: row.mixes }); }
    if (row.size) { signs.push({ marker: marker, lift: row.lift || 0, size: row.size }); }
  });
}

// Signs at one place stand in a column; as dots they stand in rows beside each other, as specks on
// one spot.
function offset(form, at) {
  if (form < 2) { return [0, at * 25]; }
  if (form === 3) { return [0, 0]; }
  return at === 0 ? [0, 0] : [((at - 1) % 5 - 2) * 15, 15 * (1 + Math.floor((at - 1) / 5))];
}

function boxOf(point, form, at, size) {
  var shift = offset(form, at), half = form < 2 ? size[form] / 2 : form === 2 ? 8 : 4, high = Math.min(half, 12);
  var x = point.x + shift[0], y = point.y + shift[1];
  return [x - half, y - high, x + half, y + high];
}

function meet(a, b) { return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]; }

// Gives each sign the largest form (0 whole, 1 short, 2 dot, 3 speck) that covers no other place or
// sign: dots in a dense street would cover each other's letters.
function arrangeSigns(map) {
  var groups = {}, order = [], letters = [];
  covered = [];
  signs.forEach(function (sign) {
    var icon = sign.marker.getElement && sign.marker._map && sign.marker.getElement();
    if (!icon || icon.style.display === "none") { return; }
    var at = sign.marker.getLatLng(), key = at.lat + "," + at.lng;
    if (!groups[key]) {
      groups[key] = { point: map.latLngToLayerPoint(at), rows: [], lift: 0 };
      order.push(groups[key]);
    }
    groups[key].rows.push({ icon: icon, size: sign.size, marker: sign.marker, lift: sign.lift });
    groups[key].lift = Math.max(groups[key].lift, sign.lift);
  });
  function boxes(group, form) {
    return group.rows.map(function (row, at) { return boxOf(group.point, form, at, row.size); });
  }
  order.forEach(function (group) { group.dots = boxes(group, 2); });
  order.sort(function (a, b) { return b.lift - a.lift; });
  order.forEach(function (group) {
    var form = 0;
    for (; form < 2; form++) {
      var wanted = boxes(group, form);
      var taken = order.some(function (other) {
        return other !== group && wanted.some(function (box) {
          return (other.drawn || other.dots).some(function (there) { return meet(box, there); });
        });
      });
      if (!taken) { group.drawn = wanted; break; }
    }
    if (!group.drawn) {
      var under = group.dots.some(function (box) {
        // Over specks a letter may stand.
        return letters.some(function (there) { return meet(box, there); });
      });
      if (under) { form = 3; }
      group.drawn = under ? boxes(group, 3) : group.dots;
    }
    covered = covered.concat(group.drawn);
    if (form < 3) { letters = letters.concat(group.drawn); }
    group.rows.forEach(function (row, at) {
      var sign = row.icon.firstElementChild, shift = offset(form, at);
      sign.classList.toggle("brief", form === 1);
      sign.classList.toggle("dot", form > 1);
      sign.classList.toggle("speck", form === 3);
      // Under the letters: Leaflet draws what stands farther south on top.
      row.marker.setZIndexOffset(form === 3 ? row.lift - 4000 : row.lift);
      sign.style.margin = shift[1] + "px 0 0 " + shift[0] + "px";
    });
  });
}

// Each truck's name beside its way, where it hides neither a sign nor another name.
function nameTrucks(map, trucks) {
  var view = map.getPixelBounds(), origin = map.getPixelOrigin(), names = [];
  var frame = map.getContainer().getBoundingClientRect();
  map.getContainer().querySelectorAll(".legend, .leaflet-control-layers").forEach(function (control) {
    var there = control.getBoundingClientRect();
    var corner = map.containerPointToLayerPoint([there.left - frame.left, there.top - frame.top]);
    // On paper the key is as long as its content.
    var high = onPaper ? PAPER_PX[1] : there.height;
    names.push([corner.x, corner.y + there.height - high, corner.x + there.width, corner.y + there.height]);
  });
  trucks.forEach(function (truck) {
    if (truck.name) { truck.name.remove(); truck.name = null; }
    if (!map.hasLayer(truck.layer)) { return; }
    var points = [];
    truck.layer.eachLayer(function (part) {
      if (!points.length && part instanceof L.Polyline) { points = part.getLatLngs().flat(); }
    });
    // From the middle of the way to both ends: the yard, where all ways meet, comes last.
    var step = Math.max(1, Math.floor(points.length / 80)), middle = Math.floor(points.length / 2), order = [];
    for (var away = 0; away <= middle; away += step) { order.push(points[middle + away], points[middle - away]); }
    [truck.letter + " " + truck.title, truck.letter + " " + truck.id].some(function (text) {
      var wide = text.length * 6.6 + 14;
      return order.some(function (at) {
        if (!at) { return false; }
        var point = map.latLngToLayerPoint(at), box = [point.x + 8, point.y - 10, point.x + 8 + wide, point.y + 10];
        var inside = box[0] + origin.x > view.min.x && box[2] + origin.x < view.max.x && box[1] + origin.y > view.min.y && box[3] + origin.y < view.max.y;
        if (!inside || covered.concat(names).some(function (other) { return meet(box, other); })) { return false; }
        names.push(box);
        var label = document.createElement("span");
        label.textContent = text;
        label.style.borderColor = truck.color;
        var icon = L.divIcon({ className: "truck-name", html: label, iconSize: null });
        truck.name = L.marker(at, { icon: icon, interactive: false, keyboard: false }).addTo(map);
        return true;
      });
    });
  });
}

// Names along the streets, where the map is near enough to have room for them.
function nameStreets(map, layer, streets) {
  var names = L.layerGroup();
  var pane = map.createPane("names");
  pane.style.zIndex = 360;
  pane.style.pointerEvents = "none";
  function label(name, at, turn) {
    var text = document.createElement("span");
    text.textContent = name;
    text.style.transform = "translate(-50%, -50%) rotate(" + turn + "deg)";
    var icon = L.divIcon({ className: "name-holder", html: text, iconSize: null });
    L.marker(at, { icon: icon, pane: "names", interactive: false, keyboard: false }).addTo(names);
  }
  function draw() {
    names.clearLayers();
    if (map.getZoom() < 15 || !map.hasLayer(layer)) { names.remove(); return; }
    names.addTo(map);
    var view = map.getBounds(), taken = [], best = {};
    streets.forEach(function (street) {
      if (street.water || !view.intersects(street.box)) { return; }
      var points = street.points;
      for (var at = 1; at < points.length; at++) {
        var middle = L.latLng((points[at].lat + points[at - 1].lat) / 2, (points[at].lng + points[at - 1].lng) / 2);
        if (!view.contains(middle)) { continue; }
        var a = map.latLngToLayerPoint(points[at - 1]), b = map.latLngToLayerPoint(points[at]);
        var length = a.distanceTo(b);
        if (length > street.name.length * 6.2 && (!best[street.name] || best[street.name].length < length)) {
          var turn = Math.atan2(b.y - a.y, b.x - a.x) * 180 / Math.PI;
          if (turn > 90) { turn -= 180; } else if (turn < -90) { turn += 180; }
          best[street.name] = { length: length, middle: middle, turn: turn, point: map.latLngToLayerPoint(middle) };
        }
      }
    });
    Object.keys(best).forEach(function (name) {
      var row = best[name], reach = name.length * 3.2;
      var wide = Math.abs(Math.cos(row.turn * Math.PI / 180)) * reach + 7;
      var high = Math.abs(Math.sin(row.turn * Math.PI / 180)) * reach + 7;
      var box = [row.point.x - wide, row.point.y - high, row.point.x + wide, row.point.y + high];
      if (taken.some(function (other) { return meet(box, other); })) { return; }
      taken.push(box);
      label(name, row.middle, row.turn);
    });
  }
  map.on("moveend overlayadd overlayremove", draw);
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

// What the shown trucks drive; the whole day where none or all are shown.
function shownBounds(map, boxes) {
  var shown = boxes.trucks.filter(function (truck) { return map.hasLayer(truck.layer); });
  var box = L.latLngBounds(boxes.bounds);
  if (!shown.length || shown.length === boxes.trucks.length) { return box; }
  box = shown[0].layer.getBounds();
  shown.forEach(function (truck) { box.extend(truck.layer.getBounds()); });
  return box;
}

// The address map.html#T1 shows truck T1 alone, map.html# all of them.
function showAsked(map, boxes) {
  var asked = decodeURIComponent(window.location.hash.slice(1));
  var known = boxes.trucks.some(function (truck) { return truck.id === asked; });
  if (asked && !known) { return; }
  boxes.trucks.forEach(function (truck) {
    if (!known || truck.id === asked) { map.addLayer(truck.layer); } else { map.removeLayer(truck.layer); }
  });
}

function fitDay(map, bounds) {
  // On a desk the key covers the right edge; on a phone it is folded.
  var wide = window.innerWidth >= 700;
  // Without animation: its end would come after a print that begins at once, and undo its fit.
  map.fitBounds(bounds, {
    paddingTopLeft: [30, wide ? 30 : 70],
    paddingBottomRight: wide ? [340, 30] : [30, 70],
    animate: false
  });
}

// Paper has its own size: what is shown is fitted to it, and the screen's view comes back after.
function fitPaper(map, boxes) {
  var box = map.getContainer(), view = null;
  window.addEventListener("beforeprint", function () {
    view = { at: map.getCenter(), zoom: map.getZoom() };
    onPaper = true;
    box.style.width = PAPER_PX[0] + "px";
    box.style.height = PAPER_PX[1] + "px";
    map.invalidateSize({ animate: false });
    map.fitBounds(shownBounds(map, boxes), { paddingTopLeft: [20, 20], paddingBottomRight: [300, 20], animate: false });
  });
  window.addEventListener("afterprint", function () {
    box.style.width = box.style.height = "";
    onPaper = false;
    map.invalidateSize({ animate: false });
    if (view) { map.setView(view.at, view.zoom, { animate: false }); }
  });
}

// An online map behind ours: off, and without a word where there is no network.
function addOnlineMap(control, online) {
  var nothing = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw==";
  var tiles = L.tileLayer(online.address, {
    attribution: online.credit, maxZoom: 19, errorTileUrl: nothing
  });
  control.addOverlay(tiles, "Online street map (asks the network)");
}

function finishMap(map, boxes, layers) {
  boxes.trucks.forEach(function (truck, at) { truck.layer = layers[at]; });
  L.control.scale({ metric: false, maxWidth: 140 }).addTo(map);
  showAsked(map, boxes);
  fitDay(map, shownBounds(map, boxes));
  fitPaper(map, boxes);
  map.attributionControl.setPrefix("Leaflet");
  map.attributionControl.addAttribution(boxes.credit);
  if (boxes.warning) { addBox(map, "topleft", boxes.warning, "banner"); }
  var legend = addBox(map, "bottomright", boxes.legend, "legend").getContainer();
  if (window.innerWidth < 700) { legend.querySelector("details").open = false; }
  function arrange() {
    showMixes(legend);
    boxes.trucks.forEach(function (truck, at) {
      legend.querySelector('[data-truck="' + at + '"]').hidden = !map.hasLayer(truck.layer);
    });
    arrangeSigns(map);
    nameTrucks(map, boxes.trucks);
  }
  function isTruck(layer) { return layers.indexOf(layer) >= 0; }
  legend.addEventListener("change", arrange);
  map.on("overlayadd overlayremove", function (event) {
    if (isTruck(event.layer)) { fitDay(map, shownBounds(map, boxes)); }
  });
  map.on("overlayadd overlayremove zoomend resize", arrange);
  map.on("moveend", function () { nameTrucks(map, boxes.trucks); });
  window.addEventListener("hashchange", function () { showAsked(map, boxes); });
  arrange();
  // Leaflet hears Escape only while the map itself has the focus, not a sign on it.
  map.getContainer().addEventListener("keydown", function (event) {
    if (event.key === "Escape") { map.closePopup(); }
  });
  function near() { map.getContainer().classList.toggle("far", map.getZoom() < 12); }
  map.on("zoomend", near);
  near();
}

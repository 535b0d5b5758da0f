// The pin on a building's form. The typed fields are the truth: whatever moves the pin only fills them in.
(() => {
  const box = document.getElementById("pin-map");
  if (!box || !window.L) return;
  const latitude = document.getElementById("id_latitude");
  const longitude = document.getElementById("id_longitude");
  const said = document.getElementById("pin-said");
  const others = JSON.parse(box.dataset.others);
  const STEPS = { ArrowUp: [1, 0, "north"], ArrowDown: [-1, 0, "south"], ArrowRight: [0, 1, "east"], ArrowLeft: [0, -1, "west"] };
  const METERS_A_DEGREE = 111195;
  const METERS_A_MILE = 1609.344;

  const typed = () => {
    const [first, second] = [latitude.value.trim(), longitude.value.trim()];
    // Comparing with what is no number is false, too.
    return first && second && Math.abs(first) <= 90 && Math.abs(second) <= 180 ? L.latLng(Number(first), Number(second)) : null;
  };
  const text = (words) => Object.assign(document.createElement("span"), { textContent: words });

  document.getElementById("pin").hidden = false;
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const map = L.map(box, { attributionControl: false, maxZoom: 18, scrollWheelZoom: false, zoomAnimation: !still, fadeAnimation: !still, inertia: !still });
  // The wheel scrolls the page until somebody means the map.
  map.on("focus", () => map.scrollWheelZoom.enable()).on("blur", () => map.scrollWheelZoom.disable());
  L.control.scale().addTo(map);
  if (box.dataset.tiles) {
    L.tileLayer(box.dataset.tiles, { minZoom: Number(box.dataset.leastZoom), maxNativeZoom: Number(box.dataset.mostZoom), referrerPolicy: "strict-origin-when-cross-origin" }).addTo(map);
  }
  // On a phone whole names would hide each other.
  const label = box.clientWidth < 500 ? "code" : "name";
  for (const one of others) {
    L.circleMarker([one.latitude, one.longitude], { radius: 6, className: "pin-other", interactive: false })
      .bindTooltip(text(one[label]), { permanent: true, direction: "right", offset: [6, 0], className: "pin-name" })
      .addTo(map);
  }

  const pin = L.marker([0, 0], {
    draggable: true,
    autoPan: true,
    icon: L.divIcon({
      className: "pin-icon",
      iconSize: [44, 48],
      iconAnchor: [22, 46],
      html: '<svg viewBox="0 0 44 48" aria-hidden="true"><path d="M22 46C14 33 8 26 8 18a14 14 0 0 1 28 0c0 8-6 15-14 28z"/><circle cx="22" cy="18" r="5"/></svg>',
    }),
  });
  const show = (at) => {
    const isNew = !map.hasLayer(pin);
    pin.setLatLng(at).addTo(map);
    if (!isNew) return;
    const icon = pin.getElement();
    // Arrow keys must reach the pin itself and not a screen reader's own cursor.
    icon.setAttribute("role", "application");
    icon.setAttribute("aria-roledescription", "pin");
    icon.setAttribute("aria-label", "Place of the building. Arrow keys move it 10 meters, or 100 with Shift.");
    icon.addEventListener("keydown", nudge);
  };
  const nearest = (at) => {
    const [first] = others.map((one) => [map.distance(at, [one.latitude, one.longitude]), one.name]).sort((a, b) => a[0] - b[0]);
    return first ? `, ${(first[0] / METERS_A_MILE).toFixed(1)} miles from ${first[1]}` : "";
  };
  const put = (where, how) => {
    const at = where.wrap();
    latitude.value = at.lat.toFixed(6);
    longitude.value = at.lng.toFixed(6);
    show(typed());
    map.panInside(at, { padding: [50, 60], animate: !still });
    said.textContent = `${how}: ${latitude.value}, ${longitude.value}${nearest(at)}.`;
  };
  function nudge(event) {
    const step = STEPS[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const meters = event.shiftKey ? 100 : 10;
    const { lat, lng } = pin.getLatLng();
    const degrees = meters / METERS_A_DEGREE;
    put(L.latLng(lat + step[0] * degrees, lng + (step[1] * degrees) / Math.cos((lat * Math.PI) / 180)), `${meters} meters ${step[2]}`);
  }
  pin.on("dragend", () => put(pin.getLatLng(), "The pin is set"));
  map.on("click", (event) => put(event.latlng, "The pin is set"));
  document.getElementById("pin-middle").addEventListener("click", () => {
    put(map.getCenter(), "The pin is set");
    pin.getElement().focus();
  });
  for (const field of [latitude, longitude]) {
    field.addEventListener("change", () => {
      const at = typed();
      if (at) {
        show(at);
        map.panTo(at, { animate: !still });
      } else {
        pin.remove();
      }
    });
  }

  const at = typed();
  const known = others.map((one) => [one.latitude, one.longitude]);
  // Streets below tell where one is; without them the other buildings must be in sight.
  if (at && box.dataset.tiles) map.setView(at, 15);
  else if (at || known.length) map.fitBounds(at ? [...known, at] : known, { padding: [60, 60], maxZoom: 15 });
  else map.setView([39.8, -98.6], 4);
  if (at) show(at);
})();

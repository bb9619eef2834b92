// Fills in where somebody stands. Without it the two fields are typed or stay empty.

const METERS_TO_FEET = 3.28084;
const GOOD_ENOUGH = 8; // meters
const LONGEST = 30000; // milliseconds

function point(group) {
  const [latitude, longitude] = group.querySelectorAll("input");
  const said = group.querySelector("[data-locate-said]");
  const button = group.querySelector("[data-locate-now]");
  let watch = null;
  let best = Infinity;

  const stop = () => {
    if (watch !== null) navigator.geolocation.clearWatch(watch);
    watch = null;
  };

  const got = ({ coords }) => {
    if (coords.accuracy >= best) return;
    best = coords.accuracy;
    latitude.value = coords.latitude.toFixed(6);
    longitude.value = coords.longitude.toFixed(6);
    said.textContent = said.dataset.got.replace("%s", Math.round(best * METERS_TO_FEET));
    if (best <= GOOD_ENOUGH) stop();
  };

  const lost = () => {
    stop();
    if (best === Infinity) said.textContent = said.dataset.none;
  };

  const start = () => {
    stop();
    best = Infinity;
    said.textContent = said.dataset.waiting;
    watch = navigator.geolocation.watchPosition(got, lost, {
      enableHighAccuracy: true,
      timeout: LONGEST,
      maximumAge: 0,
    });
    setTimeout(stop, LONGEST);
  };

  // What a person types is theirs: the phone stops looking.
  for (const field of [latitude, longitude]) field.addEventListener("input", stop);
  button.hidden = false;
  button.addEventListener("click", start);
  if (group.dataset.locate === "auto" && !latitude.value && !longitude.value) start();
}

if ("geolocation" in navigator) {
  for (const group of document.querySelectorAll(".point")) point(group);
}

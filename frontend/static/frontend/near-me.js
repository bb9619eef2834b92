/* Offers "where I stand" where a phone can say it. Without it every page works the same: this only
   fills two hidden fields, and only after a tap. */

const place = document.getElementById("near-me");

if (place && "geolocation" in navigator) {
  place.hidden = false;
  const button = place.querySelector("button");
  const status = place.querySelector("[role=status]");
  const field = (name) => place.querySelector(`[name=${name}]`);
  for (const name of ["latitude", "longitude"]) {
    field(name).disabled = true;
  }

  button.addEventListener("click", () => {
    status.textContent = place.dataset.asking;
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        for (const name of ["latitude", "longitude"]) {
          field(name).disabled = false;
          field(name).value = coords[name].toFixed(5);
        }
        if (place instanceof HTMLFormElement) {
          place.submit();
        } else {
          status.textContent = place.dataset.kept;
        }
      },
      () => {
        status.textContent = place.dataset.refused;
      },
      { enableHighAccuracy: true, timeout: 15000, maximumAge: 30000 },
    );
  });
}

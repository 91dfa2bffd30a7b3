// The redrawing over the photo: a key blinks between the two, a slider fades.

const stage = () => document.getElementById("stage");
const slider = () => document.getElementById("fade");
let value = 50;

function fade(to) {
  value = Math.max(0, Math.min(100, to));
  slider().value = value;
  stage().classList.remove("only-photo", "only-drawn");
  stage().style.setProperty("--drawn", Math.min(1, value / 50));
  stage().style.setProperty("--photo", Math.min(1, (100 - value) / 50));
}

export const STAGE = {
  blink: () => {
    const drawing = stage().classList.contains("only-photo");
    stage().classList.toggle("only-photo", !drawing);
    stage().classList.toggle("only-drawn", drawing);
  },
  "more-photo": () => fade(value - 25),
  "more-drawing": () => fade(value + 25),
};

document.addEventListener("input", (event) => {
  if (event.target.id === "fade") fade(Number(event.target.value));
});

/** A new stage fades as the one before, and says so where its photo cannot be shown. */
export function setStage() {
  if (value !== 50) fade(value);
  const photo = stage().querySelector(".photo");
  photo.addEventListener("error", () => (photo.alt = photo.dataset.missing));
}

// Turning set-ups with the arrow keys, and the beat. Everything else on the pages works without this file.
"use strict";

document.addEventListener("keydown", (e) => {
  if (e.defaultPrevented || e.altKey || e.ctrlKey || e.metaKey || e.shiftKey) return;
  if (e.target.closest && e.target.closest("input, textarea, select, .scroll")) return;
  const way = { ArrowRight: "next", ArrowLeft: "prev" }[e.key];
  const link = way && document.querySelector(`a[rel=${way}]`);
  if (link) location.href = link.href;
});

document.querySelectorAll(".beat").forEach((box) => {
  const seconds = Number(box.dataset.beat);
  const button = box.querySelector("button");
  let sound = null, next = 0, timer = 0;
  box.hidden = false;

  function tick(at) {
    const tone = sound.createOscillator(), level = sound.createGain();
    tone.frequency.value = 880;
    level.gain.setValueAtTime(0.5, at);
    level.gain.exponentialRampToValueAtTime(0.001, at + 0.08);
    tone.connect(level).connect(sound.destination);
    tone.start(at);
    tone.stop(at + 0.1);
    setTimeout(() => {
      box.classList.add("lit");
      setTimeout(() => box.classList.remove("lit"), 90);
    }, Math.max(0, (at - sound.currentTime) * 1000));
  }

  button.addEventListener("click", () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    // two beats at once would be none
    if (on) document.querySelectorAll(".beat button[aria-pressed=true]").forEach((other) => other.click());
    button.setAttribute("aria-pressed", String(on));
    clearInterval(timer);
    if (!on) return;
    sound = sound || new AudioContext();
    sound.resume();
    next = sound.currentTime + 0.1;
    // ticks are laid on the sound clock a little ahead, so that they do not drift
    timer = setInterval(() => {
      while (next < sound.currentTime + 0.3) {
        tick(next);
        next += seconds;
      }
    }, 100);
  });
});

// Moments of a heated plate: a slider where there is a list and a button without this file.
function slideHeat() {
  document.querySelectorAll("form.heat-moments:not([data-slides])").forEach((form) => {
    form.dataset.slides = "yes";
    const list = form.querySelector("select"), box = form.parentElement;
    const picture = box.querySelector(".heat-picture"), said = box.querySelector(".heat-said");
    const slide = document.createElement("input");
    slide.type = "range";
    slide.max = String(list.options.length - 1);
    slide.value = String(list.selectedIndex);
    slide.setAttribute("aria-label", "moment of the job");
    list.before(slide);
    function show(n) {
      const one = list.options[n];
      list.selectedIndex = n;
      slide.value = String(n);
      slide.setAttribute("aria-valuetext", one.text);
      picture.src = `${form.dataset.pictures}${one.value}.svg?v=${form.dataset.mark}`;
      said.textContent = one.text;
    }
    slide.addEventListener("input", () => show(Number(slide.value)));
    list.addEventListener("change", () => show(list.selectedIndex));
    form.querySelector("button").hidden = true;
  });
}
slideHeat();
document.addEventListener("htmx:afterSettle", slideHeat);

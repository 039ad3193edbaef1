// One step at a time, ticks that stay, and the place found again. Without it the page is whole.
"use strict";
const bar = document.querySelector(".turning");
const main = document.querySelector("main");
const chapters = [...main.querySelectorAll(":scope > section")];
const slides = chapters.flatMap(c => c.matches(".steps") ? [...c.querySelectorAll(".step")] : [c]);
const ticks = [...document.querySelectorAll(".tick input")];
const [alone, back, place, next] =
  ["alone", "back", "place", "next"].map(name => bar.querySelector(`[data-is=${name}]`));
const key = `kdkit ${bar.dataset.mark}`;
const state = { alone: matchMedia("(max-width: 40rem)").matches, at: "", ticked: [] };
let at = 0;

function keep() {
  try {
    localStorage.setItem(key, JSON.stringify(state));
  } catch { /* a browser that keeps nothing: the page works all the same */ }
}

function recall() {
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(key));
  } catch { /* nothing is kept, or nothing that can be read */ }
  if (typeof kept?.alone === "boolean") state.alone = kept.alone;
  if (typeof kept?.at === "string") state.at = kept.at;
  if (Array.isArray(kept?.ticked)) state.ticked = kept.ticked.filter(id => typeof id === "string");
}

function link(slide) {
  return document.querySelector(`.contents a[href="#${CSS.escape(slide.id)}"]`);
}

function slideOf(id) {
  const there = id ? document.getElementById(id) : null;
  return there ? slides.findIndex(s => s.contains(there) || there.contains(s)) : -1;
}

function show(n, focus) {
  round?.close();
  at = Math.min(Math.max(n, 0), slides.length - 1);
  const slide = slides[at];
  state.at = slide.id;
  keep();
  for (const other of [...chapters, ...slides]) {
    other.classList.toggle("shown", other === slide || other.contains(slide));
  }
  document.querySelectorAll(".contents [aria-current]").forEach(a => a.removeAttribute("aria-current"));
  const here = link(slide);
  if (state.alone) {
    here?.setAttribute("aria-current", "step");
    here?.scrollIntoView({ block: "nearest", inline: "center" });
    history.replaceState(null, "", `#${slide.id}`);
  }
  place.textContent = bar.dataset.place.replace("{n}", at + 1).replace("{count}", slides.length);
  back.disabled = at === 0;
  next.disabled = at === slides.length - 1;
  if (!focus) return;
  scrollTo(0, 0);
  const head = slide.querySelector("h1, h2, h3");
  head.tabIndex = -1;
  head.focus({ preventScroll: true });
}

function setAlone(yes) {
  state.alone = yes;
  document.documentElement.classList.toggle("one-at-a-time", yes);
  alone.textContent = yes ? bar.dataset.whole : bar.dataset.one;
  for (const part of [back, place, next]) part.hidden = !yes;
}

function mark(tick) {
  const id = tick.closest(".tick").dataset.of;
  const yes = state.ticked.includes(id);
  tick.checked = yes;
  tick.closest("section, .card")?.classList.toggle("ticked", yes);
  const step = tick.closest(".step");
  const there = step && link(step);
  if (!there) return;
  there.classList.toggle("ticked", yes);
  there.setAttribute("aria-label", yes ? tick.closest(".tick").textContent.trim() : there.dataset.name);
}

recall();
for (const a of document.querySelectorAll(".contents a")) a.dataset.name = a.getAttribute("aria-label") ?? a.textContent;
for (const tick of ticks) {
  mark(tick);
  tick.addEventListener("change", () => {
    const id = tick.closest(".tick").dataset.of;
    state.ticked = state.ticked.filter(other => other !== id).concat(tick.checked ? [id] : []);
    keep();
    ticks.forEach(mark);
  });
}
bar.hidden = false;
ticks.forEach(tick => { tick.closest(".tick").hidden = false; });
setAlone(state.alone);
show(Math.max(0, slideOf(decodeURIComponent(location.hash.slice(1))), location.hash ? 0 : slideOf(state.at)), false);

alone.addEventListener("click", () => {
  const inSight = slides.findIndex(s => s.getBoundingClientRect().bottom > innerHeight / 3);
  const from = state.alone ? at : Math.max(0, inSight);
  setAlone(!state.alone);
  show(from, state.alone);
  if (!state.alone) slides[at].scrollIntoView();
});
back.addEventListener("click", () => show(at - 1, true));
next.addEventListener("click", () => show(at + 1, true));
addEventListener("hashchange", () => {
  const n = slideOf(decodeURIComponent(location.hash.slice(1)));
  if (state.alone && n >= 0) show(n, true);
});
document.addEventListener("keydown", event => {
  const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  const busy = event.altKey || event.ctrlKey || event.metaKey || event.shiftKey || event.target.closest(".round");
  if (!state.alone || !way || busy || event.target.closest(".zoom:checked ~ .drawing, .contents")) return;
  event.preventDefault();
  show(at + (document.dir === "rtl" ? -way : way), true);
});
let from = null;
main.addEventListener("touchstart", event => {
  const one = event.touches.length === 1 && !event.target.closest(".zoom:checked ~ .drawing, .round");
  from = one ? event.touches[0] : null;
}, { passive: true });
main.addEventListener("touchend", event => {
  if (!from || !state.alone || (window.visualViewport?.scale ?? 1) > 1.05) return;
  const [x, y] = [event.changedTouches[0].clientX - from.clientX, event.changedTouches[0].clientY - from.clientY];
  if (Math.abs(x) < 60 || Math.abs(x) < 2 * Math.abs(y)) return;
  const on = document.dir === "rtl" ? x > 0 : x < 0;
  show(at + (on ? 1 : -1), true);
}, { passive: true });

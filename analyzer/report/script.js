"use strict";
// What the page does beyond being read: sort, choose and copy rows, open what a link leads to, and play sounds.
// Without it everything is still there to read, and each recorded pluck plays by the browser's own controls.

// --- tables: sort by the number in data-value, not by its text: up, down, then the order of the harp again
for (const table of document.querySelectorAll("table[data-sortable]")) {
  const body = table.tBodies[0];
  const layout = [...body.rows];
  const live = table.closest(".sheet").querySelector("[aria-live]");
  const heads = [...table.tHead.rows[0].cells].filter((head) => head.hasAttribute("data-sort"));
  for (const head of heads) {
    const name = head.textContent;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = name;
    head.replaceChildren(button);
    button.addEventListener("click", () => {
      const now = head.getAttribute("aria-sort");
      const next = now === "ascending" ? "descending" : now === "descending" ? null : "ascending";
      for (const other of heads) other.removeAttribute("aria-sort");
      if (next) head.setAttribute("aria-sort", next);
      body.append(...(next ? sorted(layout, head.cellIndex, next === "ascending" ? 1 : -1) : layout));
      live.textContent =
        name + ": " + (next ? (next === "ascending" ? table.dataset.up : table.dataset.down) : table.dataset.layout);
    });
  }
}
// Rows without a value come last either way.
function sorted(rows, column, sign) {
  const value = (row) => row.cells[column].dataset.value;
  return [...rows].sort(
    (a, b) => (value(a) === "") - (value(b) === "") || sign * (Number(value(a)) - Number(value(b))),
  );
}

// --- rows chosen by what they are, how far off they are or their name; those shown copied as CSV
for (const choose of document.querySelectorAll(".choose")) {
  const sheet = choose.closest(".sheet");
  const table = sheet.querySelector("table");
  const body = table.tBodies[0];
  const controls = [...choose.querySelectorAll("[data-by]")];
  const status = choose.querySelector(".said");
  const shown = () => [...body.rows].filter((row) => !row.hidden);
  const fits = (row, control) => {
    const wanted = control.value.trim();
    const by = control.dataset.by;
    if (wanted === "") return true;
    if (control.type === "search") return row.cells[0].textContent.toLowerCase().includes(wanted.toLowerCase());
    if (control.type !== "number") return row.dataset[by].split("|").includes(wanted);
    const off = row.cells[table.tHead.querySelector("." + by).cellIndex].dataset.value;
    return off !== "" && Math.abs(Number(off)) > Number(wanted);
  };
  choose.addEventListener("input", () => {
    for (const row of body.rows) row.hidden = !controls.every((control) => fits(row, control));
    status.textContent = filled(status.dataset.shown, shown().length, body.rows.length);
  });
  choose.hidden = false;

  const copy = choose.querySelector("[data-copy]");
  const pre = sheet.querySelector(".csv pre");
  copy.addEventListener("click", async () => {
    const lines = [...pre.children].map((line) => line.textContent);
    const rows = shown();
    const text = lines[0] + rows.map((row) => lines[Number(row.dataset.row)]).join("");
    if (await copied(text)) {
      status.textContent = filled(copy.dataset.copied, rows.length);
    } else {
      pre.closest("details").open = true;
      getSelection().selectAllChildren(pre);
      status.textContent = copy.dataset.failed;
    }
  });
}
function filled(text, ...values) {
  return text.replace(/\{\}/g, () => values.shift());
}
async function copied(text) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    return false;
  }
}

// --- a link to a string opens its details
function open() {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const details = target?.closest("details");
  if (!details) return;
  details.open = true;
  details.querySelector("summary").focus();
}
addEventListener("hashchange", open);
open();

// --- listening: one thing at a time; the same button stops it
let playing = null; // {button, its name, halt}
let sound = null;
function stop() {
  if (!playing) return;
  const { button, name, halt } = playing;
  playing = null;
  button.textContent = name;
  halt();
}
function start(button, steps) {
  const again = playing?.button === button;
  stop();
  for (const audio of document.querySelectorAll("audio")) audio.pause();
  if (again) return;
  const mine = { button, name: button.textContent, halt: () => {} };
  playing = mine;
  button.textContent = button.closest(".tones").dataset.stop;
  const next = () => {
    if (playing !== mine) return;
    const step = steps.shift();
    if (step) mine.halt = step(next);
    else stop();
  };
  next();
}
// Each step begins a sound, calls `done` when it has ended, and returns how to halt it.
function clip(audio) {
  return (done) => {
    audio.currentTime = 0;
    audio.addEventListener("ended", done, { once: true });
    audio.play().catch(stop);
    return () => {
      audio.removeEventListener("ended", done);
      audio.pause();
    };
  };
}
const TONE_S = 2.4;
const TONE_PARTIALS = 8; // falling as 1/n, so that a phone's small loudspeaker gives the bass its pitch too
const TONE_GAIN = 0.25;
function tone(hz) {
  return (done) => {
    sound ??= new AudioContext();
    sound.resume();
    const strengths = Float32Array.from({ length: TONE_PARTIALS + 1 }, (_, n) => (n ? 1 / n : 0));
    const wave = sound.createPeriodicWave(new Float32Array(strengths.length), strengths);
    const source = new OscillatorNode(sound, { frequency: hz, type: "custom", periodicWave: wave });
    const gain = new GainNode(sound, { gain: 0 });
    const now = sound.currentTime;
    gain.gain.setValueAtTime(0, now);
    gain.gain.linearRampToValueAtTime(TONE_GAIN, now + 0.01);
    gain.gain.exponentialRampToValueAtTime(0.002, now + TONE_S);
    source.connect(gain).connect(sound.destination);
    source.onended = done;
    source.start(now);
    source.stop(now + TONE_S);
    return () => {
      source.onended = null;
      gain.gain.cancelScheduledValues(0);
      gain.gain.setTargetAtTime(0, sound.currentTime, 0.01);
      source.stop(sound.currentTime + 0.05);
    };
  };
}
for (const tones of document.querySelectorAll(".tones")) {
  const hz = Number(tones.dataset.hz);
  const own = tones.parentElement.querySelector("audio");
  const steps = {
    tone: () => [tone(hz)],
    turn: () => [clip(own), tone(hz), clip(own), tone(hz)],
    neighbour: (button) => [clip(document.getElementById(button.dataset.clip))],
  };
  for (const button of tones.querySelectorAll("[data-play]"))
    button.addEventListener("click", () => start(button, steps[button.dataset.play](button)));
  tones.hidden = false;
}
// A clip started by its own controls silences the rest.
document.addEventListener(
  "play",
  (event) => {
    for (const audio of document.querySelectorAll("audio")) if (audio !== event.target) audio.pause();
  },
  true,
);

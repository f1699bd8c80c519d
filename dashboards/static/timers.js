// Counts down the timers of a make day by the server's clock, and tells when a time is up. The
// timers themselves run in the store: what is left is worked out anew from when they end, so a
// reload or a closed phone changes nothing. With scripts off the page shows when they end.
"use strict";
(() => {
  const root = document.documentElement;
  const speed = Number(root.dataset.speed);
  const tellWithin = 600000;
  let told = { serverMs: Number(root.dataset.now) / 1000, at: performance.now() };
  const now = () => told.serverMs + (performance.now() - told.at) * speed;

  // A phone that slept counts its own time wrong; what the server last said is right.
  document.addEventListener("wheelward:told", (event) => {
    told = event.detail;
    tick();
  });

  function kept(key, otherwise) {
    try {
      return JSON.parse(localStorage.getItem(`wheelward:${key}`)) ?? otherwise;
    } catch {
      return otherwise;
    }
  }

  function keep(key, value) {
    try {
      localStorage.setItem(`wheelward:${key}`, JSON.stringify(value));
    } catch {
      // A browser that keeps nothing rings again after a reload.
    }
  }

  function span(ms) {
    const s = Math.max(0, Math.round(ms / 1000));
    const two = (n) => String(n).padStart(2, "0");
    const [hours, minutes, seconds] = [Math.floor(s / 3600), Math.floor((s % 3600) / 60), s % 60];
    return hours ? `${hours}:${two(minutes)}:${two(seconds)}` : `${minutes}:${two(seconds)}`;
  }

  const rung = new Set(kept("rung", []));
  const button = document.getElementById("sound");
  let audio = null;
  let wanted = kept("sound", false);

  // Browsers let a page sound only after a touch, so after a reload the first touch wakes it.
  function wake() {
    if (!wanted || audio) return;
    const Audio = window.AudioContext || window.webkitAudioContext;
    if (Audio) audio = new Audio();
  }

  function beep(times) {
    if (!audio || !wanted) return;
    for (let i = 0; i < times; i += 1) {
      const from = audio.currentTime + i * 0.5;
      const tone = audio.createOscillator();
      const loudness = audio.createGain();
      tone.frequency.value = 880;
      loudness.gain.setValueAtTime(0.3, from);
      loudness.gain.exponentialRampToValueAtTime(0.001, from + 0.35);
      tone.connect(loudness).connect(audio.destination);
      tone.start(from);
      tone.stop(from + 0.4);
    }
  }

  function ring(each) {
    rung.add(each.dataset.ends);
    keep("rung", [...rung].slice(-50));
    document.getElementById("rung").textContent = `${each.dataset.name}: the time is up.`;
    beep(6);
    // Before a touch a browser refuses to shake the phone, and complains.
    if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.([400, 200, 400, 200, 800]);
  }

  function tick() {
    const ms = now();
    for (const each of document.querySelectorAll("[data-ends]")) {
      const left = Number(each.dataset.ends) / 1000 - ms;
      const words = left > 0 ? `${span(left)} left` : `time is up, ${span(-left)} ago`;
      if (each.textContent !== words) each.textContent = words;
      if (left <= 0 && -left < tellWithin && !rung.has(each.dataset.ends)) ring(each);
    }
    for (const each of document.querySelectorAll("[data-from]")) {
      const words = `, ${span(ms - Number(each.dataset.from) / 1000)} ago`;
      if (each.textContent !== words) each.textContent = words;
    }
  }

  function show() {
    button.setAttribute("aria-pressed", String(wanted));
    button.textContent = wanted ? "Sound is on; touch for silence" : "Sound when a time is up";
  }

  if (button) {
    button.hidden = false;
    show();
    button.addEventListener("click", () => {
      wanted = !wanted;
      keep("sound", wanted);
      show();
      wake();
      beep(1);
    });
  }
  document.addEventListener("pointerdown", wake);
  document.addEventListener("keydown", wake);
  document.addEventListener("visibilitychange", tick);
  setInterval(tick, 250);
  tick();
})();

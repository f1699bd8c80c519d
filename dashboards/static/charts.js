// Puts a Plotly chart in the place of each drawing that the server made, once Plotly has
// drawn it, and keeps it fresh. Colours come by name and are looked up in the style sheet.
"use strict";
(() => {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const pause = Number(root.dataset.speed) > 1 ? 10000 : 60000;
  const days = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

  function moments(zone) {
    const format = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric",
      hour: "2-digit", minute: "2-digit", timeZoneName: "short",
    });
    return (ms) => {
      const p = Object.fromEntries(format.formatToParts(ms).map((each) => [each.type, each.value]));
      const weekday = new Date(Date.UTC(p.year, p.month - 1, p.day)).getUTCDay();
      return `${days[weekday]} ${p.day} ${months[p.month - 1]} ${p.hour}:${p.minute} ${p.timeZoneName}`;
    };
  }

  function coloured(value, style) {
    if (typeof value === "string") {
      return value.startsWith("role:") ? style.getPropertyValue(`--${value.slice(5)}`).trim() : value;
    }
    if (Array.isArray(value)) {
      // The long arrays hold numbers; only lists of objects can name a colour.
      return typeof value[0] === "object" && value[0] !== null ? value.map((v) => coloured(v, style)) : value;
    }
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([key, v]) => [key, coloured(v, style)]));
    }
    return value;
  }

  // Leaves out time words that would touch on a narrow screen, but never all the days.
  function roomy(axis, width, each) {
    const every = Math.ceil((axis.tickvals.length * each) / Math.max(width, each));
    const day = axis.ticktext.findIndex((words) => /^[A-Z]/.test(words));
    const kept = (_, i) => i % every === Math.max(day, 0) % every;
    axis.tickvals = axis.tickvals.filter(kept);
    axis.ticktext = axis.ticktext.filter(kept);
  }

  const waiting = new WeakSet();

  async function draw(figure) {
    if (waiting.has(figure)) return;
    waiting.add(figure);
    try {
      const answer = await fetch(figure.dataset.figure, { cache: "no-store" });
      if (!answer.ok) return;
      const chart = await answer.json();
      const style = getComputedStyle(root);
      const moment = moments(chart.zone);
      for (const trace of chart.data) trace.text = trace.x.map(moment);
      chart.layout.font.family = getComputedStyle(document.body).fontFamily;
      const place = figure.querySelector(".plot");
      roomy(chart.layout.xaxis, figure.clientWidth - 60, chart.tickPx || 88);
      // Plotly needs the width of a place that is shown; the drawing stays until it is done.
      await Plotly.react(place, coloured(chart.data, style), coloured(chart.layout, style), chart.config);
      figure.dataset.plotted = "";
    } catch (error) {
      console.warn("chart not drawn", error);
    } finally {
      waiting.delete(figure);
    }
  }

  function all() {
    if (document.hidden || typeof Plotly === "undefined") return;
    document.querySelectorAll("figure[data-figure]").forEach(draw);
  }

  setInterval(all, pause);
  dark.addEventListener("change", all);
  document.addEventListener("visibilitychange", all);
  all();
})();

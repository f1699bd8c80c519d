// Keeps a page true without reloading it: asks for the same address again and changes only what
// differs, so that focus, scroll and open details stay. With scripts off the page is as good,
// only not fresh.
"use strict";
(() => {
  const root = document.documentElement;
  const speed = Number(root.dataset.speed);
  const pause = speed > 1 ? 2000 : 5000;
  const patience = 8000;
  const days = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: root.dataset.zone, hourCycle: "h23", year: "numeric", month: "numeric",
    day: "numeric", hour: "2-digit", minute: "2-digit",
  });
  let etag = root.dataset.etag;
  let told = { serverMs: Number(root.dataset.now) / 1000, at: performance.now() };
  let lost = false;
  let leaving = false;

  const now = () => told.serverMs + (performance.now() - told.at) * speed;

  function moment(ms) {
    const found = Object.fromEntries(parts.formatToParts(ms).map((p) => [p.type, p.value]));
    const weekday = new Date(Date.UTC(found.year, found.month - 1, found.day)).getUTCDay();
    return `${days[weekday]} ${Number(found.day)} ${months[found.month - 1]} ${found.hour}:${found.minute}`;
  }

  function span(ms) {
    const s = Math.max(0, Math.floor(ms / 1000));
    if (s < 60) return `${s} s`;
    if (s < 3600) return `${Math.floor(s / 60)} min`;
    if (s < 86400) return `${Math.floor(s / 3600)} h ${Math.floor((s % 3600) / 60)} min`;
    return `${Math.floor(s / 86400)} d`;
  }

  function tell() {
    for (const each of document.querySelectorAll("[data-since]")) {
      const words = `, ${span(now() - Number(each.dataset.since) / 1000)} ago`;
      if (each.textContent !== words) each.textContent = words;
    }
    for (const each of document.querySelectorAll("[data-clock]")) {
      const words = moment(now());
      if (each.textContent !== words) each.textContent = words;
    }
  }

  function lose() {
    if (lost) return;
    lost = true;
    document.getElementById("lost").textContent =
      `Not reached since ${moment(told.serverMs)}. What you see is from then.`;
  }

  // Attributes that the reader or a script of ours has set; the server knows nothing of them.
  const ours = new Set(["open", "data-plotted"]);

  function become(here, there) {
    if (here.isEqualNode(there)) return;
    if (here.nodeType !== there.nodeType || here.nodeName !== there.nodeName || here.id !== there.id) {
      here.replaceWith(document.importNode(there, true));
      return;
    }
    if (here.nodeType !== Node.ELEMENT_NODE) {
      if (here.data !== there.data) here.data = there.data;
      return;
    }
    if (here.hasAttribute("data-keep")) return;
    if (here.nodeName === "FORM" && here.contains(document.activeElement)) return;
    for (const { name } of [...here.attributes]) {
      if (!there.hasAttribute(name) && !ours.has(name)) here.removeAttribute(name);
    }
    for (const { name, value } of there.attributes) {
      if (here.getAttribute(name) !== value && !ours.has(name)) here.setAttribute(name, value);
    }
    becomeChildren(here, there);
  }

  // What has an id finds its like by it; other elements find the next of their kind, but never
  // past one that is still to come by its id.
  function becomeChildren(here, there) {
    const ids = new Set([...there.children].map((child) => child.id).filter(Boolean));
    let next = here.firstChild;
    for (const child of [...there.childNodes]) {
      const like = alike(next, child, ids);
      if (like === null) {
        here.insertBefore(document.importNode(child, true), next);
        continue;
      }
      while (next !== like && !ids.has(next.id)) next = drop(next);
      if (next !== like) here.insertBefore(like, next);
      else next = like.nextSibling;
      become(like, child);
    }
    while (next !== null) next = drop(next);
  }

  function drop(node) {
    const after = node.nextSibling;
    node.remove();
    return after;
  }

  function alike(from, child, ids) {
    for (let node = from; node !== null; node = node.nextSibling) {
      if (child.id) {
        if (node.id === child.id && node.nodeName === child.nodeName) return node;
        continue;
      }
      if (node.id && ids.has(node.id)) return null;
      if (!node.id && node.nodeName === child.nodeName) return node;
      if (child.nodeType !== Node.ELEMENT_NODE) return null;
    }
    return null;
  }

  function show(text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    const main = page.querySelector("main");
    if (!main) return;
    const before = document.querySelector("main");
    if (before.dataset.need !== main.dataset.need) {
      document.getElementById("news").textContent = main.dataset.need;
    }
    become(before, main);
    document.title = page.title;
    etag = page.documentElement.dataset.etag;
    tell();
    document.dispatchEvent(new Event("wheelward:changed"));
  }

  async function ask() {
    try {
      const answer = await fetch(location.href, {
        headers: { "If-None-Match": etag },
        cache: "no-store",
        redirect: "manual",
        signal: AbortSignal.timeout(patience),
      });
      if (answer.type === "opaqueredirect" || answer.status === 401) {
        location.reload();
        return;
      }
      if (!answer.ok && answer.status !== 304) throw new Error(`answer ${answer.status}`);
      const serverUs = Number(answer.headers.get("X-Now-Us"));
      const text = answer.status === 304 ? "" : await answer.text();
      told = { serverMs: serverUs / 1000, at: performance.now() };
      document.dispatchEvent(new CustomEvent("wheelward:told", { detail: told }));
      if (lost) {
        lost = false;
        document.getElementById("lost").textContent = "";
      }
      if (text) show(text);
    } catch {
      // A page that is being left has its question cut off; that is no loss.
      if (!leaving) lose();
    }
  }

  let asking = false;
  async function turn() {
    if (asking || document.hidden || !root.dataset.etag) return;
    asking = true;
    try {
      await ask();
    } finally {
      asking = false;
    }
  }

  addEventListener("beforeunload", () => { leaving = true; });
  addEventListener("pageshow", () => { leaving = false; });
  setInterval(turn, pause);
  setInterval(tell, 1000);
  document.addEventListener("visibilitychange", turn);
  tell();
})();

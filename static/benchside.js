// The little script there is. Pages work without it; it only spares typing and keeps the place.
(() => {
  "use strict";
  const doc = document;
  doc.documentElement.classList.add("js");
  const byId = (id) => doc.getElementById(id);
  let shown = null;
  let chosenSays = null;

  // Enough for one press: half a tenth, a thou, half a 64th, a cent.
  const STEP = { mm: 0.05, in: 0.001, thou: 1, "64ths": 0.5, cents: 1 };
  const MINUS = /^\s*[-\u2212\u2013]\s*/;

  function stepped(text, step, direction) {
    const fraction = text.match(/^(\D*(?:\d+ +)?)(\d+)(\s*\/.*)$/);
    if (fraction) return fraction[1] + Math.max(0, +fraction[2] + direction) + fraction[3];
    const plain = text.trim().match(/^([-\u2212\u2013]?)\s*(\d*[.,]?\d*)(.*)$/);
    if (!plain || (!plain[2] && text.trim())) return text;
    const places = Math.max((String(step).split(".")[1] || "").length,
                            (plain[2].split(/[.,]/)[1] || "").length);
    const now = (plain[1] ? -1 : 1) * Number(plain[2].replace(",", ".") || 0);
    const then = (now + direction * step).toFixed(places);
    const point = plain[2].includes(",") ? then.replace(".", ",") : then;
    return (Number(then) === 0 ? point.replace("-", "") : point) + plain[3];
  }

  function press(button) {
    const field = byId(button.dataset.field);
    if (!field) return;
    if ("sign" in button.dataset) {
      field.value = MINUS.test(field.value) ? field.value.replace(MINUS, "") : "-" + field.value.trim();
    } else {
      const unit = byId(field.id + "-unit");
      const step = STEP[unit ? unit.value : "cents"] || 0.05;
      const next = stepped(field.value, step, Number(button.dataset.step));
      field.value = "signed" in field.dataset ? next : next.replace(/^-.*/, "0");
    }
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function arrive() {
    const main = byId("main");
    if (!main || main === shown) return;
    shown = main;
    if (main.dataset.title) doc.title = main.dataset.title;
    scrollTo(0, 0);
    const place = byId("errors") || main.querySelector("h1") || main;
    if (!place.hasAttribute("tabindex")) place.tabIndex = -1;
    place.focus({ preventScroll: true });
  }

  function silence(text) {
    const note = byId("no-answer");
    if (!note) return;
    note.hidden = !text;
    note.textContent = text;
  }
  const unheard = () => silence("Benchside did not answer. What you typed is still here: "
    + "see that it is running, then try again.");

  // A slider says where it stands; the arrow keys move it from anywhere but a field that needs them itself.
  function say(slider) {
    const said = doc.querySelector(`output[for="${slider.id}"]`);
    if (said) said.textContent = slider.value;
  }
  doc.addEventListener("input", (event) => { if (event.target.matches("[data-arrows]")) say(event.target); });
  doc.addEventListener("keydown", (event) => {
    const slider = doc.querySelector("[data-arrows]");
    const steps = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!slider || !steps || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (event.target.closest("input, select, textarea, .scroll, details")) return;
    event.preventDefault();
    const before = slider.value;
    slider.stepUp(steps);
    if (slider.value === before) return;
    for (const type of ["input", "change"]) slider.dispatchEvent(new Event(type, { bubbles: true }));
  });

  // The points of a chart are one stop for Tab; the arrow keys go from one to the next, and each says what it is.
  function pointsOf(element) {
    const chart = element.closest && element.closest("[data-points]");
    return chart ? [...chart.querySelectorAll(".d-link")] : [];
  }
  function oneStop() {
    for (const chart of doc.querySelectorAll("[data-points]")) {
      const points = pointsOf(chart);
      const stop = chart.querySelector(".d-link[aria-current]") || points[points.length - 1];
      for (const point of points) point.setAttribute("tabindex", point === stop ? 0 : -1);
    }
    const says = byId("point-says");
    chosenSays = says && [...says.childNodes];
  }
  doc.addEventListener("focusin", (event) => {
    const point = event.target.closest(".d-link");
    if (!point || !point.closest("[data-points]")) return;
    for (const other of pointsOf(point)) other.setAttribute("tabindex", other === point ? 0 : -1);
    const says = byId("point-says");
    if (!says) return;
    // What was said of the chosen one leads to its setup; it comes back with it.
    if (point.hasAttribute("aria-current")) says.replaceChildren(...chosenSays);
    else says.textContent = point.getAttribute("aria-label");
  });
  doc.addEventListener("keydown", (event) => {
    const points = pointsOf(event.target);
    const steps = { ArrowLeft: -1, ArrowRight: 1, Home: -points.length, End: points.length }[event.key];
    if (!points.length || !steps || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const next = points.indexOf(event.target.closest(".d-link")) + steps;
    points[Math.min(Math.max(next, 0), points.length - 1)].focus();
  });

  // Plain http has no clipboard: what is selected can be copied all the same.
  function copy(button) {
    getSelection().selectAllChildren(byId(button.dataset.copy));
    button.textContent = doc.execCommand("copy") ? "Copied" : "Selected: copy it now";
  }

  doc.addEventListener("click", (event) => {
    const button = event.target.closest("[data-step], [data-sign]");
    if (button) return press(button);
    const copies = event.target.closest("[data-copy]");
    if (copies) return copy(copies);
    const link = event.target.closest("#errors a[href^='#']");
    const field = link && byId(link.hash.slice(1));
    if (field) { event.preventDefault(); field.focus(); }
  });
  // Where it cannot be saved just now, or was refused at the door, what was typed stays, with a word above it;
  // and an answer without a page in it (a proxy's error, say) must not wipe it out either.
  doc.addEventListener("htmx:before:swap", (event) => {
    const ctx = event.detail.ctx;
    const noPage = ctx.select === "#main" && !/id=["']?main\b/.test(ctx.text);
    if (noPage || (ctx.response && [503, 507].includes(ctx.response.status))) {
      const says = new DOMParser().parseFromString(ctx.text, "text/html").querySelector("[data-keep]");
      event.preventDefault();
      return says ? silence(says.textContent) : unheard();
    }
    // arrive() sets the focus; the browser would complain of a second wish.
    for (const task of event.detail.tasks) {
      task.fragment?.querySelectorAll?.("[autofocus]").forEach((e) => e.removeAttribute("autofocus"));
    }
  });
  doc.addEventListener("htmx:error", unheard);
  doc.addEventListener("htmx:after:swap", () => { silence(""); arrive(); oneStop(); });
  doc.addEventListener("DOMContentLoaded", () => { shown = byId("main"); oneStop(); });
})();

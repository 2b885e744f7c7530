/* Draw the pictures: colours come from the page's tokens, so they follow light, dark and print. */
(() => {
  "use strict";

  const bundle = document.currentScript.dataset.bundle;
  const config = { showSendToCloud: false, plotlyServerURL: "", displaylogo: false, displayModeBar: false, responsive: true };
  // What a sheet of paper has room for between its margins, in CSS pixels.
  const PAPER = 680;
  const narrow = matchMedia("(max-width: 47.99rem)");
  const dark = matchMedia("(prefers-color-scheme: dark)");

  // "token:over" anywhere in a figure becomes the colour of that name.
  const coloured = (value, style) => {
    if (typeof value === "string") return value.startsWith("token:") ? style.getPropertyValue(`--${value.slice(6)}`).trim() : value;
    if (Array.isArray(value)) return value.map((part) => coloured(part, style));
    if (value === null || typeof value !== "object") return value;
    return Object.fromEntries(Object.entries(value).map(([name, part]) => [name, coloured(part, style)]));
  };

  const draw = (place) => {
    const written = document.getElementById(place.dataset.chart);
    if (!written || !window.Plotly) return;
    const figure = JSON.parse(written.textContent);
    const shown = narrow.matches && figure.narrow ? figure.narrow : figure;
    const style = getComputedStyle(document.documentElement);
    place.querySelectorAll(".picture__room").forEach((room) => room.remove());
    const paper = document.documentElement.classList.contains("on-paper");
    const size = paper ? { width: PAPER, height: Math.min(shown.layout.height || PAPER, 320) } : {};
    window.Plotly.react(place, coloured(shown.data, style), { ...coloured(shown.layout, style), ...size }, { ...config, staticPlot: narrow.matches });
  };

  const drawAll = (root) => root.querySelectorAll("[data-chart]").forEach(draw);
  const everywhere = () => drawAll(document);
  const fetched = new Promise((done) => {
    const script = document.createElement("script");
    script.src = bundle;
    script.onload = done;
    document.head.append(script);
  });
  Promise.all([fetched, document.fonts.ready]).then(everywhere);
  narrow.addEventListener("change", everywhere);
  dark.addEventListener("change", everywhere);
  const onPaper = (now) => { document.documentElement.classList.toggle("on-paper", now); everywhere(); };
  window.addEventListener("beforeprint", () => onPaper(true));
  window.addEventListener("afterprint", () => onPaper(false));
  document.addEventListener("htmx:afterSettle", (event) => drawAll(event.detail.elt));
})();

// Draws each [data-chart] from the figure held in the script element of that id.
// The tables stand without it: if anything here fails, the page is still whole.
"use strict";

(() => {
  const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;

  // A wide chart's legend needs fewer lines, so it gets less room; layout.meta says how high the rest is.
  function fitted(layout, data, width) {
    const meta = layout.meta;
    if (!meta) return layout;
    const names = data.filter((trace) => trace.showlegend !== false).map((trace) => trace.name || "");
    const entry = 60 + 6.6 * Math.max(1, ...names.map((name) => name.length));
    const lines = Math.ceil(names.length / Math.max(1, Math.floor(width / entry)));
    const bottom = meta.axis_px + 20 * lines + 8;
    return {
      ...layout,
      height: meta.rows_px + bottom + layout.margin.t,
      margin: { ...layout.margin, b: bottom },
    };
  }

  function draw(holder) {
    const source = document.getElementById(holder.dataset.chart);
    const target = holder.querySelector(".drawing");
    if (!source || !target) return;
    const figure = JSON.parse(source.textContent);
    let width = 0;
    const render = () => {
      if (target.clientWidth === width || !target.clientWidth) return;
      width = target.clientWidth;
      const layout = { ...fitted(figure.layout, figure.data, width), width };
      if (still) layout.transition = { duration: 0 };
      Plotly.react(target, figure.data, layout, { displayModeBar: false, responsive: false });
    };
    render();
    let waiting;
    new ResizeObserver(() => {
      clearTimeout(waiting);
      waiting = setTimeout(render, 120);
    }).observe(target);
  }

  document.addEventListener("DOMContentLoaded", () => {
    if (!window.Plotly) return;
    document.querySelectorAll("[data-chart]").forEach(draw);
  });
})();

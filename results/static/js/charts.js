// A chart is a picture until a reader turns to it: then its figure and the drawing script are fetched, and it can be
// hovered over. If anything here fails, the picture stays, and the table beside it holds the same numbers.
"use strict";

(() => {
  const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const drawingScript = document.currentScript.dataset.plotly;
  let plotly;

  function fetchPlotly() {
    plotly ??= new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = drawingScript;
      const done = withoutStylesInPage();
      script.onload = () => { done(); resolve(window.Plotly); };
      script.onerror = (error) => { done(); reject(error); };
      document.head.append(script);
    });
    return plotly;
  }

  // The site's policy lets no style stand in a page, and plotly would put some there: rules while it loads, which go
  // to a sheet made by script instead, and a style on each bold or small word, which is set property by property.
  function withoutStylesInPage() {
    const sheet = new CSSStyleSheet();
    document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
    const create = Document.prototype.createElement;
    document.createElement = (name, ...rest) =>
      name === "style" ? Object.assign(create.call(document, "template"), { sheet }) : create.call(document, name, ...rest);
    const set = Element.prototype.setAttribute;
    SVGElement.prototype.setAttribute = function (name, value) {
      if (name === "style") this.style.cssText = value;
      else set.call(this, name, value);
    };
    return () => { delete document.createElement; };
  }

  // A wide chart's legend needs fewer lines, so it gets less room; layout.meta says how high the rest is.
  function fitted(layout, data, width) {
    const meta = layout.meta;
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

  async function turnTo(holder) {
    if (holder.dataset.turned) return;
    holder.dataset.turned = "yes";
    try {
      const [Plotly, answer] = await Promise.all([fetchPlotly(), fetch(holder.dataset.figure)]);
      if (!answer.ok) throw new Error(answer.statusText);
      draw(Plotly, holder, (await answer.json()).figure);
    } catch (error) {
      delete holder.dataset.turned;
      console.warn("The chart stays a picture:", error);
    }
  }

  function draw(Plotly, holder, figure) {
    const drawing = holder.querySelector(".drawing");
    const picture = drawing.querySelector("picture");
    const target = document.createElement("div");
    target.setAttribute("role", "img");
    target.setAttribute("aria-label", picture.querySelector("img").alt);
    drawing.append(target);
    picture.hidden = true;
    holder.querySelector("[data-closer]").hidden = true;
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

  // The picture as PNG, drawn by the browser at twice its size.
  async function savePng(holder) {
    const image = new Image();
    image.src = holder.querySelector("a[download]").href.replace("download=1", "");
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = 2 * image.naturalWidth;
    canvas.height = 2 * image.naturalHeight;
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    const link = document.createElement("a");
    link.download = `breakbook-${holder.id.replace(/^chart-/, "")}.png`;
    link.href = canvas.toDataURL("image/png");
    link.click();
  }

  function prepare(holder) {
    if (holder.dataset.ready) return;
    holder.dataset.ready = "yes";
    const closer = holder.querySelector("[data-closer]");
    const png = holder.querySelector("[data-png]");
    closer.hidden = png.hidden = false;
    closer.addEventListener("click", () => turnTo(holder));
    png.querySelector("button").addEventListener("click", () => savePng(holder));
    const drawing = holder.querySelector(".drawing");
    drawing.addEventListener("click", () => turnTo(holder));
    let resting;
    drawing.addEventListener("pointerenter", (event) => {
      if (event.pointerType === "mouse") resting = setTimeout(() => turnTo(holder), 250);
    });
    drawing.addEventListener("pointerleave", () => clearTimeout(resting));
  }

  const prepareAll = () => document.querySelectorAll("[data-figure]").forEach(prepare);
  document.addEventListener("DOMContentLoaded", prepareAll);
  document.addEventListener("htmx:afterSettle", prepareAll);
})();

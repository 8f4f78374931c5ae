/* The cells at the pen: one tick a cell on a ruler of millivolts around the middle one. */
window.drawRuler = (function () {
  "use strict";
  const SPANS_MV = [15, 30, 60, 120, 240, 480, 960];
  const WIDTH = 320, BASE = 62, INSET = 14;

  function shape(name, attributes, text) {
    const node = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const key in attributes) node.setAttribute(key, attributes[key]);
    if (text !== undefined) node.textContent = text;
    return node;
  }

  function middleOf(values) {
    const sorted = values.slice().sort((a, b) => a - b);
    const half = sorted.length >> 1;
    return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
  }

  return function drawRuler(holder, cells) {
    const told = (cells || []).map((mv, i) => ({ mv: mv, n: i + 1 })).filter((c) => c.mv !== null);
    const svg = shape("svg", { viewBox: "0 0 " + WIDTH + " 96", "aria-hidden": "true" });
    if (told.length) drawTicks(svg, told);
    holder.replaceChildren(svg);
  };

  function drawTicks(svg, told) {
    const middle = middleOf(told.map((c) => c.mv));
    const reach = Math.max(...told.map((c) => Math.abs(c.mv - middle)));
    const span = SPANS_MV.find((s) => s >= reach) || reach;
    const x = (mv) => WIDTH / 2 + ((mv - middle) / span) * (WIDTH / 2 - INSET);
    drawScale(svg, span, middle, x);
    const lowest = told.reduce((a, b) => (b.mv < a.mv ? b : a));
    const highest = told.reduce((a, b) => (b.mv > a.mv ? b : a));
    for (const cell of told) {
      const kind = cell === lowest ? "lowest" : cell === highest ? "highest" : "";
      const top = kind ? 24 : 34;
      svg.append(shape("line", { class: "tick " + kind, x1: x(cell.mv), x2: x(cell.mv),
                                 y1: top, y2: BASE }));
      if (kind) {
        svg.append(shape("text", { class: "tick-name " + kind, x: x(cell.mv), y: 16 }, cell.n));
      }
    }
  }

  function drawScale(svg, span, middle, x) {
    svg.append(shape("line", { class: "edge", x1: INSET, x2: WIDTH - INSET, y1: BASE, y2: BASE }));
    for (let k = -5; k <= 5; k++) {
      const at = x(middle + (k * span) / 5);
      svg.append(shape("line", { class: "edge", x1: at, x2: at, y1: BASE,
                                 y2: BASE + (k % 5 ? 5 : 10) }));
    }
    const labels = [[INSET, "start", "\u2212" + span + " mV"],
                    [WIDTH / 2, "middle", (middle / 1000).toFixed(3) + " V"],
                    [WIDTH - INSET, "end", "+" + span + " mV"]];
    for (const [at, anchor, text] of labels) {
      svg.append(shape("text", { class: "scale", x: at, y: BASE + 28, "text-anchor": anchor },
                       text));
    }
  }
})();

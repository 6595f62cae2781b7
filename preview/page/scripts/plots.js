// Plots that zoom: drag a stretch, or use the buttons. Each is drawn when it comes into sight.

function makePlots(show, state) {
  const dashes = [[], [8, 4], [2, 3], [10, 3, 2, 3]];

  function color(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  }

  function build(figure) {
    const plot = JSON.parse(figure.querySelector("script").textContent);
    const place = figure.querySelector(".plot-area");
    const note = figure.querySelector(".plot-range");
    const whole = [show.frames[0], show.frames[1] + 1];
    const tables = plot.lines.map((line) => [line.frames, line.values]);
    // Lines have frames of their own; a gap (null) reaches as far as the line's next values on either side.
    const expandGaps = 2;
    const data = tables.length ? uPlot.join(tables, tables.map(() => [0, expandGaps])) : [[], []];
    const largest = plot.lines.flatMap((line) => line.values).reduce((most, value) => Math.max(most, value ?? -Infinity), plot.limit ?? 0);
    const smallest = plot.lines.flatMap((line) => line.values).reduce((least, value) => Math.min(least, value ?? Infinity), Math.min(0, plot.limit ?? 0));
    const tell = (value) => (value === null || value === undefined ? "none" : `${Number(value.toPrecision(4))}${plot.unit ? ` ${plot.unit}` : ""}`);
    const axis = { stroke: () => color("--ink"), grid: { stroke: () => color("--rule"), width: 1 }, ticks: { stroke: () => color("--rule"), width: 1 }, font: "12px system-ui, sans-serif" };
    let chart = null;

    function drawExtras(u) {
      const ctx = u.ctx;
      ctx.save();
      if (plot.limit !== null) {
        const y = u.valToPos(plot.limit, "y", true);
        ctx.strokeStyle = color("--ink");
        ctx.setLineDash([6, 4]);
        ctx.lineWidth = devicePixelRatio;
        ctx.beginPath();
        ctx.moveTo(u.bbox.left, y);
        ctx.lineTo(u.bbox.left + u.bbox.width, y);
        ctx.stroke();
      }
      const x = u.valToPos(state.moment.frame + 0.5, "x", true);
      if (x >= u.bbox.left && x <= u.bbox.left + u.bbox.width) {
        ctx.setLineDash([]);
        ctx.strokeStyle = color("--accent");
        ctx.lineWidth = 2 * devicePixelRatio;
        ctx.beginPath();
        ctx.moveTo(x, u.bbox.top);
        ctx.lineTo(x, u.bbox.top + u.bbox.height);
        ctx.stroke();
      }
      ctx.restore();
    }

    function ranged(u) {
      const [from, to] = [u.scales.x.min, u.scales.x.max];
      figure.dataset.from = Math.round(from);
      figure.dataset.to = Math.round(to);
      const last = Math.max(Math.round(from), Math.min(Math.ceil(to) - 1, show.frames[1]));
      note.textContent = `${timecodeLabel(Math.max(show.frames[0], Math.round(from)), show.rate)} to ${timecodeLabel(last, show.rate)}`;
    }

    // The legend shows each line's dashes, so that colour is not all that tells them apart.
    function drawLegend() {
      const space = "http://www.w3.org/2000/svg";
      [...place.querySelectorAll(".u-series .u-marker")].slice(-plot.lines.length).forEach((marker, index) => {
        const svg = document.createElementNS(space, "svg");
        const line = document.createElementNS(space, "line");
        for (const [name, value] of Object.entries({ x1: 0, y1: 6, x2: 30, y2: 6, stroke: "currentColor", "stroke-width": 2, "stroke-dasharray": dashes[index % dashes.length].join(" ") })) {
          line.setAttribute(name, value);
        }
        svg.setAttribute("viewBox", "0 0 30 12");
        svg.append(line);
        marker.className = "line-key";
        marker.removeAttribute("style");
        marker.style.color = `var(--line-${(index % 6) + 1})`;
        marker.append(svg);
      });
    }

    function zoom(factor) {
      const { min, max } = chart.scales.x;
      const now = state.moment.frame;
      const middle = factor < 1 && now >= min && now <= max ? now : (min + max) / 2;
      const half = Math.max(2, ((max - min) * factor) / 2);
      const from = clamp(middle - half, whole[0], whole[1] - Math.min(2 * half, whole[1] - whole[0]));
      chart.setScale("x", { min: from, max: Math.min(whole[1], from + 2 * half) });
    }

    const options = {
      width: place.clientWidth,
      height: 260,
      padding: [null, 44, null, null],
      legend: { live: true },
      cursor: { drag: { x: true, y: false }, points: { size: 7 } },
      scales: {
        x: { time: false, range: (_u, min, max) => (min === null || min === max ? whole : [min, max]) },
        y: { range: () => [smallest, largest === smallest ? smallest + 1 : largest + (largest - smallest) * 0.06] },
      },
      axes: [
        { ...axis, space: 110, incrs: [1, 5, show.rate.nominal].concat([2, 5, 10, 15, 30, 60, 120, 300, 600, 1800].map((s) => s * show.rate.nominal)), values: (_u, splits) => splits.map((frame) => (Number.isInteger(frame) ? timecodeLabel(frame, show.rate) : "")) },
        { ...axis, size: 56, label: plot.unit || undefined, labelFont: "12px system-ui, sans-serif", labelSize: 18 },
      ],
      series: [
        { label: "At", value: (_u, frame) => (frame === null ? "none" : timecodeLabel(frame, show.rate)) },
        ...plot.lines.map((line, index) => ({
          label: line.label, stroke: () => color(`--line-${(index % 6) + 1}`), width: 2, dash: dashes[index % dashes.length],
          points: { show: line.frames.length < 2 }, value: (_u, value) => tell(value),
        })),
      ],
      hooks: { draw: [drawExtras], setScale: [(u, key) => key === "x" && ranged(u)] },
    };
    chart = new uPlot(options, data, place);
    chart.setScale("x", { min: whole[0], max: whole[1] });
    chart.over.addEventListener("dblclick", () => chart.setScale("x", { min: whole[0], max: whole[1] }));
    chart.over.addEventListener("click", () => {
      if (chart.select.width > 0 || chart.cursor.left < 0) return;
      state.set({ frame: Math.floor(chart.posToVal(chart.cursor.left, "x")) }, "step");
    });
    drawLegend();
    figure.querySelector("[data-zoom=in]").addEventListener("click", () => zoom(0.5));
    figure.querySelector("[data-zoom=out]").addEventListener("click", () => zoom(2));
    figure.querySelector("[data-zoom=all]").addEventListener("click", () => chart.setScale("x", { min: whole[0], max: whole[1] }));
    new ResizeObserver(() => {
      if (place.clientWidth) chart.setSize({ width: place.clientWidth, height: 260 });
    }).observe(place);
    return chart;
  }

  const charts = new Map();
  const watch = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting || charts.has(entry.target)) continue;
      charts.set(entry.target, build(entry.target));
      watch.unobserve(entry.target);
    }
  }, { rootMargin: "300px" });
  for (const figure of document.querySelectorAll("figure.plot")) watch.observe(figure);

  function redraw() {
    for (const chart of charts.values()) chart.redraw(false);
  }
  state.listen((_moment, how) => how !== "play" && redraw());
  return { redraw };
}

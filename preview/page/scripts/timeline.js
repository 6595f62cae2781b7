// The time line: zoom, ticks for what is in sight, and a playhead. Its boxes and bars are in the page already.

function makeTimeLine(show, state) {
  const box = byId("timeline-box");
  const inner = byId("timeline-inner");
  const ruler = byId("ruler");
  const playhead = byId("playhead");
  const [start, end] = show.frames;
  const total = end - start + 1;
  const rate = show.rate;
  const steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200].map((s) => s * rate.nominal);
  const framesSteps = [1, 5].concat(rate.nominal % 2 ? [] : [rate.nominal / 2], steps);
  const roomForLabel = 96;
  const widestFrame = 48;
  let zoom = 1;
  let drawing = 0;

  // Room for the lanes themselves, without the column of their names.
  function track() {
    return ruler.getBoundingClientRect();
  }

  function mostZoom() {
    const atOne = track().width / zoom;
    return Math.max(1, (total * widestFrame) / Math.max(1, atOne));
  }

  function zoomTo(next, aboutFrame) {
    const about = aboutFrame ?? state.moment.frame;
    const before = xOf(about) - box.getBoundingClientRect().left;
    zoom = clamp(next, 1, mostZoom());
    inner.style.setProperty("--zoom", zoom);
    box.scrollLeft += xOf(about) - box.getBoundingClientRect().left - before;
    byId("zoom-in").disabled = zoom >= mostZoom();
    byId("zoom-out").disabled = byId("zoom-fit").disabled = zoom <= 1;
    byId("zoom-note").textContent = zoom <= 1 ? "All of it" : `${zoom.toFixed(zoom < 10 ? 1 : 0)} times`;
    later();
  }

  function xOf(frame) {
    const place = track();
    return place.left + ((frame - start + 0.5) / total) * place.width;
  }

  function frameAt(x) {
    const place = track();
    return clamp(start + Math.floor(((x - place.left) / place.width) * total), start, end);
  }

  function drawTicks() {
    const place = track();
    const view = box.getBoundingClientRect();
    const width = place.width / total;
    const step = framesSteps.find((frames) => frames * width >= roomForLabel) || framesSteps.at(-1);
    const from = Math.max(0, Math.floor((view.left - place.left) / width / step) * step);
    const to = Math.min(total, Math.ceil((view.right - place.left) / width));
    ruler.replaceChildren(...ticks(from, to, step, (roomForLabel - 12) / width));
  }

  function ticks(from, to, step, roomAtEnd) {
    const marks = [];
    for (let n = from; n < to; n += step) {
      const tick = document.createElement("span");
      tick.className = "tick";
      tick.style.left = `${(100 * n) / total}%`;
      tick.textContent = timecodeLabel(start + n, rate);
      if (total - n < roomAtEnd) tick.classList.add("is-last");
      marks.push(tick);
    }
    return marks;
  }

  // On paper all of it is in sight, on eight labels at most.
  function drawForPaper() {
    zoomTo(1);
    cancelAnimationFrame(drawing);
    const step = framesSteps.find((frames) => total / frames <= 8) || framesSteps.at(-1);
    ruler.replaceChildren(...ticks(0, total, step, total / 10));
  }

  function later() {
    cancelAnimationFrame(drawing);
    drawing = requestAnimationFrame(drawTicks);
  }

  function drawPlayhead(moment, how) {
    playhead.style.left = `${(100 * (moment.frame - start)) / total}%`;
    playhead.style.width = `max(2px, ${100 / total}%)`;
    if (zoom > 1 && how !== "scrub") {
      const view = box.getBoundingClientRect();
      const x = xOf(moment.frame);
      const names = track().left + box.scrollLeft - view.left;
      if (x < view.left + names || x > view.right - 24) box.scrollLeft += x - (view.left + names + (view.width - names) / 3);
    }
  }

  inner.addEventListener("click", (event) => {
    if (event.target.closest("a") || !event.target.closest(".track")) return;
    state.set({ frame: frameAt(event.clientX) }, "jump");
  });
  ruler.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    ruler.setPointerCapture(event.pointerId);
    state.set({ frame: frameAt(event.clientX) }, "step");
  });
  ruler.addEventListener("pointermove", (event) => {
    if (ruler.hasPointerCapture(event.pointerId)) state.set({ frame: frameAt(event.clientX) }, "step");
  });
  box.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    zoomTo(zoom * (event.deltaY < 0 ? 1.25 : 0.8), frameAt(event.clientX));
  }, { passive: false });
  box.addEventListener("scroll", later, { passive: true });
  box.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const act = {
      "+": () => zoomTo(zoom * 2), "=": () => zoomTo(zoom * 2), "-": () => zoomTo(zoom / 2), 0: () => zoomTo(1),
      ArrowLeft: () => state.set({ frame: state.moment.frame - 1 }, "step"),
      ArrowRight: () => state.set({ frame: state.moment.frame + 1 }, "step"),
      Home: () => state.set({ frame: start }, "jump"), End: () => state.set({ frame: end }, "jump"),
    }[event.key];
    if (!act) return;
    act();
    event.preventDefault();
  });
  byId("zoom-in").addEventListener("click", () => zoomTo(zoom * 2));
  byId("zoom-out").addEventListener("click", () => zoomTo(zoom / 2));
  byId("zoom-fit").addEventListener("click", () => zoomTo(1));
  addEventListener("resize", () => zoomTo(zoom));
  addEventListener("beforeprint", drawForPaper);
  addEventListener("afterprint", later);

  state.listen(drawPlayhead);
  return { draw: (moment) => { zoomTo(1); drawPlayhead(moment); } };
}

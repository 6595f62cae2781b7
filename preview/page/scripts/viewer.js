// The viewer: two pictures, one over the other or side by side, always of the same frame.

function makeViewer(show, state) {
  const rate = show.rate;
  const pictures = listPictures(show);
  const stage = byId("stage");
  const wipe = byId("wipe");
  const names = [...stage.querySelectorAll(".pane-name")];
  const panes = [...stage.querySelectorAll(".pane")].map((root) => makePane(root, rate, () => label()));
  const [first, second] = panes;
  const amplify = byId("amplify");
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  let wipeAt = 50;
  let playing = false;

  function view() {
    return stage.dataset.view;
  }

  function alike() {
    return first.picture && second.picture && sizeOf(first.picture).join() === sizeOf(second.picture).join();
  }

  function sizeOf(picture) {
    return (picture.clip || picture.stills[0]).size;
  }

  function draw(moment) {
    first.show(pictures.get(keyOf(moment.first, moment.camera)) || null);
    const needsSecond = moment.view !== "one";
    second.show(needsSecond ? pictures.get(keyOf(moment.second, moment.camera)) || null : null);
    const overlaid = moment.view === "wipe" || moment.view === "difference";
    const shown = overlaid && !alike() ? "side" : moment.view;
    stage.dataset.view = shown;
    byId("view-note").textContent =
      shown === moment.view ? "" : "These two have no common size, so they stand side by side.";
    const size = first.picture ? sizeOf(first.picture) : [16, 9];
    stage.style.setProperty("--ratio", size[0] / size[1]);
    second.root.style.setProperty("--own", second.picture ? sizeOf(second.picture).join(" / ") : "16 / 9");
    first.root.style.setProperty("--own", size.join(" / "));
    wipe.hidden = shown !== "wipe";
    amplify.closest("label").hidden = shown !== "difference";
    stage.style.setProperty("--amplify", amplify.value);
    byId("difference-note").hidden = shown !== "difference";
    putWipe(wipeAt);
    if (!playing) for (const pane of panes) pane.seek(moment.frame);
    label();
  }

  function label() {
    const { frame } = state.moment;
    for (const [index, pane] of panes.entries()) {
      const name = names[index];
      const stands = pane.standsFor(frame);
      const note = pane.failed || stands.note;
      name.textContent = (pane.picture ? pane.picture.label : "No such picture") + (note ? `, ${note}` : "");
      name.classList.toggle("is-held", Boolean(note));
    }
    byId("play").disabled = !panes.some((pane) => pane.picture && pane.picture.clip);
  }

  function putWipe(percent) {
    wipeAt = clamp(percent, 0, 100);
    stage.style.setProperty("--wipe", `${wipeAt}%`);
    wipe.setAttribute("aria-valuenow", String(Math.round(wipeAt)));
    const labels = panes.map((pane) => (pane.picture ? pane.picture.label : "nothing"));
    wipe.setAttribute("aria-valuetext", `${Math.round(wipeAt)} per cent ${labels[0]}, the rest ${labels[1]}`);
  }

  function wipeTo(event) {
    const box = stage.getBoundingClientRect();
    putWipe((100 * (event.clientX - box.left)) / box.width);
  }

  stage.addEventListener("pointerdown", (event) => {
    if (view() !== "wipe" || event.button !== 0) return;
    stage.setPointerCapture(event.pointerId);
    wipeTo(event);
    wipe.focus({ preventScroll: true });
    event.preventDefault();
  });
  stage.addEventListener("pointermove", (event) => {
    if (stage.hasPointerCapture(event.pointerId)) wipeTo(event);
  });
  wipe.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? 10 : 1;
    const to = {
      ArrowLeft: wipeAt - step, ArrowDown: wipeAt - step, ArrowRight: wipeAt + step, ArrowUp: wipeAt + step,
      PageDown: wipeAt - 10, PageUp: wipeAt + 10, Home: 0, End: 100,
    }[event.key];
    if (to === undefined) return;
    putWipe(to);
    event.preventDefault();
    event.stopPropagation();
  });
  amplify.addEventListener("change", () => stage.style.setProperty("--amplify", amplify.value));

  // While clips play the first one leads; the others are nudged to keep its pace.
  function leader() {
    return panes.find((pane) => pane.picture && pane.picture.clip);
  }

  function play() {
    const lead = leader();
    if (!lead) return;
    if (state.moment.frame >= show.frames[1]) state.set({ frame: show.frames[0] }, "step");
    playing = true;
    byId("play").setAttribute("aria-pressed", "true");
    byId("play").querySelector(".word").textContent = "Pause";
    const clips = panes.filter((pane) => pane.picture && pane.picture.clip);
    for (const pane of clips) pane.forget();
    Promise.all(clips.map((pane) => pane.video.play())).catch(() => pause());
    follow();
  }

  function pause() {
    if (!playing) return;
    playing = false;
    byId("play").setAttribute("aria-pressed", "false");
    byId("play").querySelector(".word").textContent = "Play";
    for (const pane of panes) {
      pane.video.pause();
      pane.video.playbackRate = 1;
    }
    state.set({}, "step");
  }

  function follow() {
    const lead = leader();
    const tick = (_now, meta) => {
      if (!playing || leader() !== lead) return;
      const seconds = meta ? meta.mediaTime : lead.video.currentTime;
      keepPace(lead);
      const frame = lead.frameOf(seconds);
      if (frame !== state.moment.frame) state.set({ frame }, "play");
      if (lead.video.ended || frame >= show.frames[1]) pause();
      else next(tick);
    };
    const next = lead.video.requestVideoFrameCallback
      ? (call) => lead.video.requestVideoFrameCallback(call)
      : (call) => requestAnimationFrame((now) => call(now, null));
    lead.video.addEventListener("ended", () => pause(), { once: true });
    next(tick);
  }

  function keepPace(lead) {
    for (const pane of panes) {
      if (pane === lead || !pane.picture || !pane.picture.clip) continue;
      const start = (lead.picture.clip.frames[0] - pane.picture.clip.frames[0]) * (rate.denominator / rate.numerator);
      const late = lead.video.currentTime + start - pane.video.currentTime;
      if (Math.abs(late) > 0.5) pane.video.currentTime += late;
      else pane.video.playbackRate = Math.abs(late) < 0.3 / rate.nominal ? 1 : 1 + clamp(late * 2, -0.2, 0.2);
    }
  }

  state.listen((moment, how) => {
    if (how !== "play" && playing) pause();
    if (how === "play") label();
    else draw(moment);
  });

  return {
    pictures,
    draw,
    toggle: () => (playing ? pause() : play()),
    pause,
    bringIntoSight() {
      byId("viewer").scrollIntoView({ behavior: still.matches ? "auto" : "smooth", block: "start" });
    },
  };
}

// What is under the viewer's pictures: timecode, frame slider, shots, choice of pictures, keys, address.

function makeControls(show, state, viewer, findings) {
  const rate = show.rate;
  const slider = byId("frame");
  const camera = byId("camera");
  const choices = [byId("first"), byId("second")];
  const radios = [...document.querySelectorAll("input[name=view]")];
  const field = byId("timecode");
  let settle = 0;
  let hereFor = "";

  function fillPictures() {
    const near = state.moment.camera;
    const known = show.cameras.find((one) => one.name === near);
    const groups = new Map([[known ? `Camera ${known.label}` : "Camera", []], ["Everybody", []], ["Other cameras", []]]);
    const [mine, all, others] = [...groups.values()];
    for (const picture of viewer.pictures.values()) {
      if (CAMERA_KINDS.includes(picture.kind)) {
        if (picture.subject === near) mine.push([picture.kind, picture.label]);
        else others.push([picture.key, picture.label]);
      } else all.push([picture.key, picture.label]);
    }
    choices.forEach((select, index) => {
      const chosen = index ? state.moment.second : state.moment.first;
      select.replaceChildren();
      let found = false;
      for (const [name, entries] of groups) {
        if (!entries.length) continue;
        const group = document.createElement("optgroup");
        group.label = name;
        for (const [value, label] of entries) {
          const selected = value === chosen;
          found ||= selected;
          group.append(new Option(label, value, selected, selected));
        }
        select.append(group);
      }
      if (!found) select.append(new Option(`${chosen} (not in this folder)`, chosen, true, true));
    });
  }

  function shotAt(frame) {
    const index = shotIndexAt(show, frame);
    return index < 0 ? null : show.shots[index];
  }

  function draw(moment, how) {
    const label = timecodeLabel(moment.frame, rate);
    const shot = shotAt(moment.frame);
    slider.value = moment.frame;
    slider.setAttribute("aria-valuetext", shot ? `${label}, shot ${shot.number}` : label);
    if (document.activeElement !== field || how === "jump") field.value = label;
    byId("frame-number").textContent = `frame ${moment.frame}`;
    byId("shot-now").textContent = shot ? `${shot.number} ${shot.name}` : "between shots";
    const cameraOn = shot && show.cameras.find((one) => one.name === shot.camera);
    byId("on-air").textContent = cameraOn ? cameraOn.label : "nobody";
    if (how !== "play") {
      camera.value = moment.camera;
      fillPictures();
      for (const radio of radios) radio.checked = radio.value === moment.view;
      choices[1].disabled = moment.view === "one";
      byId("swap").disabled = moment.view === "one";
    }
    drawHere(moment.frame);
    if (how === "jump") {
      byId("announce").textContent =
        `${label}, frame ${moment.frame}` + (shot ? `, shot ${shot.number} ${shot.name}, on air ${shot.camera}` : "");
    }
    if (how !== "play" && how !== "open") keepAddress();
  }

  // Findings that cover this frame, two at most in words.
  function drawHere(frame) {
    const here = findings.at(frame);
    const key = here.map((one) => one.index).join();
    if (key === hereFor) return;
    hereFor = key;
    const list = byId("here");
    list.replaceChildren();
    for (const one of here.slice(0, 2)) {
      const item = document.createElement("li");
      item.append(one.row.querySelector(".grade").cloneNode(true), ` ${one.check}: ${one.sentence}`);
      if (one.picture) {
        const link = document.createElement("a");
        link.href = one.picture.href;
        link.textContent = "outlined picture";
        item.append(" ", link);
      }
      list.append(item);
    }
    const more = here.length - 2;
    byId("here-note").textContent = !here.length ? "No check speaks up at this frame." : more > 0 ? `and ${more} more` : "";
  }

  // The address follows once the reader stays somewhere; browsers limit how often it may change.
  function keepAddress() {
    clearTimeout(settle);
    settle = setTimeout(() => {
      try {
        history.replaceState(null, "", hashOfMoment(state.moment));
      } catch {
        // Some browsers refuse on file://; the page works without.
      }
      byId("link").href = hashOfMoment(state.moment);
    }, 250);
  }

  function step(count) {
    state.set({ frame: state.moment.frame + count }, "step");
  }

  function toShot(direction) {
    const now = shotIndexAt(show, state.moment.frame);
    let to = now + direction;
    // Going back stops at this shot's own start first.
    if (direction < 0 && now >= 0 && state.moment.frame > show.shots[now].first) to = now;
    if (to >= 0 && to < show.shots.length) state.set({ frame: show.shots[to].first }, "jump");
  }

  const acts = {
    play: () => viewer.toggle(),
    back: () => step(-1),
    forth: () => step(1),
    "shot-back": () => toShot(-1),
    "shot-forth": () => toShot(1),
    swap: () => state.set({ first: state.moment.second, second: state.moment.first }, "look"),
  };
  for (const [id, act] of Object.entries(acts)) byId(id).addEventListener("click", act);

  slider.addEventListener("input", () => state.set({ frame: Number(slider.value) }, "step"));
  camera.addEventListener("change", () => {
    const change = { camera: camera.value };
    // A camera is chosen to see its pictures.
    if (!CAMERA_KINDS.includes(state.moment.first) && viewer.pictures.has(keyOf("return", camera.value))) {
      Object.assign(change, { first: "return", second: "as-shot" });
    }
    state.set(change, "look");
  });
  choices.forEach((select, index) =>
    select.addEventListener("change", () => state.set(index ? { second: select.value } : { first: select.value }, "look")));
  for (const radio of radios) radio.addEventListener("change", () => state.set({ view: radio.value }, "look"));

  byId("go").addEventListener("submit", (event) => {
    event.preventDefault();
    const frame = frameOfLabel(field.value, rate);
    const good = frame !== null && frame >= show.frames[0] && frame <= show.frames[1];
    field.setAttribute("aria-invalid", String(!good));
    byId("timecode-note").textContent = good
      ? ""
      : `Write a timecode from ${timecodeLabel(show.frames[0], rate)} to ${timecodeLabel(show.frames[1], rate)}.`;
    if (good) state.set({ frame }, "jump");
  });
  const keys = {
    ",": () => step(-1),
    ".": () => step(1),
    "<": () => step(-10),
    ">": () => step(10),
    "[": () => toShot(-1),
    "]": () => toShot(1),
    k: () => viewer.toggle(),
  };
  byId("viewer").addEventListener("keydown", (event) => {
    if (event.target === field || event.target.tagName === "SELECT" || event.ctrlKey || event.metaKey || event.altKey) return;
    let act = keys[event.key];
    if (event.target === byId("stage")) {
      act ||= { ArrowLeft: keys[","], ArrowRight: keys["."], " ": keys.k }[event.key];
    }
    if (!act) return;
    act();
    event.preventDefault();
  });

  state.listen(draw);
  return { draw };
}

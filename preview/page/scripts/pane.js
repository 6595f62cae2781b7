// One picture of the viewer: a clip, or where there is none the still next before the frame.

function makePane(root, rate, onShown) {
  const video = root.querySelector("video");
  const image = root.querySelector("img");
  let picture = null;
  let wanted = null;
  let asked = null;
  let failed = "";

  function lastAtOrBefore(frames, frame) {
    let low = 0;
    let high = frames.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (frames[middle] <= frame) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  function show(next) {
    if (next === picture) return;
    picture = next;
    failed = "";
    wanted = asked = null;
    delete root.dataset.shown;
    video.pause();
    video.hidden = !(picture && picture.clip);
    image.hidden = !(picture && !picture.clip);
    if (picture && picture.clip) {
      video.poster = picture.clip.poster;
      video.setAttribute("aria-label", picture.label);
      video.src = picture.clip.file;
      video.load();
    } else if (video.hasAttribute("src")) {
      video.removeAttribute("src");
      video.removeAttribute("poster");
      video.load();
    }
    if (!(picture && !picture.clip)) image.removeAttribute("src");
  }

  // Which frame of the rundown stands for ``frame`` here, and in words why, where it is not that frame.
  function standsFor(frame) {
    if (!picture) return { frame, note: "not in this folder" };
    if (picture.clip) {
      const [first, last] = picture.clip.frames;
      const held = clamp(frame, first, last);
      if (held !== frame) return { frame: held, note: `the clip ends at ${timecodeLabel(held, rate)}` };
      const drawn = picture.clip.drawn;
      if (!drawn || !drawn.length) return { frame, note: "" };
      const shown = drawn[lastAtOrBefore(drawn, frame)];
      return { frame, note: shown === frame ? "" : `held from ${timecodeLabel(shown, rate)}` };
    }
    const still = picture.stills[lastAtOrBefore(picture.stills.map((one) => one.frame), frame)];
    return { frame: still.frame, still, note: still.frame === frame ? "" : `still of ${timecodeLabel(still.frame, rate)}` };
  }

  function seek(frame) {
    if (!picture) return;
    const stands = standsFor(frame);
    if (stands.still) {
      if (image.getAttribute("src") !== stands.still.file) {
        image.src = stands.still.file;
        image.alt = stands.still.alt;
      }
      root.dataset.shown = frame;
      return;
    }
    wanted = stands.frame;
    apply();
  }

  function apply() {
    if (wanted === null || video.readyState < 1 || video.seeking) return;
    const seconds = middleOfFrame(wanted - picture.clip.frames[0], rate);
    // What was asked for is compared, not currentTime: some browsers round that.
    if (asked === seconds) {
      root.dataset.shown = wanted;
      onShown();
      return;
    }
    asked = seconds;
    delete root.dataset.shown;
    video.currentTime = seconds;
  }

  video.addEventListener("loadedmetadata", apply);
  video.addEventListener("seeked", apply);
  video.addEventListener("error", () => {
    if (!video.hasAttribute("src")) return;
    failed = "this browser cannot play the clip";
    onShown();
  });

  return {
    root,
    video,
    show,
    seek,
    standsFor,
    get picture() {
      return picture;
    },
    get failed() {
      return failed;
    },
    forget() {
      wanted = asked = null;
      delete root.dataset.shown;
    },
    frameOf(seconds) {
      return picture.clip.frames[0] + Math.floor((seconds * rate.numerator) / rate.denominator + 1e-3);
    },
  };
}

// The moment that the page shows: a frame, a camera, two pictures, and how the viewer puts them.

const VIEWS = ["one", "side", "wipe", "difference"];
const CAMERA_KINDS = ["as-shot", "return"];

function clamp(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

function byId(id) {
  return document.getElementById(id);
}

// Pictures by "kind@subject" ("kind" where there is one only), each with its clip or its stills.
function listPictures(show) {
  const pictures = new Map();
  const entry = (source) => {
    const key = source.subject ? `${source.kind}@${source.subject}` : source.kind;
    if (!pictures.has(key)) {
      pictures.set(key, { key, kind: source.kind, subject: source.subject, label: source.label, clip: null, stills: [] });
    }
    return pictures.get(key);
  };
  for (const clip of show.clips) entry(clip).clip = clip;
  for (const still of show.stills) entry(still).stills.push(still);
  for (const picture of pictures.values()) picture.stills.sort((a, b) => a.frame - b.frame);
  return pictures;
}

function keyOf(name, camera) {
  return CAMERA_KINDS.includes(name) ? `${name}@${camera}` : name;
}

function shotIndexAt(show, frame) {
  let low = 0;
  let high = show.shots.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (show.shots[middle].first <= frame) low = middle;
    else high = middle - 1;
  }
  return high < 0 || show.shots[low].first > frame ? -1 : low;
}

function momentOfHash(hash, show, moment) {
  const words = new URLSearchParams(hash.replace(/^#/, ""));
  if (!words.has("f") && !words.has("pair")) return null;
  const found = { ...moment };
  const frame = words.has("f") ? Number(words.get("f")) : NaN;
  if (Number.isFinite(frame)) found.frame = clamp(Math.round(frame), show.frames[0], show.frames[1]);
  const camera = words.get("camera");
  if (camera !== null && show.cameras.some((known) => known.name === camera)) found.camera = camera;
  const pair = (words.get("pair") || "").split(":");
  if (pair.length === 2 && pair[0] && pair[1]) [found.first, found.second] = pair.map(decodeURIComponentSafe);
  if (VIEWS.includes(words.get("view"))) found.view = words.get("view");
  return found;
}

// Names of pictures keep ":" and "%" apart from the address's own; most hold neither.
function decodeURIComponentSafe(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

function hashOfMoment(moment) {
  const word = (text) => encodeURIComponent(text).replace(/%40/g, "@");
  const name = (text) => word(text.replace(/[%:]/g, (sign) => encodeURIComponent(sign)));
  const camera = moment.camera ? `&camera=${word(moment.camera)}` : "";
  return `#f=${moment.frame}${camera}&pair=${name(moment.first)}:${name(moment.second)}&view=${moment.view}`;
}

// One moment, and whoever wants to know that it changed. ``how`` is "jump", "step", "play" or "look".
function makeState(show, opening) {
  let moment = { ...opening };
  const listeners = [];
  return {
    get moment() {
      return moment;
    },
    set(change, how) {
      moment = { ...moment, ...change };
      moment.frame = clamp(moment.frame, show.frames[0], show.frames[1]);
      for (const listener of listeners) listener(moment, how);
    },
    listen(listener) {
      listeners.push(listener);
    },
  };
}

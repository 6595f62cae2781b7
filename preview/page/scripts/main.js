// Puts the parts together. Everything hangs on one moment (state.js).

const show = JSON.parse(byId("page-data").textContent);
const opening = show.opening;
const state = makeState(show, opening);
const viewer = makeViewer(show, state);
const findings = makeFindings();
const controls = makeControls(show, state, viewer, findings);
const timeLine = makeTimeLine(show, state);
const plots = makePlots(show, state);
makeTheme(() => plots.redraw());

function follow(hash, isLink) {
  const found = momentOfHash(hash, show, state.moment);
  if (!found) return;
  state.set(found, "jump");
  if (isLink) {
    viewer.bringIntoSight();
    byId("stage").focus({ preventScroll: true });
  }
}

// A link to the moment that is shown already changes no address, so links are followed here.
document.addEventListener("click", (event) => {
  const link = event.target.closest('a[href^="#f="]');
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
  event.preventDefault();
  history.pushState(null, "", link.hash);
  follow(link.hash, true);
});
addEventListener("hashchange", () => follow(location.hash, true));

// What a link inside the page points to may lie in something folded.
function unfold() {
  const target = location.hash && !location.hash.includes("=") && byId(decodeURIComponentSafe(location.hash.slice(1)));
  for (let part = target; part; part = part.parentElement) if (part.tagName === "DETAILS") part.open = true;
}
addEventListener("hashchange", unfold);
unfold();

state.set({}, "open");
timeLine.draw(state.moment);
follow(location.hash, true);

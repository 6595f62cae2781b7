// The table of findings: filters, order, and not all rows at once.

function makeFindings() {
  const table = byId("findings-table");
  const empty = { at: () => [] };
  if (!table) return empty;
  const body = table.tBodies[0];
  const first = 100;
  const rank = { fault: 0, compromise: 1, fine: 2 };
  const all = [...body.rows].map((row, index) => ({
    row,
    index,
    grade: row.dataset.grade,
    check: row.dataset.check,
    cameras: JSON.parse(row.dataset.cameras),
    shot: Number(row.dataset.shot),
    first: Number(row.dataset.first),
    last: Number(row.dataset.last),
    picture: row.querySelector("figure a"),
    sentence: row.querySelector(".sentence").textContent,
  }));
  const filters = { grade: byId("filter-grade"), check: byId("filter-check"), camera: byId("filter-camera") };
  const keys = {
    grade: (one) => rank[one.grade],
    check: (one) => one.check,
    cameras: (one) => one.cameras.join(", "),
    shot: (one) => one.shot,
    when: (one) => one.first,
  };
  let order = { by: "", down: false };
  let room = first;

  function wanted(one) {
    const { grade, check, camera } = filters;
    const graded = grade.value === "" || (grade.value === "told" ? one.grade !== "fine" : one.grade === grade.value);
    return graded && (!check.value || one.check === check.value) && (!camera.value || one.cameras.includes(camera.value));
  }

  function draw() {
    const shown = all.filter(wanted);
    for (const one of all) {
      one.row.hidden = true;
      one.row.classList.remove("is-later");
    }
    shown.forEach((one, place) => {
      one.row.hidden = false;
      one.row.classList.toggle("is-later", place >= room);
    });
    const inSight = Math.min(room, shown.length);
    byId("findings-count").textContent =
      shown.length === 0 ? `None of ${all.length} findings is like that.`
        : inSight < shown.length ? `${inSight} of ${shown.length} shown (${all.length} in all).`
          : `${shown.length} of ${all.length} shown.`;
    byId("findings-more").hidden = inSight >= shown.length;
  }

  function sortBy(by) {
    order = { by, down: order.by === by ? !order.down : false };
    const key = keys[by];
    all.sort((a, b) => {
      const [x, y] = [key(a), key(b)];
      const found = typeof x === "number" ? x - y : x.localeCompare(y);
      return (order.down ? -found : found) || a.index - b.index;
    });
    for (const button of table.querySelectorAll("thead button")) {
      const head = button.closest("th");
      if (button.dataset.sort === by) head.setAttribute("aria-sort", order.down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    body.append(...all.map((one) => one.row));
    draw();
  }

  for (const filter of Object.values(filters)) {
    filter.addEventListener("change", () => {
      room = first;
      draw();
    });
  }
  for (const button of table.querySelectorAll("thead button")) {
    button.addEventListener("click", () => sortBy(button.dataset.sort));
  }
  byId("findings-more").addEventListener("click", () => {
    room += 400;
    draw();
  });
  draw();

  const told = all.filter((one) => one.grade !== "fine").sort((a, b) => rank[a.grade] - rank[b.grade] || a.last - a.first - (b.last - b.first) || a.first - b.first);
  return { at: (frame) => told.filter((one) => one.first <= frame && frame <= one.last) };
}

// The grid of a print order: Enter goes to the next row, Ctrl and D copies from above, a paste fills the cells.
(() => {
  const body = document.querySelector(".grid tbody"), rows = body.rows;
  const cells = row => [...row.querySelectorAll("input")];
  const row = number => {
    while (rows.length <= number && number < 60) {
      // the last row is blank: the page always has one more than is filled in
      const n = rows.length + 1, next = rows[n - 2].cloneNode(true);
      next.cells[0].textContent = n;
      for (const one of next.querySelectorAll("input, button")) {
        if (one.name === "act") one.value = "down:" + n; else one.value = "";
        if (one.id) one.id = one.id.replace(/\d+/, n);
        one.setAttribute("aria-label", one.getAttribute("aria-label").replace(/\d+/, n));
      }
      body.append(next);
    }
    return rows[number];
  };
  const fill = (down, across, lines) => lines.forEach((said, n) => {
    const there = row(down + n) ? cells(rows[down + n]).slice(across) : [];
    there.forEach((one, m) => { if (m in said) one.value = said[m].trim(); });
  });
  const on = (kind, act) => body.addEventListener(kind, event => {
    const mine = event.target.closest("tr"), down = [...rows].indexOf(mine);
    act(event, down, cells(mine).indexOf(event.target), down && cells(rows[down - 1]).map(one => one.value));
  });
  on("keydown", (event, down, across, above) => {
    if (across < 0) return;
    if (event.key === "Enter") cells(row(down + 1))[across].focus();
    else if (event.key === "d" && event.ctrlKey && above) event.target.value = above[across];
    else return;
    event.preventDefault();
  });
  on("click", (event, down, across, above) => {
    if (!event.target.closest("button")) return;
    event.preventDefault();
    fill(down, 0, [above]);
  });
  on("paste", (event, down, across) => {
    const text = event.clipboardData.getData("text/plain").replace(/\r\n?/g, "\n").replace(/\n$/, "");
    if (across < 0 || !/[\t\n]/.test(text)) return;
    event.preventDefault();
    fill(down, across, text.split("\n").map(line => line.split("\t")));
  });
})();

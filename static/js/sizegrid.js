// Size grids typed like a spreadsheet. Inside [data-grid] every [data-grid-row] is a row of [data-grid-box] inputs:
// arrows move, Enter goes on to the next box or row, a pasted block fills boxes to the right and rows below.
// Every change made here is announced as an ordinary "input" event, so whoever listens need not know the difference.
(function () {
  "use strict";

  const LONGEST = 12;
  const MOST_ROWS = 500;

  function rowsAround(box) {
    const grid = box.closest("[data-grid]");
    const rows = Array.from(grid.querySelectorAll("[data-grid-row]")).filter(function (row) {
      return !row.closest("fieldset[disabled]");
    });
    return rows.map(function (row) { return Array.from(row.querySelectorAll("[data-grid-box]")); });
  }

  function placeOf(box, rows) {
    for (let r = 0; r < rows.length; r += 1) {
      const c = rows[r].indexOf(box);
      if (c >= 0) return { r: r, c: c };
    }
    return null;
  }

  function go(box) {
    if (!box) return false;
    box.focus();
    box.select();
    return true;
  }

  function move(box, dr, dc) {
    const rows = rowsAround(box);
    const at = placeOf(box, rows);
    const row = at && rows[at.r + dr];
    if (!row) return false;
    return go(dr ? row[Math.min(at.c, row.length - 1)] : row[at.c + dc]);
  }

  // The box after (or before) this one, from row to row; null at either end of the grid.
  function step(box, by) {
    const all = rowsAround(box).flat();
    return all[all.indexOf(box) + by] || null;
  }

  function say(box, text) {
    const body = box.closest("[data-grid-row]").parentElement;
    const place = body.querySelector("[data-grid-message]");
    if (place) place.textContent = text;
  }

  function fill(box, text) {
    const lines = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n");
    const rows = rowsAround(box);
    const at = placeOf(box, rows);
    let across = 0;
    let last = box;
    const down = Math.max(0, lines.length - (rows.length - at.r));
    lines.slice(0, Math.min(MOST_ROWS, rows.length - at.r)).forEach(function (line, r) {
      const cells = line.split("\t");
      const boxes = rows[at.r + r].slice(at.c);
      across = Math.max(across, cells.length - boxes.length);
      cells.slice(0, boxes.length).forEach(function (cell, c) {
        boxes[c].value = cell.trim().slice(0, LONGEST);
        last = boxes[c];
        boxes[c].dispatchEvent(new Event("input", { bubbles: true }));
      });
    });
    const left = [];
    if (across > 0) left.push(across.toLocaleString("en") + (across === 1 ? " column" : " columns"));
    if (down > 0) left.push(down.toLocaleString("en") + (down === 1 ? " row" : " rows"));
    say(box, left.length ? left.join(" and ") + " of what was pasted did not fit the boxes and " + (left.length === 1 && (across === 1 || down === 1) ? "was" : "were") + " left out." : "");
    go(last);
  }

  document.addEventListener("keydown", function (event) {
    const box = event.target;
    if (!box.matches || !box.matches("[data-grid-box]") || event.ctrlKey || event.metaKey || event.altKey) return;
    let moved = false;
    if (event.key === "ArrowLeft") moved = move(box, 0, -1);
    else if (event.key === "ArrowRight") moved = move(box, 0, 1);
    else if (event.key === "ArrowUp") moved = move(box, -1, 0);
    else if (event.key === "ArrowDown") moved = move(box, 1, 0);
    else if (event.key === "Enter") {
      // Never sends the form half typed. At the last box whoever owns the grid says where Enter goes on.
      event.preventDefault();
      if (!go(step(box, event.shiftKey ? -1 : 1)) && !event.shiftKey) {
        box.dispatchEvent(new CustomEvent("grid:end", { bubbles: true }));
      }
    }
    if (moved) event.preventDefault();
  });

  document.addEventListener("paste", function (event) {
    const box = event.target;
    if (!box.matches || !box.matches("[data-grid-box]") || !event.clipboardData) return;
    const text = event.clipboardData.getData("text/plain");
    if (!/[\t\n\r]/.test(text)) return;
    event.preventDefault();
    fill(box, text);
  });

  document.addEventListener("focusin", function (event) {
    if (event.target.matches("[data-grid-box]")) event.target.select();
  });
})();

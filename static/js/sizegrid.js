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

  // Where the first of several rows names sizes, it says which column is which; null where it does not.
  function headsOf(lines, row) {
    const sizes = row.map(function (box) { return (box.dataset.size || "").toLowerCase(); });
    const heads = lines[0].split("\t").map(function (cell) { return cell.trim().toLowerCase(); });
    const named = heads.some(function (head) { return head && sizes.includes(head); });
    // Sizes can be numbers themselves: then only a row that names nothing else is one of heads.
    const all = heads.every(function (head) { return !/^\d/.test(head) || sizes.includes(head); });
    return lines.length > 1 && named && all ? heads : null;
  }

  // The cells of a line beside the boxes they belong into, and how many numbers found none.
  function placed(line, row, from, heads) {
    const cells = line.split("\t").map(function (cell) { return cell.trim(); });
    const pairs = cells.map(function (cell, c) {
      if (!heads) return [cell, row[from + c]];
      return [cell, heads[c] ? row.find(function (box) { return (box.dataset.size || "").toLowerCase() === heads[c]; }) : undefined];
    });
    const left = pairs.filter(function (pair) { return !pair[1] && (!heads || /\d/.test(pair[0]) && pair[0] !== "0"); });
    return { pairs: pairs.filter(function (pair) { return pair[1]; }), left: left.length };
  }

  function fill(box, text) {
    const rows = rowsAround(box);
    const at = placeOf(box, rows);
    let lines = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n");
    const heads = headsOf(lines, rows[at.r]);
    if (heads) lines = lines.slice(1);
    let across = 0;
    let last = box;
    const down = Math.max(0, lines.length - (rows.length - at.r));
    lines.slice(0, Math.min(MOST_ROWS, rows.length - at.r)).forEach(function (line, r) {
      const found = placed(line, rows[at.r + r], at.c, heads);
      across = Math.max(across, found.left);
      found.pairs.forEach(function (pair) {
        pair[1].value = pair[0].slice(0, LONGEST);
        last = pair[1];
        pair[1].dispatchEvent(new Event("input", { bubbles: true }));
      });
    });
    const left = [];
    if (across > 0) left.push(across.toLocaleString("en") + (across === 1 ? " column" : " columns"));
    if (down > 0) left.push(down.toLocaleString("en") + (down === 1 ? " row" : " rows"));
    const were = left.length === 1 && (across === 1 || down === 1) ? "was" : "were";
    const told = left.join(" and ") + " of what was pasted did not fit the boxes and " + were + " left out.";
    say(box, left.length ? told : "");
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

// The page of a piece's edges: a click on an edge in the drawing goes to its row, and the drawing shows the names
// as they are typed. Without this the numbers are links to the rows and every button asks the server.
(function () {
  "use strict";

  const form = document.getElementById("edges");
  const drawing = document.querySelector("svg.edges");
  if (!form || !drawing) return;
  const most = 22;

  function field(edge) {
    return document.getElementById("id_name_" + edge);
  }

  function mark(edge) {
    drawing.querySelectorAll("a.chosen").forEach((link) => link.classList.remove("chosen"));
    form.querySelectorAll("li.chosen").forEach((row) => row.classList.remove("chosen"));
    const link = drawing.querySelector('a[data-edge="' + edge + '"]');
    const row = form.querySelector('li[data-row="' + edge + '"]');
    if (link) link.classList.add("chosen");
    if (row) row.classList.add("chosen");
  }

  function show(edge) {
    const name = field(edge).value;
    const text = drawing.querySelector('text[data-name="' + edge + '"]');
    if (text) text.textContent = name.length <= most ? name : name.slice(0, most - 1) + "…";
  }

  function take(button) {
    const edge = button.dataset.take;
    field(edge).value = button.dataset.suggested;
    const hint = button.closest(".hint");
    if (hint) hint.hidden = true;
    show(edge);
  }

  drawing.addEventListener("click", function (event) {
    const link = event.target.closest("a[data-edge]");
    if (!link) return;
    event.preventDefault();
    const input = field(link.dataset.edge);
    input.closest("li").scrollIntoView({ block: "nearest" });
    input.focus({ preventScroll: true });
    input.select();
  });

  form.addEventListener("focusin", function (event) {
    const row = event.target.closest("li[data-row]");
    if (row) mark(row.dataset.row);
  });

  form.addEventListener("input", function (event) {
    if (event.target.dataset.edge !== undefined) show(event.target.dataset.edge);
  });

  form.addEventListener("click", function (event) {
    const button = event.target.closest("button[data-take]");
    if (!button) return;
    event.preventDefault();
    if (button.dataset.take === "all") {
      form.querySelectorAll("button[data-suggested]").forEach(take);
      button.hidden = true;
    } else {
      take(button);
      field(button.dataset.take).focus();
    }
  });
})();

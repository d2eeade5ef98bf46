// The outline page: a paste that is far too long is told so at once, before it is sent anywhere; the cells
// that the drawing could not use are marked where they stand.
(function () {
  "use strict";

  const form = document.getElementById("outline");
  if (!form) return;

  function tooLong() {
    const field = form.querySelector("textarea[data-most]");
    const most = field ? Number(field.dataset.most) : 0;
    if (!field || field.value.length <= most) return false;
    const place = document.getElementById("messages");
    const line = document.createElement("p");
    line.className = "message error";
    line.textContent =
      "This is " + field.value.length.toLocaleString("en-GB") + " characters long; at most " +
      most.toLocaleString("en-GB") + " are read. Was the right thing pasted?";
    place.replaceChildren(line);
    line.scrollIntoView({ block: "nearest" });
    return true;
  }

  function markWrong() {
    const drawing = document.getElementById("outline-preview");
    const wrong = new Set(((drawing && drawing.dataset.wrong) || "").split(" "));
    for (const field of form.elements) {
      if (!field.id || field.type === "hidden") continue;
      if (wrong.has(field.id)) field.setAttribute("aria-invalid", "true");
      else forget(field);
    }
    const whole = document.getElementById("outline-wrong");
    if (whole) whole.replaceChildren();
  }

  // What was wrong when the form was last sent and is right now needs no message any more.
  function forget(field) {
    field.removeAttribute("aria-invalid");
    const place = field.closest(".wrong");
    if (place && !place.querySelector("[aria-invalid=true]")) {
      place.classList.remove("wrong");
      for (const list of place.querySelectorAll(".errorlist")) list.remove();
    }
    const line = form.querySelector('[data-wrong="' + CSS.escape(field.id) + '"]');
    if (!line) return;
    const row = line.closest("tr");
    line.remove();
    if (row && !row.querySelector("[data-wrong]")) row.remove();
  }

  document.body.addEventListener("htmx:afterSwap", function (event) {
    if (event.detail.target && event.detail.target.id === "outline-preview") markWrong();
  });
  form.addEventListener("submit", function (event) {
    if (tooLong()) event.preventDefault();
  });
  form.addEventListener("htmx:beforeRequest", function (event) {
    if (tooLong()) event.preventDefault();
  });
})();

// Forms of a style's parts: only machines and stitches that fit the chosen kind are offered, and only the fields
// that the chosen way of counting asks for. Without this script all are there, and a misfit is told at its field.
(function () {
  "use strict";

  function offerFitting(form) {
    const kind = form.querySelector("select[name=machine]");
    if (!kind) return;
    const label = kind.selectedOptions[0] ? kind.selectedOptions[0].textContent : "";
    const own = form.querySelector("select[name=own_machine]");
    if (own) {
      for (const group of own.querySelectorAll("optgroup")) {
        show(group, group.label === label || group.label === "another machine");
      }
      leaveHidden(own);
    }
    const stitch = form.querySelector("select[name=stitch_type]");
    if (stitch) {
      for (const option of stitch.options) {
        if (option.dataset.madeBy !== undefined) show(option, option.dataset.madeBy.split(",").includes(kind.value));
      }
      leaveHidden(stitch);
    }
  }

  function show(part, fits) {
    part.hidden = part.disabled = !fits;
  }

  // What was refused stays chosen until something else is: the reason stands at the field.
  function leaveHidden(select) {
    const chosen = select.selectedOptions[0];
    if (!chosen || select.getAttribute("aria-invalid") === "true") return;
    if (chosen.disabled || (chosen.parentElement && chosen.parentElement.disabled)) select.value = "";
  }

  function askWhatCounts(form) {
    const basis = form.querySelector("select[name=basis]");
    if (!basis) return;
    const along = basis.value === "seam";
    const fields = { quantity: !along, piece: basis.value === "piece" };
    for (const name of Object.keys(fields)) {
      const field = form.elements[name] && form.elements[name].closest(".field");
      if (field) field.hidden = !fields[name];
    }
    for (const part of form.querySelectorAll("[data-for-basis]")) part.hidden = part.dataset.forBasis !== basis.value;
  }

  // While the edges of a new seam are chosen, its number follows what they make, until somebody types another.
  function followEdges(root) {
    const told = root.querySelector ? root.querySelector(".times-told") : null;
    const form = told && told.closest("form");
    if (!form || !form.querySelector("[data-new-seam]")) return;
    const times = form.elements.times;
    const makes = told.dataset.makes;
    if (!times || times.dataset.typed || makes === "0" || times.value === makes) return;
    times.value = makes;
    htmx.trigger(form.querySelector(".measuring"), "change");
  }

  document.addEventListener("input", function (event) {
    if (event.target.name === "times") event.target.dataset.typed = "1";
  });

  function prepare(root) {
    for (const form of root.querySelectorAll("form")) {
      offerFitting(form);
      askWhatCounts(form);
    }
  }

  document.addEventListener("change", function (event) {
    const form = event.target.form;
    if (!form) return;
    if (event.target.name === "machine") offerFitting(form);
    if (event.target.name === "basis") askWhatCounts(form);
  });
  document.addEventListener("htmx:afterSettle", function (event) {
    prepare(event.target);
    followEdges(document);
  });
  prepare(document);
})();

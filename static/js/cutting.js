// Filling a batch: whole lines with one press, and a running total. Without it the boxes are typed.
(function () {
  "use strict";
  const form = document.querySelector(".filling");
  if (!form) return;
  const total = form.querySelector("[data-filled]");

  function tell() {
    let garments = 0;
    form.querySelectorAll("input[data-left]").forEach(function (box) { garments += parseInt(box.value, 10) || 0; });
    total.textContent = garments + (garments === 1 ? " garment" : " garments") + " in this batch";
  }

  function take(root) {
    root.querySelectorAll("input[data-left]").forEach(function (box) {
      if (box.dataset.left !== "0") box.value = box.dataset.left;
    });
    tell();
  }

  form.querySelectorAll("[data-take-line], [data-take-all]").forEach(function (button) {
    button.classList.remove("hidden");
    button.addEventListener("click", function () { take(button.closest("fieldset") || form); });
  });
  form.addEventListener("input", tell);
  tell();
})();

// At the table: the metres follow the plies as long as nobody typed metres. Without it both are typed.
(function () {
  "use strict";

  // Metres that plies take, with what is cut off and lost at flaws before so many of them.
  function takes(plies, box) {
    const lost = (box.dataset.lost || "").split(" ").filter(Boolean);
    const here = plies > 0 && lost.length ? parseFloat(lost[Math.min(plies, lost.length) - 1]) : 0;
    return plies * parseFloat(box.dataset.each) + here;
  }

  function usedOf(box) { return document.getElementById(box.id.replace("spreads-", "used-")); }

  document.addEventListener("input", function (event) {
    const box = event.target;
    if (!box.dataset || !box.dataset.each) return;
    const used = usedOf(box);
    const before = parseInt(box.dataset.was || box.defaultValue, 10);
    const typed = box.value.trim();
    const shown = parseFloat(used.value.replace(",", "."));
    const follows = Math.abs(shown - takes(before, box)) < 0.011;
    if (!/^\d+$/.test(typed)) {
      // A slip takes nothing away; no plies take no cloth.
      if (typed && !used.value.trim()) used.value = box.dataset.kept || "";
      if (!typed && follows) { box.dataset.kept = used.value; used.value = ""; }
      return;
    }
    const plies = parseInt(typed, 10);
    box.dataset.was = typed;
    if (used.value.trim() && !follows) return;
    used.value = words(plies, box);
  });

  // Up to the centimetre, as it is kept, in the unit that it is typed in.
  function words(plies, box) {
    if (!(plies > 0)) return "";
    const metres = parseFloat(box.dataset.metres);
    return (Math.ceil(takes(plies, box) * metres * 100 - 0.01) / 100 / metres).toFixed(2) + " " + box.dataset.unit;
  }

  // The lay became shorter while this page stands open: metres that nobody typed follow what a ply takes now.
  document.addEventListener("htmx:afterSettle", function () {
    document.querySelectorAll("legend[data-each-now]").forEach(function (legend) {
      const box = document.getElementById(legend.id.replace("as-planned-", "id_spreads-"));
      const lost = legend.dataset.lostNow || "";
      if (!box || (box.dataset.each === legend.dataset.eachNow && (box.dataset.lost || "") === lost)) return;
      const used = usedOf(box);
      const plies = parseInt(box.value, 10);
      const follows = Math.abs(parseFloat(used.value.replace(",", ".")) - takes(plies, box)) < 0.011;
      box.dataset.each = legend.dataset.eachNow;
      box.dataset.lost = lost;
      if (follows) used.value = words(plies, box);
      box.form.elements.marker_mm.value = legend.dataset.markerMm;
      box.form.elements[box.name.replace("spreads-", "filled-")].value = legend.dataset.filledNow;
    });
  });
})();

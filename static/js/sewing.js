// The sewing room: pages look again when somebody comes back to them, and a tap too many does no harm.
(function () {
  "use strict";

  // Two people tick the same bundle, a phone lies in a pocket: what is shown must be what is.
  function lookAgain() {
    if (document.hidden || !window.htmx) return;
    for (const id of ["bundle-moving", "board"]) {
      const region = document.getElementById(id);
      if (region && !region.contains(document.activeElement)) window.htmx.trigger(region, "seen");
    }
  }
  document.addEventListener("visibilitychange", lookAgain);
  window.addEventListener("pageshow", function (event) { if (event.persisted) lookAgain(); });

  // "Undo" appears where the row was pressed: the second half of a double tap must not press it.
  const PAUSE = 600;
  let swapped = 0;
  document.addEventListener("htmx:afterSwap", function () { swapped = Date.now(); });
  document.addEventListener("click", function (event) {
    const form = event.target.closest(".step form");
    if (form && form.elements.done.value === "0" && Date.now() - swapped < PAUSE) event.preventDefault();
  });

  // Signed out in the meantime: go there with the whole page and come back here afterwards.
  document.addEventListener("htmx:beforeSwap", function (event) {
    const reached = new URL(event.detail.xhr.responseURL || location.href);
    if (!reached.pathname.startsWith("/sign-in/")) return;
    event.detail.shouldSwap = false;
    location.assign(reached.pathname + "?next=" + encodeURIComponent(location.pathname));
  });
})();

// The review of a pattern file is drawn anew while its questions are answered. What was answered or ticked while
// the drawing was on its way must not be lost: such a drawing is out of date and is asked for once more.
(function () {
  "use strict";

  let sent = "";

  function answers() {
    const form = document.getElementById("review");
    return form ? new URLSearchParams(new FormData(form)).toString() : "";
  }

  function redraws(event) {
    return event.detail.target && event.detail.target.id === "review";
  }

  document.addEventListener("htmx:beforeRequest", function (event) {
    if (redraws(event)) sent = answers();
  });

  document.addEventListener("htmx:beforeSwap", function (event) {
    if (!redraws(event) || answers() === sent) return;
    event.detail.shouldSwap = false;
    window.htmx.trigger(event.detail.requestConfig.elt, "change");
  });
})();

// The outline page: a paste that is far too long is told so at once, before it is sent anywhere.
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

  form.addEventListener("submit", function (event) {
    if (tooLong()) event.preventDefault();
  });
  form.addEventListener("htmx:beforeRequest", function (event) {
    if (tooLong()) event.preventDefault();
  });
})();

// The materials room: after a form opens or is answered, the first field to mend, else the first field, has the cursor.
(function () {
  "use strict";

  document.addEventListener("htmx:afterSettle", function (event) {
    const form = event.target.querySelector && event.target.querySelector("form.inset");
    if (!form) return;
    const field = form.querySelector("[aria-invalid=true]") || form.querySelector("input:not([type=hidden])");
    if (field) field.focus();
  });
})();

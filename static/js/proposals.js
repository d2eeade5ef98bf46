// Proposed seams: what a new operation is asked is put away where one that is there sews the seam. Without this script
// it stays to be seen and is left aside.
(function () {
  "use strict";

  function ask(select) {
    const step = select.closest(".proposed-step");
    const fields = step && step.querySelector(".new-operation");
    if (fields) fields.hidden = select.value !== "";
  }

  const choices = document.querySelectorAll(".proposed-step select[name$='-by']");
  for (const select of choices) {
    select.addEventListener("change", function () { ask(select); });
    ask(select);
  }
})();

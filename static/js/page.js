// What every page needs: say it when the server did not answer, and ask before something is thrown away.
(function () {
  "use strict";

  function say(text, kind) {
    const place = document.getElementById("messages");
    if (!place) return;
    const line = document.createElement("p");
    line.className = kind || "message error";
    line.textContent = text;
    place.replaceChildren(line);
    line.scrollIntoView({ block: "nearest" });
  }

  document.addEventListener("htmx:sendError", function () {
    say("Notchbook did not answer. Nothing was changed; what you typed is still here. Is it still running?");
  });

  document.addEventListener("htmx:responseError", function (event) {
    const status = event.detail.xhr.status;
    const told = event.detail.xhr.getResponseHeader("X-Say");
    if (told) say(decodeURIComponent(told));
    else if (status === 403) say("You may not do that, or you were signed out. Open the page again and sign in.");
    else say("That did not work (" + status + "). What you typed is still here; please try again.");
  });

  document.addEventListener("submit", function (event) {
    const button = event.submitter;
    const question = (button && button.dataset.ask) || event.target.dataset.ask;
    // What stands elsewhere on the page and bears on the answer is asked with it.
    const beside = question && event.target.dataset.askWith && document.querySelector(event.target.dataset.askWith);
    const whole = beside ? question + " " + beside.textContent.trim() : question;
    if (question && !window.confirm(whole)) event.preventDefault();
  });

  // A press that takes longer than a moment, as planning a large batch does, says that it is worked on. What opens a
  // tab of its own leaves this page as it is.
  let waited = 0;
  let sentUntil = new WeakMap();
  document.addEventListener("submit", function (event) {
    const opens = event.submitter ? event.submitter.formTarget || event.target.target : event.target.target;
    if (event.defaultPrevented || opens === "_blank" || event.target.method !== "post") return;
    // Pressed twice, as one who double-clicks everything does, it is sent once: else there would be two batches.
    if (performance.now() < (sentUntil.get(event.target) || 0)) { event.preventDefault(); return; }
    sentUntil.set(event.target, performance.now() + 5000);
    window.clearTimeout(waited);
    waited = window.setTimeout(function () {
      say("Still being worked on. This page goes on by itself.", "message");
    }, 2000);
  });
  window.addEventListener("pagehide", function () { window.clearTimeout(waited); sentUntil = new WeakMap(); });
})();

// Numbers stand on one line by a mark that nobody sees: what is copied goes without it, so that it is found again.
document.addEventListener("copy", function (event) {
  const text = String(window.getSelection());
  if (!text.includes("\u2060")) return;
  event.clipboardData.setData("text/plain", text.replaceAll("\u2060", ""));
  event.preventDefault();
});

// Why something was refused, or what to look at, may be said above what a phone shows just then: it is gone to. So does
// a page that is loaded anew, whose beginning is shown.
(function () {
  "use strict";

  document.addEventListener("htmx:afterSettle", function (event) {
    const place = event.target;
    const line = place.matches("#messages, [role=alert]") && place.querySelector(".message.error, .message.warning");
    if (!line) return;
    line.tabIndex = -1;
    line.focus();
  });
})();

// While the answer to a press is on its way, what a page asks for by itself waits: it would swap away what that answer is
// to be put into.
(function () {
  "use strict";
  const pressed = new Set();

  function asksByItself(element) { return /^every /.test(element.getAttribute("hx-trigger") || ""); }

  document.addEventListener("htmx:beforeSend", function (event) {
    const request = event.detail.xhr;
    if (asksByItself(event.detail.elt)) return;
    pressed.add(request);
    // Taken out once its answer has been put in.
    request.addEventListener("loadend", function () { pressed.delete(request); });
  });

  document.addEventListener("htmx:beforeRequest", function (event) {
    if (pressed.size && asksByItself(event.detail.elt)) event.preventDefault();
  });

  document.addEventListener("htmx:beforeSwap", function (event) {
    if (pressed.size && asksByItself(event.detail.requestConfig.elt)) event.detail.shouldSwap = false;
  });
})();

// What is typed anew is no longer marked as wrong: whether it is right now is told when the form is sent again. Fields
// that are wrong together ([data-wrong-together], as two sizes that must differ) are put right by either of them.
(function () {
  "use strict";

  function within(place, what) { return [...(place.matches(what) ? [place] : []), ...place.querySelectorAll(what)]; }

  // A message goes once no field that it describes is marked any more.
  function forget(list) {
    const told = list.id ? document.querySelectorAll('[aria-describedby~="' + CSS.escape(list.id) + '"]') : [];
    if ([...told].some((field) => field.getAttribute("aria-invalid") === "true")) return;
    for (const field of told) {
      const others = field.getAttribute("aria-describedby").split(/\s+/).filter((id) => id !== list.id);
      if (others.length) field.setAttribute("aria-describedby", others.join(" "));
      else field.removeAttribute("aria-describedby");
    }
    list.remove();
  }

  document.addEventListener("input", function (event) {
    const field = event.target.closest("[data-wrong-together]") || event.target.closest("[aria-invalid=true]");
    const place = event.target.closest(".wrong");
    if (!field && !place) return;
    const lists = new Set(place ? place.querySelectorAll(".errorlist") : []);
    for (const one of field ? within(field, "[aria-invalid=true]") : []) {
      one.removeAttribute("aria-invalid");
      for (const id of (one.getAttribute("aria-describedby") || "").split(/\s+/)) {
        const list = document.getElementById(id);
        if (list && list.matches(".errorlist")) lists.add(list);
      }
    }
    if (place && !within(place, "[aria-invalid=true]").length) place.classList.remove("wrong");
    else if (place) for (const list of place.querySelectorAll(".errorlist:not([id])")) lists.delete(list);
    lists.forEach(forget);
  });
})();

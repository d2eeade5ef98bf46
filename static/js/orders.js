// The order form at the keyboard: a typed style brings its sizes, Enter goes on, Ctrl + Enter saves, totals add up.
// Without this file the form works all the same, with a press of a button for each step.
(function () {
  "use strict";

  function form() { return document.getElementById("order-form"); }

  function linesOf() {
    return Array.from(document.querySelectorAll("#lines .order-line:not([disabled])"));
  }

  // ---- the style of a line ----

  function styleNames() {
    const list = document.getElementById("styles");
    return list ? Array.from(list.options).map(function (o) { return o.value.toLowerCase(); }) : [];
  }

  function fetchStyle(field) {
    const line = field.closest(".order-line");
    const typed = field.value.trim();
    if (line.dataset.loaded === typed || line.dataset.wanted === typed) return false;
    line.dataset.wanted = typed;
    field.dispatchEvent(new CustomEvent("chosen"));
    return true;
  }

  function firstOf(line) {
    // The first thing still to choose; where all is chosen, the first box.
    const groups = Array.from(line.querySelectorAll(".choices"));
    const open = groups.find(function (g) { return !g.querySelector("input:checked"); });
    return (open && open.querySelector("input")) || line.querySelector("[data-grid-box]");
  }

  function goOn(field) {
    const line = field.closest(".order-line");
    if (line.dataset.loaded === field.value.trim()) {
      const next = line.querySelector(".line-body input:not([type=hidden])");
      if (next) next.focus();
      return Boolean(next);
    }
    line.dataset.goOn = "yes";
    fetchStyle(field);
    return true;
  }

  document.addEventListener("input", function (event) {
    const field = event.target;
    if (field.matches("[data-style]")) {
      if (styleNames().includes(field.value.trim().toLowerCase())) fetchStyle(field);
    } else if (field.matches("[data-grid-box]")) {
      addUp();
    }
  });

  document.addEventListener("change", function (event) {
    if (event.target.matches("[data-style]")) fetchStyle(event.target);
  });

  // What was typed while the answer was on its way goes back into the new boxes.
  let typedMeanwhile = [];

  document.addEventListener("htmx:beforeSwap", function (event) {
    const body = event.detail.target;
    if (!body.classList || !body.classList.contains("line-body")) return;
    typedMeanwhile = Array.from(body.querySelectorAll("input:not([type=hidden])")).filter(function (i) {
      return i.type === "radio" ? i.checked : i.value;
    }).map(function (i) { return { name: i.name, value: i.value, radio: i.type === "radio" }; });
  });

  document.addEventListener("htmx:afterSwap", function (event) {
    const target = event.detail.target;
    if (target.classList && target.classList.contains("line-body")) styleArrived(target, event.detail.requestConfig);
    if (target.id === "order-form" || target.tagName === "FORM") showWhatIsWrong();
    addUp();
  });

  function styleArrived(body, request) {
    typedMeanwhile.forEach(function (old) {
      body.querySelectorAll("input:not([type=hidden])").forEach(function (i) {
        if (i.name !== old.name) return;
        if (!old.radio) i.value = old.value;
        else if (i.value === old.value) i.checked = true;
      });
    });
    typedMeanwhile = [];
    const line = body.closest(".order-line");
    line.dataset.loaded = String(request.parameters[line.id + "-style"] || "").trim();
    body.dispatchEvent(new Event("input", { bubbles: true }));
    // An answer for half a number: the one for the whole number is on its way.
    if (line.dataset.wanted && line.dataset.wanted !== line.dataset.loaded) return;
    delete line.dataset.wanted;
    if (line.dataset.goOn) {
      delete line.dataset.goOn;
      const next = firstOf(line);
      if (next) next.focus();
    }
  }

  ["htmx:responseError", "htmx:sendError"].forEach(function (name) {
    document.addEventListener(name, function (event) {
      const line = event.target.closest && event.target.closest(".order-line");
      if (line) { delete line.dataset.wanted; delete line.dataset.goOn; }
    });
  });

  // ---- keys ----

  function fieldsInOrder() {
    return Array.from(form().querySelectorAll("input:not([type=hidden]), textarea, button, a.button")).filter(function (f) {
      if (f.tabIndex < 0 || f.closest("[hidden], fieldset[disabled], noscript")) return false;
      if (f.type !== "radio" || f.checked) return true;
      return f === firstRadio(f) && !f.form.querySelector('input[name="' + CSS.escape(f.name) + '"]:checked');
    });
  }

  function firstRadio(radio) {
    return radio.form.querySelector('input[type=radio][name="' + CSS.escape(radio.name) + '"]');
  }

  function next(field) {
    if (field.type === "radio") {
      const groups = Array.from(field.closest(".line-body").querySelectorAll(".choices, [data-grid-row]"));
      const after = groups[groups.indexOf(field.closest(".choices")) + 1];
      const stop = after && (after.querySelector("input:checked") || after.querySelector("input"));
      if (stop) { stop.focus(); return; }
    }
    const fields = fieldsInOrder();
    const after = fields.slice(fields.indexOf(field) + 1).find(function (f) {
      return f.tagName === "INPUT" || f.tagName === "TEXTAREA";
    });
    if (after) after.focus();
  }

  document.addEventListener("keydown", function (event) {
    const field = event.target;
    if (!form() || !form().contains(field)) return;
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      form().requestSubmit(document.getElementById("save-order"));
      return;
    }
    const plain = !event.ctrlKey && !event.metaKey && !event.altKey && !event.shiftKey;
    if (!plain || event.defaultPrevented) return;
    if (field.matches("[data-style]") && (event.key === "Enter" || event.key === "Tab")) {
      if (field.value.trim() && goOn(field)) event.preventDefault();
      else if (event.key === "Enter") event.preventDefault();
    } else if (event.key === "Enter" && field.tagName === "INPUT" && !field.matches("[data-grid-box]")) {
      event.preventDefault();
      next(field);
    }
  });

  // After the last box: another line or, one step further, the button that saves.
  document.addEventListener("grid:end", function () {
    const button = document.getElementById("add-line");
    if (button) button.focus();
  });

  // ---- lines come and go ----

  document.addEventListener("htmx:load", function (event) {
    const line = event.target;
    if (!line.matches || !line.matches("fieldset.order-line")) return;
    const field = line.dataset.loaded ? firstOf(line) : line.querySelector("[data-style]");
    if (field) field.focus();
  });

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-drop]");
    if (!button) return;
    event.preventDefault();
    takeOut(button.closest(".order-line"));
  });

  function takeOut(line) {
    const key = line.querySelector("[name=line]").value;
    const name = line.querySelector("[data-style]").value.trim();
    const note = document.createElement("p");
    note.className = "taken-out";
    note.append(name ? "The line of " + name + " is taken out. " : "The empty line is taken out. ");
    const gone = document.createElement("input");
    gone.type = "hidden";
    gone.name = "gone";
    gone.value = key;
    const back = document.createElement("button");
    back.type = "button";
    back.className = "quiet";
    back.textContent = "Put it back";
    back.addEventListener("click", function () {
      line.disabled = false;
      line.hidden = false;
      note.remove();
      line.querySelector("[data-style]").focus();
      addUp();
    });
    note.append(back, gone);
    line.disabled = true;
    line.hidden = true;
    line.after(note);
    back.focus();
    addUp();
  }

  // ---- sums ----

  function addUp() {
    if (!form()) return;
    const sizes = new Map();
    const inOrder = [];
    let all = 0;
    linesOf().forEach(function (line) {
      let sum = 0;
      let place = 0;
      line.querySelectorAll("[data-grid-box]").forEach(function (box) {
        const n = /^\s*\d{1,4}\s*$/.test(box.value) ? Number(box.value) : 0;
        sum += n;
        // As on paper: a size that an earlier line has keeps its place, others stand behind the one before them.
        const there = inOrder.indexOf(box.dataset.size);
        if (there < 0) inOrder.splice(place, 0, box.dataset.size);
        place = Math.max(place, there < 0 ? place + 1 : there + 1);
        if (n) sizes.set(box.dataset.size, (sizes.get(box.dataset.size) || 0) + n);
      });
      all += sum;
      const out = line.querySelector("[data-line-total]");
      if (out) out.textContent = sum ? garments(sum) : "";
    });
    const total = document.getElementById("order-total");
    if (!total) return;
    total.replaceChildren();
    if (!all) return;
    const strong = document.createElement("strong");
    strong.textContent = garments(all);
    const each = inOrder.filter(function (size) { return sizes.has(size); }).map(function (size) {
      return sizes.get(size) + "\u00a0×\u00a0" + size;
    });
    total.append(strong, ": " + each.join(", "));
  }

  function garments(n) { return n.toLocaleString("en") + (n === 1 ? " garment" : " garments"); }

  // ---- the form as a whole ----

  function showWhatIsWrong() {
    begin();
    const place = form().querySelector("#newer") || form().querySelector("[aria-invalid=true]") ||
      document.getElementById("order-wrong") || document.getElementById("order-listed");
    if (!place) return;
    const field = place.matches(".choices") ? place.querySelector("input") : place;
    field.focus();
  }

  function begin() {
    document.querySelectorAll("[data-due-picks]").forEach(function (picks) { picks.hidden = false; });
  }

  document.addEventListener("click", function (event) {
    const pick = event.target.closest("[data-days]");
    if (!pick) return;
    const parts = pick.parentElement.dataset.today.split("-").map(Number);
    const day = new Date(Date.UTC(parts[0], parts[1] - 1, parts[2] + Number(pick.dataset.days)));
    const field = document.getElementById("id_due_on");
    field.value = day.toISOString().slice(0, 10);
    field.focus();
  });

  document.addEventListener("DOMContentLoaded", function () {
    if (!form()) return;
    begin();
    addUp();
    if (form().querySelector("[aria-invalid=true], #newer")) showWhatIsWrong();
    else if (form().dataset.entry === "new") document.getElementById("id_customer").focus();
  });
})();

// Where the cursor is after a part of the page was answered anew, for those who work with the keyboard or have the page
// read to them: in the first field of a form that opened, at what is to be mended, at the control that took the place of
// the one pressed, else at the heading it stood under. Escape leaves a form that opened in place, and closes a menu.
(function () {
  "use strict";

  const CONTROLS = "a[href], button, summary, input:not([type=hidden]), select, textarea";
  const FIELDS = "input:not([type=hidden]):not([disabled]), select:not([disabled]), textarea:not([disabled])";
  const HEADINGS = "h1, h2, h3, h4, legend";
  const asked = new WeakMap();
  const openedBy = new Map();

  function shown(element) { return element.getClientRects().length > 0; }
  function isLost() { return !document.activeElement || document.activeElement === document.body; }
  function words(element) { return element.textContent.replace(/\s+/g, " ").trim(); }
  function leads(element) { return element.getAttribute("hx-get") || element.getAttribute("href") || ""; }
  function actionOf(element) { return element.form ? element.form.getAttribute("action") || "" : ""; }


  function buttonsOf(action) {
    return [...document.querySelectorAll("#content button")].filter((one) => shown(one) && actionOf(one) === action);
  }

  // What tells a control from others, for it is another element once its part of the page was answered anew.
  function known(element) {
    const places = [];
    for (let place = element; place && place !== document.body; place = place.parentElement) {
      const heading = place.matches("#content") ? null : place.querySelector(HEADINGS);
      if (place.id) places.push({ id: place.id, heading: heading ? heading.id : "" });
    }
    const action = actionOf(element);
    return {
      element, places, isOnly: Boolean(action) && buttonsOf(action).length === 1,
      id: element.id, name: element.name || "", value: element.matches("button") ? element.value : "", action,
      leads: element.form ? "" : leads(element), words: words(element), tag: element.tagName,
    };
  }

  // The same control, the one of its form that took its place, one that leads to the same, or one with the same words.
  function again(was) {
    const main = document.getElementById("content");
    const all = [...main.querySelectorAll(CONTROLS)].filter((one) => shown(one) && !one.disabled);
    const kin = (one) => one.tagName === was.tag;
    const same = (one) => (one.name || "") === was.name && (!was.value || one.value === was.value);
    return (
      (was.id && all.find((one) => one.id === was.id)) ||
      (was.action && all.find((one) => actionOf(one) === was.action && kin(one) && same(one))) ||
      (was.isOnly && buttonsOf(was.action).length === 1 && buttonsOf(was.action)[0]) ||
      (was.leads && all.find((one) => !one.form && leads(one) === was.leads)) ||
      (was.words && all.find((one) => kin(one) && words(one) === was.words && isNear(one, was))) || null
    );
  }

  function isNear(one, was) {
    const place = was.places.map((each) => document.getElementById(each.id)).find((each) => each);
    return !place || place.contains(one);
  }

  // The nearest heading over where it stood.
  function headingOver(was) {
    for (const { id, heading } of was.places) {
      const place = document.getElementById(id);
      const head = place && ((heading && document.getElementById(heading)) || place.querySelector(HEADINGS));
      if (head && shown(head)) return head;
    }
    return document.querySelector("#content h1");
  }

  function go(element) {
    if (!element) return;
    if (!element.matches(CONTROLS) && !element.hasAttribute("tabindex")) element.tabIndex = -1;
    element.focus();
  }

  // Forms something is typed into and kept; what only chooses how a part is shown is none.
  function formsIn(place) {
    const all = place.matches("form") ? [place] : [...place.querySelectorAll("form")];
    return all.filter((form) => form.method === "post" && [...form.querySelectorAll(FIELDS)].some(shown));
  }

  function first(places, what) {
    for (const place of places) {
      const found = [...place.querySelectorAll(what)].find(shown);
      if (found) return found;
    }
    return null;
  }

  document.addEventListener("htmx:beforeRequest", function (event) {
    const at = event.detail;
    const by = at.requestConfig.triggeringEvent;
    const isPressed = Boolean(by) && (by.type === "click" || by.type === "submit");
    const pressed = isPressed && by.type === "submit" && by.submitter ? by.submitter : at.elt;
    const from = isLost() ? (isPressed ? pressed : null) : document.activeElement;
    asked.set(at.xhr, { isPressed, was: from && known(from), settled: [] });
  });

  document.addEventListener("htmx:beforeSwap", function (event) {
    const ask = asked.get(event.detail.xhr);
    if (!ask) return;
    if (!isLost()) ask.was = known(document.activeElement);
    else if (!ask.isPressed) ask.was = null;
    ask.region = event.detail.target.id;
    ask.forms = new Set(formsIn(event.detail.target).map((form) => form.getAttribute("action")));
  });

  document.addEventListener("htmx:afterSettle", function (event) {
    const ask = asked.get(event.detail.xhr);
    if (!ask) return;
    ask.settled.push(event.target);
    // All parts of an answer are put in before the next task begins; what a page does for itself comes first.
    if (ask.settled.length > 1) return;
    const { xhr, requestConfig } = event.detail;
    Promise.resolve().then(() => settle(ask, xhr.status, requestConfig.verb));
  });

  function settle(ask, status, verb) {
    const region = document.getElementById(ask.region);
    const parts = [...new Set([region, ...ask.settled])];
    const places = parts.filter((one) => one && one.isConnected && one.id !== "messages");
    const isRefused = ask.isPressed && status >= 400;
    const wrong = isRefused && first(places, "[aria-invalid=true]");
    if (wrong && document.activeElement.getAttribute("aria-invalid") !== "true") go(wrong);
    const asksForForm = ask.isPressed && verb === "get" && region;
    const opened = asksForForm && formsIn(region).find((form) => !ask.forms.has(form.getAttribute("action")));
    if (opened) {
      if (ask.was) openedBy.set(ask.region, ask.was);
      go(first([opened], "[aria-invalid=true]") || first([opened], FIELDS));
      return;
    }
    if (!isLost() || !ask.was || (ask.was.element.isConnected && !ask.isPressed)) return;
    const problem = isRefused && first(places, ":is([role=alert], .message.error):not(:empty)");
    const opener = region && !formsIn(region).length ? openedBy.get(ask.region) : null;
    if (opener) openedBy.delete(ask.region);
    go(problem || (opener && again(opener)) || again(ask.was) || headingOver(ask.was));
  }

  // What was done, or why it was not, is read out on the page that is loaded for it too, unless that begins elsewhere.
  // A place that waits for such words is passed over.
  const told = [...document.querySelectorAll("#content > [role=alert], #messages .message")].find(words);
  if (told && isLost() && !location.hash && !document.querySelector("[autofocus]")) {
    told.tabIndex = -1;
    told.focus({ preventScroll: !told.matches("[role=alert]") });
  }

  // Typed into and not sent yet.
  function isChanged(form) {
    return [...form.querySelectorAll(FIELDS)].some(function (field) {
      if (field.matches("[type=checkbox], [type=radio]")) return field.checked !== field.defaultChecked;
      if (!field.matches("select")) return field.value !== field.defaultValue;
      const chosen = [...field.options].findIndex((one) => one.defaultSelected);
      return field.selectedIndex !== Math.max(chosen, 0);
    });
  }

  document.addEventListener("keydown", function (event) {
    if (event.key !== "Escape" || event.defaultPrevented) return;
    const menu = document.querySelector("details.menu[open]");
    if (menu) {
      menu.open = false;
      if (menu.contains(document.activeElement)) menu.querySelector("summary").focus();
      return;
    }
    const place = event.target.closest("form.inset, .editing");
    const leave = place && place.querySelector(".actions a[hx-get]");
    if (!leave) return;
    if (isChanged(place) && !window.confirm("Leave this form? What you typed into it is not kept.")) return;
    leave.click();
  });
})();

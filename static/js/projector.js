// A lay thrown onto the cloth: first the scale is set by lines of a known length, then nothing shows but the lay.
(function () {
  "use strict";
  const calibrating = document.getElementById("calibrating");
  const projecting = document.getElementById("projecting");
  if (!calibrating || !projecting) return;
  document.getElementById("plainly").hidden = true;
  const stage = document.getElementById("stage");
  const cloth = document.getElementById("cloth");
  const byId = function (id) { return document.getElementById(id); };
  const LENGTH = parseFloat(stage.dataset.length);
  const WIDTH = parseFloat(stage.dataset.width);
  const IMPERIAL = stage.dataset.unit === "in";
  const INCH = parseFloat(stage.dataset.mmPerInch);
  const UNITS = { mm: 1, cm: 10, m: 1000, in: INCH, inch: INCH, inches: INCH, '"': INCH, "″": INCH };
  const REST_MS = 4000;
  const MARGIN_PX = 40;
  const LEAST = 0.02;
  const MOST = 200;

  // ---- the scale: px on this screen for a mm on the table, along the screen and up it ----

  // Another screen, or the same at another zoom, has another scale.
  function key() { return "notchbook-projector " + screen.width + "×" + screen.height + " @" + window.devicePixelRatio; }

  function kept() {
    try {
      const found = JSON.parse(window.localStorage.getItem(key()));
      const good = found && [found.x, found.y].every(function (n) { return n >= LEAST && n <= MOST; });
      return good ? found : null;
    } catch (error) { return null; }
  }

  function keep() {
    try { window.localStorage.setItem(key(), JSON.stringify(scale)); } catch (error) { /* It is asked for again next time. */ }
  }

  const known = byId("known");
  const scale = kept() || { x: guess(), y: guess() };
  let ratio = window.devicePixelRatio;
  let beganOnce = false;

  // A first guess makes the line as long as fits well; measuring sets it right.
  function guess() { return Math.min(0.45 * window.innerWidth, 0.6 * window.innerHeight) / parseFloat(known.value); }

  function drawLines() {
    const length = parseFloat(known.value);
    const wide = length * scale.x;
    const high = length * scale.y;
    const right = window.innerWidth - 30;
    const low = window.innerHeight - 30;
    const left = right - wide;
    const top = low - high;
    const tick = function (x) { return "M" + x + " " + (low - 10) + "v20"; };
    byId("line-x").setAttribute("d", "M" + left + " " + low + "h" + wide + tick(left) + tick(right));
    byId("line-y").setAttribute("d", "M" + right + " " + top + "v" + high + "M" + (right - 10) + " " + top + "h20");
    byId("text-x").setAttribute("x", right - wide / 2);
    byId("text-x").setAttribute("y", low - 12);
    byId("text-y").setAttribute("x", right - 18);
    byId("text-y").setAttribute("y", low - high / 2);
    const out = wide > window.innerWidth - 40 || high > window.innerHeight - 40;
    if (out) say("A line is longer than the picture. Choose a shorter length.");
    return !out;
  }

  function say(text) { byId("measured-said").textContent = text; }

  // "412", "41.2 cm", "16,5 in" in mm; null for what is no length.
  function read(text) {
    const found = /^\s*(\d+(?:[.,]\d+)?)\s*([a-z"″]*)\.?\s*$/i.exec(text);
    if (!found) return null;
    const unit = found[2].toLowerCase() || (IMPERIAL ? "in" : "mm");
    const mm = parseFloat(found[1].replace(",", ".")) * (UNITS[unit] || NaN);
    return mm > 0 ? mm : null;
  }

  function setMeasured() {
    const target = parseFloat(known.value);
    const fields = { x: byId("measured-x"), y: byId("measured-y") };
    const typed = {};
    for (const way of ["x", "y"]) {
      const text = fields[way].value.trim();
      typed[way] = text ? read(text) : undefined;
      fields[way].removeAttribute("aria-invalid");
      if (typed[way] === null) {
        fields[way].setAttribute("aria-invalid", "true");
        say("“" + text + "” is no length. Type what you measured, for example 412 mm.");
        return false;
      }
    }
    if (typed.x === undefined && typed.y === undefined) { say("Type what you measured, or nudge the lines."); return false; }
    const x = typed.x || typed.y;
    const y = typed.y || typed.x;
    const next = { x: scale.x * target / x, y: scale.y * target / y };
    if (![next.x, next.y].every(function (n) { return n >= LEAST && n <= MOST; })) {
      say("That cannot be: the lines would be far too long or too short. Measure again.");
      return false;
    }
    scale.x = next.x;
    scale.y = next.y;
    fields.x.value = fields.y.value = "";
    keep();
    say("Set. Measure again: both lines should be " + known.selectedOptions[0].text + " now.");
    drawLines();
    return true;
  }

  function nudge(way, by) {
    // A pixel of the line at a time.
    const length = parseFloat(known.value);
    scale[way] = Math.min(MOST, Math.max(LEAST, (Math.round(scale[way] * length) + by) / length));
    keep();
    say("");
    drawLines();
  }

  // ---- the view ----

  const view = { along: 0, across: WIDTH / 2, mirror: false, flip: false, turn: 0, line: 4, labels: true, marks: true };

  // What is seen along the lay and across it, in mm.
  function seen() {
    const w = window.innerWidth / scale.x;
    const h = window.innerHeight / scale.y;
    return view.turn % 2 ? { along: h, across: w } : { along: w, across: h };
  }

  function margin() { return MARGIN_PX / (view.turn % 2 ? scale.y : scale.x); }

  // `along` is what stands at the beginning of the picture; a margin before the lay's start shows its end line.
  function lastStart() { return Math.max(-margin(), LENGTH + margin() - seen().along); }

  function draw() {
    view.along = Math.min(lastStart(), Math.max(-margin(), view.along));
    view.across = Math.min(WIDTH, Math.max(0, view.across));
    const there = seen();
    const cx = view.along + there.along / 2;
    const turns = [[1, 0, 0, 1], [0, 1, -1, 0], [-1, 0, 0, -1], [0, -1, 1, 0]][view.turn];
    const fx = view.mirror ? -1 : 1;
    const fy = view.flip ? -1 : 1;
    const a = scale.x * fx * turns[0];
    const b = scale.y * fy * turns[1];
    const c = scale.x * fx * turns[2];
    const d = scale.y * fy * turns[3];
    const e = window.innerWidth / 2 - (a * cx + c * view.across);
    const f = window.innerHeight / 2 - (b * cx + d * view.across);
    cloth.setAttribute("transform", "matrix(" + [a, b, c, d, e, f].join(" ") + ")");
    cloth.querySelectorAll("path, rect").forEach(function (line) { line.setAttribute("stroke-width", view.line); });
    byId("labels").setAttribute("visibility", view.labels ? "visible" : "hidden");
    byId("marks").setAttribute("visibility", view.marks ? "visible" : "hidden");
    const slide = byId("slide");
    slide.min = Math.round(-margin());
    slide.max = Math.max(Math.round(lastStart()), slide.min);
    slide.value = Math.round(view.along);
    const from = Math.max(0, view.along);
    const to = Math.min(LENGTH, view.along + there.along);
    byId("where").textContent = inWords(from) + " to " + inWords(to) + " of " + inWords(LENGTH);
    for (const name of ["labels", "marks", "mirror", "flip"]) if (button(name)) button(name).setAttribute("aria-pressed", String(view[name]));
  }

  function inWords(mm) { return IMPERIAL ? (mm / INCH).toFixed(1) + " in" : (mm / 1000).toFixed(2) + " m"; }

  function button(name) { return projecting.querySelector("[data-do=" + name + "]"); }

  function step() {
    const wanted = parseFloat(byId("step").value);
    // One picture on, with a little of the last still to be seen.
    return wanted > 0 ? wanted : Math.max(50, seen().along - 2 * margin() - 50);
  }

  const doing = {
    back: function () { view.along -= step(); },
    on: function () { view.along += step(); },
    up: function () { view.across -= seen().across / 4; },
    down: function () { view.across += seen().across / 4; },
    start: function () { view.along = -margin(); },
    end: function () { view.along = lastStart(); },
    thinner: function () { view.line = Math.max(1, view.line - 1); },
    thicker: function () { view.line = Math.min(30, view.line + 1); },
    labels: function () { view.labels = !view.labels; },
    marks: function () { view.marks = !view.marks; },
    mirror: function () { view.mirror = !view.mirror; },
    flip: function () { view.flip = !view.flip; },
    turn: function () { view.turn = (view.turn + 1) % 4; },
    fill: function () {
      if (document.fullscreenElement) document.exitFullscreen();
      else if (document.documentElement.requestFullscreen) document.documentElement.requestFullscreen().catch(function () { /* The browser's own way is left. */ });
    },
    scale: function () { show(calibrating); },
    help: function () {
      const keys = byId("keys");
      keys.hidden = !keys.hidden;
      button("help").setAttribute("aria-expanded", String(!keys.hidden));
    },
  };

  function act(name) {
    doing[name]();
    if (!projecting.hidden) draw();
  }

  // ---- controls rest while nobody needs them ----

  let resting = 0;

  function awake() {
    projecting.classList.remove("resting");
    window.clearTimeout(resting);
    resting = window.setTimeout(function () {
      projecting.classList.add("resting");
      // A key must not press a button nobody sees.
      if (projecting.contains(document.activeElement)) document.activeElement.blur();
    }, REST_MS);
  }

  // ---- one step or the other ----

  function show(part) {
    calibrating.hidden = part !== calibrating;
    projecting.hidden = part !== projecting;
    if (part === calibrating) { window.clearTimeout(resting); drawLines(); return; }
    if (!beganOnce) { beganOnce = true; doing.start(); }
    draw();
    awake();
    if (navigator.wakeLock) navigator.wakeLock.request("screen").catch(function () { /* The screen may then go dark by itself. */ });
  }

  const KEYS = {
    ArrowLeft: "back", ArrowRight: "on", ArrowUp: "up", ArrowDown: "down", Home: "start", End: "end",
    "+": "thicker", "=": "thicker", "-": "thinner", l: "labels", n: "marks", m: "mirror", f: "flip", t: "turn", c: "scale", "?": "help",
  };

  document.addEventListener("keydown", function (event) {
    if (projecting.hidden || event.ctrlKey || event.metaKey || event.altKey) return;
    const wasResting = projecting.classList.contains("resting");
    const inControl = !wasResting && /^(SELECT|INPUT)$/.test(event.target.tagName);
    awake();
    const name = KEYS[event.key] || KEYS[event.key.toLowerCase()];
    if (!name || (inControl && /^(Arrow|Home|End)/.test(event.key))) return;
    event.preventDefault();
    act(name);
  });
  for (const kind of ["pointermove", "pointerdown", "focusin"]) projecting.addEventListener(kind, awake);
  projecting.addEventListener("click", function (event) {
    const pressed = event.target.closest("[data-do]");
    if (pressed) act(pressed.dataset.do);
  });
  byId("slide").addEventListener("input", function (event) { view.along = parseFloat(event.target.value); draw(); awake(); });
  byId("measures").addEventListener("submit", function (event) { event.preventDefault(); setMeasured(); });
  byId("begin").addEventListener("click", function () {
    if ((byId("measured-x").value.trim() || byId("measured-y").value.trim()) && !setMeasured()) return;
    keep();
    show(projecting);
  });
  known.addEventListener("change", function () { say(""); if (!kept()) scale.x = scale.y = guess(); drawLines(); });
  calibrating.querySelectorAll("[data-nudge]").forEach(function (one) {
    one.addEventListener("click", function () { nudge(one.dataset.nudge, parseInt(one.dataset.by, 10)); });
  });
  window.addEventListener("resize", function () {
    if (window.devicePixelRatio !== ratio) {
      // Zoomed, or on another screen: what was set does not hold here.
      ratio = window.devicePixelRatio;
      const found = kept() || { x: guess(), y: guess() };
      scale.x = found.x;
      scale.y = found.y;
      show(calibrating);
      say("The picture has another size now. Measure again.");
    } else if (projecting.hidden) drawLines();
    else draw();
  });

  show(calibrating);
  if (kept()) say("Set before on this screen. Measure once more, for the projector may have moved.");
})();

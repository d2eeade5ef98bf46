// What a page has yet to do: requests on their way, and short timers that will send or change something. Put into
// every page of a browser test before its own scripts; `window.rests()` says whether nothing is left to do,
// `window.atRest()` is kept when it is so. The latter waits by a timer: where no scripts run none ever comes.
(function () {
  "use strict";

  const LONGEST_MS = 600; // a page that asks each second is at rest in between
  const unfinished = new Set();
  const later = window.setTimeout.bind(window);
  const never = window.clearTimeout.bind(window);
  const send = XMLHttpRequest.prototype.send;

  window.setTimeout = function (task, wait, ...given) {
    if (typeof task !== "function" || wait > LONGEST_MS) return later(task, wait, ...given);
    const timer = later(function () {
      try { task(...given); } finally { unfinished.delete(timer); }
    }, wait);
    unfinished.add(timer);
    return timer;
  };

  window.clearTimeout = function (timer) {
    unfinished.delete(timer);
    never(timer);
  };

  XMLHttpRequest.prototype.send = function (...given) {
    unfinished.add(this);
    this.addEventListener("loadend", () => unfinished.delete(this));
    return send.apply(this, given);
  };

  window.rests = () => unfinished.size === 0 && document.readyState === "complete";

  window.atRest = function (patience_ms) {
    const end = Date.now() + patience_ms;
    return new Promise(function (kept) {
      (function look() {
        if (window.rests()) kept(true);
        else if (Date.now() > end) kept(false);
        else later(look, 5);
      })();
    });
  };
})();

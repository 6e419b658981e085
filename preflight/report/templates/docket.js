// Comfort only: everything is there without it. Choose what is shown, and walk the findings with j and k.
(function () {
  "use strict";
  var slips = Array.prototype.slice.call(document.querySelectorAll(".slip"));
  var tools = document.getElementById("tools");
  if (slips.length < 2 || !tools) { return; }

  var states = ["stop", "ask", "note", "waived"].filter(function (state) {
    return slips.some(function (slip) { return slip.dataset.state === state; });
  });
  var said = document.createElement("span");
  said.textContent = "Show";
  tools.appendChild(said);
  states.forEach(function (state) {
    var label = document.createElement("label");
    var box = document.createElement("input");
    box.type = "checkbox";
    box.checked = true;
    box.addEventListener("change", function () {
      slips.forEach(function (slip) {
        if (slip.dataset.state === state) { slip.hidden = !box.checked; }
      });
    });
    var word = document.createElement("span");
    word.className = "tab tab-" + state;
    word.textContent = state;
    label.appendChild(box);
    label.appendChild(word);
    tools.appendChild(label);
  });
  var keys = document.createElement("span");
  keys.append("next finding ");
  ["j", "k"].forEach(function (key, index) {
    var cap = document.createElement("kbd");
    cap.textContent = key;
    keys.append(index ? ", back " : "", cap);
  });
  tools.appendChild(keys);
  tools.hidden = false;

  document.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.metaKey || event.altKey || /^(INPUT|TEXTAREA|SELECT)$/.test(event.target.tagName)) { return; }
    var step = event.key === "j" ? 1 : event.key === "k" ? -1 : 0;
    if (!step) { return; }
    var open = slips.filter(function (slip) { return !slip.hidden; });
    var now = open.findIndex(function (slip) { return slip.contains(document.activeElement); });
    var next = open[now < 0 ? (step > 0 ? 0 : open.length - 1) : now + step];
    if (next) {
      next.tabIndex = -1;
      next.focus({ preventScroll: true });
      next.scrollIntoView({ block: "start" });
    }
  });

  // A link to a finding that is switched off shows it again.
  window.addEventListener("hashchange", function () {
    var aim = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    var slip = aim && aim.closest(".slip");
    if (slip && slip.hidden) { slip.hidden = false; aim.scrollIntoView(); }
  });
})();

// Comfort only: everything is there without it. Lift plates one by one, move the knife, measure; choose what is shown, and walk
// the findings with j and k.
(function () {
  "use strict";

  function all(root, selector) { return Array.prototype.slice.call(root.querySelectorAll(selector)); }
  function made(tag, words, attributes) {
    var node = document.createElement(tag);
    if (words) { node.textContent = words; }
    Object.keys(attributes || {}).forEach(function (name) { node.setAttribute(name, attributes[name]); });
    return node;
  }
  function mm(value, digits) { return value.toFixed(digits === undefined ? 1 : digits).replace(/\.0$/, "") + " mm"; }

  // --- press units: one plate alone, all down again
  function plates(sheet) {
    var switches = all(sheet, ".unit-switch");
    var tools = sheet.querySelector(".press-tools");
    if (switches.length < 2 || !tools) { return; }
    switches.forEach(function (one) {
      var unit = one.closest(".unit");
      var button = made("button", "alone", { type: "button", class: "alone" });
      button.setAttribute("aria-label", unit.querySelector(".ink").textContent + " alone");
      button.addEventListener("click", function () {
        switches.forEach(function (other) { other.checked = other === one; });
      });
      unit.querySelector("label").after(button);
    });
    var back = made("button", "all plates down", { type: "button", class: "all-down" });
    back.addEventListener("click", function () { switches.forEach(function (one) { one.checked = true; }); });
    tools.prepend(back);
  }

  // --- the knife: by tenths of a millimetre
  function tenths(sheet) {
    var cut = sheet.querySelector(".cut"), svg = sheet.querySelector(".drawing"), knife = svg && svg.querySelector(".knife");
    if (!cut || !knife) { return; }
    var wide = Number(svg.dataset.wide), high = Number(svg.dataset.high);
    var around = knife.getAttribute("d").match(/^M[^z]*z/)[0];
    var label = made("label", "by tenths "), range = made("input", "", { type: "range", min: "-10", max: "10", value: "0", class: "knife-off" });
    var said = made("output", "on the trim");
    label.append(range, said);
    cut.append(label);
    function words(off) { return off === 0 ? "on the trim" : mm(Math.abs(off)) + (off < 0 ? " inside" : " outside"); }
    function move(off) {
      knife.setAttribute("d", around + "M" + -off + " " + -off + "h" + (wide + 2 * off) + "v" + (high + 2 * off) + "h" + -(wide + 2 * off) + "z");
      said.textContent = words(off);
      range.setAttribute("aria-valuetext", words(off));
    }
    range.addEventListener("input", function () {
      cut.querySelector(".as-trimmed").checked = true;
      move(Number(range.value) / 10);
    });
    all(cut, "input[type=radio]").forEach(function (radio) {
      function follow() {
        var off = radio.classList.contains("cut-inside") ? -1 : radio.classList.contains("cut-outside") ? 1 : 0;
        range.value = String(off * 10);
        move(off);
      }
      radio.addEventListener("change", follow);
      if (radio.checked) { follow(); }
    });
  }

  // --- the ruler: two points, by mouse or by arrow keys and Enter
  function ruler(sheet) {
    var svg = sheet.querySelector(".drawing"), place = sheet.querySelector(".switches");
    if (!svg || !place || !svg.dataset.wide) { return; }
    var px = Number(svg.dataset.px), view = svg.viewBox.baseVal;
    var row = made("fieldset", "", { class: "measure" });
    var button = made("button", "measure", { type: "button", "aria-pressed": "false" });
    var said = made("output", "");
    row.append(made("legend", "Ruler"), button, said);
    place.append(row);
    var layer = null, first = null, second = null, here = null;
    function drawn(tag, attributes, words) {
      var node = document.createElementNS("http://www.w3.org/2000/svg", tag);
      Object.keys(attributes).forEach(function (name) { node.setAttribute(name, attributes[name]); });
      if (words) { node.textContent = words; }
      layer.append(node);
    }
    function line(d) {
      drawn("path", { class: "ruler-ground", d: d, "stroke-width": 4 * px });
      drawn("path", { d: d, "stroke-width": 1.5 * px });
    }
    function cross(point) {
      var arm = 7 * px;
      line("M" + (point.x - arm) + " " + point.y + "h" + 2 * arm + "M" + point.x + " " + (point.y - arm) + "v" + 2 * arm);
    }
    function tell() {
      if (!here) { said.textContent = ""; return; }
      if (!first) { said.textContent = mm(here.x) + " from left trim, " + mm(here.y) + " from top"; return; }
      var to = second || here, across = Math.abs(to.x - first.x), down = Math.abs(to.y - first.y);
      said.textContent = mm(Math.hypot(across, down)) + " (" + mm(across) + " across, " + mm(down) + " down)";
    }
    function draw() {
      layer.replaceChildren();
      if (first) {
        var to = second || here;
        line("M" + first.x + " " + first.y + "L" + to.x + " " + to.y);
        cross(first);
        drawn("text", { class: "reach-said", x: (first.x + to.x) / 2, y: (first.y + to.y) / 2 - 5 * px, "font-size": 13 * px, "stroke-width": 3.5 * px },
          mm(Math.hypot(to.x - first.x, to.y - first.y)));
      }
      if (second || here) { cross(second || here); }
      tell();
    }
    function set() {
      if (!first || second) { first = { x: here.x, y: here.y }; second = null; }
      else { second = { x: here.x, y: here.y }; }
      draw();
    }
    function point(event) {
      var at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      return { x: at.x, y: at.y };
    }
    function end() {
      if (!layer) { return; }
      layer.remove();
      layer = first = second = here = null;
      svg.classList.remove("measuring");
      svg.removeAttribute("tabindex");
      button.setAttribute("aria-pressed", "false");
      said.textContent = "";
    }
    function start() {
      layer = document.createElementNS("http://www.w3.org/2000/svg", "g");
      layer.setAttribute("class", "ruler");
      svg.append(layer);
      svg.classList.add("measuring");
      svg.setAttribute("tabindex", "0");
      button.setAttribute("aria-pressed", "true");
      said.textContent = "click two points, or arrow keys and Enter";
      svg.focus({ preventScroll: true });
    }
    button.addEventListener("click", function () { if (layer) { end(); } else { start(); } });
    svg.addEventListener("pointermove", function (event) {
      if (layer) { here = point(event); if (!second) { draw(); } }
    });
    svg.addEventListener("click", function (event) {
      if (!layer) { return; }
      event.preventDefault();
      here = point(event);
      set();
    });
    svg.addEventListener("keydown", function (event) {
      var ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }, way = ways[event.key];
      if (!layer) { return; }
      if (event.key === "Escape") { end(); button.focus(); return; }
      if (!way && event.key !== "Enter") { return; }
      event.preventDefault();
      here = here || { x: 0, y: 0 };
      if (event.key === "Enter") { set(); return; }
      // From where it is to the next whole millimetre, or with Shift to the next tenth.
      var step = event.shiftKey ? 10 : 1;
      here = {
        x: Math.min(Math.max((Math.round(here.x * step) + way[0]) / step, view.x), view.x + view.width),
        y: Math.min(Math.max((Math.round(here.y * step) + way[1]) / step, view.y), view.y + view.height)
      };
      if (second) { first = second = null; }
      draw();
    });
  }

  // Not before a sheet comes near the window: a book of 64 pages opens at once.
  function fitted(sheet) { plates(sheet); tenths(sheet); ruler(sheet); }
  if (!("IntersectionObserver" in window)) { all(document, ".sheet").forEach(fitted); return; }
  var watch = new IntersectionObserver(function (seen) {
    seen.forEach(function (entry) {
      if (entry.isIntersecting) { watch.unobserve(entry.target); fitted(entry.target); }
    });
  }, { rootMargin: "600px" });
  all(document, ".sheet").forEach(function (sheet) { watch.observe(sheet); });
})();

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

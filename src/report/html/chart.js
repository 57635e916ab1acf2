// What the page does besides being read: zoom by key, go from run to run, tell what is in a run.
// Without it everything can still be read: the zoom is made of radio buttons, and a run is a link to its row in the queue.
(function () {
  "use strict";
  // Words that something scrolls sideways, where it does.
  function tellFurther() {
    document.querySelectorAll("p.sideways").forEach(function (words) {
      var wide = Array.from(words.parentElement.querySelectorAll(".scroll")).some(function (box) { return box.scrollWidth > box.clientWidth + 1; });
      words.classList.toggle("needed", wide);
    });
  }
  addEventListener("resize", tellFurther);
  tellFurther();
  var zoomable = document.querySelector(".zoomable");
  if (!zoomable) return;
  var chart = zoomable.querySelector(".drawing");
  var scroll = zoomable.querySelector(".chart");
  var names = scroll.querySelector(".names");
  var head = scroll.querySelector(".head");
  var detail = document.getElementById("detail");
  zoomable.classList.add("live");
  detail.textContent = "Point at a run, tap it, or go to it with the tab key: what is in it stands here.";

  // Runs by machine, in the order of time, as they are written.
  var rows = [];
  chart.querySelectorAll("a.run").forEach(function (run) {
    var machine = Number(run.dataset.m);
    (rows[machine] = rows[machine] || []).push(run);
    run.setAttribute("tabindex", "-1");
  });
  var all = rows.flat().filter(Boolean);
  var current = all[0];
  if (current) current.setAttribute("tabindex", "0");

  function middle(run) {
    var bar = run.querySelector(".at");
    return parseFloat(bar.getAttribute("x")) + parseFloat(bar.getAttribute("width")) / 2;
  }
  function show(run) {
    var row = document.getElementById(run.id.replace("b", "q"));
    if (!row || run === current && run.classList.contains("on")) return;
    current.classList.remove("on");
    current.setAttribute("tabindex", "-1");
    current = run;
    run.classList.add("on");
    run.setAttribute("tabindex", "0");
    // Below a chart that is higher than the window it would be out of sight.
    detail.classList.toggle("near", chart.getBoundingClientRect().height > innerHeight * 0.7);
    detail.replaceChildren();
    Array.from(row.children).forEach(function (part) { detail.append(part.cloneNode(true)); });
  }
  function go(run) {
    if (!run) return;
    show(run);
    run.focus({ preventScroll: true });
    var width = chart.getBoundingClientRect().width;
    var x = middle(run) / 100 * width;
    if (x < scroll.scrollLeft + 40 || x > scroll.scrollLeft + room() - 40) scroll.scrollLeft = x - room() / 2;
    var bar = run.querySelector(".rim").getBoundingClientRect();
    var box = scroll.getBoundingClientRect();
    var above = box.top + head.offsetHeight + 8 - bar.top;
    var below = bar.bottom + 16 - box.top - scroll.clientHeight;
    if (above > 0) scroll.scrollTop -= above;
    else if (below > 0) scroll.scrollTop += below;
  }
  function beside(step) {
    var row = rows[Number(current.dataset.m)];
    return row[row.indexOf(current) + step];
  }
  function above(step) {
    var at = middle(current);
    for (var m = Number(current.dataset.m) + step; m >= 0 && m < rows.length; m += step) {
      if (rows[m]) return rows[m].reduce(function (best, run) { return Math.abs(middle(run) - at) < Math.abs(middle(best) - at) ? run : best; });
    }
  }
  function zoom(name) {
    var radio = document.getElementById("z-" + name);
    if (!radio || radio.checked) return;
    radio.checked = true;
    inTurn();
    keep();
  }
  // What of the drawing is in sight, beside the names.
  function room() { return scroll.clientWidth - names.offsetWidth; }
  // What was in the middle stays in the middle.
  var centre = 0;
  function remember() { centre = (scroll.scrollLeft + room() / 2) / chart.getBoundingClientRect().width; }
  function keep() {
    var at = current && current.classList.contains("on") ? middle(current) / 100 : centre;
    scroll.scrollLeft = at * chart.getBoundingClientRect().width - room() / 2;
  }
  function tellWidth() {
    var left = scroll.scrollWidth - scroll.clientWidth;
    zoomable.classList.toggle("overflows", left > 2);
    zoomable.classList.toggle("at-end", scroll.scrollLeft > left - 4);
  }
  // Of a farm of many machines no step is to take long: those in sight come first, the rest a few at a time.
  var lanes = Array.from(chart.querySelectorAll(".lane"));
  function inTurn() {
    if (all.length < 1200) return;
    lanes.forEach(function (lane) { lane.classList.add("waits"); });
    // Only now, or asking for places would lay all of it out.
    var waiting = lanes.slice();
    waiting.sort(function (a, b) { return far(a) - far(b); });
    turn += 1;
    next(turn);
    function next(mine) {
      if (mine !== turn) return;
      var some = 0;
      while (waiting.length && some < 300) {
        var lane = waiting.shift();
        some += lane.querySelectorAll("a.run").length;
        lane.classList.remove("waits");
      }
      if (waiting.length) requestAnimationFrame(function () { next(mine); });
    }
  }
  var turn = 0;
  function far(lane) { return Math.abs(lane.offsetTop + 23 - scroll.scrollTop - scroll.clientHeight / 2); }
  scroll.addEventListener("scroll", function () { remember(); tellWidth(); }, { passive: true });
  zoomable.addEventListener("change", function () { inTurn(); keep(); tellWidth(); });
  addEventListener("resize", tellWidth);
  tellWidth();

  ["pointerover", "focusin"].forEach(function (event) {
    chart.addEventListener(event, function (e) {
      var run = e.target.closest("a.run");
      if (run) show(run);
    });
  });
  // A first tap tells what is in a run; a second, or a click of a mouse, goes to its row.
  chart.addEventListener("click", function (e) {
    var run = e.target.closest("a.run");
    if (run && e.pointerType === "touch" && !run.dataset.tapped) {
      all.forEach(function (other) { delete other.dataset.tapped; });
      run.dataset.tapped = "1";
      e.preventDefault();
      show(run);
    }
  });
  document.addEventListener("keydown", function (e) {
    if (e.ctrlKey || e.metaKey || e.altKey || /^(INPUT|TEXTAREA|SELECT)$/.test(e.target.tagName) && e.target.type !== "radio") return;
    var key = e.key.toLowerCase();
    if (key === "a") zoom("all");
    else if (key === "w") zoom("week");
    else if (key === "d") zoom("day");
    else if (e.target.closest && e.target.closest("a.run")) {
      var next = { arrowright: function () { return beside(1); }, arrowleft: function () { return beside(-1); },
        arrowdown: function () { return above(1); }, arrowup: function () { return above(-1); },
        home: function () { return rows[Number(current.dataset.m)][0]; }, end: function () { return rows[Number(current.dataset.m)].slice(-1)[0]; } }[key];
      if (!next) return;
      e.preventDefault();
      go(next());
    }
  });
})();

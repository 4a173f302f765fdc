"use strict";
(function () {
  var told = Array.prototype.slice.call(document.querySelectorAll("#steps > li"));
  var root = document.querySelector("#stepper");
  if (!told.length || !root) { return; }
  var drawn = Array.prototype.slice.call(document.querySelectorAll("[data-pass], [data-stand]"));
  var where = document.getElementById("step-told");
  var slide = document.getElementById("step-slide");
  var back = document.getElementById("step-back");
  var on = document.getElementById("step-on");
  var whole = document.getElementById("step-whole");
  var at = 0; // 0 is the whole plan, k the k-th pass

  function numberOf(one) {
    return Number(one.getAttribute("data-pass") || one.getAttribute("data-stand"));
  }

  function show(next) {
    at = Math.max(0, Math.min(told.length, next));
    document.documentElement.classList.toggle("stepping", at > 0);
    told.forEach(function (one, k) { one.hidden = k + 1 !== at; });
    var number = at > 0 ? Number(told[at - 1].getAttribute("data-number")) : 0;
    drawn.forEach(function (one) {
      one.classList.toggle("now", numberOf(one) === number);
      one.classList.toggle("done", numberOf(one) < number);
    });
    where.textContent = at > 0 ? "Pass " + at + " of " + told.length : "All " + told.length + " passes";
    slide.value = String(at);
    back.disabled = at === 0;
    on.disabled = at === told.length;
    whole.disabled = at === 0;
    on.textContent = at === 0 ? "First pass" : "Next";
  }

  slide.max = String(told.length);
  slide.addEventListener("input", function () { show(Number(slide.value)); });
  back.addEventListener("click", function () { show(at - 1); });
  on.addEventListener("click", function () { show(at + 1); });
  whole.addEventListener("click", function () { show(0); });
  document.addEventListener("keydown", function (event) {
    if (event.altKey || event.ctrlKey || event.metaKey || event.target === slide) { return; }
    if (event.key === "ArrowRight") { show(at + 1); event.preventDefault(); }
    if (event.key === "ArrowLeft") { show(at - 1); event.preventDefault(); }
  });
  root.hidden = false;
  show(0);
})();

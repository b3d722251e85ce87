// Where a week is wider than the screen, it begins with today: what is over can be scrolled back to.
(function () {
  "use strict";
  const BEFORE = 12; // px of the day before, which show that there is one
  const drawn = document.querySelector(".across .scroll[data-start]");
  if (drawn) {
    const strip = drawn.querySelector(".strip");
    drawn.scrollLeft = strip.clientWidth * Number(drawn.dataset.start) / 100 - BEFORE;
  }
  const head = document.querySelector(".load th.today");
  if (head) {
    const names = head.parentElement.firstElementChild;
    head.closest(".scroll").scrollLeft = head.offsetLeft - names.offsetWidth - BEFORE;
  }
})();

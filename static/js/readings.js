// Says that a file is too large before it is sent: the server would only hang up on it.
(function () {
  "use strict";
  document.addEventListener("change", (event) => {
    const input = event.target.closest("input[type=file][data-limit]");
    if (!input) return;
    const file = input.files[0];
    const limit = Number(input.dataset.limit);
    const large = Boolean(file) && file.size > limit;
    input.setCustomValidity(large ? "The file is larger than " + Math.floor(limit / 1048576) + " MB. Split it into shorter stretches of time." : "");
    if (large) input.reportValidity();
  });
})();

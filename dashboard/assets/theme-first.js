/* The chosen colours, before anything is drawn. */
(function () {
  "use strict";
  const kept = localStorage.getItem("theme");
  if (kept) document.documentElement.dataset.theme = kept;
})();

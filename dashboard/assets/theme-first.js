/* Light or dark, decided before anything is drawn; the button keeps the choice. */
(function () {
  "use strict";
  const root = document.documentElement;
  const kept = localStorage.getItem("theme");
  if (kept === "light" || kept === "dark") root.dataset.theme = kept;

  document.addEventListener("click", function (event) {
    if (!event.target.closest("#theme-button")) return;
    const isDark = root.dataset.theme
      ? root.dataset.theme === "dark"
      : matchMedia("(prefers-color-scheme: dark)").matches;
    root.dataset.theme = isDark ? "light" : "dark";
    localStorage.setItem("theme", root.dataset.theme);
  });
})();

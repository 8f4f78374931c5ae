/* What a person chooses for this browser: colours change at once; units travel in a cookie, for
   every figure is made by the server, which is asked for the page again. */
(function () {
  "use strict";
  const YEAR_S = 31536000;

  function kept(list) {
    if (list.dataset.choice === "theme") return localStorage.getItem("theme") || "";
    const found = document.cookie.split("; ")
      .find((pair) => pair.startsWith("packhand-" + list.dataset.choice + "="));
    return found === undefined ? list.dataset.usual : found.slice(found.indexOf("=") + 1);
  }

  function keep(list) {
    const value = list.value;
    if (list.dataset.choice === "theme") {
      localStorage.setItem("theme", value);
      if (value) document.documentElement.dataset.theme = value;
      else delete document.documentElement.dataset.theme;
      return;
    }
    document.cookie = "packhand-" + list.dataset.choice + "=" + value
      + "; path=/; max-age=" + YEAR_S + "; samesite=strict";
    location.reload();
  }

  document.addEventListener("change", (event) => {
    if (event.target.dataset.choice) keep(event.target);
  });
  document.addEventListener("click", (event) => {
    const box = document.getElementById("choices");
    if (box && box.open && !box.contains(event.target)) box.open = false;
  });
  document.addEventListener("keydown", (event) => {
    const box = document.getElementById("choices");
    if (event.key !== "Escape" || !box || !box.open) return;
    box.open = false;
    box.firstElementChild.focus();
  });

  /* The lists are drawn after this script has run: show what is kept as soon as they stand. */
  const waiting = new MutationObserver(() => {
    const lists = document.querySelectorAll("[data-choice]");
    for (const list of lists) list.value = kept(list);
    if (lists.length) waiting.disconnect();
  });
  waiting.observe(document, { childList: true, subtree: true });
})();

/* Forms of readings and parts: sent as they are typed, cleared only when the server has kept them. */
(function () {
  "use strict";

  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form[data-notes]");
    if (!form) return;
    event.preventDefault();
    const sent = new FormData(form);
    const fixed = JSON.parse(form.dataset.notes);
    for (const name in fixed) sent.set(name, fixed[name]);
    const told = form.querySelector("[role=status]");
    const button = form.querySelector("button");
    button.disabled = true;
    try {
      const answer = await fetch(form.dataset.path || "/notes", { method: "POST", body: sent });
      told.textContent = (await answer.json()).words;
      if (answer.ok && form.dataset.then) {
        window.location.assign(form.dataset.then);
      } else if (answer.ok) {
        for (const field of form.querySelectorAll("textarea")) field.value = "";
        window.dash_clientside.set_props("diary-kept", { data: Date.now() });
      }
    } catch (error) {
      told.textContent = form.dataset.lost;
    }
    button.disabled = false;
  });

  document.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || !field.matches("form[data-notes] textarea")) return;
    event.preventDefault();
    field.form.requestSubmit();
  });

  document.addEventListener("change", (event) => {
    if (event.target.id !== "note-kind") return;
    document.getElementById("note-hint").textContent =
      event.target.selectedOptions[0].dataset.hint;
  });
})();

/* A file on its way in: sent as it is, read by nobody here. */
(function () {
  "use strict";

  async function send(field, told) {
    const file = field.files[0];
    if (!file) return;
    told.textContent = "Taking " + file.name + " in.";
    try {
      const answer = await fetch("/brought?name=" + encodeURIComponent(file.name),
        { method: "PUT", body: file });
      told.textContent = answer.status === 413 ? field.dataset.large : (await answer.json()).words;
      if (answer.ok) window.dash_clientside.set_props("bring-waiting", { data: Date.now() });
    } catch (error) {
      told.textContent = field.dataset.lost;
    }
    field.value = "";
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    bring: {
      attach: function (endings) {
        const place = document.getElementById("bring-picker");
        const field = document.createElement("input");
        Object.assign(field, { type: "file", accept: endings, className: "field" });
        Object.assign(field.dataset, { lost: place.dataset.lost, large: place.dataset.large });
        field.addEventListener("change",
          () => send(field, document.getElementById("bring-told")));
        place.replaceChildren(field);
        return true;
      },
    },
  });
})();

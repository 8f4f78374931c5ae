/* Now: the words and large figures of each second, set where they stand. Only when the page itself
   has to change (an alarm, a lane, a mark) is it built anew. */
(function () {
  "use strict";

  let timer, page;

  async function look() {
    if (!document.getElementById("now-words")) return clearInterval(timer);
    if (document.hidden) return;
    let found;
    try {
      const answer = await fetch("/now.json");
      if (!answer.ok) return;
      found = await answer.json();
    } catch (error) {
      return;
    }
    if (page !== found.page) {
      page = found.page;
      window.dash_clientside.set_props("now-changed", { data: page });
    }
    for (const part of document.querySelectorAll("[data-now]")) {
      const text = found.texts[part.dataset.now];
      if (text !== undefined && part.textContent !== text) part.textContent = text;
    }
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    now: {
      follow: function (begun) {
        clearInterval(timer);
        page = begun.page;
        timer = setInterval(look, begun.each);
        return true;
      },
    },
  });
})();

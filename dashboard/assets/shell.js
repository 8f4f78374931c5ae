/* The title of the document follows the page; a new page begins at its top. */
window.dash_clientside = Object.assign({}, window.dash_clientside, {
  shell: {
    entitle: function (title) {
      if (title) document.title = title;
      window.scrollTo(0, 0);
      /* on a phone the menu is wider than the screen: the way one is at comes into sight */
      window.requestAnimationFrame(() => {
        for (const way of document.querySelectorAll("#menu [aria-current]"))
          way.scrollIntoView({ block: "nearest", inline: "nearest" });
      });
      return title;
    },
  },
});

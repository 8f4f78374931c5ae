/* The title of the document follows the page; a new page begins at its top. */
window.dash_clientside = Object.assign({}, window.dash_clientside, {
  shell: {
    entitle: function (title) {
      if (title) document.title = title;
      window.scrollTo(0, 0);
      return title;
    },
  },
});

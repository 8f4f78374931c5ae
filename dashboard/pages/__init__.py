"""One module a page: ``PATH``, ``TITLE``, ``layout(store, place)``, ``register(app, store)``."""

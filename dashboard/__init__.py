"""The pages: what a person looks at while a pack is recorded, and afterwards.

Open ``app.py`` first: it joins the store, the pages and the guard. ``store.py`` is the only
state, ``figures/`` turns data into pictures and knows no Dash, ``pages/`` holds one module a page.
"""

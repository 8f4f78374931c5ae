"""The checks: paths of cards, from a vehicle that will not move to a pack in its second spring.

``card`` says what a card is, ``paths`` lists them in order, ``progress`` reads from the notes how
far a person has come. The words live here, the page in ``pages/checks.py``.
"""

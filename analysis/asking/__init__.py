"""A logbook's folder and a question in, an answer out: what commands and pages both ask.

``book`` opens the folder; ``questions`` has one function a question; ``told`` reads what a person
typed that the answers need: claims, and the conditions of each drive.
"""

"""The bench: listening, learning, bringing in a file, rehearsing, from the pages.

Only at the machine itself: where the pages are open to the home network, all of it is refused.
What the commands do, the commands do here too, as processes of their own; the pages hand them
names and figures as arguments, never as a line for a shell.
"""

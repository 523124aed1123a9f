"""jobnotes: spoken repair notes and photos become a warranty-ready claim, offline.

The input goes one way: intake → hearing → reading → linking → checking → documents.
`jobnotes.pipeline` shows the whole flow; `jobnotes.record` is what the stages hand on.
"""

__version__ = "0.1.0"

"""Upload and review: what a clinic's patients send and its clinicians decide, kept so that nothing is lost.

``schema`` names what is kept, ``configuration`` where and within which limits, ``database`` opens it, ``stored_files``
keeps recordings by their content, ``audit`` writes who did what, ``jobs`` and ``worker`` analyse outside of requests.
One file for each thing that is kept holds all that is read and written of it; ``web`` asks permission, gathers and
renders, and does nothing else.
"""

"""The pages of the clinic's room: each asks permission, gathers and renders, and does nothing else.

``routes`` says who may open what, ``guards`` stands before all of it, ``permissions`` tells who is there, ``rendering``
turns a page's content into text. Every page works without a script.
"""

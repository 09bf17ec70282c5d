"""Orders and hides to a layout.

One way down, each module using only those further on in this list:

``plan``: a job, and when to stop, to a layout; ``reasons``: why a part found no place.
``prepare``: what is known before the search, of ``wishes`` (what is wanted) and ``ready`` (hides, with ``settings``).
``arrange``: knife lines, panels and places chosen together, by
``shares``: which hide each part is for, by area alone,
``ways``: the best way to cut one hide up, of those tried by ``cutting``: one hide cut up one way,
``rounds``: a few panels packed anew at a time.
``packing``: one search of the engine, asked and answered by ``translate``.
``case``: wishes and hides of a search; ``measures``: how good places are; ``turning``: angles that fit.
``clock``: what is left of the time, and who is told; ``limits``: the numbers of all of them.
"""

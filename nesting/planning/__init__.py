"""Orders and hides to a layout.

One way down, each module using only those further on in this list:

``plan``: a job, and when to stop, to a layout; ``reasons``: why a part found no place; ``changes``: what would let it
in.
``keeping``: which parts of an earlier layout still hold, of which a maker may have settled some (``hands``).
``reserve``: places for parts longer than the bed, before all others; ``long_parts``: what is cut out for them.
``prepare``: what is known before the search, of ``wishes`` (what is wanted) and ``ready`` (hides, with ``settings``).
``arrange``: knife lines, panels and places chosen together, by
``shares``: which hide each part is for, by area alone,
``ways``: the best way to cut one hide up, of those tried by ``cutting``: one hide cut up one way, by lines that follow
the parts (``strokes``) or in rows of whole leather (``grid``), of panels each as long as one of the ``fills`` found,
``rounds``: a few panels packed anew at a time, ``whole``: pieces made whole or given up, dear hides emptied.
``packing``: one search of the engine, asked and answered by ``translate``.
``lots``: which lot each group comes from; ``placements``: a wish where it lies, as a layout has it.
``case``: wishes and hides of a search, with what lies there already (``kept``).
``measures``: how good places are; ``turning``: angles that fit.
``clock``: what is left of the time, and who is told; ``limits``: the numbers of all of them.
"""

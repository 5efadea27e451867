"""A clean's logger file: what it says, read with its own habits, and judged.

``dialect`` finds how the file is written, ``mapping`` which column is what, ``reading`` streams
it, ``evaluating`` says what it shows. Nothing here holds a whole file in memory.
"""

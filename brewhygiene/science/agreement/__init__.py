"""How the readings of two methods agree, and what a limit of the one is on the other.

Readings come in pairs: the same place read with both. Nothing here knows meters; lengths, RLU and
their logarithms are all one to it, except in ``bridging``, whose business is limits in RLU.
"""

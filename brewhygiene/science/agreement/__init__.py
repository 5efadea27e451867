"""How readings of two methods, or of two people, agree; a limit of the one on the scale of the other.

Readings come in pairs: the same place read with both. Nothing here knows meters; lengths, RLU and
their logarithms are all one to it, except in ``bridging``, whose business is limits in RLU.
"""
